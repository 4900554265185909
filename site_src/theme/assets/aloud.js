// Reads the step aloud, for whoever has no hand or eye free. Only with a voice that is on the device: others would send
// the words away. Loaded once somebody has switched it on.
(() => {
  "use strict";
  const { all, button, folded } = window.alarmtrees;
  const speech = window.speechSynthesis;
  const place = document.querySelector(".walk__step");
  const isOwn = ({ localService, lang }) => localService && /^en\b/i.test(lang);
  const key = button("aloud", "Read aloud", () => (speech.speaking ? stop() : speak()));

  /** What is read: what to beware of, what to look at or do, and what can be answered. */
  function texts() {
    const inOrder = "h2, h3, .lines li, .answers :is([data-to], [data-tree])";
    const seen = [...all(".warn li", place), ...all(inOrder, place)].filter((one) => one.getClientRects().length);
    return seen.map((one) => folded(one.textContent));
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

  /** Puts the key before each step, at the same place, or takes it away. */
  function set(isOn) {
    if (isOn) place.before(key);
    else key.remove();
    stop();
  }

  document.addEventListener("walk:step", stop);
  window.addEventListener("pagehide", stop);
  window.alarmtrees.aloud = { set };
})();
