// The bar at the foot of a walk: one row, on every step of every alarm the same controls in the same places, and whom
// to call now. What else may happen at any time stands under the answers, where it covers nothing, and is in sight
// without a press wherever there is room. Given to walk.js.
(() => {
  "use strict";
  const { all, el, folded } = window.alarmtrees;

  const PLACES = ["no-pulse", "patient-worse", "blood-seen"];

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

    /** By how much what is pressed, or a line to do, lies below the bar, seen from the top of the page. */
    function hides(step, scrolled = window.scrollY) {
      const low = all("h2, .lines li, .answers [data-to], .answers [data-tree]", step).filter((one) => one.offsetParent).pop();
      return low && low.getBoundingClientRect().bottom + scrolled > row.getBoundingClientRect().top;
    }

    /** Says so where something to press, or a line to do, lies below the bar. */
    function follows(step) {
      more.hidden = window.getComputedStyle(dock).position !== "fixed" || !hides(step, 0);
    }

    return { dock, others, draw, hides, follows };
  }

  Object.assign(window.alarmtrees, { barOf });
})();
