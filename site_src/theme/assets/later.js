// Fetches the search's scripts, in their order, once somebody opens the search.
(() => {
  "use strict";
  const field = document.querySelector(".search__input");
  const sign = document.getElementById("__search");
  if (!field || !sign) return;
  let asked = false;

  function fetchOnce() {
    if (asked) return;
    asked = true;
    for (const waiting of document.querySelectorAll("script[data-later]")) {
      const script = document.createElement("script");
      script.src = waiting.getAttribute("src");
      script.async = false;
      document.body.append(script);
    }
  }

  field.addEventListener("focus", () => {
    sign.checked = true;
    fetchOnce();
  });
  // The base theme listens to keys only; pasted and spoken words come as input.
  field.addEventListener("input", () => field.dispatchEvent(new KeyboardEvent("keyup")));
  sign.addEventListener("change", () => {
    if (sign.checked) field.focus();
  });
  // Who tabs past the search has not opened it: left open, it would draw each key to itself once its scripts come.
  const search = field.closest("[role=search]");
  search.addEventListener("focusout", ({ relatedTarget: next }) => {
    if (sign.checked && next && next !== sign && !search.contains(next)) sign.click();
  });
})();
