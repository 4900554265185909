// The resting clock as facts: what is known of a rest, which of two accounts counts, and how it reads, on every page.
// It tells time that has passed and never time that is left.
(() => {
  "use strict";
  const { isTime, timeOf, two } = window.alarmtrees;
  const MINUTE = 60000;

  // What is known. `kind` is one of
  //   told     it last moved at `since`; with `most`, after it
  //   stopped  a step stopped it that was seen to move; `since` is that step's beginning
  //   still    it stands still, at least from `since` on; nobody has said since when
  //   short    at `at` it was said to have rested less than the limit; no minutes were told
  //   long     at `at` it was said to have rested for the limit or longer
  //   unknown  nobody knows: counts as past the limit
  //   moved    it was seen to move at `at`; `ended` holds what was known until then, and the answer that said so
  // or "" where nothing speaks of a rest. `turn` counts what was said, over all tabs.
  const KINDS = ["told", "stopped", "still", "short", "long", "unknown"];

  const rests = (clock) => KINDS.includes(clock.kind);
  const isExact = (clock) => clock.kind === "told" || clock.kind === "stopped";
  const isUnsaid = (clock) => clock.kind === "still" || clock.kind === "short";

  function isEnd({ before, by, length }) {
    return typeof by?.walk === "string" && typeof length === "string" && Boolean(before) && isSound(before, true);
  }

  function isSound({ kind, at, since, ended, turn = 0 }, isResting) {
    if (!Number.isSafeInteger(turn) || (ended && !isEnd(ended))) return false;
    if (KINDS.includes(kind)) return isTime(at) && isTime(since);
    return !isResting && (kind === "" || (kind === "moved" && isTime(at) && Boolean(ended)));
  }

  /** Since when a rest counts; what is not known counts as longest, and what does not rest as not at all. */
  function counted(clock) {
    if (!rests(clock)) return Infinity;
    return clock.kind === "unknown" ? -Infinity : clock.since;
  }

  /** Of two accounts the one by which the balloon rests longer; of equal ones always the same. */
  function longer(one, other) {
    if (counted(one) !== counted(other)) return counted(one) < counted(other) ? one : other;
    return JSON.stringify(one) >= JSON.stringify(other) ? one : other;
  }

  /** What counts of two tabs' accounts: what was said last; of two said at once the longer rest. What one of them has
   * warned of is warned of. */
  function joined(one, other) {
    const { warned: mine, ...a } = one;
    const { warned: theirs, ...b } = other;
    const [first, second] = [a.turn || 0, b.turn || 0];
    const taken = first === second ? longer(a, b) : first > second ? a : b;
    const warned = first === second ? mine || theirs : first > second ? mine : theirs;
    return warned ? { ...taken, warned } : taken;
  }

  /**
   * What is known where a step stops the pump or puts it on hold. Only what was seen to move in the same walk rests
   * from then on; any other may have stood still before.
   * @param {object} clock
   * @param {{since: number, at: number}} said when the step began, and when it was done
   * @param {string} walk this one
   */
  function stopped(clock, { since, at }, walk) {
    if (rests(clock)) return clock;
    const seen = clock.seen || (clock.kind === "moved" && clock.ended.by.walk);
    return { kind: seen === walk ? "stopped" : "still", since, at };
  }

  function span(milliseconds) {
    const seconds = Math.floor(milliseconds / 1000);
    const hours = Math.floor(seconds / 3600);
    const rest = `${two(Math.floor(seconds / 60) % 60)}:${two(seconds % 60)}`;
    return hours ? `${hours}:${rest}` : rest;
  }

  /** Who said “less” and no more may be close to the limit by now: the longest counts. */
  const isNear = ({ late, asks, elapsed }, limit, soon) =>
    !late && limit !== null && (asks || elapsed >= soon);

  /** Who has just said “less” is not asked again at once; a rest that nobody timed may have begun long before. */
  const isOpen = ({ kind, at }, elapsed, soon) =>
    (kind === "short" ? Date.now() >= at + MINUTE : elapsed >= soon);

  /** What is said, once, when the limit is near. */
  const coming = ({ asks }, say) => (asks
    ? `May be past ${say} at rest now. Say when it last moved.`
    : `Near ${say} at rest. Nobody called? It is late: call now.`);

  /** Of a rest that is told by its longest, its shortest, or exactly. */
  function bound(clock) {
    if (clock.most) return " or less";
    return isExact(clock) ? "" : " or more";
  }

  /**
   * How a rest reads now.
   * @param {object} clock
   * @param {number | null} limit after which it is too long, in milliseconds
   * @param {string} say the same in words
   * @param {number} [soon] from when on the limit is near, in milliseconds
   */
  function reading(clock, limit, say, soon) {
    const now = Date.now();
    const isResting = rests(clock);
    const elapsed = isResting ? Math.max(0, now - clock.since) : 0;
    // A device's clock that was put back must not make a rest look shorter: then the time is not known.
    const unknown = isResting && (clock.kind === "unknown" || now < clock.since - MINUTE);
    const late = isResting && (unknown || clock.kind === "long" || (limit !== null && elapsed >= limit));
    const unsaid = isUnsaid(clock) && !late;
    const asks = unsaid && isOpen(clock, elapsed, soon);
    const near = isNear({ late, asks, elapsed }, limit, soon);
    return { rests: isResting, elapsed, unknown, late, unsaid, asks, near, time: shown(), words: warning() };

    function shown() {
      if (!isResting) return "";
      if (unknown) return "not known";
      if (asks) return `May be past ${say} now`;
      if (unsaid && clock.kind === "short") return `Under ${say} at ${timeOf(clock.at)}`;
      return `${isUnsaid(clock) ? "Still " : ""}${span(elapsed)}${bound(clock)}`;
    }
    function warning() {
      if (late && limit === null) return "Not known when it last moved. Do not restart. Call.";
      const how = unknown ? `Rest not known: counts as past ${say}` : `Past ${say} at rest`;
      if (late) return `${how}. Do not restart. Call.`;
      return isResting && limit === null ? "The resting warning is not set here. Call and ask." : "";
    }
  }

  window.alarmtrees.clocks = { rests, isExact, isUnsaid, isSound, longer, joined, stopped, reading, coming };
})();
