// Shows what is overdue: a page is made once and read for years, and only the reader's device knows the day.
(() => {
  "use strict";
  for (const notice of document.querySelectorAll("[data-due]")) {
    notice.hidden = !(Date.parse(`${notice.dataset.due}T23:59:59.999`) < Date.now());
  }
})();
