// The walk: one step of a tree at a time, made from the page's own list of steps, which stays in reach.
// Tells the rest of the page by events: walk:open, walk:step, walk:answer, walk:went, walk:sum, walk:clear. It asks the
// resting clock by walk:rest.
(() => {
  "use strict";
  const host = document.querySelector("[data-walk]");
  if (!host) return;
  const { all, button, el, emit, folded, inAddress, isTime, put, putShort, single, timeOf } = window.alarmtrees;
  const { barOf, holding, keepingOf, looksOf } = window.alarmtrees;

  const tree = host.dataset.walk;
  const root = document.documentElement;
  const title = document.getElementById("_top").textContent.trim();
  const ownTitle = document.title;
  const roomy = window.matchMedia("(min-width: 64em)");
  // Of what a step says: see `data-said` in walk.css.
  const SIZES = ["0", "1", "2", "3"];
  const LONG = "1";

  // The list of steps, read once. Its hooks move to the step shown, so that each stands on the page once.

  const steps = new Map();
  const listed = all("section.step[data-node]");
  const start = listed[0].dataset.node;
  const anytime = new Map();

  function read(section) {
    const copy = section.cloneNode(true);
    copy.querySelectorAll(".anytime a").forEach((link) => {
      if (!anytime.has(link.dataset.to)) anytime.set(link.dataset.to, link);
    });
    copy.querySelectorAll(".number, .goto, .anytime").forEach((part) => part.remove());
    // A word's explanation is another page: here it would lead off with one slip, and take the first key.
    copy.querySelectorAll("a.term").forEach((link) => {
      if (!link.closest("details")) link.replaceWith(...link.childNodes);
    });
    copy.removeAttribute("id");
    steps.set(section.dataset.node, copy);
  }

  function unhook(section) {
    ["id", "data-node", "data-end"].forEach((name) => section.removeAttribute(name));
    section.classList.add("listed");
    section.querySelectorAll("[data-to]").forEach((link) => link.removeAttribute("data-to"));
    section.querySelectorAll("[data-tree]").forEach((link) => link.removeAttribute("data-tree"));
  }

  function words(id) {
    const step = steps.get(id);
    const lines = Array.from(step.querySelectorAll(".lines li"), (line) => folded(line.textContent));
    if (lines.length) return lines.join(" ");
    const heading = step.querySelector("h2, h3").cloneNode(true);
    heading.querySelectorAll(".how").forEach((part) => part.append(":"));
    return folded(heading.textContent);
  }

  /** The question, or the first line of what is to be done. */
  function begins(id) {
    const line = steps.get(id).querySelector(".lines li");
    return line ? folded(line.textContent) : words(id);
  }

  // Where the reader is. `given`: what is answered of the first looks while others are open. `alone`: a look that
  // somebody asked for by its address or once more, and none beside it.

  let state = null;
  const keeping = keepingOf(tree, title, steps, words, (node, way, more) => push(node, way, "jump", more));
  const { isSound, asked, foundAgain, isCarried, keep, carry, note, below } = keeping;
  const holds = holding(tree);
  const looks = looksOf(steps, listed.filter((one) => one.dataset.look).map((one) => one.dataset.node), words);

  const entered = (node, way, by, more) => ({ ...keeping.entered(node, way, by), ...more });
  const row = () => looks.from(state);

  function noteEnd() {
    if (steps.get(state.node).dataset.end) note(`End: ${words(state.node)}`);
  }

  function push(node, way, by, more) {
    state = entered(node, way, by, more);
    history.pushState(state, "", `#${encodeURIComponent(node)}`);
    keep(state);
    noteEnd();
    show(true);
  }

  function replace() {
    history.replaceState(state, "");
    keep(state);
  }

  /** Passes questions whose answer still holds; each stands in the way with the time at which it was seen. */
  function settled(node, way) {
    const held = steps.get(node).classList.contains("step--ask") && holds.held(steps.get(node), words(node));
    if (!held) return { node, way };
    const say = folded(held.link.textContent);
    note(`Still holds: ${words(node)} ${say}`);
    const passed = { id: node, say, at: Date.now(), seen: held.at, byClock: held.byClock };
    return settled(held.link.dataset.to, way.concat(passed));
  }

  /** Goes on to where an answer leads, past what still holds; of looks that stand together some may hold too. */
  function goOn(to, way) {
    const next = settled(to, way);
    push(next.node, next.way, "answer", { given: heldOf(next) });
  }

  function heldOf(next) {
    return Object.fromEntries(looks.from(next).slice(1).flatMap((id) => {
      const held = holds.held(steps.get(id), words(id));
      if (!held) return [];
      const seen = { seen: held.at, byClock: held.byClock };
      return [[id, { to: held.link.dataset.to, say: folded(held.link.textContent), at: Date.now(), ...seen }]];
    }));
  }

  /** An answer that the running clock contradicts is not taken: who knows better sets the clock first. */
  function isContradicted(press) {
    const rest = {};
    if (press.dataset.clock) emit("walk:rest", rest);
    return rest.isOver;
  }

  function contradict(press) {
    if (host.querySelector(".contradicted")) return;
    const told = "The clock says longer. If it is wrong, press it first, and set it.";
    press.closest(".answers").after(el("p", { class: "notice contradicted", role: "alert" }, told));
  }

  function answer(press) {
    if (isContradicted(press)) return contradict(press);
    const node = press.closest("[data-node]")?.dataset.node || state.node;
    const at = Date.now();
    if (press.dataset.anytime) answerAnytime(press, node, at);
    else if (row().length) answerLook(press, node, at);
    else answerStep(press, node, at);
  }

  function tell(press, node, at, does, text) {
    const { pump, rest, ends, fixed, to } = press.dataset;
    if (ends || fixed === "patient-worse") keeping.gotWorse(folded(press.textContent), at, steps.get(to));
    note(text, at);
    emit("walk:answer", { step: node, pump, rest, since: state.at, at, does });
    holds.answered(steps.get(node), words(node), press, at);
    stayAwake();
  }

  function answerAnytime(press, node, at) {
    const { to, fixed } = press.dataset;
    const say = folded(anytime.get(to).firstChild.textContent);
    tell(press, node, at, undefined, say);
    push(to, wayHere().concat({ id: node, say, at, worse: fixed === "patient-worse" || undefined }), "answer");
  }

  function answerStep(press, node, at) {
    const here = steps.get(node);
    const isAsked = here.classList.contains("step--ask");
    const say = isAsked ? folded(press.textContent) : "Done";
    // What was to be done only in some case is not noted as done.
    const did = words(node).startsWith("Only ") ? "Done where it applied" : folded(press.textContent);
    if (!isAsked && did === "Done") keeping.called(here, at);
    tell(press, node, at, here.dataset.pump, isAsked ? `${words(node)} ${say}` : `${did}: ${words(node)}`);
    goOn(press.dataset.to, state.way.concat({ id: node, say, at }));
  }

  /** One of the looks that stand together; one that was given already is given otherwise. */
  function answerLook(press, node, at) {
    const say = folded(press.textContent);
    const others = without(node);
    if (state.given?.[node]) emit("walk:went", { way: state.way.concat(looks.way(others)) });
    tell(press, node, at, undefined, `${words(node)} ${say}`);
    const given = { ...others, [node]: { to: press.dataset.to, say, at } };
    const out = looks.out(state, given, (target) => anytime.has(target));
    if (out) {
      goOn(out.to, state.way.concat(out.way));
      return;
    }
    state = { ...state, given };
    replace();
    drawGiven();
  }

  const without = (node) => Object.fromEntries(Object.entries(state.given || {}).filter(([id]) => id !== node));
  const wayHere = () => state.way.concat(row().length ? looks.way(state.given || {}) : []);

  function went(way) {
    note(`Went to: ${words(state.node)}`, 0, true);
    emit("walk:went", { way });
  }

  /** Of the looks that stand together, the others stay answered. */
  function goBackTo(place) {
    const { id, at } = state.way[place];
    const first = looks.all.includes(id) ? state.way.findIndex((one) => looks.all.includes(one.id)) : -1;
    holds.back(at);
    if (first >= 0) {
      const others = state.way.slice(first).filter((one) => one.id !== id && looks.all.includes(one.id));
      const given = Object.fromEntries(others.map((one) => [one.id, { ...one, to: looks.toOf(one) }]));
      push(looks.all[0], state.way.slice(0, first), "jump", { given });
      went(state.way.concat(looks.way(given)));
      return;
    }
    const way = state.way.slice(0, place);
    push(id, way, "jump", { alone: looks.all.includes(id) || undefined });
    went(way);
  }

  function back() {
    if (state.by === "answer" || (state.carried && !state.way.length)) history.back();
    else if (state.way.length) goBackTo(state.way.length - 1);
  }

  /** A question that was passed is asked after all. */
  function lookAgain(id) {
    holds.forget();
    note(`Looks again: ${words(id)}`);
    const place = state.way.findIndex((one) => one.id === id && one.seen);
    if (place >= 0) {
      push(id, state.way.slice(0, place), "jump", { alone: true });
    } else {
      state = { ...state, given: without(id) };
      replace();
      show(true);
    }
  }

  /** Back from a call for a patient who is worse, to the step that was left or behind it: its remedy may help. */
  function goOnAfterCall(to) {
    keeping.called(steps.get(state.node), Date.now());
    note(`Called. Goes on at: ${words(to)}`);
    push(to, state.way.slice(0, -1), "jump", { alone: looks.all.includes(to) || undefined });
  }

  /** The browser's own back and forward, and links to a step on the page. */
  function moved(event) {
    if (isSound(event.state)) {
      state = { ...event.state, given: looks.sound(event.state.given) };
    } else if (asked()) {
      const node = asked();
      const place = state.way.findIndex((one) => one.id === node);
      state = entered(node, place < 0 ? [] : state.way.slice(0, place), "jump", { alone: true });
      history.replaceState(state, "");
    } else {
      history.replaceState(state, "");
      return;
    }
    keep(state);
    holds.back(state.at + 1);
    show(true);
    went(wayHere());
  }

  // What is seen

  const parts = {
    progress: el("p", { class: "progress", id: "_progress" }),
    here: el("div", "top__here", el("p", { class: "top__title", "aria-hidden": "true" }, title)),
    back: button("top__back", "Back", back),
    passed: el("div", { class: "walk__passed" }),
    step: el("div", "walk__step"),
    folds: el("div", "walk__folds"),
    way: el("details", { class: "walk__way" }, el("summary", "", "So far")),
    beside: el("div", "beside"),
    end: el("div", "walk__end"),
  };
  const bar = barOf(anytime, host.querySelector(".dial"), pressable);

  function pressable(link) {
    const made = button(link.className || "plain", "", single(() => answer(made)));
    made.append(...link.cloneNode(true).childNodes);
    Object.assign(made.dataset, link.dataset);
    return made;
  }

  function progress() {
    const here = steps.get(state.node).dataset;
    const ahead = Number(here.ahead);
    const first = state.way.length ? state.way[0].id : state.node;
    if (here.end || !Number.isFinite(ahead)) return { told: "", short: "" };
    const number = state.way.length + 1;
    const [told, short] = first === start
      ? [`${number} of about ${number + ahead}`, `${number}/${number + ahead}`]
      : [`About ${ahead + 1} more`, `${ahead + 1} more`];
    return { told, short };
  }

  function drawn(id) {
    const step = steps.get(id).cloneNode(true);
    step.querySelectorAll("a[data-to]").forEach((link) => link.replaceWith(pressable(link)));
    step.querySelectorAll("a[data-tree]").forEach((link) => {
      link.addEventListener("click", () => carry(link.dataset.tree));
    });
    return step;
  }

  function drawnAlone() {
    const step = drawn(state.node);
    const old = step.querySelector("h2, h3");
    const heading = el("h2");
    const told = ["_progress"];
    [["_warn", ".warn"], ["_lines", ".lines"]].forEach(([name, kind]) => {
      const part = step.querySelector(kind);
      if (!part) return;
      part.id = name;
      told.push(name);
    });
    heading.append(...old.childNodes);
    heading.tabIndex = -1;
    heading.setAttribute("aria-describedby", told.join(" "));
    old.replaceWith(heading);
    step.classList.add("step--shown");
    return step;
  }

  function draw() {
    const together = row();
    const step = together.length ? looks.drawn(together, drawn) : drawnAlone();
    parts.step.replaceChildren(step);
    if (together.length) drawGiven();
    if (step.dataset.end === "resolved") stands(step);
    else if (step.dataset.end !== "go") calledBefore(step);
    if (step.dataset.end) waysBack(step);
    return step;
  }

  /** Whether nothing was asked since the step on this way that made the same call. */
  function isSameCall(whom) {
    const last = state.way.map((one) => one.say === "Done" && keeping.whom(steps.get(one.id)) === whom).lastIndexOf(true);
    return last >= 0 && state.way.slice(last).every((one) => one.say === "Done");
  }

  /** Who was called already on this walk is not called for the same again: how long ago, and what is left to say. */
  function calledBefore(step) {
    const { end, acts } = step.dataset;
    const whom = keeping.whom(step);
    const at = keeping.calls()[whom];
    if (!isTime(at)) return;
    const isSame = isSameCall(whom);
    const since = el("span", { "data-since": String(at) }, `${ago(at)} ago`);
    const left = isSame ? "Call again if nobody comes." : "Call again now: this is new.";
    step.querySelector(".call").after(el("p", "called", "Called ", since, ". ", left));
    if (end && isSame) step.querySelector(".how").textContent = "Help is called";
    if (isSame && !end && !acts) step.querySelector(".answers [data-to]").textContent = "Done, or known already";
  }

  /** All is well here, and somebody was called for the patient on the way: that call is not over by itself. */
  function stands(step) {
    const place = step.querySelector(".stands");
    const { at, say, by } = keeping.worse();
    if (!isTime(at)) {
      place.remove();
      return;
    }
    step.querySelector(".how").textContent = "Alarm answered, the call stands";
    const called = Array.from(steps.values()).find((one) => by && keeping.whom(one) === by);
    if (called) place.before(called.querySelector(".call").cloneNode(true));
    place.prepend(`“${say}” at ${timeOf(at)}. `);
  }

  /** For whoever is free once the call is made. A step that must not be done twice asks whether it was done. */
  function waysBack(step) {
    const last = state.way[state.way.length - 1];
    const left = last?.worse ? steps.get(last.id) : null;
    if (!left?.dataset.return) return;
    const isOnce = left.dataset.return === "once";
    const behind = left.querySelector("[data-to]").dataset.to;
    const answers = step.querySelector(".answers") || el("ul", "answers");
    // Right under the call: what is to be watched meanwhile may be long.
    if (!step.contains(answers)) (step.querySelector(".call") || step.lastElementChild).after(answers);
    [[isOnce ? "Called. It was not done yet, somebody is free: " : "Called, and somebody is free: ", last.id],
      ...(isOnce ? [["Called. It was done, somebody is free: ", behind]] : [])].forEach(([when, to]) => {
      const press = button("answer", "", single(() => goOnAfterCall(to)));
      press.append(el("span", "", when, el("b", "", `go on at “${begins(to)}”`)));
      press.dataset.to = to;
      answers.append(el("li", "", press));
    });
  }

  function drawGiven() {
    looks.mark(parts.step, state.given || {}, ago, lookAgain);
    bar.keepWhole(parts.step);
    bar.follows(parts.step);
  }

  const ago = (at) => {
    const seconds = Math.max(0, Math.round((Date.now() - at) / 1000));
    return seconds < 100 ? `${seconds} s` : `${Math.round(seconds / 60)} min`;
  };

  function drawAgo() {
    all("[data-since]", host).forEach((one) => put(one, `${ago(Number(one.dataset.since))} ago`));
  }

  /** What was passed on the way to this step, at once before it. */
  function drawPassed() {
    const passed = state.way.filter((one, place) => state.way.slice(place).every((later) => later.seen));
    parts.passed.replaceChildren(...passed.map((one) => looks.passed(one, ago, lookAgain)));
    parts.passed.hidden = !passed.length;
  }

  function drawWay() {
    const items = state.way.map((one, place) => {
      const press = button("way", "", () => goBackTo(place));
      const seen = one.seen ? ` (seen at ${timeOf(one.seen)})` : "";
      press.append(el("span", "way__asked", words(one.id)), " ", el("b", "", one.say + seen));
      return el("li", "", press);
    });
    const list = el("nav", { "aria-label": "The way so far" }, el("p", "quiet", "Press one to go back to it."), el("ol", "", ...items));
    parts.way.open = false;
    parts.way.replaceChildren(parts.way.firstChild, list);
    parts.way.hidden = !state.way.length;
  }

  /** Why, the way so far and the notes, behind one row; at an end the notes are open. Pictures stand above it. */
  function drawFolds(step) {
    const drawn = drawBeside(all(".drawn", step));
    const why = all("details", step);
    const notes = below();
    parts.folds.replaceChildren(...why, parts.way, ...(notes.matches("details") ? [notes] : []));
    parts.end.replaceChildren(...(notes.matches("details") ? [] : [notes]));
    step.append(...drawn, bar.others, parts.folds, bar.dock);
  }

  /** On a wide screen the first drawing stands open beside the step; gives back those that are left below it. */
  function drawBeside(drawn) {
    drawn.forEach((one) => one.remove());
    const isOpen = roomy.matches && drawn.length > 0;
    parts.beside.replaceChildren(...(isOpen ? drawn : []));
    drawn.forEach((one, place) => { one.open = isOpen && place === 0; });
    return isOpen ? [] : drawn;
  }

  function drawPicture() {
    const picture = document.getElementById("_picture");
    if (!picture) return;
    const taken = state.way.map((one) => one.id).concat(state.node);
    const pairs = new Set(taken.slice(1).map((to, place) => `${taken[place]} ${to}`));
    picture.querySelectorAll("[data-from][data-to]").forEach((line) => {
      line.classList.toggle("taken", pairs.has(`${line.dataset.from} ${line.dataset.to}`));
    });
    picture.querySelectorAll('a[href^="#"]').forEach((link) => {
      const to = decodeURIComponent(link.getAttribute("href").slice(1));
      link.classList.toggle("taken", taken.includes(to));
      link.toggleAttribute("aria-current", false);
      if (to !== state.node) return;
      link.setAttribute("aria-current", "step");
      center(link, picture);
    });
  }

  /** Scrolls the picture, and nothing around it, until the step stands in its middle. */
  function center(link, picture) {
    const at = link.getBoundingClientRect();
    for (let frame = link.parentElement; frame && picture.contains(frame); frame = frame.parentElement) {
      const around = frame.getBoundingClientRect();
      if (!at.height || frame instanceof SVGElement) continue;
      frame.scrollTop += at.top + at.height / 2 - around.top - around.height / 2;
      frame.scrollLeft += at.left + at.width / 2 - around.left - around.width / 2;
    }
  }

  function show(follow) {
    const step = draw();
    const isFirst = state.node === start && !state.way.length;
    root.toggleAttribute("data-first", isFirst);
    root.toggleAttribute("data-opened", !state.way.length);
    const { told, short } = progress();
    putShort(parts.progress, told, short);
    parts.back.hidden = !state.way.length && !state.carried;
    drawPassed();
    drawWay();
    bar.draw(step, state.node);
    drawFolds(step);
    emit("walk:step", { step });
    drawPicture();
    document.title = `${row().length ? "First look" : folded(words(state.node))} – ${ownTitle}`;
    settle();
    if (!follow) return;
    window.scrollTo(0, 0);
    const heading = step.querySelector("h2");
    heading.focus({ preventScroll: true });
    bringIn(heading);
    bar.follows(parts.step);
  }

  /** With very large text what stands above the step fills the screen: then the step is scrolled to. */
  function bringIn(heading) {
    const top = parseFloat(root.style.getPropertyValue("--top")) || 0;
    const at = heading.getBoundingClientRect();
    if (at.top < 0.35 * window.innerHeight) return;
    window.scrollTo(0, window.scrollY + at.top - top - 8);
  }

  /** On a screen with little room, such as with very large text, nothing is fixed: it would cover the step. */
  function fit() {
    const top = document.querySelector(".top");
    const header = top?.querySelector(".top__row");
    root.removeAttribute("data-crowded");
    root.toggleAttribute("data-crowded", Boolean(header) && header.scrollWidth > header.clientWidth);
    const fixed = bar.dock.offsetHeight + (top ? top.offsetHeight : 0);
    const tight = fixed > 0.49 * window.innerHeight;
    root.toggleAttribute("data-tight", tight);
    root.style.setProperty("--dock", `${tight ? 0 : bar.dock.offsetHeight}px`);
    root.style.setProperty("--top", `${tight || !top ? 0 : top.offsetHeight}px`);
    root.style.setProperty("--beside", `${parts.beside.offsetHeight}px`);
    // Where none of the sizes brings all onto the screen, the second is easier to read while it is scrolled.
    SIZES.concat(LONG).find((size) => {
      root.dataset.said = size;
      return tight || !bar.hides(parts.step);
    });
    bar.keepWhole(parts.step);
    bar.follows(parts.step);
  }

  /** What else may happen at any time goes before a picture, where there is no room for both. */
  function settle() {
    fit();
    if (bar.follows(parts.step, window.scrollY)) parts.folds.prepend(...all(".drawn", parts.step));
    bar.follows(parts.step);
  }

  // The screen stays on while somebody walks.

  let awake = null;
  async function stayAwake() {
    if (!navigator.wakeLock || awake || document.visibilityState !== "visible") return;
    try {
      awake = await navigator.wakeLock.request("screen");
      awake.addEventListener("release", () => { awake = null; });
    } catch {
      // A device that saves power may refuse.
    }
  }

  // The list under "All steps"

  function foldList() {
    const heading = listed[0].parentElement.querySelector("[data-all-steps]");
    if (!heading) return;
    const home = document.createComment("step 1");
    const press = button("fold", "All steps", () => unfold(!root.hasAttribute("data-list")));
    listed[0].before(home);
    heading.replaceChildren(press);
    function unfold(isOpen) {
      press.setAttribute("aria-expanded", String(isOpen));
      root.toggleAttribute("data-list", isOpen);
      (isOpen ? heading : home).after(listed[0]);
    }
    unfold(false);
  }

  /** Title, priority and progress side by side, so that the first step stands on the first screen of a small phone. */
  function buildHead() {
    const head = el("div", "head");
    const heading = document.getElementById("_top");
    const rank = document.querySelector(".rank");
    const strip = document.querySelector(".strip");
    heading.before(head);
    if (rank && strip) strip.append(" ", ...rank.querySelectorAll(".quiet"));
    head.append(heading, ...(rank && strip ? [rank] : []));
  }

  function build() {
    const home = document.querySelector(".top__home");
    if (home) {
      home.replaceChildren(el("span", "long", ...home.childNodes));
      home.dataset.short = "Alarms";
      home.after(parts.back, parts.here);
    } else host.before(parts.back, parts.here);
    parts.here.append(parts.progress);
    parts.back.hidden = true;
    host.replaceChildren(parts.passed, parts.step, parts.end);
    host.after(parts.beside);
  }

  /** Opened anew, come to from another tree's page, or found again after a reload. */
  function open() {
    const found = foundAgain();
    const carried = isCarried(found);
    holds.begin(found || carried);
    if (found) found.given = looks.sound(found.given);
    state = found || entered(asked() || start, [], "open", { alone: Boolean(asked()) || undefined });
    if (!found) note((carried ? "Went on to: " : "Opened: ") + title);
    emit("walk:open", { resumed: Boolean(found), carried });
    if (carried) {
      const next = settled(state.node, []);
      const isPassed = next.way.length > 0;
      state = { ...state, ...next, carried: true, alone: isPassed ? undefined : state.alone };
      state.given = heldOf(state);
    }
    history.replaceState(state, "");
    keep(state);
    if (!found) noteEnd();
    show(false);
  }

  roomy.addEventListener("change", () => show(false));

  const wide = window.matchMedia("(min-width: 68.75em)");

  /** The drawing is seen on wide screens alone, and fetched there. */
  function fetchPicture() {
    const frame = document.querySelector("[data-picture]");
    if (!frame || !wide.matches) return;
    window.alarmtrees.picture = (drawing) => {
      frame.insertAdjacentHTML("beforeend", drawing);
      if (root.dataset.walking) drawPicture();
    };
    document.body.append(el("script", { src: frame.dataset.picture }));
    delete frame.dataset.picture;
  }

  fetchPicture();
  wide.addEventListener("change", fetchPicture);

  // The drawings of traces weigh as much as the page: they come when somebody asks for them.
  all("[data-traces]").forEach((fold) => {
    const fetchTraces = () => document.body.append(el("script", { src: fold.dataset.traces }));
    fold.addEventListener("toggle", fetchTraces, { once: true });
  });

  // Whatever fails here leaves the page's own list, which has all there is, as it was.
  listed.forEach(read);
  build();
  buildHead();
  open();
  listed.forEach(unhook);
  foldList();
  host.hidden = false;
  root.dataset.walking = "yes";
  history.scrollRestoration = "manual";
  if (inAddress()) window.scrollTo(0, 0);
  settle();
  window.addEventListener("popstate", moved);
  window.addEventListener("resize", fit);
  window.addEventListener("scroll", () => bar.follows(parts.step), { passive: true });
  if (window.ResizeObserver) {
    const seen = new ResizeObserver(fit);
    seen.observe(bar.dock);
    seen.observe(document.querySelector(".top") || bar.dock);
    seen.observe(parts.beside);
  }
  setInterval(drawAgo, 5000);
  document.addEventListener("visibilitychange", () => { if (state.way.length) stayAwake(); });
})();
