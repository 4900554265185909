// The resting clock of an alarm's page: how long the balloon has not moved. It runs through calls, reloads, other pages
// and closed tabs, until the balloon is seen to move. Started by `walk:open`.
(() => {
  "use strict";
  const host = document.querySelector("[data-walk]");
  const header = document.querySelector(".top__row");
  if (!host || !header) return;
  const { button, clocks, el, emit, put, putShort, shift, timeOf } = window.alarmtrees;

  const MINUTE = 60000;
  // A day: more is a slip of the finger, or known to nobody.
  const MOST = 1440;
  const limit = host.dataset.limit ? Number(host.dataset.limit) * 1000 : null;
  const limitSay = host.dataset.limitSay || "";
  const ASK = "When did the balloon last move?";

  let clock = shift.current().clock;
  let parts = null;
  let timer = 0;

  const now = () => Date.now();

  function spoken(milliseconds) {
    const seconds = Math.floor(milliseconds / 1000);
    const minutes = Math.floor(seconds / 60);
    return `${minutes ? `${minutes} min ` : ""}${seconds % 60} s`;
  }

  const rests = () => clocks.rests(clock);
  const exact = () => clocks.isExact(clock);
  const unsaid = () => clocks.isUnsaid(clock);
  const elapsed = () => Math.max(0, now() - clock.since);
  const reading = () => clocks.reading(clock, limit, limitSay);
  const past = () => reading().late;

  /** What another tab has said meanwhile counts. */
  function load() {
    clock = shift.current().clock;
  }

  function set(next, text) {
    load();
    const warned = past() && clock.warned;
    // Whoever takes back the answer that ended a rest finds that rest again, whatever was begun since.
    const ended = next.ended === undefined ? clock.ended : next.ended;
    clock = { at: now(), ...next, limit, say: limitSay };
    if (ended) clock.ended = ended;
    if (warned && past()) clock.warned = true;
    shift.setClock(clock);
    if (text) emit("walk:log", { text });
    tick();
  }

  // What the walk tells

  const atFirst = () =>
    (host.dataset.pump === "stopped" ? { kind: "still", since: now(), isNew: true } : { kind: "", isNew: true });

  function open(event) {
    const fresh = !event.detail.resumed && !event.detail.carried;
    load();
    if (fresh && !rests() && (host.dataset.pump === "stopped" || !clock.ended)) set(atFirst());
    tick();
    document.addEventListener("shift:changed", () => {
      load();
      tick();
    });
  }

  /** Once a second, as a whole second of the rest has passed. */
  function tick() {
    clearTimeout(timer);
    draw();
    timer = setTimeout(tick, rests() ? 1000 - (elapsed() % 1000) : 1000);
  }

  function answered(event) {
    const said = event.detail;
    load();
    // Who goes on from a page of a still balloon has seen it so.
    if (rests() && clock.isNew) set({ ...clock, isNew: undefined });
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
    const before = { ...clock, ended: undefined };
    const by = { walk: shift.own(), tree: host.dataset.walk, id: step, at };
    set({ kind: "moved", at, ended: { before, by, length } }, `Balloon seen to move, ${length}`);
  }

  function told(minutes) {
    const text = minutes ? `Told: the balloon last moved ${minutes} min ago` : "Told: the balloon moved just now";
    set({ kind: "told", since: now() - minutes * MINUTE, at: now() }, text);
  }

  /** A hold that was planned: the balloon has moved until now. */
  function holds() {
    load();
    if (!rests()) set({ kind: "stopped", since: now() }, "Hold begins: the resting clock runs");
  }

  /** What another device tells, unless the balloon was said to rest here for longer. */
  function handed({ detail: { clock: given } }) {
    load();
    if (!given.kind) return;
    const isOurs = rests() && !clock.isNew;
    if (given.kind !== "moved") {
      set({ ...(isOurs ? clocks.longer(clock, given) : given), isNew: undefined });
    } else if (!isOurs) {
      const { id, at } = given.ended.by;
      set({ ...given, ended: { ...given.ended, by: { walk: shift.own(), tree: host.dataset.walk, id, at } } });
    }
  }

  function cleared() {
    shift.clear(false);
    set({ ...atFirst(), ended: null }, "Resting clock cleared");
  }

  function notKnown() {
    set({ kind: "unknown", since: rests() ? clock.since : now() }, "Told: nobody knows when the balloon last moved");
  }

  /** Who goes back to before an answer takes it back: the clock runs on as if it had not been given. */
  function went(event) {
    load();
    const isOurs = (answer) => answer?.id && answer.walk === shift.own() && answer.tree === host.dataset.walk;
    const given = (answer) => event.detail.way.some((one) => one.id === answer.id && one.at === answer.at);
    const { ended, undone } = clock;
    if (isOurs(ended?.by) && !given(ended.by)) {
      const longer = rests() ? clocks.longer(clock, ended.before) : ended.before;
      set({ ...longer, ended: null, undone: ended.by }, "Answer taken back: the resting clock runs on");
    } else if (rests() && isOurs(undone) && given(undone)) {
      moved(undone.at, undone.id);
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
      moved: `Balloon moved again at ${timeOf(clock.at)}, ${clock.ended?.length}.`,
    }[clock.kind !== "moved" || clock.ended.by.walk === shift.own() ? clock.kind : ""];
    lines.push(say ? say + (reading().unknown ? "" : still) : "No rest of the balloon was noted.");
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
      chosen("Other patient: clear", cleared),
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
    const { late, unsaid: isUnsaid, asks: isAsking, time, words } = reading();
    parts.face.classList.toggle("rest__face--late", late);
    parts.face.classList.toggle("rest__face--unsaid", isUnsaid);
    parts.face.classList.toggle("rest__face--asks", isAsking);
    const asking = unsaid();
    putShort(parts.label, asking ? "When did it last move?" : "Balloon resting", asking ? "Last moved?" : "");
    putShort(parts.time, time, asking ? time.replace("Still ", "") : "");
    parts.face.classList.toggle("rest__face--words", asking && !time.startsWith("Still "));
    parts.warning.hidden = !words;
    put(parts.warning, words);
    parts.warning.classList.toggle("rest__past--unsaid", !late);
    if (late && !clock.warned) {
      clock.warned = true;
      shift.update(() => ({ clock }));
      put(parts.alert, words);
      emit("walk:log", { text: `Resting warning: ${words}` });
    } else if (!late) {
      put(parts.alert, "");
    }
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
  document.addEventListener("walk:holds", holds);
  document.addEventListener("walk:handed", handed);
  document.addEventListener("walk:clear", () => set({ ...atFirst(), ended: null }));
  // What is known of a rest, for a question that asks for it.
  document.addEventListener("walk:rest", ({ detail }) => {
    load();
    Object.assign(detail, { isExact: exact(), isPast: past(), at: clock.at });
  });
})();
