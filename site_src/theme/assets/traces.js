// A row of figures, turned like the pages of a book: one at a time, the next under a button. Without this file, and on
// paper, all of them stand one below the other.
(() => {
  "use strict";
  const { all, button, el } = window.alarmtrees;

  function turn(row) {
    const steps = all(".moved__steps > li", row);
    if (steps.length < 2) return;
    let at = 0;
    const where = el("p", { class: "moved__where", role: "status" });
    const before = button("", "‹ A step earlier", () => show(at - 1));
    const after = button("", "A step later ›", () => show(at + 1));

    function show(next) {
      at = Math.min(Math.max(next, 0), steps.length - 1);
      steps.forEach((step, number) => step.toggleAttribute("data-shown", number === at));
      before.disabled = at === 0;
      after.disabled = at === steps.length - 1;
      const title = steps[at].querySelector("figcaption b").textContent.replace(/\.$/, "").toLowerCase();
      where.textContent = `Picture ${at + 1} of ${steps.length}: ${title}`;
    }

    const list = row.querySelector(".moved__steps");
    list.before(where);
    list.after(el("div", "moved__turn", before, after));
    row.setAttribute("data-turning", "");
    show(steps.findIndex((step) => step.hasAttribute("data-start")));
  }

  all("[data-moved]").forEach(turn);
})();
