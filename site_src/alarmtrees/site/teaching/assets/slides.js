// One slide at a time, by key or button. The address names it, so it can be bookmarked and reloaded.
(() => {
  "use strict";
  const slides = [...document.querySelectorAll(".slide")];
  const back = document.querySelector("[data-back]");
  const on = document.querySelector("[data-on]");
  let here = 0;

  /** Show a slide; one beyond the ends is the end. `moved` says that a reader asked for it. */
  function show(to, moved) {
    here = Math.max(0, Math.min(slides.length - 1, to));
    slides.forEach((slide, place) => slide.toggleAttribute("data-shown", place === here));
    back.disabled = here === 0;
    on.disabled = here === slides.length - 1;
    if (!moved) return;
    history.replaceState(null, "", `#${here + 1}`);
    scrollTo(0, 0);
    slides[here].scrollTop = 0;
    // Read aloud from its heading; and no button that is disabled keeps the keys.
    slides[here].focus({ preventScroll: true });
  }

  /** The slide that the address names, by its number or by a place on it. */
  function named() {
    const found = document.getElementById(location.hash.slice(1));
    return found ? slides.indexOf(found.closest(".slide")) : 0;
  }

  const keys = {
    ArrowRight: () => here + 1, PageDown: () => here + 1,
    ArrowLeft: () => here - 1, PageUp: () => here - 1,
    Home: () => 0, End: () => slides.length - 1,
  };

  addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const space = event.key === " " && !event.target.closest("button, a, summary");
    const to = space ? here + (event.shiftKey ? -1 : 1) : keys[event.key]?.();
    if (to === undefined) return;
    event.preventDefault();
    show(to, true);
  });
  back.addEventListener("click", () => show(here - 1, true));
  on.addEventListener("click", () => show(here + 1, true));
  addEventListener("hashchange", () => show(named(), true));
  document.documentElement.classList.add("js");
  show(named(), location.hash !== "");
})();
