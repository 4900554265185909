/* When a case comes again: the algorithm SM-2, and which case is next. The same as `practice/spacing.py`, function by
   function: an item has id, harm, ef (in hundredths), interval (days), reps, plays, seen, due (seconds) and grade. */
(function (root) {
  "use strict";
  const DAY = 86400;
  const START = 250;
  const LOWEST = 130;
  const FIRST = 1;
  const SECOND = 6;
  const LATEST = 30;
  const NEW = { high: 4, medium: 2, low: 1 };

  /* A row of numbers from one seed: the generator mulberry32, as in `practice/draw.py`. */
  function Draw(seed) { this.state = seed >>> 0; }

  Draw.prototype.number = function () {
    this.state = (this.state + 0x6D2B79F5) >>> 0;
    let mixed = Math.imul(this.state ^ this.state >>> 15, this.state | 1);
    mixed = (mixed + Math.imul(mixed ^ mixed >>> 7, mixed | 61)) ^ mixed;
    return (mixed ^ mixed >>> 14) >>> 0;
  };

  Draw.prototype.below = function (count) { return Math.floor(this.number() * count / 4294967296); };

  Draw.prototype.take = function (items) { return items.splice(this.below(items.length), 1)[0]; };

  Draw.prototype.shuffled = function (items) {
    const mixed = items.slice();
    for (let last = mixed.length - 1; last > 0; last--) {
      const other = this.below(last + 1);
      [mixed[last], mixed[other]] = [mixed[other], mixed[last]];
    }
    return mixed;
  };

  /* A seed made from a text: the hash FNV-1a of its UTF-8 bytes. */
  function seedOf(text) {
    return new TextEncoder().encode(text).reduce((value, byte) => Math.imul(value ^ byte, 0x01000193) >>> 0, 0x811C9DC5);
  }

  function item(given) {
    return Object.assign({ id: "", harm: "low", ef: START, interval: 0, reps: 0, plays: 0, seen: 0, due: 0, grade: 5 }, given);
  }

  function graded(before, grade, now) {
    if (![0, 1, 2, 3, 4, 5].includes(grade)) throw new Error("a grade is 0 to 5, not " + grade);
    let ef = before.ef;
    let reps = 0;
    let interval = FIRST;
    if (grade >= 3) {
      reps = before.reps + 1;
      interval = reps <= 2 ? [FIRST, SECOND][reps - 1] : Math.floor((before.interval * before.ef + 99) / 100);
      ef = Math.max(LOWEST, before.ef + 10 - (5 - grade) * (8 + (5 - grade) * 2));
    }
    return Object.assign({}, before, {
      ef: ef, interval: interval, reps: reps, plays: before.plays + 1, seen: now, due: now + interval * DAY, grade: grade,
    });
  }

  /* Those that are due first, then those never played, then the one that was played longest ago; null where none are. */
  function nextItem(items, now, seed) {
    const ordered = items.slice().sort((one, other) => (one.id < other.id ? -1 : one.id > other.id ? 1 : 0));
    const due = ordered.filter((one) => one.plays && one.due <= now).map((one) => [one.id, urgency(one, now)]);
    const fresh = ordered.filter((one) => !one.plays).map((one) => [one.id, NEW[one.harm]]);
    if (due.length || fresh.length) return drawn(due.length ? due : fresh, new Draw(seed));
    return ordered.length ? ordered.reduce((best, one) => (one.seen < best.seen ? one : best)).id : null;
  }

  function urgency(one, now) {
    const late = Math.min(Math.floor((now - one.due) / DAY), LATEST);
    return (1 + late) * (6 - one.grade);
  }

  function drawn(weighted, draw) {
    let place = draw.below(weighted.reduce((sum, one) => sum + one[1], 0));
    for (const [name, weight] of weighted) {
      place -= weight;
      if (place < 0) return name;
    }
    throw new Error("weights are positive");
  }

  root.Spacing = { DAY: DAY, Draw: Draw, seedOf: seedOf, item: item, graded: graded, nextItem: nextItem };
})(typeof window === "undefined" ? globalThis : window);
