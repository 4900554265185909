// Shows what is overdue: a page is made once and read for years, and only the reader's device knows the day.
(() => {
  "use strict";
  const now = new Date();
  const today = [now.getFullYear(), now.getMonth() + 1, now.getDate()].map((part) => String(part).padStart(2, "0")).join("-");
  for (const notice of document.querySelectorAll("[data-due]")) {
    notice.hidden = !(notice.dataset.due < today);
  }
})();
