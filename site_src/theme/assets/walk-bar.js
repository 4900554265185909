// The bar at the foot of a walk: one row, on every step of every alarm the same controls in the same places, and whom
// to call now. What else may happen at any time stands under the answers, where it covers nothing, and is in sight
// without a press wherever there is room. Given to walk.js.
(() => {
  "use strict";
  const { all, el, folded } = window.alarmtrees;

  const PLACES = ["no-pulse", "patient-worse", "blood-seen"];
  // What a step cannot be walked without, and what else must not be missed.
  const NEEDED = "h2, .lines li, .answers [data-to], .answers [data-tree]";
  const ALSO = ".warn li, .others .escape";

  /**
   * @param {Map<string, HTMLElement>} anytime what is offered at any time, by the step it leads to
   * @param {HTMLElement | null} dial whom to call where the step names nobody
   * @param {(link: HTMLElement) => HTMLElement} pressable
   */
  function barOf(anytime, dial, pressable) {
    const row = el("div", "dock__row");
    const more = el("p", { class: "dock__more", "aria-hidden": "true", "data-more": "yes" }, "More below ↓");
    const dock = el("div", { class: "dock", role: "group", "aria-label": "At any time" }, more, row);
    const others = el("div", { class: "others", role: "group", "aria-label": "At any time, too" });
    const usual = dial ? called(dial) : [];

    /** The number first: it is what is looked for. Whom it reaches stands below it. */
    function called(line) {
      const whom = line.querySelector("b");
      const number = line.querySelector(".phone");
      const said = folded(line.lastChild.textContent);
      const word = el("span", "dial__number", "Call ", number ? number.cloneNode(true) : "");
      return [word, " ", whom.cloneNode(true), " ", el("span", "dial__note", number && said === number.textContent ? "" : said)];
    }

    function escape(link, words) {
      const press = pressable(link);
      press.className = "escape";
      press.textContent = words;
      press.dataset.anytime = "yes";
      return press;
    }

    /** Each control, or where it does not apply an empty place: nothing moves from step to step. */
    function fixed(node) {
      return PLACES.map((place) => {
        const found = Array.from(anytime).find(([, link]) => link.dataset.fixed === place);
        return found && found[0] !== node ? escape(found[1], found[1].dataset.short) : el("span", "dock__empty");
      });
    }

    function draw(step, node) {
      const own = step.querySelector(".call");
      if (dial) dial.replaceChildren(...(own ? called(own) : usual));
      dock.toggleAttribute("data-calls", Boolean(own));
      row.replaceChildren(...fixed(node), ...(dial ? [dial] : []));
      const rest = Array.from(anytime).filter(([to, link]) => to !== node && !isFixed(link));
      others.replaceChildren(...rest.map(([, link]) => escape(link, folded(link.firstChild.textContent))));
      others.hidden = !rest.length;
    }

    function isFixed(link) {
      const place = link.dataset.fixed;
      return Boolean(place) && Array.from(anytime.values()).find((one) => one.dataset.fixed === place) === link;
    }

    /** Whether one of these lies below the bar, or below the line over it that says so. */
    function isCovered(kinds, step, scrolled, above = 0) {
      const seen = all(kinds, step).filter((one) => one.getClientRects().length);
      const low = Math.max(...seen.map((one) => one.getBoundingClientRect().bottom)) + scrolled;
      return low > row.getBoundingClientRect().top - above;
    }

    const isFixedBar = () => window.getComputedStyle(dock).position === "fixed";

    /** Whether what is to be pressed or done lies below, seen from the top of the page. */
    function hides(step) {
      follows(step, window.scrollY);
      return isCovered(NEEDED, step, window.scrollY, more.offsetHeight);
    }

    /** Says so where an answer, a line to do, a caution, or what may happen at any time lies below the bar. */
    function follows(step, scrolled = 0) {
      more.hidden = !isFixedBar() || !isCovered(`${NEEDED}, ${ALSO}`, step, scrolled);
      return !more.hidden;
    }

    /** A look whose answers the bar would part stands below it as a whole: else the harmless ones are seen alone. */
    function keepWhole(step) {
      const parts = all(".look", step);
      parts.forEach((part) => part.style.removeProperty("margin-top"));
      if (!isFixedBar()) return;
      follows(step, window.scrollY);
      const edge = row.getBoundingClientRect().top - more.offsetHeight - window.scrollY;
      parts.some((part) => {
        const ends = all("[data-to]", part).filter((one) => one.offsetParent).map((one) => one.getBoundingClientRect().bottom);
        if (!ends.some((end) => end > edge)) return false;
        const gap = edge - part.getBoundingClientRect().top;
        if (ends.some((end) => end <= edge) && gap > 0) part.style.marginTop = `${Math.ceil(gap)}px`;
        return true;
      });
    }

    return { dock, others, draw, hides, follows, keepWhole };
  }

  Object.assign(window.alarmtrees, { barOf });
})();
