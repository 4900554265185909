// What was seen and still holds: a question whose answer holds is passed on the screen. Given to walk.js, which says
// when. Every step that does more than call ends all that holds, and so does any sign that the patient is worse, any
// answer at any time, and any other answer to such a look. A tree that asks a second time means it: only what was
// answered on another tree's page is passed.
(() => {
  "use strict";
  const { emit, folded, isTime, session } = window.alarmtrees;

  const KEY = "walk-holds";
  const isSeen = (one) => typeof one?.asked === "string" && typeof one.said === "string" && isTime(one.at);

  /** @param {string} tree the page's own */
  function holding(tree) {
    // `from`: what the clock was told before then, on another alarm or before an act, is not taken for an answer.
    let kept = { from: Date.now(), seen: [] };

    function set(from, seen) {
      kept = { from, seen };
      session.set(KEY, kept);
    }

    /** Goes on with what was seen before, or with nothing: an alarm opened anew is a new one. */
    function begin(goesOn) {
      const before = goesOn ? session.get(KEY) : null;
      const isSound = isTime(before?.from) && Array.isArray(before.seen) && before.seen.every(isSeen);
      set(isSound ? before.from : Date.now(), isSound ? before.seen : []);
    }

    const end = (at) => set(at, []);
    const see = (one) => set(kept.from, kept.seen.filter(({ asked }) => asked !== one.asked).concat(one));
    /** Who goes back takes back what was seen from then on. */
    const back = (at) => set(kept.from, kept.seen.filter((one) => one.at < at));
    /** Who looks again at one thing doubts what was seen. */
    const forget = () => set(kept.from, []);

    /**
     * An answer, or a step that is done.
     * @param {HTMLElement} step
     * @param {string} asked what the step says
     * @param {HTMLElement} press
     * @param {number} at
     */
    function answered(step, asked, press, at) {
      const isLook = step.querySelector("[data-keeps]");
      const isSafe = press.dataset.keeps;
      if (press.dataset.anytime || press.dataset.ends || step.dataset.acts || (isLook && !isSafe)) end(at);
      else if (isSafe) see({ asked, said: folded(press.textContent), at, tree });
    }

    /** The answer of a question that holds still, and since when; null where it has to be asked. */
    function held(step, asked) {
      const now = Date.now();
      // The usual question of a look asks no more than any other of them.
      const isAsked = (one) => one.tree !== tree && (one.asked === asked || step.dataset.usual);
      for (const link of step.querySelectorAll("[data-keeps]")) {
        const one = kept.seen.find((seen) => isAsked(seen) && seen.said === folded(link.textContent));
        if (one && now >= one.at && now - one.at < 1000 * link.dataset.keeps) return { link, at: one.at };
      }
      const link = step.querySelector("[data-clock]");
      const rest = {};
      if (link) emit("walk:rest", rest);
      return rest.isExact && !rest.isPast && rest.at >= kept.from ? { link, at: rest.at, byClock: true } : null;
    }

    document.addEventListener("walk:anew", () => begin(false));
    return { begin, back, forget, answered, held };
  }

  Object.assign(window.alarmtrees, { holding });
})();
