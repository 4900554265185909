// Ticks of a list stay while the tab is open, and can all be cleared at once. Without this file the boxes still tick.
(() => {
  "use strict";
  const boxes = Array.from(document.querySelectorAll(".tick input"));
  if (!boxes.length) return;
  const { button, el, folded, session } = window.alarmtrees;
  const place = `ticks:${location.pathname}`;
  const count = el("span", { role: "status" });
  const clear = button("", "Clear ticks", () => {
    boxes.forEach((box) => { box.checked = false; });
    keep();
    boxes[0].focus();
  });

  // By their words, so that newer content never shows a tick at a line that nobody has ticked.
  const words = (box) => folded(box.parentElement.textContent);

  function keep() {
    const ticked = boxes.filter((box) => box.checked);
    clear.disabled = !ticked.length;
    count.textContent = `${ticked.length} of ${boxes.length} ticked`;
    session.set(place, ticked.length ? ticked.map(words) : null);
  }

  const kept = session.get(place);
  boxes.forEach((box) => {
    box.checked = Array.isArray(kept) && kept.includes(words(box));
    box.addEventListener("change", keep);
  });
  boxes[boxes.length - 1].closest("ul, ol").after(el("p", "ticks", clear, count));
  keep();
})();
