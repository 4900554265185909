// The bench: what is turned goes to the model, and what the model writes is drawn. The model is in `circulation.js`,
// the paper in `bench-strip.js`, the three ways to use it in `bench-ways.js`.
(() => {
  "use strict";
  const host = document.getElementById("_bench");
  const given = document.getElementById("bench-data");
  const { BenchJudge, Circulation, all, el, put } = window.alarmtrees;
  if (!host || !given || !BenchJudge) return;
  const data = JSON.parse(given.textContent);
  const values = { ...data.values, usual: data.usual };
  const { knobs } = data;
  const find = (selector) => host.querySelector(selector);
  const canvas = find("canvas");
  const seen = document.getElementById("_seen");
  const answered = find("[data-verdict]");

  /** How long nothing is turned until what is seen is told, ms. */
  const RESTS = 900;
  /** After a pause, such as a tab that was not seen, the model goes on from where it was, s. */
  const LONGEST = 0.1;
  /** Of the gas that is left, from where on it is renewed: a leak shall be seen, not empty the balloon for good. */
  const LITTLE = 0.55;
  /** Share of the balloon a second; a leak faster than this is not renewed, as no pump would. */
  const FAST = 0.3;
  /** How much slower than at a bed the model can run. */
  const SLOW = 0.25;
  /** How long after a fast flush was opened its swings are seen, s. */
  const FLUSHED = 2.5;

  let scene = { ...data.usual };
  let speed = 1;
  let running = !window.matchMedia("(prefers-reduced-motion: reduce)").matches;
  let turned = () => {};
  let judges = true;
  let besideUsual = false;
  let onJudged = () => {};

  host.hidden = false;
  const timed = (one) => ({ ...one, ...Circulation.usualOf(values, one) });

  /** Right timing, a whole circuit and a good line: with the same heart and vessels, in `find` with the usual ones. */
  function rightOf({ every, rate, rhythm, stiffness, resistance, compliance }) {
    const own = besideUsual ? {} : { stiffness, resistance, compliance };
    return { ...data.usual, every, rate, rhythm, ...own };
  }

  const paper = new Circulation.Paper(values, timed(scene), timed(rightOf(scene)));
  const drawing = new Circulation.Drawing(canvas);

  // Sliders and lists

  const fields = all("[data-turns]", host);
  const isSlider = (name) => "step" in knobs[name];
  /** Where sliders stood when a task began. There a value is told from there, or it would give the answer away. */
  let origin = {};

  const toScene = (name, value) =>
    (isSlider(name) ? (value - knobs[name].zero) * knobs[name].share : knobs[name].values[value][0]);

  function fromScene(name, entry) {
    const { zero, share, usual } = knobs[name];
    if (!isSlider(name)) return knobs[name].values.findIndex(([value]) => value === entry);
    if (entry === null || (name in GOOD_LINE && !entry)) return usual + zero;
    return Math.round(entry / share) + zero;
  }

  const MOVED = ["{by} ms earlier than at first", "as at first", "{by} ms later than at first"];

  /** A value in words. */
  function told(name, value) {
    const from = name in origin ? origin[name] : knobs[name].usual;
    const [below, at, above] = name in origin ? MOVED : knobs[name].told;
    const shape = value < from ? below : value > from ? above : at;
    return shape.replace("{by}", String(Math.abs(value - from))).replace("{is}", String(value));
  }

  /** A scene may have a value that the slider does not reach. */
  function tell(field, value = Number(field.value)) {
    const name = field.dataset.turns;
    if (!isSlider(name)) return;
    const words = told(name, value);
    field.setAttribute("aria-valuetext", words);
    put(find(`output[for="_${name}"]`), words);
  }

  /** A line as it should be is a perfect one, which costs nothing. */
  const GOOD_LINE = { frequency: 0, damping: 0 };
  function lineOf(one) {
    const isGood = ["frequency", "damping"].every((name) =>
      !(name in knobs) || fromScene(name, one[name]) === knobs[name].usual);
    if (isGood) return { ...one, ...GOOD_LINE };
    const filled = { ...one };
    Object.keys(GOOD_LINE).forEach((name) => { if (!one[name]) filled[name] = toScene(name, knobs[name].usual); });
    return filled;
  }

  fields.forEach((field) => field.addEventListener("input", () => {
    const name = field.dataset.turns;
    scene = lineOf({ ...scene, [name]: toScene(name, Number(field.value)) });
    tell(field);
    follow();
    turned(name);
  }));

  // What is seen, in words

  const VERDICTS = { right: "right", early: "too early", late: "too late" };
  const NAMED = Object.entries(data.names);
  let resting = 0;

  function toldFive() {
    const { strip } = Circulation.play(values, paper.loop.scene);
    const five = NAMED.map(([name, words], at) => [at + 1, words.toLowerCase(), strip.five[name]]);
    const words = five.filter(([, , point]) => point).map(([number, name, point]) => `${number} ${name} ${Math.round(point.pressure)}`);
    const [gave] = strip.helped || strip.free || [0];
    const said = verdict();
    const shown = Circulation.isRead(values, scene)
      ? `The strip shows, in mmHg: ${words.join(", ")}. The heart gives ${Math.round(gave)} mL a beat.`
      : "Each beat differs from the next, so the five pressures are not read. Triangles: what the pump takes as a beat.";
    put(seen, [...said, shown].join(" "));
    answered.replaceChildren(...said.map((line) => el("span", "", line)));
  }

  /** What the model says of the timing, where two beats can be compared and nothing is asked. */
  function verdict() {
    const canJudge = scene.every > 0 && scene.rhythm === "even" && scene.trigger === "ecg";
    const found = judges && canJudge ? BenchJudge.judged(values, scene) : null;
    onJudged(found);
    if (!found) return [];
    return [`Filling: ${VERDICTS[found.filling]}.`, `Emptying: ${VERDICTS[found.emptying]}.`];
  }

  /** What is turned reaches the model at once, and what is seen is told when nothing is turned any more. */
  function follow() {
    paper.set(timed(scene), timed(rightOf(scene)));
    clearTimeout(resting);
    resting = setTimeout(toldFive, RESTS);
    if (!running) still();
  }

  // The strip

  let before = 0;
  function frame(now) {
    if (!running) return;
    requestAnimationFrame(frame);
    const passed = Math.min(Math.max(now - before, 0) / 1000, LONGEST) * speed;
    before = now;
    paper.run(passed);
    if (paper.loop.gasLeft < LITTLE && scene.leak > 0 && scene.leak <= FAST) paper.loop.renew();
    drawing.draw(paper);
  }

  /** A strip that stands: what follows from a change is there at once. */
  function still(seconds = values.settles) {
    paper.run(seconds);
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
  const slow = find("[data-slow]");
  slow.addEventListener("click", () => {
    speed = speed === 1 ? SLOW : 1;
    slow.setAttribute("aria-pressed", String(speed !== 1));
  });

  find("[data-flush]").addEventListener("click", () => {
    paper.loop.line.flush(paper.loop.time);
    if (!running) still(FLUSHED);
  });

  const redraw = () => drawing.draw(paper);
  function inked() {
    drawing.inked();
    redraw();
  }
  ["(prefers-color-scheme: dark)", "(forced-colors: active)"].forEach((asked) =>
    window.matchMedia(asked).addEventListener("change", inked));
  new ResizeObserver(redraw).observe(canvas);

  const shows = { dashed: find("[data-beside]"), ventricle: find("[data-ventricle]") };
  Object.entries(shows).forEach(([name, box]) => box.addEventListener("change", () => show({ [name]: box.checked })));
  function show(some) {
    Object.assign(drawing.shows, some);
    Object.entries(some).forEach(([name, on]) => { if (shows[name]) shows[name].checked = on; });
    redraw();
  }

  /**
   * Puts a scene on the bench, from which all is turned.
   * @param {object} next
   * @param {{from?: object, on?: (name: string) => void, judged?: (found: object | null) => void, isTask?: boolean,
   *   usual?: boolean}} [how]
   *   where sliders are told from, who wants to know what is turned and what is said of it, whether it is a task (then
   *   nothing is judged yet, nor seen of what was before), and whether `usual` heart and vessels are drawn dashed
   */
  function begin(next, { from = {}, on = () => {}, judged = () => {}, isTask = false, usual = false } = {}) {
    scene = lineOf({ ...data.usual, ...next });
    [origin, turned, onJudged, judges] = [from, on, judged, !isTask];
    besideUsual = usual;
    onJudged(null);
    fields.forEach((field) => {
      const { turns } = field.dataset;
      const { low, high, zero } = knobs[turns];
      const at = fromScene(turns, scene[turns]);
      // Where right timing lies in the middle, its place would tell it.
      const aside = turns in from ? from[turns] : 0;
      if (isSlider(turns)) Object.assign(field, { min: low + zero + aside, max: high + zero + aside });
      field.value = String(at);
      tell(field, at);
    });
    paper.loop.renew();
    if (scene.flush) paper.loop.line.flush(paper.loop.time + values.flush.at[0]);
    follow();
    put(answered, "");
    if (!isTask) return;
    paper.clear();
    still();
  }

  const bench = {
    data, values, host, begin, show, redraw,
    look(row) {
      drawing.look = row;
      redraw();
    },
    get scene() { return scene; },
  };
  Object.assign(window.alarmtrees, { bench });

  begin(data.usual);
  paper.run(values.settles);
  redraw();
  toldFive();
  run(running);
})();
