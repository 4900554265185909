// When a cause comes again, and which case is next: a rule of our own, from what is published of gaps between tests.
// FIRST: the best gap is 20 to 40 % of a week until the next test, and 5 to 10 % of a year (Cepeda and others 2008);
// two days lie in the former, LONGEST in the latter. That it begins with a week and ends with a year is chosen. AGAIN:
// not on the same day, for a delay before the first test helps to keep (Karpicke and Roediger 2007); one day is chosen.
// WIDER: at the end widening gaps keep no more than even ones (Latimier and others 2021), but more on the way there
// (Kang and others 2014), which is when an alarm may sound; three times is chosen. What is drawn first is chosen too.
// An item is a cause of a tree, whichever of its cases was played; times are seconds.
(() => {
  "use strict";
  const DAY = 86400;
  const FIRST = 2;
  const WIDER = 3;
  const LONGEST = 36;
  const AGAIN = 1;
  const LATEST = 30;
  const WENT = { bad: 3, fair: 2, good: 1 };
  const NEW = { high: 4, medium: 2, low: 1 };

  /** A row of numbers from one seed: the generator mulberry32, as in `learning/draw.py`. */
  class Draw {
    constructor(seed) { this.state = seed >>> 0; }

    number() {
      this.state = (this.state + 0x6D2B79F5) >>> 0;
      let mixed = Math.imul(this.state ^ this.state >>> 15, this.state | 1);
      mixed = (mixed + Math.imul(mixed ^ mixed >>> 7, mixed | 61)) ^ mixed;
      return (mixed ^ mixed >>> 14) >>> 0;
    }

    below(count) { return Math.floor(this.number() * count / 4294967296); }

    take(items) { return items.splice(this.below(items.length), 1)[0]; }

    shuffled(items) {
      const mixed = items.slice();
      for (let last = mixed.length - 1; last > 0; last--) {
        const other = this.below(last + 1);
        [mixed[last], mixed[other]] = [mixed[other], mixed[last]];
      }
      return mixed;
    }

    /** One of some names, each with a weight. */
    weighed(some) {
      let place = this.below(some.reduce((sum, [, weight]) => sum + weight, 0));
      return some.find(([, weight]) => (place -= weight) < 0)[0];
    }
  }

  /** A seed made from a text: the hash FNV-1a of its UTF-8 bytes. */
  const seedOf = (text) =>
    new TextEncoder().encode(text).reduce((value, byte) => Math.imul(value ^ byte, 0x01000193) >>> 0, 0x811C9DC5);

  const item = (given) => ({ id: "", harm: "low", gap: 0, plays: 0, seen: 0, again: 0, went: "good", ...given });

  /** The days until a cause comes again, from those before: wider after a good play, the same after a fair one. */
  const gapAfter = (gap, went) => {
    const gaps = { bad: AGAIN, fair: Math.max(AGAIN, gap), good: Math.max(FIRST, gap * WIDER) };
    return Math.min(gaps[went], LONGEST);
  };

  /** An item after a play. One before its day moves no day, unless it went badly. */
  const after = (before, went, now) => {
    const early = before.again > now && went !== "bad";
    const gap = early ? before.gap : gapAfter(before.gap, went);
    const again = early ? before.again : now + gap * DAY;
    return { ...before, went, gap, early, again, plays: before.plays + 1, seen: now };
  };

  const isAgain = (one, now) => one.plays > 0 && one.again <= now;

  const urgency = (one, now) => (1 + Math.min(Math.floor((now - one.again) / DAY), LATEST)) * WENT[one.went];

  /**
   * First those whose day has come, then those never played, then the one that was played longest ago; null for none.
   */
  const nextItem = (items, now, seed) => {
    const ordered = items.slice().sort((one, other) => (one.id < other.id ? -1 : 1));
    const come = ordered.filter((one) => isAgain(one, now)).map((one) => [one.id, urgency(one, now)]);
    const fresh = ordered.filter((one) => !one.plays).map((one) => [one.id, NEW[one.harm]]);
    if (come.length || fresh.length) return new Draw(seed).weighed(come.length ? come : fresh);
    return ordered.length ? ordered.reduce((best, one) => (one.seen < best.seen ? one : best)).id : null;
  };

  Object.assign(window.alarmtrees, { Spacing: { DAY, Draw, seedOf, item, after, isAgain, nextItem } });
})();
