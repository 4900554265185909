// What a walk keeps for the shift: where it stands, what was answered, the notes. Given to walk.js, which says when.
(() => {
  "use strict";
  const { button, clocks, copied, dayOf, el, emit, folded, inAddress, isTime } = window.alarmtrees;
  const { local, session, shift, timeOf } = window.alarmtrees;

  const CARRY = "walk-carry";
  const HERE = "walk-here";
  const ALOUD = "aloud";
  const RESUME = "_resume=";
  const HANDED = "#_handed=";
  const CODE_DRAWER = "vendor/lean-qr-2.7.4.js";
  const assets = new URL(".", document.currentScript.src);

  /** A few letters that stand for a text: other words, other letters. @type {(text: string) => string} */
  function stampOf(text) {
    let hash = 0x811c9dc5;
    for (let i = 0; i < text.length; i++) hash = Math.imul(hash ^ text.charCodeAt(i), 0x01000193) >>> 0;
    return hash.toString(36);
  }

  /** Scripts that few need come when they are asked for. @type {(...names: string[]) => Promise} */
  const fetched = (...names) => Promise.all(names.map((name) => new Promise((resolve, reject) => {
    const script = el("script", { src: new URL(name, assets).href });
    script.async = false;
    script.addEventListener("load", resolve);
    script.addEventListener("error", reject);
    document.head.append(script);
  })));

  const newId = () => `${Date.now().toString(36)}${Math.random().toString(36).slice(2, 8)}`;

  /**
   * Where the walk through one alarm stands, and its notes.
   * @param {string} tree
   * @param {string} title the alarm's
   * @param {Map<string, HTMLElement>} steps
   * @param {(id: string) => string} words what a step says, in one line
   * @param {(node: string, way: object[]) => void} go shows another place of the walk
   */
  function keepingOf(tree, title, steps, words, go) {
    let start = "";
    let stamp = "";
    let id = newId();
    let at = Date.now();
    let isClearing = false;
    let shown = null;

    const known = () => shift.walkOf(id);
    const entered = (node, way, by) => ({ walk: tree, id, stamp, node, way, by, at: Date.now() });
    const asked = () => (steps.has(inAddress()) ? inAddress() : "");

    /** Whether a place can be gone on from: of this page as it is now, of this shift, and not cleared. */
    const isSound = (kept) =>
      kept?.walk === tree &&
      kept.stamp === stamp &&
      typeof kept.id === "string" &&
      steps.has(kept.node) &&
      shift.isRecent(kept.at) &&
      (Boolean(shift.walkOf(kept.id)) || kept.at > shift.current().clearedAt) &&
      Array.isArray(kept.way) &&
      kept.way.every((one) => steps.has(one?.id) && typeof one.say === "string" && isTime(one.at));

    function takeOn(state) {
      id = state.id;
      at = state.at;
      session.set(HERE, id);
      shift.setOwn(id);
    }

    function write(given) {
      const before = { id, tree, title, stamp, node: start, way: [], say: "", end: "", at: Date.now(), log: [] };
      shift.update(({ walks }) => ({ walks: { ...walks, [id]: { ...before, ...walks[id], ...given } } }));
    }

    function keep(state) {
      if (state.id !== id) takeOn(state);
      at = state.at;
      const { node, way, carried, given, alone } = state;
      const end = steps.get(node).dataset.end || "";
      write({ tree, title, stamp, node, way, carried, given, alone, say: words(node), end, at });
    }

    // Found again

    /** Where a kept walk of this page stands, as a place that can be gone on from. */
    function stateOf(of) {
      const kept = shift.walkOf(of);
      if (!kept) return null;
      const { tree: walk, stamp: its, node, way, at: when, carried, given, alone } = kept;
      const state = { walk, id: of, stamp: its, node, way, by: "jump", at: when, carried, given, alone };
      return isSound(state) ? state : null;
    }

    /** Where this page was left: by the browser's history, else what was kept, where a reload or a way back led. */
    function here() {
      const how = performance.getEntriesByType("navigation")[0]?.type;
      const kept = how === "reload" || how === "back_forward" ? stateOf(session.get(HERE)) : null;
      const found = [history.state, kept].find(isSound);
      return !found || (asked() && found.node !== asked()) ? null : found;
    }

    /**
     * Whoever opens an alarm's page anew begins at its first step, also where a walk of it was left: in the bed may be
     * another patient by now, and the first step looks at the patient. The header leads back to what was left.
     */
    function foundAgain() {
      start = steps.keys().next().value;
      stamp = stampOf(Array.from(steps, ([node, step]) => node + folded(step.textContent)).join("\n"));
      if (location.hash.startsWith(HANDED)) take(location.hash.slice(HANDED.length));
      const of = inAddress().startsWith(RESUME) ? inAddress().slice(RESUME.length) : "";
      const found = of ? stateOf(of) : here();
      if (of) history.replaceState(null, "", `#${encodeURIComponent(found ? found.node : start)}`);
      const before = of || (history.state?.walk === tree && history.state.id);
      const kept = shift.walkOf(before);
      if (found) takeOn(found);
      else if (kept && kept.stamp !== stamp) changed(before);
      else takeOn({ id: newId(), at: Date.now() });
      return found;
    }

    /** Its answers may belong to other questions by now. The notes are words: they stay. */
    function changed(before) {
      takeOn({ id: before, at: Date.now() });
      history.replaceState(null, "", `#${encodeURIComponent(start)}`);
      note("This page has changed since: begun anew");
      shift.say("This page has changed since it was left. It begins at its first step; notes and clock are kept.");
    }

    /** Whether the page before led to this alarm; that counts once. Its notes go on here. */
    function isCarried(found) {
      const carried = session.get(CARRY);
      session.set(CARRY, null);
      if (found || carried?.to !== tree) return false;
      if (typeof carried.id === "string") takeOn({ id: carried.id, at: Date.now() });
      return true;
    }

    const carry = (to) => session.set(CARRY, { to, id, at: Date.now() });

    function resume(of) {
      const state = stateOf(of);
      if (!state) return false;
      takeOn(state);
      note(`Resumed: ${words(state.node)}`);
      go(state.node, state.way, { given: state.given, alone: state.alone });
      return true;
    }

    // From one device to another

    /** Reads what another device hands over. Until then, and where that fails, the page is one that was opened anew. */
    async function take(text) {
      history.replaceState(null, "", `#${encodeURIComponent(start)}`);
      await fetched("hand-over.js").catch(() => shift.say("The code cannot be read now."));
      const page = { steps, stamp, stampOf, words, title, note, called, gotWorse, takeOn, go };
      window.alarmtrees.handOver?.take(page, text, {
        state: () => ({ walk: tree, id: newId(), stamp, at: Date.now() }),
        isSound,
        clearing: (isOn) => { isClearing = isOn; },
        open: () => { shown.open = true; },
      });
    }

    function handOver() {
      const place = el("div", "");
      if (location.protocol === "file:") {
        place.append(el("p", "quiet", "No other device can open this folder. Copy the notes instead."));
        return [null, place];
      }
      const press = button("plain", "Hand over by a code", async () => {
        try {
          await fetched("hand-over.js", CODE_DRAWER);
          const page = { steps, stamp, stampOf };
          const { packed, show } = window.alarmtrees.handOver;
          show(place, () => packed(page, known(), shift.current().clock));
        } catch {
          place.replaceChildren(el("p", "", "The code cannot be drawn now. Copy the notes instead."));
        }
      });
      return [press, place];
    }

    // Who was called, and whether for a patient who is worse: for as long as the walk, on all its pages

    const calls = () => known()?.calls || {};
    const whom = (step) => step.querySelector(".call b")?.textContent;
    const worse = () => known()?.worse || {};

    function called(step, when) {
      const one = whom(step);
      if (one) write({ calls: { ...calls(), [one]: when } });
    }

    /** @param {HTMLElement} [step] to which that leads: whom it calls */
    function gotWorse(say, when, step) {
      write({ worse: { say, at: when, by: (step && whom(step)) || worse().by } });
    }

    // Notes: what was done, in order

    function note(text, when, going) {
      const log = (known()?.log || []).slice();
      if (going && log[log.length - 1]?.going) log.pop();
      log.push({ at: when || Date.now(), text, going: going || undefined });
      write({ log });
    }

    function told() {
      const rest = [];
      emit("walk:sum", { lines: rest });
      const lines = (known()?.log || []).map((one) => `${timeOf(one.at)}  ${one.text}`);
      return [`${title}, ${dayOf(Date.now())}`, ...lines, ...rest].join("\n");
    }

    function anew() {
      takeOn({ id: newId(), at: Date.now() });
      note(`Opened: ${title}`);
      emit("walk:anew");
      go(start, []);
    }

    function clear() {
      isClearing = true;
      shift.clear();
      anew();
      isClearing = false;
      emit("walk:clear");
    }

    /** What stands below a step: notes to copy, and what is seldom wanted; at an end the notes are open. */
    function below() {
      const isEnd = steps.get(known()?.node || start).dataset.end;
      const about = { class: "record__text", tabindex: "0", role: "region", "aria-label": "What was done" };
      const text = el("pre", about);
      const done = el("span", { class: "quiet", role: "status" });
      const copy = button("plain", "Copy", async () => {
        refresh();
        done.textContent = (await copied(text.textContent, () => text)) ? "Copied." : "Marked above: copy it by hand.";
      });
      const presses = el("p", "record__presses", copy, " ", button("plain", "Next patient: clear all", clear), " ", done);
      const [press, place] = handOver();
      const others = el("p", "record__presses", press, holds(), undo());
      const voice = aloud();
      const inside = [voice && el("p", "record__presses", voice), text, presses, others.firstChild && others, place];
      shown = isEnd && isEnd !== "go"
        ? el("section", "record", el("h3", "", "For the notes"), ...inside)
        : el("details", "record", el("summary", "", "Notes so far"), ...inside);
      refresh();
      return shown;
    }

    function refresh() {
      const text = shown?.querySelector(".record__text");
      if (text) text.textContent = told();
    }

    /** A hold that is planned has its step on some pages only. */
    function holds() {
      const isResting = clocks.rests(shift.current().clock);
      const press = button("plain", "A hold begins now: start the clock", () => {
        emit("walk:holds");
        press.remove();
      });
      return isResting ? null : press;
    }

    /** Nothing where the device has no voice of its own: another one would send the words away. */
    function aloud() {
      const voices = window.speechSynthesis ? window.speechSynthesis.getVoices() : [];
      if (!voices.some(({ localService, lang }) => localService && /^en\b/i.test(lang))) return null;
      const press = button("plain", "", () => switchAloud(!local.get(ALOUD)));
      const name = () => { press.textContent = local.get(ALOUD) ? "Turn reading aloud off" : "Turn reading aloud on"; };
      press.addEventListener("click", name);
      name();
      return press;
    }

    async function switchAloud(isOn) {
      local.set(ALOUD, isOn || null);
      if (!window.alarmtrees.aloud) await fetched("aloud.js").catch(() => {});
      window.alarmtrees.aloud?.set(isOn);
    }

    function undo() {
      const { cleared } = shift.current();
      return cleared ? button("plain", cleared.taken === undefined ? "Undo the clearing" : "Undo the taking over", shift.undo) : null;
    }

    // What other tabs did, and time

    function look() {
      const isCleared = !known() && at <= shift.current().clearedAt;
      if (!isClearing && (isCleared || !shift.isRecent(at))) anew();
    }

    document.addEventListener("walk:log", (event) => {
      note(event.detail.text);
      refresh();
    });
    if (aloud() && local.get(ALOUD)) switchAloud(true);
    document.addEventListener("walk:next-patient", clear);
    document.addEventListener("shift:changed", look);
    document.addEventListener("shift:undone", ({ detail }) => {
      // A walk of another alarm is offered in the header; what was taken over is not in sight any more.
      if (!resume(detail.id) && detail.isTaken) anew();
    });
    document.addEventListener("click", (event) => {
      const link = event.target.closest("a[data-resume]");
      if (link && !event.ctrlKey && !event.metaKey && resume(link.dataset.resume)) event.preventDefault();
    });
    const passed = { calls, called, whom, worse, gotWorse };
    return { isSound, asked, foundAgain, isCarried, entered, keep, carry, note, below, ...passed };
  }

  Object.assign(window.alarmtrees, { keepingOf });
})();
