// What is kept for a shift on this device, for all tabs and pages: walks with their notes, and the resting clock. Only
// steps, answers and times: no name is asked for, and nothing is sent. On each page it shows the way back to what was
// left, and the clock of a balloon that rests.
(() => {
  "use strict";
  const { button, clocks, el, emit, has, isTime, local, many, put, session } = window.alarmtrees;

  const MINUTE = 60000;
  // Both are judgement, without a source: nothing outlives a shift, and who has cleared too much notices it soon.
  const SHIFT = 12 * 60 * MINUTE;
  const UNDO = 10 * MINUTE;
  const MOST_WALKS = 12;
  const MOST_NOTES = 400;
  const VERSION = 1;
  // Another copy of the site on the same server keeps its own.
  const root = new URL("..", document.currentScript.src);
  const KEY = `shift ${root.pathname}`;

  const isRecent = (at, length = SHIFT) => isTime(at) && Math.abs(Date.now() - at) < length;
  const empty = () => ({ version: VERSION, clock: { kind: "" }, walks: {}, clearedAt: 0 });

  // Reading what was kept: what does not fit is left out; but a rest must never look shorter than it is.

  function soundClock(kept) {
    if (typeof kept?.kind !== "string") return { kind: "" };
    const clock = clocks.isSound(kept) ? kept : { kind: "unknown", since: Date.now(), at: Date.now(), turn: 1 };
    return !isTime(clock.at) || Date.now() - clock.at < SHIFT ? clock : { kind: "", turn: clock.turn };
  }

  const isWay = (way) =>
    Array.isArray(way) && way.every((one) => typeof one?.id === "string" && typeof one.say === "string" && isTime(one.at));

  function soundWalk([id, kept]) {
    const words = [kept?.tree, kept?.title, kept?.stamp, kept?.node, kept?.say];
    if (!words.every((one) => typeof one === "string") || !isRecent(kept.at) || !isWay(kept.way)) return [];
    const log = (Array.isArray(kept.log) ? kept.log : []).filter((one) => isTime(one?.at) && typeof one.text === "string");
    return [[id, { ...kept, log: log.slice(-MOST_NOTES) }]];
  }

  function soundWalks(kept) {
    const walks = Object.entries(kept && typeof kept === "object" ? kept : {}).flatMap(soundWalk);
    walks.sort((one, other) => Number(isBegun(one[1])) - Number(isBegun(other[1])) || one[1].at - other[1].at);
    return Object.fromEntries(walks.slice(-MOST_WALKS));
  }

  /** What was kept, as far as it can be read and is not too old; null where there is nothing of this version. */
  function sound(kept) {
    if (kept?.version !== VERSION) return null;
    const { clock, walks, clearedAt, cleared } = kept;
    const state = { version: VERSION, clock: soundClock(clock), walks: soundWalks(walks), clearedAt: 0 };
    if (isRecent(clearedAt)) state.clearedAt = clearedAt;
    if (isRecent(cleared?.at, UNDO)) {
      const { at, turn, taken } = cleared;
      state.cleared = { at, turn, clock: soundClock(cleared.clock), walks: soundWalks(cleared.walks) };
      if (Number.isSafeInteger(taken)) state.cleared.taken = taken;
    }
    return state;
  }

  // Where the device keeps nothing, or has no room, this tab goes on with what it knows.

  let known = null;
  let unkept = sound(session.get(KEY));
  let isTold = false;

  function current() {
    const kept = sound(local.get(KEY));
    if (unkept && kept) {
      const isNewer = ([id, { at }]) => at >= (has(kept.walks, id) ? kept.walks[id].at : kept.clearedAt);
      const newer = Object.entries(unkept.walks).filter(isNewer);
      const walks = soundWalks({ ...kept.walks, ...Object.fromEntries(newer) });
      return { ...unkept, walks, clock: clocks.joined(unkept.clock, kept.clock) };
    }
    known = unkept || kept || known || empty();
    return known;
  }

  function update(change) {
    const next = sound({ ...current(), ...change(current()) });
    if (local.set(KEY, next)) {
      unkept = null;
      session.set(KEY, null);
    } else {
      unkept = next;
      session.set(KEY, next);
      if (!isTold) say("This device keeps nothing now. Leave this page open: it alone knows this walk.");
      isTold = true;
    }
    known = next;
    emit("shift:changed");
  }

  /** Says something of the clock; `turn` counts on over all tabs. */
  const setClock = (clock) => update((state) => ({ clock: { ...clock, turn: (state.clock.turn || 0) + 1 } }));

  /** Takes away what is kept, for all tabs; for a while it can be given back. */
  function clear() {
    update(({ clock, walks }) => ({
      clock: { kind: "", isNew: true, turn: (clock.turn || 0) + 1 },
      walks: {},
      clearedAt: Date.now(),
      cleared: { at: Date.now(), turn: (clock.turn || 0) + 1, clock, walks },
    }));
  }

  function undo() {
    const { cleared } = current();
    if (!cleared) return;
    update(({ clock, walks, clearedAt }) => {
      // What was said since the clearing stays, unless the rest before it was the longer one. A clock that came with
      // another device's walk goes with it: it may be another patient's.
      const isCome = cleared.taken === (clock.turn || 0);
      const counts = clock.isNew || isCome ? cleared.clock : clocks.longer(clock, cleared.clock);
      const isAll = Object.keys(cleared.walks).length > 0;
      return {
        clock: { ...counts, turn: (clock.turn || 0) + 1 },
        walks: { ...cleared.walks, ...walks },
        clearedAt: isAll ? 0 : clearedAt,
        cleared: null,
      };
    });
    const isTaken = cleared.taken !== undefined;
    const walks = Object.entries(cleared.walks).filter(([, walk]) => !isTaken || isBegun(walk));
    emit("shift:undone", { id: latest(walks)?.[0], isTaken });
  }

  let own = "";

  // What can be gone on with: the walk that was left last; first one that has not come to its end.

  const walkOf = (id) => (has(current().walks, id) ? current().walks[id] : undefined);
  const isBegun = (walk) => walk.way.length > 0 || walk.log.length > 1;
  const latest = (walks) => walks.reduce((best, one) => (best && best[1].at >= one[1].at ? best : one), null);

  /** Whether this page's own walk has begun: who is on the way is not led elsewhere. */
  const isOn = () => Boolean(walkOf(own)) && isBegun(walkOf(own));

  function left() {
    const walks = Object.entries(current().walks).filter(([id, walk]) => id !== own && isBegun(walk));
    const open = walks.filter(([, walk]) => !walk.end);
    return latest(open.filter(([, walk]) => walk.way.length)) || latest(open) || latest(walks);
  }

  function ago(at) {
    const minutes = Math.floor((Date.now() - at) / MINUTE);
    if (minutes < 1) return "just now";
    return minutes < 120 ? `${minutes} min ago` : `${many(Math.floor(minutes / 60), "hour")} ago`;
  }

  const addressOf = (id, tree) => new URL(`alarms/${tree}/index.html#_resume=${encodeURIComponent(id)}`, root).href;

  // What is seen

  const host = document.querySelector("[data-walk]");
  const header = document.querySelector(".top");
  const row = header?.querySelector(".top__row");
  let parts = null;
  let passed = null;
  let timer = 0;

  function say(text) {
    if (!row) return;
    const told = el("p", { class: "shift__told", role: "status" });
    row.after(told);
    told.textContent = text;
    document.addEventListener("walk:answer", () => told.remove(), { once: true });
  }

  function build() {
    const clock = el("span", "shift__clock");
    const words = el("span", "shift__words");
    const link = el("a", "shift__resume", clock, words);
    const back = button("shift__undo", "Cleared. Undo", undo);
    const box = el("div", { class: "shift", role: "group", "aria-label": "What was left" }, link, back);
    const warning = el("aside", { class: "rest__past", "aria-label": "Warning of a long rest" });
    const alert = el("p", { class: "unseen", role: "alert" });
    row.after(box);
    if (!host) {
      header.after(warning);
      document.body.append(alert);
    }
    return { box, clock, words, link, back, warning, alert };
  }

  function drawLeft([id, walk] = []) {
    if (!id) {
      put(parts.words, "");
      parts.link.removeAttribute("href");
      return;
    }
    const isHere = walk.tree === host?.dataset.walk;
    const place = isHere && !walk.end ? ` at “${walk.say}”` : `: ${walk.title}`;
    put(parts.words, `${walk.end ? "Notes" : "Resume"}${place}, ${ago(walk.at)}`);
    parts.link.href = addressOf(id, walk.tree);
    parts.link.dataset.resume = id;
  }

  /** An alarm's page has the clock itself, with more to say to it. */
  const isShown = (clock) => !host && clocks.rests(clock) && !clock.isNew;

  function drawClock(clock) {
    const { time, unsaid, late, words } = clocks.reading(clock, clock.limit ?? null, clock.say || "");
    const isSeen = isShown(clock);
    put(parts.clock, isSeen ? `Balloon resting${unsaid ? `: ${time.toLowerCase()}` : ` ${time}`}. ` : "");
    put(parts.warning, isSeen ? words : "");
    parts.warning.hidden = !isSeen || !words;
    if (!isSeen || !late) put(parts.alert, "");
    else if (!clock.warned) {
      put(parts.alert, words);
      update((state) => ({ clock: { ...state.clock, warned: true } }));
    }
    return isSeen;
  }

  const isUndoable = ({ cleared }) => Boolean(cleared) && cleared.turn !== passed;

  function drawBack({ cleared }, isCleared) {
    parts.back.hidden = !isCleared;
    put(parts.back, cleared?.taken === undefined ? "Cleared. Undo" : "Taken over. Undo");
  }

  function draw() {
    clearTimeout(timer);
    const state = current();
    const { clock } = state;
    const walk = isOn() ? null : left();
    const isCleared = isUndoable(state);
    if (!row || !(parts || walk || isCleared || isShown(clock))) return;
    parts = parts || build();
    drawLeft(walk || []);
    const isResting = drawClock(clock);
    const isLeft = Boolean(walk) || isResting;
    parts.link.hidden = !isLeft;
    drawBack(state, isCleared);
    parts.box.hidden = !isLeft && !isCleared;
    timer = setTimeout(draw, isResting ? 1000 - ((Date.now() - clock.since) % 1000) : 10000);
  }

  /** Who goes on has seen what could be undone; the notes still offer it. */
  function pass() {
    passed = current().cleared?.turn;
    draw();
  }

  /** Says which walk is this page's own. */
  function setOwn(id) {
    own = id;
    draw();
  }

  const look = () => emit("shift:changed");
  document.addEventListener("shift:changed", draw);
  document.addEventListener("walk:answer", pass);
  window.addEventListener("storage", ({ key }) => { if (key === KEY || key === null) look(); });
  // A page that was frozen has heard of nothing.
  window.addEventListener("pageshow", look);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) look(); });
  window.alarmtrees.shift = {
    own: () => own, setOwn, walkOf, current, update, setClock, clear, undo, left, ago, say, isRecent,
  };
  draw();
})();
