// Ticks of a list stay while the tab is open, and can all be cleared at once. Without this file the boxes still tick.
(function () {
  "use strict";
  var boxes = Array.prototype.slice.call(document.querySelectorAll(".tick input"));
  if (!boxes.length) return;
  var place = "ticks:" + location.pathname;

  function words(box) {
    return box.parentElement.textContent.replace(/\s+/g, " ").trim();
  }

  // By their words, so that newer content never shows a tick at a line that nobody has ticked.
  function kept() {
    try {
      var told = JSON.parse(sessionStorage.getItem(place) || "[]");
      return Array.isArray(told) ? told : [];
    } catch (fault) {
      return [];
    }
  }

  function keep() {
    var ticked = boxes.filter(function (box) { return box.checked; });
    clear.disabled = !ticked.length;
    count.textContent = ticked.length + " of " + boxes.length + " ticked";
    try {
      if (ticked.length) sessionStorage.setItem(place, JSON.stringify(ticked.map(words)));
      else sessionStorage.removeItem(place);
    } catch (fault) { /* a browser that keeps nothing: the ticks last as long as the page */ }
  }

  var bar = document.createElement("p");
  var clear = document.createElement("button");
  var count = document.createElement("span");
  bar.className = "ticks";
  clear.type = "button";
  clear.textContent = "Clear ticks";
  count.setAttribute("role", "status");
  bar.append(clear, count);

  var before = kept();
  boxes.forEach(function (box) {
    box.checked = before.indexOf(words(box)) >= 0;
    box.addEventListener("change", keep);
  });
  clear.addEventListener("click", function () {
    boxes.forEach(function (box) { box.checked = false; });
    keep();
    boxes[0].focus();
  });
  var last = boxes[boxes.length - 1].closest("ul, ol");
  last.after(bar);
  keep();
})();
