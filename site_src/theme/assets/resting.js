// The resting clock of an alarm's page: how long the balloon has not moved. It runs through calls, reloads, other pages
// and closed tabs, until the balloon is seen to move. Started by `walk:open`.
(() => {
  "use strict";
  const host = document.querySelector("[data-walk]");
  const header = document.querySelector(".top__row");
  if (!host || !header) return;
  const { button, clocks, el, emit, put, putShort, shift, single, timeOf } = window.alarmtrees;

  const MINUTE = 60000;
  // A day: more is a slip of the finger, or known to nobody.
  const MOST = 1440;
  const limit = host.dataset.limit ? Number(host.dataset.limit) * 1000 : null;
  const limitSay = host.dataset.limitSay || "";
  const soon = Number(host.dataset.soon) * 1000 || undefined;
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
  const reading = () => clocks.reading(clock, limit, limitSay, soon);
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
    clock = { at: now(), ...next, limit, say: limitSay, soon };
    if (ended) clock.ended = ended;
    if (warned && past()) clock.warned = true;
    if (!reading().near) delete clock.neared;
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
      else set({ ...clock, seen: shift.own() });
    } else if (said.rest) {
      rested(said);
    } else if (said.pump === "still" && !rests()) {
      set({ kind: "still", since: said.since, at: said.at }, "Balloon seen to stand still");
    } else if (said.does === "stops" && !rests()) {
      set(clocks.stopped(clock, said, shift.own()), "Pump stopped in this step: the resting clock runs");
    }
  }

  function rested(said) {
    // A time that was told is more exact than the answer, unless the answer says that it was longer.
    if (exact() && (said.rest === "short" || past())) return;
    set({ kind: said.rest, since: sinceOf(said), at: said.at });
  }

  /** Since when at least it stands still, by an answer that tells no minutes. */
  function sinceOf(said) {
    const before = unsaid() ? clock.since : said.at;
    return said.rest === "long" ? Math.min(before, said.at - (limit || 0)) : before;
  }

  function moved(at, step) {
    const by = { walk: shift.own(), tree: host.dataset.walk, id: step, at };
    const length = exact() ? `after ${most()}${spoken(at - clock.since)} at rest` : "resting time not exactly known";
    const before = { ...clock, ended: undefined };
    set({ kind: "moved", at, ended: { before, by, length } }, `Balloon seen to move, ${length}`);
  }

  function told(minutes) {
    const text = minutes ? `Told: the balloon last moved ${minutes} min ago` : "Told: the balloon moved just now";
    set({ kind: "told", since: now() - minutes * MINUTE, at: now() }, text);
  }

  /** Less than so many minutes: the longest that it can be counts. */
  function toldLess(minutes) {
    const since = now() - minutes * MINUTE;
    set({ kind: "told", most: true, since, at: now() }, `Told: the balloon last moved less than ${minutes} min ago`);
  }

  const most = () => (clock.most ? "at most " : "");

  // Parts of the limit, by which an answer tells nearly as much as minutes would, with one press: no clinical numbers.
  const parted = limit === null ? [] : [1, 2].map((part) => Math.floor((part * limit) / 3 / MINUTE)).filter(Boolean);

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
      const longer = isOurs ? clocks.longer(clock, given) : given;
      set({ ...longer, isNew: undefined }, longer === given ? "" : "This device’s resting clock counts: it is the longer");
    } else if (!isOurs) {
      const { id, at } = given.ended.by;
      set({ ...given, ended: { ...given.ended, by: { walk: shift.own(), tree: host.dataset.walk, id, at } } });
    }
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
    } else if (clock.seen) {
      set({ ...clock, seen: undefined });
    }
  }

  function summary(event) {
    const lines = event.detail.lines;
    const still = rests() ? ` Resting ${exact() ? most() : "at least "}${spoken(elapsed())} at ${timeOf(now())}.` : "";
    const say = {
      told: `Balloon last moved ${clock.most ? "not before" : "at about"} ${timeOf(clock.since)}, as told.`,
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

  /** A field for minutes. Says so where it is given none. */
  function minutesForm(done) {
    const id = "_rest-told";
    const label = el("label", { for: id }, "Minutes ago ");
    const about = { class: "rest__minutes", id, type: "text", inputmode: "numeric", autocomplete: "off", maxlength: "4" };
    const field = el("input", about);
    const fault = el("p", { class: "rest__fault", role: "alert" });
    const form = el("form", "rest__form", label, field, el("button", "plain", "Set"), fault);
    const isMinutes = () => /^\s*\d{1,4}\s*$/.test(field.value) && Number(field.value) <= MOST;
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      fault.textContent = isMinutes() ? "" : `Type whole minutes, such as 5, up to ${MOST}. Longer: “Nobody knows”.`;
      if (isMinutes()) done(Number(field.value));
      else field.focus();
    });
    return form;
  }

  function build() {
    const label = el("span", "rest__label");
    const time = el("span", "rest__time");
    const warning = el("p", "rest__past");
    const alert = el("p", { class: "unseen", role: "alert" });
    const status = el("p", { class: "unseen", role: "status" });
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
    const typed = minutesForm((minutes) => { told(minutes); close(); });
    panel.append(el("p", "rest__ask", ASK), el(
      "div", "rest__choices",
      chosen("Just now", () => told(0)), ...parted.map((minutes) => chosen(`Less than ${minutes} min ago`, () => toldLess(minutes))),
      typed, chosen("Nobody knows", notKnown),
      chosen("It moves now", () => { if (rests()) moved(now()); }),
      chosen("Other patient: clear all", () => emit("walk:next-patient")),
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
    document.body.append(alert, status);
    return { face, label, time, warning, alert, status, panel };
  }

  function draw() {
    if (!rests() && !parts) return;
    if (!parts) parts = build();
    const root = document.documentElement;
    root.toggleAttribute("data-rests", rests());
    parts.face.hidden = !rests();
    if (!rests()) parts.panel.hidden = true;
    const told = reading();
    const { late, time, words } = told;
    parts.face.classList.toggle("rest__face--late", late);
    parts.face.classList.toggle("rest__face--unsaid", told.unsaid);
    const asking = unsaid();
    putShort(parts.label, ...labels(told, asking));
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
    drawNear(told);
  }

  function labels({ near, asks: isAsking }, asking) {
    if (near && !isAsking) return [`⚠\uFE0E Near ${limitSay}`, ""];
    return asking ? ["When did it last move?", "Last moved?"] : ["Balloon resting", ""];
  }

  /** Some minutes before the limit the clock says so, once aloud; a rest that nobody timed stays a question. */
  function drawNear(told) {
    const { near } = told;
    parts.face.classList.toggle("rest__face--near", near);
    if (!near) put(parts.status, "");
    if (!near || clock.neared) return;
    clock.neared = true;
    shift.update(() => ({ clock }));
    put(parts.status, clocks.coming(told, limitSay));
  }

  /** Where the tree asks, one press says how much less than the limit it is: its answer, with a part of the limit. */
  function asks(event) {
    const { step } = event.detail;
    const press = step.querySelector('.answers:not(.segments) [data-rest="short"]:not([data-pump="moves"])');
    if (!press || !limitSay || !press.textContent.includes(limitSay)) return;
    const said = (minutes) => press.textContent.trim().replace(limitSay, `${minutes}\u00A0min`);
    // A clock that runs is not made shorter by an answer, and one that was told is left as it is.
    const isKnown = (minutes) => (exact() && !clock.most) || (rests() && elapsed() > minutes * MINUTE);
    const less = parted.map((minutes) => button("answer", said(minutes), single(() => {
      load();
      if (!isKnown(minutes)) toldLess(minutes);
      press.click();
    })));
    press.parentElement.classList.add("parted");
    press.before(...less);
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
    const isOver = past() && !["long", "unknown"].includes(clock.kind);
    Object.assign(detail, { isExact: exact(), isPast: past(), isOver, at: clock.at });
  });
})();
