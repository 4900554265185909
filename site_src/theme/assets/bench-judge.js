// What is right and what is wrong on the bench, by what the model shows and by nothing else: the tasks that are drawn,
// and how an answer is judged. It knows nothing of the page.
(() => {
  "use strict";
  const { Circulation, Spacing } = window.alarmtrees;
  const { play } = Circulation;

  /** The limits of what is called right; those of the signs in the model's `signs.py`. */
  const MEETS = 0.03;
  const STANDS_FREE = 0.05;
  const LATE = 0.02;
  const LESS = 0.95;
  const HOLLOW = 0.05;
  const LOST = 0.5;

  /** How a timing is judged: beat beside beat, in the aorta. What gas or line make of it is no fault of timing. */
  const PLAIN = {
    every: 2, rhythm: "even", trigger: "ecg", at: "tip", frequency: 0, damping: 0, height: 0, flush: false,
    passage: 1, gas: 1, water: 0, leak: 0,
  };

  const pressureOf = (point) => (point ? point.pressure : null);

  /** What is read off a settled trace of a scene in 1:2, beside right timing of the same patient. */
  function measured(values, given) {
    const scene = { ...given, ...PLAIN };
    const own = play(values, scene).strip;
    const right = play(values, { ...scene, fill: 0, empty: 0 }).strip;
    const of = (strip) => ({
      end: pressureOf(strip.five.assisted_end), endFree: pressureOf(strip.five.unassisted_end),
      systole: pressureOf(strip.five.assisted_systole), systoleFree: pressureOf(strip.five.unassisted_systole),
      peak: pressureOf(strip.five.augmented), notch: Boolean(strip.notch), rise: strip.notch_to_rise,
      hollow: strip.hollow, opens: strip.isovolumic,
      cut: strip.free && strip.free[0], cutHeart: strip.free && strip.free[1],
      gave: strip.helped && strip.helped[0], heart: strip.helped && strip.helped[1],
    });
    return { own: of(own), right: of(right), plain: values.plain, emptiesAt: values.empty_at + scene.empty };
  }

  /** Filling: "right", "early" or "late". */
  function filling({ own, right, plain }) {
    if (own.cut < LESS * right.cut || own.cutHeart >= right.cutHeart + plain) return "early";
    if (own.rise > STANDS_FREE || (own.notch && own.rise > MEETS)) return "late";
    return own.notch && own.rise >= -MEETS ? "right" : own.rise < 0 ? "early" : "late";
  }

  /** Emptying: "right", "early" or "late"; both schools are right, for neither leaves the heart to start against it. */
  function emptying({ own, right, plain, emptiesAt }) {
    const laden = own.opens >= right.opens + LATE || own.heart >= right.heart + plain;
    // A beat that the balloon cuts short has no systole of its own to compare with.
    const systoleFree = own.systoleFree === null ? right.systoleFree : own.systoleFree;
    if (laden || own.end >= own.endFree || own.systole > systoleFree + 1) return "late";
    const isWasted = own.endFree - own.end <= LOST * (right.endFree - right.end);
    return (isWasted && emptiesAt < 0) || own.hollow >= right.hollow + HOLLOW ? "early" : "right";
  }

  /** What the model says of a timing. */
  function judged(values, scene) {
    const found = measured(values, scene);
    const school = found.emptiesAt < 0 ? "before" : "with";
    return { filling: filling(found), emptying: emptying(found), school, ...found };
  }

  const between = (draw, low, high, step) => low + step * draw.below(Math.floor((high - low) / step) + 1);

  /** A patient and a timing that is wrong in one way or in two, by the model's own judgement. */
  function setTask(values, seed) {
    const draw = new Spacing.Draw(seed);
    for (;;) {
      const scene = {
        ...values.usual, every: 2,
        rate: between(draw, 75, 110, 5), stiffness: between(draw, 90, 120, 5) / 100,
        resistance: between(draw, 85, 115, 5) / 100,
        fill: draw.below(4) ? between(draw, -120, 160, 10) / 1000 : 0,
        empty: draw.below(4) ? between(draw, -160, 140, 10) / 1000 : 0,
      };
      const found = judged(values, scene);
      const least = Number(found.filling !== "right") + Number(found.emptying !== "right");
      if (least && judged(values, { ...scene, fill: 0, empty: 0 }).filling === "right") return { scene, least };
    }
  }

  /** What differs in a scene but the ratio, which a learner chooses. */
  const without = (differs) => Object.fromEntries(Object.entries(differs).filter(([name]) => name !== "every"));

  /** Two scenes in one, where they turn different things; else null. */
  function joined(one, other) {
    const [a, b] = [one.differs, other.differs].map(without);
    return Object.keys(a).some((name) => name in b) ? null : { ...a, ...b };
  }

  const FAR = 5;

  /** By how much two plays differ at most, in what a learner sees. */
  function apart(one, other) {
    let most = 0;
    for (let at = 0; at < one.lines.pressure.length; at++) {
      const pressure = Math.abs(one.lines.pressure[at] - other.lines.pressure[at]);
      most = Math.max(most, pressure, Math.abs(one.lines.gas[at] - other.lines.gas[at]) / 2);
    }
    return most;
  }

  /** One fault that can be seen, two of which each can be seen beside the other, or none. */
  function findTask(values, scenes, seed) {
    const draw = new Spacing.Draw(seed);
    const faults = scenes.filter((scene) => scene.fault);
    const usual = { ...values.usual, every: 2 };
    const count = draw.weighed([[0, 1], [1, 5], [2, 4]]);
    if (count === 0 || !faults.length) return { scene: usual, faults: [] };
    const alone = ({ differs }) => play(values, { ...usual, ...without(differs) });
    const plain = play(values, usual);
    const first = draw.shuffled(faults).find((one) => apart(alone(one), plain) >= FAR);
    if (!first) return { scene: usual, faults: [] };
    if (count === 2) {
      const both = draw.shuffled(faults).slice(0, 6).find((second) => isSeenBeside(values, usual, first, second));
      if (both) return { scene: { ...usual, ...joined(first, both) }, faults: [first.id, both.id] };
    }
    return { scene: { ...usual, ...without(first.differs) }, faults: [first.id] };
  }

  function isSeenBeside(values, usual, first, second) {
    const both = joined(first, second);
    if (first === second || !both) return false;
    const together = play(values, { ...usual, ...both });
    return [first, second].every(({ differs }) =>
      apart(together, play(values, { ...usual, ...without(differs) })) >= FAR);
  }

  /** What a learner named, beside what there is. */
  const compared = (named, faults) => ({
    found: faults.filter((id) => named.includes(id)),
    missed: faults.filter((id) => !named.includes(id)),
    wrong: named.filter((id) => !faults.includes(id)),
  });

  Object.assign(window.alarmtrees, { BenchJudge: { compared, emptying, filling, findTask, judged, joined, setTask } });
})();
