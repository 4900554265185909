// Reads the step aloud, for whoever has no hand or eye free. Only with a voice that is on the device: others would send
// the words away. Loaded once somebody has switched it on.
(() => {
  "use strict";
  const { all, button, folded } = window.alarmtrees;
  const speech = window.speechSynthesis;
  const place = document.querySelector(".walk__step");
  const isOwn = ({ localService, lang }) => localService && /^en\b/i.test(lang);
  const key = button("aloud", "Read aloud", () => (speech.speaking ? stop() : speak()));
  key.prepend(speaker());
  let isOn = false;

  function speaker() {
    const svg = (name, given, ...inside) => {
      const made = document.createElementNS("http://www.w3.org/2000/svg", name);
      Object.entries(given).forEach(([attribute, value]) => made.setAttribute(attribute, value));
      made.append(...inside);
      return made;
    };
    const drawn = svg("path", { d: "M2 6h3l4-4v12l-4-4h-3zM11.5 5q2 3 0 6M13.5 3q3.5 5 0 10" });
    return svg("svg", { viewBox: "0 0 17 16", "aria-hidden": "true" }, drawn);
  }

  /** What is read: which alarm, what to beware of, what to look at or do, whom to call, what can be answered, and last
   * what else may happen. */
  function texts() {
    const inOrder = "h2, h3, .lines li, .call, .step--shown > p, .answers :is([data-to], [data-tree])";
    const isSeen = (one) => one.matches(".call") || one.getClientRects().length;
    const first = document.documentElement.hasAttribute("data-first") ? [document.getElementById("_top")] : [];
    const own = [...first, ...[...all(".warn li", place), ...all(inOrder, place)].filter(isSeen)];
    return [...own.map((one) => folded(one.textContent)), ...escapes()];
  }

  function escapes() {
    const dial = place.querySelector(".call") ? "" : ", .dial";
    const words = all(`.escape${dial}`, place).map((one) => folded(one.textContent));
    return words.length ? [`At any time: ${words.join(". ")}.`] : [];
  }

  function stop() {
    speech.cancel();
  }

  function speak() {
    const voices = speech.getVoices().filter(isOwn);
    const voice = voices.find((one) => one.default) || voices[0];
    stop();
    if (!voice) return;
    texts().forEach((text) => {
      const said = new window.SpeechSynthesisUtterance(text);
      said.voice = voice;
      said.lang = voice.lang;
      speech.speak(said);
    });
  }

  /** The key stands with what is seldom wanted, where it is not taken for an answer. */
  function draw() {
    if (isOn) place.querySelector(".walk__folds").prepend(key);
    else key.remove();
    stop();
  }

  function set(on) {
    isOn = on;
    draw();
  }

  document.addEventListener("walk:step", draw);
  window.addEventListener("pagehide", stop);
  window.alarmtrees.aloud = { set };
})();
