/* Runs the model as a browser has it: a line of JSON comes in, a line goes out. */
"use strict";
const { readFileSync } = require("fs");
const { runInThisContext } = require("vm");

globalThis.window = globalThis;
process.argv.slice(2).forEach((file) => runInThisContext(readFileSync(file, "utf8"), { filename: file }));
const { BenchJudge, Circulation } = globalThis.alarmtrees;
let data = null;

/** From rest: what is integrated at each sample, and the pressures of arch, ventricle and gas. */
const ran = (scene, lasts, step) => {
  const values = { ...data.values, step };
  const loop = new Circulation.Loop(values, scene);
  const out = { entries: [], arch: [], ventricle: [], gas: [], ecg: [] };
  for (let at = 0; at <= Math.round(lasts / values.sample); at++) {
    loop.sample();
    out.entries.push(Array.from(loop.y));
    ["arch", "ventricle", "gas", "ecg"].forEach((name) => out[name].push(loop[name]));
    for (let steps = Math.round(values.sample / step); steps; steps--) loop.step();
  }
  return out;
};

const played = (scene, step) => {
  const { trace, strip, lines } = Circulation.play({ ...data.values, step }, scene);
  const { begin } = trace;
  return { begin, strip: { ...strip, trace: null }, pressure: Array.from(lines.pressure), beats: trace.beats };
};

/** The strokes of a model whose scene is changed as it runs, to a moment before, and for a while behind. */
const turned = (scene, other, at, lasts) => {
  const loop = new Circulation.Loop(data.values, scene);
  while (loop.time < at) loop.step();
  loop.set(other);
  while (loop.time < at + lasts) loop.step();
  return loop.strokes();
};

const calls = {
  data: (told) => { data = { ...told, values: { ...told.values, usual: told.usual } }; },
  ran, played, turned,
  usual: (scene) => Circulation.usualOf(data.values, scene),
  judged: (scene) => BenchJudge.judged(data.values, scene),
  setTask: (seed) => BenchJudge.setTask(data.values, seed),
  findTask: (seed) => BenchJudge.findTask(data.values, data.scenes, seed),
  compared: BenchJudge.compared,
};

require("readline").createInterface({ input: process.stdin }).on("line", (line) => {
  const [name, ...given] = JSON.parse(line);
  process.stdout.write(`${JSON.stringify(calls[name](...given) ?? null)}\n`);
});
