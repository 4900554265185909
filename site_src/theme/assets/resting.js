// The resting clock: how long the balloon has not moved. It runs through calls, reloads and other pages, until the
// balloon is seen to move. It shows time that has passed and never time that is left. Started by `walk:open`.
(() => {
  "use strict";
  const host = document.querySelector("[data-walk]");
  const header = document.querySelector(".top__row");
  if (!host || !header) return;
  const { button, el, emit, isTime, put, session, timeOf, two } = window.alarmtrees;

  const KEY = "resting-clock";
  const MINUTE = 60000;
  // A day: more is a slip of the finger, or known to nobody.
  const MOST = 1440;
  const limit = host.dataset.limit ? Number(host.dataset.limit) * 1000 : null;
  const limitSay = host.dataset.limitSay || "";
  const ASK = "When did the balloon last move?";

  // What is known. `kind` is one of
  //   told     it last moved at `since`
  //   stopped  a step stopped it; `since` is that step's beginning
  //   still    it stands still, at least from `since` on; nobody has said since when
  //   short    at `at` it was said to have rested less than the limit; no minutes were told
  //   long     at `at` it was said to have rested for the limit or longer
  //   unknown  nobody knows: counts as past the limit
  //   moved    it was seen to move at `at`; `before` is what was known until then, `by` the answer that said so
  // or "" where nothing speaks of a rest.
  const KINDS = ["told", "stopped", "still", "short", "long", "unknown"];
  let clock = { kind: "" };
  let parts = null;
  let timer = 0;

  const now = () => Date.now();

  function span(milliseconds) {
    const seconds = Math.floor(milliseconds / 1000);
    const hours = Math.floor(seconds / 3600);
    const rest = `${two(Math.floor(seconds / 60) % 60)}:${two(seconds % 60)}`;
    return hours ? `${hours}:${rest}` : rest;
  }

  function spoken(milliseconds) {
    const seconds = Math.floor(milliseconds / 1000);
    const minutes = Math.floor(seconds / 60);
    return `${minutes ? `${minutes} min ` : ""}${seconds % 60} s`;
  }

  function isSound({ kind, at, since, by, before, length }) {
    if (kind === "") return true;
    if (!isTime(at)) return false;
    if (kind !== "moved") return KINDS.includes(kind) && isTime(since);
    const isTold = typeof by?.tree === "string" && typeof length === "string";
    return isTold && typeof before?.kind === "string" && before.kind !== "moved" && isSound(before);
  }

  // Where nothing may be kept, the clock starts from what is seen here, and runs on this page alone.

  function load() {
    const kept = session.get(KEY);
    // What was kept and cannot be read any more counts as not known: a rest must never look shorter than it is.
    if (typeof kept?.kind === "string") clock = isSound(kept) ? kept : { kind: "unknown", since: now(), at: now() };
  }

  function keep() {
    session.set(KEY, clock);
  }

  const rests = () => clock.kind !== "" && clock.kind !== "moved";
  // A device's clock that was put back must not make a rest look shorter: then the time is not known.
  const broken = () => rests() && now() < clock.since - MINUTE;
  const elapsed = () => Math.max(0, now() - clock.since);
  const unknown = () => clock.kind === "unknown" || broken();
  const past = () => rests() && (unknown() || clock.kind === "long" || (limit !== null && elapsed() >= limit));
  const unsaid = () => clock.kind === "still" || clock.kind === "short";
  const exact = () => clock.kind === "told" || clock.kind === "stopped";

  function set(next, text) {
    const warned = rests() && past() && clock.warned;
    clock = { at: now(), ...next };
    if (warned && past()) clock.warned = true;
    if (text) emit("walk:log", { text });
    keep();
    tick();
  }

  // What the walk tells

  const atFirst = () => (host.dataset.pump === "stopped" ? { kind: "still", since: now(), at: now() } : { kind: "" });

  function open(event) {
    load();
    const fresh = !event.detail.resumed && !event.detail.carried;
    if (fresh && !rests()) clock = atFirst();
    keep();
    tick();
    document.addEventListener("visibilitychange", tick);
  }

  /** Once a second, as a whole second of the rest has passed. */
  function tick() {
    clearTimeout(timer);
    draw();
    timer = setTimeout(tick, rests() ? 1000 - (elapsed() % 1000) : 1000);
  }

  function answered(event) {
    const said = event.detail;
    if (said.pump === "moves") {
      if (rests()) moved(said.at, said.step);
    } else if (said.rest) {
      rested(said);
    } else if (said.pump === "still" && !rests()) {
      set({ kind: "still", since: said.since, at: said.at }, "Balloon seen to stand still");
    } else if (said.does === "stops" && !rests()) {
      set({ kind: "stopped", since: said.since, at: said.at }, "Balloon stopped in this step: the resting clock runs");
    }
  }

  function rested(said) {
    const minutes = parts?.asked ? parts.asked() : null;
    // A time that was told is more exact than the answer, unless the answer says that it was longer.
    if (minutes !== null && (said.rest === "short" || (said.rest === "long" && minutes * MINUTE >= limit))) told(minutes);
    if (exact() && (said.rest === "short" || past())) return;
    set({ kind: said.rest, since: sinceOf(said), at: said.at });
  }

  /** Since when at least it stands still, by an answer that tells no minutes. */
  function sinceOf(said) {
    const before = unsaid() ? clock.since : said.at;
    return said.rest === "long" ? Math.min(before, said.at - (limit || 0)) : before;
  }

  function moved(at, step) {
    const length = exact() ? `after ${spoken(at - clock.since)} at rest` : "resting time not exactly known";
    const by = { tree: host.dataset.walk, id: step, at };
    set({ kind: "moved", at, by, before: clock, length }, `Balloon seen to move, ${length}`);
  }

  function told(minutes) {
    const text = minutes ? `Told: the balloon last moved ${minutes} min ago` : "Told: the balloon moved just now";
    set({ kind: "told", since: now() - minutes * MINUTE, at: now() }, text);
  }

  function notKnown() {
    set({ kind: "unknown", since: rests() ? clock.since : now() }, "Told: nobody knows when the balloon last moved");
  }

  /** Who goes back to before an answer takes it back: the clock runs on as if it had not been given. */
  function went(event) {
    const given = (answer) => event.detail.way.some((one) => one.id === answer.id && one.at === answer.at);
    if (clock.kind === "moved" && clock.by.tree === host.dataset.walk && clock.by.id && !given(clock.by)) {
      set({ ...clock.before, undone: clock.by }, "Answer taken back: the resting clock runs on");
    } else if (rests() && clock.undone && given(clock.undone)) {
      moved(clock.undone.at, clock.undone.id);
    }
  }

  function summary(event) {
    const lines = event.detail.lines;
    const still = rests() ? ` Resting ${exact() ? "" : "at least "}${spoken(elapsed())} at ${timeOf(now())}.` : "";
    const say = {
      told: `Balloon last moved at about ${timeOf(clock.since)}, as told.`,
      stopped: `Balloon stopped at about ${timeOf(clock.since)}.`,
      still: `Balloon still, at least since ${timeOf(clock.since)}; not said since when.`,
      short: `Balloon still for less than ${limitSay} at ${timeOf(clock.at)}, as told.`,
      long: `Balloon still for ${limitSay} or longer at ${timeOf(clock.at)}, as told.`,
      unknown: `Not known when the balloon last moved; counts as ${limitSay} or longer.`,
      moved: `Balloon moved again at ${timeOf(clock.at)}, ${clock.length}.`,
    }[clock.kind];
    lines.push(say ? say + (unknown() ? "" : still) : "No rest of the balloon was noted.");
  }

  // What is seen

  /** A field for minutes. Calls `done` with a number; says so where it is none. */
  function minutesForm(name, done) {
    const id = `_rest-${name}`;
    const label = el("label", { for: id }, "Minutes ago ");
    const about = { class: "rest__minutes", id, type: "text", inputmode: "numeric", autocomplete: "off", maxlength: "4" };
    const field = el("input", about);
    const fault = el("p", { class: "rest__fault", role: "alert" });
    const form = el("form", "rest__form", label, field, el("button", "plain", "Set"), fault);
    const isMinutes = () => /^\s*\d{1,4}\s*$/.test(field.value) && Number(field.value) <= MOST;
    const value = () => (isMinutes() ? Number(field.value) : null);
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      const minutes = value();
      fault.textContent = minutes === null ? `Type whole minutes, such as 5, up to ${MOST}. Longer: “Nobody knows”.` : "";
      if (minutes === null) field.focus();
      else done(minutes);
    });
    return { form, value };
  }

  function build() {
    const label = el("span", "rest__label");
    const time = el("span", "rest__time");
    const warning = el("p", "rest__past");
    const alert = el("p", { class: "unseen", role: "alert" });
    const panel = el("div", { class: "rest__panel", id: "_rest", role: "group", "aria-label": ASK });
    const face = button("rest__face", "", () => show(panel.hidden));
    face.setAttribute("aria-controls", "_rest");
    face.append(label, " ", time);

    function show(isOpen) {
      panel.hidden = !isOpen;
      face.setAttribute("aria-expanded", String(isOpen));
    }
    function close() {
      show(false);
      face.focus();
    }
    const chosen = (text, act) => button("plain", text, () => { act(); close(); });
    const typed = minutesForm("told", (minutes) => { told(minutes); close(); });
    panel.append(el("p", "rest__ask", ASK), el(
      "div", "rest__choices",
      chosen("Just now", () => told(0)), typed.form, chosen("Nobody knows", notKnown),
      chosen("It moves now", () => { if (rests()) moved(now()); }),
      chosen("Other patient: clear", () => set(atFirst(), "Resting clock cleared")),
    ));
    show(false);
    // What it lies over comes back when a reader goes on there.
    document.addEventListener("walk:step", () => show(false));
    document.addEventListener("pointerdown", (event) => {
      if (!panel.contains(event.target) && !face.contains(event.target)) show(false);
    });
    document.addEventListener("keydown", (event) => {
      if (event.key === "Escape" && !panel.hidden) close();
    });

    header.querySelector(".top__home").after(face);
    header.after(panel, warning);
    document.body.append(alert);
    return { face, label, time, warning, alert, panel, asked: null };
  }

  function draw() {
    if (!rests() && !parts) return;
    if (!parts) parts = build();
    const root = document.documentElement;
    root.toggleAttribute("data-rests", rests());
    parts.face.hidden = !rests();
    if (!rests()) parts.panel.hidden = true;
    const late = past();
    parts.face.classList.toggle("rest__face--late", late);
    parts.face.classList.toggle("rest__face--unsaid", unsaid() && !late);
    put(parts.label, unsaid() ? "When did it last move?" : "Balloon resting");
    put(parts.time, shownTime());
    const words = warningWords();
    parts.warning.hidden = !words;
    put(parts.warning, words);
    parts.warning.classList.toggle("rest__past--unsaid", !late);
    if (late && !clock.warned) {
      clock.warned = true;
      keep();
      put(parts.alert, words);
      emit("walk:log", { text: `Resting warning: ${words}` });
    } else if (!late) {
      put(parts.alert, "");
    }
  }

  function shownTime() {
    if (!rests()) return "";
    if (unknown()) return "not known";
    return `${unsaid() ? "Still " : ""}${span(elapsed())}${exact() ? "" : " or more"}`;
  }

  function warningWords() {
    if (past()) {
      if (limit === null) return "Not known when it last moved. Do not restart. Call.";
      const how = unknown() ? `Rest not known: counts as past ${limitSay}` : `Past ${limitSay} at rest`;
      return `${how}. Do not restart. Call.`;
    }
    if (rests() && limit === null) return "The resting warning is not set here. Call and ask.";
    if (clock.kind === "short") {
      return `Under ${limitSay} at ${timeOf(clock.at)}, may be past it now. Say when it last moved.`;
    }
    return "";
  }

  /** Where the tree itself asks, minutes can be told on the spot. */
  function asks(event) {
    const answers = event.detail.step.querySelector(".answers");
    if (parts) parts.asked = null;
    if (!event.detail.step.querySelector('.answers [data-rest="short"]')) return;
    if (!parts) parts = build();
    const typed = minutesForm("here", told);
    typed.form.classList.add("rest__form--here");
    answers.after(typed.form);
    parts.asked = typed.value;
    draw();
  }

  document.addEventListener("walk:open", open);
  document.addEventListener("walk:step", asks);
  document.addEventListener("walk:answer", answered);
  document.addEventListener("walk:went", went);
  document.addEventListener("walk:sum", summary);
  document.addEventListener("walk:clear", () => set(atFirst()));
})();
