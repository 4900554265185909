// What a walk keeps beside itself: where it stands, which alarm it goes on to, and what was done, for the notes.
// Given to walk.js, which says when.
(() => {
  "use strict";
  const { button, copied, dayOf, el, emit, inAddress, isTime, session, timeOf } = window.alarmtrees;

  const LOG = "walk-log";
  const LAST = "walk-last";
  const CARRY = "walk-carry";

  /**
   * Where the walk through one alarm stands.
   * @param {string} tree
   * @param {{ has: (id: string) => boolean }} steps
   */
  function keepingOf(tree, steps) {
    const isSound = (kept) =>
      kept?.walk === tree &&
      steps.has(kept.node) &&
      isTime(kept.at) &&
      Array.isArray(kept.way) &&
      kept.way.every((one) => steps.has(one?.id) && typeof one.say === "string" && isTime(one.at));
    const asked = () => (steps.has(inAddress()) ? inAddress() : "");

    /** Where this page was left: by the browser's history, else what was kept, where a reload or a way back led. */
    function foundAgain() {
      const here = history.state;
      const how = performance.getEntriesByType("navigation")[0]?.type;
      const kept = how === "reload" || how === "back_forward" ? session.get(LAST) : null;
      const found = [here, kept].find(isSound);
      if (!found || (asked() && found.node !== asked())) return null;
      return found === here ? found : { ...found, by: "jump" };
    }

    /** Whether the page before led to this alarm; that counts once. */
    function isCarried() {
      const isTo = session.get(CARRY)?.to === tree;
      session.set(CARRY, null);
      return isTo;
    }

    const keep = (state) => session.set(LAST, state);
    const carry = (to) => session.set(CARRY, { to, at: Date.now() });
    return { isSound, asked, foundAgain, isCarried, keep, carry };
  }

  /**
   * What was done, in order, for the notes.
   * @param {string} title the alarm's
   */
  function notesOf(title) {
    let log = [];

    const noted = (kept) =>
      (Array.isArray(kept) ? kept : []).filter((one) => isTime(one?.at) && typeof one.text === "string");

    /** Begins with what was noted before, or with nothing. */
    function begin(goesOn) {
      log = goesOn ? noted(session.get(LOG)) : [];
    }

    function note(text, at, going) {
      const last = log[log.length - 1];
      if (going && last?.going) log.pop();
      log.push({ at: at || Date.now(), text, going: going || undefined });
      session.set(LOG, log);
    }

    function told() {
      const rest = [];
      emit("walk:sum", { lines: rest });
      const lines = log.map((one) => `${timeOf(one.at)}  ${one.text}`);
      return [`${title}, ${dayOf(Date.now())}`, ...lines, ...rest].join("\n");
    }

    /** The notes to copy, and what ends them: `anew` takes the walk back to its beginning. */
    function record(anew) {
      const about = { class: "record__text", tabindex: "0", role: "region", "aria-label": "What was done" };
      const text = el("pre", about, told());
      const done = el("span", { class: "quiet", role: "status" });
      const copy = button("plain", "Copy", async () => {
        text.textContent = told();
        const isDone = await copied(text.textContent, () => text);
        done.textContent = isDone ? "Copied." : "Marked above: copy it by hand.";
      });
      const clear = button("plain", "Next patient: clear all", () => {
        log = [];
        emit("walk:clear");
        note(`Opened: ${title}`);
        anew();
      });
      const presses = el("p", "record__presses", copy, " ", clear, " ", done);
      const frame = el("section", "record", el("h3", "", "For the notes"), text, presses);
      frame.refresh = () => { text.textContent = told(); };
      return frame;
    }

    return { begin, note, record };
  }

  Object.assign(window.alarmtrees, { keepingOf, notesOf });
})();
