/* Plays cases by the site's own scripts outside a browser: a line of calls comes in, a line of answers goes out. */
"use strict";
const { readFileSync } = require("fs");
const { runInThisContext } = require("vm");

globalThis.window = globalThis;
process.argv.slice(2).forEach((file) => runInThisContext(readFileSync(file, "utf8"), { filename: file }));
const { Playing, Progress, Spacing } = globalThis.alarmtrees;
const kept = [];

const plain = (key, value) => (typeof value === "bigint" ? String(value) : value instanceof Set ? Array.from(value) : value);
const memory = (told) => ({ seen: BigInt(told.seen), active: BigInt(told.active), owed: BigInt(told.owed), came: BigInt(told.came) });
const keep = (thing) => kept.push(thing) - 1;

/* A state, and what a learner is offered in it. */
const told = (play, state) => {
  const over = Boolean(state.verdict);
  const offers = over ? [] : play.offers(state);
  const unsafe = offers.filter((id) => play.tree.broken(state, id));
  return { ...state, at: keep(state), right: over ? "" : play.right(state), offers, unsafe };
};

const calls = {
  tree: (data) => keep(new Playing.Tree(data)),
  play: (tree, told, seed) => keep(new Playing.Play(kept[tree], told, seed)),
  begin: (play) => told(kept[play], kept[play].begin()),
  choose: (play, state, id, changed) => told(kept[play], kept[play].choose({ ...kept[state], ...changed }, id)),
  debrief: (play, state) => kept[play].debrief(kept[state]),
  went: (state) => Playing.went(kept[state]),
  fresh: (tree) => kept[tree].fresh,
  remember: (tree, before, marks, isStep) => kept[tree].remember(memory(before), marks, isStep),
  draws: (seed, rows) => { const draw = new Spacing.Draw(seed); return rows.map(([name, value]) => draw[name](value)); },
  seedOf: Spacing.seedOf, after: Spacing.after, item: Spacing.item, nextItem: Spacing.nextItem,
  read: (text) => Progress.read(text), merged: (one, other) => Progress.merged(one, other),
  taken: (files, known, added) => {
    Progress.erase();
    const sets = Object.fromEntries(Object.entries(known).map(([part, ids]) => [part, new Set(ids)]));
    const left = files.map((file) => Progress.take(Progress.read(file), sets));
    added.forEach((id) => Progress.change((data) => { data.read[id] = { on: Progress.now(), stamp: "" }; }));
    return { left, data: Progress.load() };
  },
};

const answered = ([name, ...given]) => {
  try {
    return { told: calls[name](...given) };
  } catch (fault) {
    return { fault: fault.message };
  }
};

require("readline").createInterface({ input: process.stdin }).on("line", (line) => {
  process.stdout.write(JSON.stringify(JSON.parse(line).map(answered), plain) + "\n");
});
