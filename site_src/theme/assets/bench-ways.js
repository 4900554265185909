// The three ways to use the bench: freely, to find a fault, to set it right. What is said of a fault comes from the
// library's traces; what is right says `bench-judge.js`. Nothing is kept.
(() => {
  "use strict";
  const { BenchJudge, all, bench, button, el, inAddress, many, put } = window.alarmtrees;
  if (!bench) return;
  const { data, values, host } = bench;
  const panel = document.getElementById("_task");
  const presses = all("[data-way]", host);
  const faults = data.scenes.filter((scene) => scene.fault);
  const named = (id) => data.scenes.find((scene) => scene.id === id);
  const anySeed = () => Math.floor(Math.random() * 1e6);

  /** Turns of one slider that follow each other this soon are one move, ms. */
  const ONE_MOVE = 1500;

  const SAME = "Whoever opens the address of this page as it is now gets the same task.";

  const text = (name, words, className) => el(name, className || "", words);
  const row = (...inside) => el("p", "buttons", ...inside);
  const seenIn = (scene) => el("ul", "", ...scene.seen.map(([words]) => text("li", words)));
  const told = (scene) => [text("p", scene.say), seenIn(scene), scene.why && text("p", scene.why)].filter(Boolean);

  function show(...inside) {
    panel.replaceChildren(...inside.filter(Boolean));
  }

  /** A result is read first. */
  function result(...inside) {
    show(...inside);
    readFirst(panel);
  }

  function readFirst(place) {
    const head = place.querySelector("h2");
    if (!head) return;
    head.tabIndex = -1;
    head.focus({ preventScroll: true });
    // Below the picture, which stays where it is.
    const picture = host.querySelector(".bench__picture").getBoundingClientRect();
    const isBelow = picture.right > place.getBoundingClientRect().left;
    head.style.scrollMarginTop = isBelow ? `${picture.height + 8}px` : "1rem";
    head.scrollIntoView({ block: isBelow ? "start" : "nearest" });
  }

  // Freely

  function free(id = "") {
    const chosen = el("select", { id: "_from" });
    chosen.append(...data.scenes.map((scene) => el("option", { value: scene.id }, scene.title)));
    const words = el("div", "bench__said");
    const first = button("plain", "New to traces?", () => firstLook(0));
    const usual = data.scenes.find((scene) => scene.id === "well-timed") || data.scenes[0];
    const start = named(id) || usual;
    const use = (scene) => {
      words.replaceChildren(...(scene && scene !== usual ? told(scene) : []));
      bench.begin(scene ? scene.differs : {}, { on: () => words.replaceChildren(), judged: explained });
    };
    chosen.addEventListener("change", () => use(named(chosen.value)));
    if (start) chosen.value = start.id;
    const from = start && el("p", "turn", el("label", { for: "_from" }, "Begin from"), chosen);
    show(el("div", "bench__from", from, first), words);
    bench.show({ dashed: true, ventricle: false });
    use(start);
  }

  const why = document.getElementById("_why");
  const answer = host.querySelector("[data-verdict]");

  const wrongIn = ({ filling, emptying }) =>
    [["fill", filling], ["empty", emptying]].filter(([, verdict]) => verdict !== "right");

  /** What the library says of an error that the model sees. */
  function explained(found) {
    const wrong = found ? wrongIn(found) : [];
    answer.disabled = !wrong.length;
    why.replaceChildren(...wrong.flatMap(([name, verdict]) => {
      const error = errorOf(name, verdict);
      return error ? [text("h2", error.title), ...told(error)] : [];
    }));
  }

  answer.addEventListener("click", () => readFirst(why));

  function firstLook(at) {
    const [line, words] = data.lines[at];
    const isLast = at + 1 === data.lines.length;
    bench.look(line);
    const leave = () => {
      bench.look("");
      free();
    };
    result(
      text("h2", `A first look, ${at + 1} of ${data.lines.length}`),
      text("p", words),
      row(
        button("loud", isLast ? "Now try" : "Next", () => (isLast ? leave() : firstLook(at + 1))),
        at > 0 && button("", "Back", () => firstLook(at - 1)),
        !isLast && button("", "Leave", leave),
      ),
    );
  }

  // Find the fault

  function findFault(seed = anySeed()) {
    history.replaceState(null, "", `#find/${seed}`);
    const drawn = BenchJudge.findTask(values, data.scenes, seed);
    bench.show({ dashed: false, ventricle: false });
    bench.begin(drawn.scene, { isTask: true, usual: true });
    const boxes = faults.map((scene) => {
      const box = el("input", { type: "checkbox", value: scene.id });
      return [box, el("label", "pick", box, text("span", scene.title))];
    });
    const answer = () => answered(drawn, boxes.filter(([box]) => box.checked).map(([box]) => box.value));
    const asks = button("loud", "This is wrong", answer);
    const nothing = button("", "Nothing is wrong", () => answered(drawn, []));
    asks.disabled = true;
    boxes.forEach(([box]) => box.addEventListener("change", () => {
      asks.disabled = !boxes.some(([one]) => one.checked);
    }));
    show(
      text("h2", "What is wrong here?"),
      text("p", "One thing, two, or nothing. Look at pressure and gas, in 1:1 and 1:2; then name it."),
      el("fieldset", "picks", text("legend", "What may be wrong", "unseen"), ...boxes.map(([, label]) => label)),
      row(asks, nothing),
      text("p", SAME, "quiet"),
    );
  }

  function answered(drawn, answer) {
    const { found, missed, wrong } = BenchJudge.compared(answer, drawn.faults);
    const isRight = !missed.length && !wrong.length;
    const head = isRight ? "✓ Right" : found.length ? "Half of it" : "✗ Not this";
    const whole = drawn.faults.length ? "" : "Nothing was wrong: right timing, a whole circuit, a good line.";
    const part = (mark, id) => [text("h3", `${mark} ${named(id).title}`), ...told(named(id))];
    const notHere = (id) => [
      text("h3", `✗ ${named(id).title}`), text("p", "It is not here. It would look so:"), seenIn(named(id)),
    ];
    bench.show({ dashed: true, ventricle: true });
    result(
      text("h2", head),
      text("p", `${whole} Dashed: how it is when nothing is wrong. Thin: the pressure inside the heart.`.trim()),
      ...found.flatMap((id) => part("✓", id)),
      ...missed.flatMap((id) => part("Missed:", id)),
      ...wrong.flatMap(notHere),
      row(
        button("loud", "Another one", () => findFault()),
        button("", "Turn it yourself", () => turnIt(drawn.scene)),
      ),
    );
  }

  function turnIt(scene) {
    enter("free");
    bench.begin(scene, { judged: explained });
  }

  // Set it right

  const WORDS = {
    fill: { early: "Filling begins too early.", late: "Filling begins too late.", right: "Filling is right: the rise begins in the notch." },
    empty: { early: "Emptying begins too early.", late: "Emptying begins too late.", right: "Emptying is right." },
  };
  const SCHOOLS = {
    before: "It begins before the R wave: the balloon is empty before the heart ejects. That is the one school.",
    with: "It begins with the R wave or just behind it: the other school. The heart does not start against a full balloon.",
  };

  /** The library's trace of one error of timing. */
  function errorOf(name, verdict) {
    const sign = verdict === "early" ? -1 : 1;
    return faults.find(({ differs }) => {
      const turned = Object.keys(differs).filter((one) => one !== "every");
      return turned.join() === name && Math.sign(differs[name]) === sign;
    });
  }

  function setRight(seed = anySeed()) {
    history.replaceState(null, "", `#set/${seed}`);
    const drawn = BenchJudge.setTask(values, seed);
    const from = Object.fromEntries(["fill", "empty"].map((name) => {
      const { share, zero } = data.knobs[name];
      return [name, Math.round(drawn.scene[name] / share) + zero];
    }));
    const count = text("p", "Not moved yet.", "bench__count");
    const said = el("div", { class: "bench__said", role: "status" });
    let moves = 0;
    let last = ["", 0];
    const on = (name) => {
      if (!(name in from)) return;
      const now = performance.now();
      if (last[0] !== name || now - last[1] > ONE_MOVE) moves += 1;
      last = [name, now];
      put(count, `${many(moves, "move")}.`);
      said.replaceChildren();
    };
    bench.show({ dashed: false, ventricle: false });
    bench.begin(drawn.scene, { from, on, isTask: true });
    const judge = () => {
      const found = BenchJudge.judged(values, bench.scene);
      const isRight = found.filling === "right" && found.emptying === "right";
      if (isRight) return setDone(drawn, found, moves);
      const wrong = wrongIn(found);
      said.replaceChildren(text("p", "Not yet."), ...wrong.map(([name, verdict]) => {
        const error = errorOf(name, verdict);
        // A little too early the notch can be seen still.
        const isPlain = error && !(name === "fill" && verdict === "early" && found.own.notch);
        return el("p", "", text("b", WORDS[name][verdict]), isPlain ? ` ${error.seen[0][0]}` : "");
      }));
      return undefined;
    };
    show(
      text("h2", "Set it right"),
      text("p", "Filling, emptying or both are wrong. Move the two sliders until the trace is right, in as few moves as you can. Wait some beats after each."),
      count, row(button("loud", "It is right now", judge), button("", "Another one", () => setRight())), said,
      text("p", SAME, "quiet"),
    );
  }

  const FIGURES = [
    ["Assisted end-diastolic pressure, mmHg", "end"], ["Assisted systolic pressure, mmHg", "systole"],
    ["The heart gives behind the balloon, mL", "gave"], ["Highest pressure in the heart there, mmHg", "heart"],
    ["The valve opens after the R wave, ms", "opens", 1000],
  ];

  function setDone(drawn, found, moves) {
    const few = moves <= drawn.least ? "No fewer would do." : `${drawn.least === 1 ? "One" : "Two"} would do.`;
    const rows = FIGURES.map(([words, key, by = 1]) => {
      const cells = [found.own, found.right].map((one) => text("td", String(Math.round(one[key] * by))));
      return el("tr", "", el("th", { scope: "row" }, words), ...cells);
    });
    const names = ["In this model", "Yours", "As in the pictures"];
    const heads = el("tr", "", ...names.map((words) => el("th", { scope: "col" }, words)));
    bench.show({ dashed: true, ventricle: true });
    result(
      text("h2", `✓ Right, in ${many(moves, "move")}`),
      text("p", few),
      text("p", WORDS.fill.right),
      text("p", `${WORDS.empty.right} ${SCHOOLS[found.school]} Which one holds, the hospital says.`),
      el("table", "", heads, ...rows),
      row(button("loud", "Another one", () => setRight()), button("", "Turn on from here", () => turnIt(bench.scene))),
    );
  }

  // Which way, by the buttons or by the address: #find/seed, #set/seed, #show/trace

  const WAYS = { free, find: findFault, set: setRight };

  function enter(way, given) {
    bench.look("");
    host.dataset.in = way;
    presses.forEach((press) => press.setAttribute("aria-pressed", String(press.dataset.way === way)));
    WAYS[way](given);
  }

  function route() {
    const [way, given] = inAddress().split("/");
    const seed = /^\d{1,9}$/.test(given || "") ? Number(given) : undefined;
    if (way === "find" && faults.length) return enter("find", seed);
    if (way === "set") return enter("set", seed);
    return enter("free", way === "show" ? given : "");
  }

  presses.forEach((press) => press.addEventListener("click", () => {
    if (press.dataset.way === "free") history.replaceState(null, "", location.pathname + location.search);
    enter(press.dataset.way);
  }));
  host.querySelector("[data-usual]").addEventListener("click", () => enter("free"));
  window.addEventListener("hashchange", route);
  route();
})();
