// A row of figures, turned like the pages of a book: one at a time, the next under a button. Without this file, and on
// paper, all of them stand one below the other.
(function () {
  "use strict";

  function button(words, act) {
    var made = document.createElement("button");
    made.type = "button";
    made.textContent = words;
    made.addEventListener("click", act);
    return made;
  }

  function turn(row) {
    var steps = Array.prototype.slice.call(row.querySelectorAll(".moved__steps > li"));
    var at = steps.findIndex(function (step) { return step.hasAttribute("data-start"); });
    if (steps.length < 2) return;
    if (at < 0) at = 0;

    var where = document.createElement("p");
    where.className = "moved__where";
    where.setAttribute("role", "status");
    var bar = document.createElement("div");
    bar.className = "moved__turn";
    var before = button("‹ A step earlier", function () { show(at - 1); });
    var after = button("A step later ›", function () { show(at + 1); });
    bar.append(before, after);

    function show(next) {
      at = Math.min(Math.max(next, 0), steps.length - 1);
      steps.forEach(function (step, number) { step.toggleAttribute("data-shown", number === at); });
      before.disabled = at === 0;
      after.disabled = at === steps.length - 1;
      where.textContent = "Picture " + (at + 1) + " of " + steps.length + ": " +
        steps[at].querySelector("figcaption b").textContent.replace(/\.$/, "").toLowerCase();
    }

    var list = row.querySelector(".moved__steps");
    list.before(where);
    list.after(bar);
    row.setAttribute("data-turning", "");
    show(at);
  }

  Array.prototype.forEach.call(document.querySelectorAll("[data-moved]"), turn);
})();
