// The bench: what is turned goes to the model, and what the model writes is drawn. Three ways to use it: freely, to find
// a fault, to set it right. What is right is said by `bench-judge.js`; the model is in `circulation.js`.
(() => {
  "use strict";
  const host = document.getElementById("_bench");
  const given = document.getElementById("bench-data");
  const { BenchJudge, Circulation, all, button, el, many, put } = window.alarmtrees;
  if (!host || !given || !Circulation || !BenchJudge) return;
  const data = JSON.parse(given.textContent);
  const values = { ...data.values, usual: data.usual };
  const { knobs } = data;
  const find = (selector) => host.querySelector(selector);

  const canvas = find("canvas");
  const task = document.getElementById("_task");
  const seen = document.getElementById("_seen");
  const isStill = matchMedia("(prefers-reduced-motion: reduce)");
  const SETTLED = 900;
  const MERGED = 1500;
  const LONGEST = 0.1;

  let way = "free";
  let scene = { ...data.usual };
  let speed = 1;
  let running = !isStill.matches;

  host.hidden = false;
  const timed = (one) => ({ ...one, closure: Circulation.closureOf(values, one) });
  /** The same heart and vessels, with right timing and a whole circuit. */
  const besides = (one) => {
    const { every, rate, uneven, stiffness, resistance } = one;
    return { ...data.usual, every, rate, uneven, stiffness, resistance };
  };
  const paper = new Circulation.Paper(values, timed(scene), timed(besides(scene)));
  const drawing = new Circulation.Drawing(canvas);

  // Sliders and lists

  const fields = all("[data-turns]", host);
  const fieldOf = (name) => fields.find((field) => field.dataset.turns === name);
  const isSlider = (name) => "step" in knobs[name];
  /** Where sliders of timing stand at first in a task: what is told is told from there, or it would give itself away. */
  let origin = null;

  const toScene = (name, value) => (isSlider(name) ? (value - knobs[name].zero) * knobs[name].share : value);
  function fromScene(name, entry) {
    const { zero, share, usual } = knobs[name];
    if (!isSlider(name)) return Number(entry);
    return entry === null || (name === "frequency" && !entry) || (name === "damping" && !entry)
      ? usual : Math.round(entry / share) + zero;
  }

  /** A value in words. */
  function told(name, value) {
    const { usual, told: [below, at, above] } = knobs[name];
    const from = origin && name in origin ? origin[name] : usual;
    const moved = ["{by} ms earlier than at first", "as at first", "{by} ms later than at first"];
    const words = origin && name in origin ? moved : [below, at, above];
    const shape = value < from ? words[0] : value > from ? words[2] : words[1];
    return shape.replace("{by}", Math.abs(value - from)).replace("{is}", value);
  }

  function tell(field) {
    const name = field.dataset.turns;
    if (!isSlider(name)) return;
    const words = told(name, Number(field.value));
    field.setAttribute("aria-valuetext", words);
    put(find(`output[for="_${name}"]`), words);
  }

  /** Puts sliders and lists where a scene has them. */
  function shown(one) {
    fields.forEach((field) => {
      const { turns } = field.dataset;
      field.value = String(fromScene(turns, one[turns]));
      tell(field);
    });
  }

  /** The line is good at its usual values: a perfect one, which costs nothing. */
  function lineOf(one) {
    const isGood = one.frequency === knobs.frequency.usual && Math.round(one.damping * 100) === knobs.damping.usual;
    return isGood ? { ...one, frequency: 0, damping: 0 } : one;
  }

  let late = 0;
  function changed() {
    const next = timed(scene);
    paper.set(next, timed(besides(scene)));
    canvas.setAttribute("aria-busy", "true");
    clearTimeout(late);
    late = setTimeout(settled, running ? SETTLED + 2400 / speed : SETTLED / 3);
    if (!running) redraw(true);
  }

  fields.forEach((field) => field.addEventListener("input", () => {
    const name = field.dataset.turns;
    scene = lineOf({ ...scene, [name]: toScene(name, Number(field.value)) });
    tell(field);
    changed();
  }));

  // What is seen, in words

  const NAMED = Object.entries(data.names);
  function settled() {
    canvas.removeAttribute("aria-busy");
    const strip = Circulation.stripOf(paper.latest(), values.fill_at + scene.fill);
    const five = NAMED.map(([name, words], number) => [number + 1, words, strip.five[name]]).filter(([, , at]) => at);
    const words = five.map(([number, name, at]) => `${number} ${name.toLowerCase()} ${Math.round(at.pressure)}`);
    const gave = strip.helped || strip.free;
    const heart = gave ? ` The heart ejects ${Math.round(gave[0])} mL a beat.` : "";
    put(seen, `In mmHg: ${words.join(", ")}.${heart}`);
  }

  // The strip

  let before = 0;
  function frame(now) {
    if (running) requestAnimationFrame(frame);
    const passed = Math.min((now - before) / 1000, LONGEST) * speed;
    before = now;
    if (passed > 0) paper.run(passed);
    drawing.draw(paper);
  }

  /** A still strip: what follows from a change is there at once. */
  function redraw(anew) {
    if (anew) paper.settle();
    drawing.draw(paper);
  }

  const runs = find("[data-run]");
  function run(on) {
    running = on;
    put(runs, on ? "Stop" : "Let it run");
    if (!on) return;
    before = performance.now();
    requestAnimationFrame(frame);
  }
  runs.addEventListener("click", () => run(!running));
  find("[data-speed]").addEventListener("change", ({ target }) => { speed = Number(target.value); });
  const inked = () => {
    drawing.inked();
    drawing.draw(paper);
  };
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", inked);
  matchMedia("(forced-colors: active)").addEventListener("change", inked);
  new ResizeObserver(() => drawing.draw(paper)).observe(canvas);

  // The way to use it

  const ways = all("[data-way]", host);
  const free = () => {};
  Object.assign(window.alarmtrees, { bench: { free, task, button, el, many, MERGED, way, ways } });

  shown(scene);
  paper.settle();
  settled();
  drawing.draw(paper);
  run(running);
})();
