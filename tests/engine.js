/* Plays cases by the site's own scripts outside a browser: a line of calls comes in, a line of answers goes out. */
"use strict";
const { readFileSync } = require("fs");
const { runInThisContext } = require("vm");

globalThis.window = globalThis;
globalThis.document = { querySelector: () => null };
process.argv.slice(2).forEach((file) => runInThisContext(readFileSync(file, "utf8"), { filename: file }));
const { Calendar, Group, Playing, Progress, Spacing } = globalThis.alarmtrees;
const kept = [];
const Today = Date;

/* The scripts' clock, as the days of a test go by; null for this machine's own. */
const clock = (now) => {
  globalThis.Date = now === null ? Today : class extends Today {
    constructor(...given) { super(...(given.length ? given : [now])); }
    static now() { return Today.parse(now); }
  };
};

/* A month of one learner: what is ticked, answered and played goes through the site's own scripts, each at its time. */
const lived = (label, events) => {
  Progress.erase();
  events.forEach(([now, part, id, entry]) => {
    clock(now);
    Progress.change((data) => {
      if (part === "read") data.read[id] = { on: Progress.now(), stamp: entry };
      else if (part === "checks") {
        const was = data.checks[id] || { right: 0, wrong: 0 };
        data.checks[id] = { right: was.right + (entry ? 1 : 0), wrong: was.wrong + (entry ? 0 : 1), on: Progress.now(), ok: entry };
      } else {
        const was = data.cases[id] || { unsafe: 0, plays: 0, gap: 0, again_on: "" };
        const moment = Date.now() / 1000;
        const before = Spacing.item({ gap: was.gap, plays: was.plays, again: was.again_on ? Date.parse(was.again_on) / 1000 : 0 });
        const after = Spacing.after(before, entry.went, moment);
        data.cases[id] = {
          ...was, plays: after.plays, gap: after.gap, again_on: new Date(after.again * 1000).toISOString(),
          unsafe: was.unsafe + (entry.verdict === "unsafe" ? 1 : 0), last: { ...entry, on: Progress.now() },
        };
      }
    });
  });
  const { name, text } = Progress.file(label);
  clock(null);
  return { name, text };
};

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
  joined: Playing.joined, went: (state) => Playing.went(kept[state]),
  fresh: (tree) => kept[tree].fresh,
  remember: (tree, before, marks, isStep) => kept[tree].remember(memory(before), marks, isStep),
  draws: (seed, rows) => { const draw = new Spacing.Draw(seed); return rows.map(([name, value]) => draw[name](value)); },
  seedOf: Spacing.seedOf, after: Spacing.after, item: Spacing.item, nextItem: Spacing.nextItem,
  lived, named: Progress.looksLikeName, planned: Calendar.planned, calendar: Calendar.file,
  /* The group of some files, saved, and opened again with others: who is seen, with some labels kept apart or told as one. */
  regrouped: (files, apart, same, later) => {
    const records = (some) => some.map(([file, text]) => ({ file, data: Progress.read(text) }));
    const seen = (learners) => learners.map(({ label, data, sources }) => ({ label, data, sources: sources.length }));
    const text = Group.file(Group.gathered(records(files), [], new Set(), new Map(same))).text;
    const group = { ...Group.read(text), file: "group.json" };
    const again = (some, labels, own) => seen(Group.gathered(records(some), [group], new Set(labels), new Map(own)));
    return {
      text, faults: group.faults, same: group.same, whole: again(later, [], group.same), apart: again(later, apart, []),
    };
  },
  group: (files, known) => {
    const records = files.map(([file, text]) => ({ file, data: Progress.read(text) }));
    const learners = Group.gathered(records, []);
    const some = learners.map((one) => one.data);
    return {
      learners: learners.map(({ label, files: names, data }) => ({ label, files: names, data })), next: Group.nextOf(learners, known),
      refresher: Group.refresherOf(some, known), alike: Group.alike(learners).map(({ one, other }) => [one.label, other.label]),
      needed: Group.needed(known.stages.map((stage) => Group.wordsOf(stage, known)), known),
    };
  },
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
