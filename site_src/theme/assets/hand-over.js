// Hands a walk over to another device: as a code on the screen, which its camera reads. Nothing is sent. Loaded when it
// is asked for: by who hands over, and by a page that was opened from such a code.
(() => {
  "use strict";
  const { button, clocks, el, emit, folded, many, shift, timeOf } = window.alarmtrees;

  const UNREADABLE = "The code of the other device cannot be read.";

  const VERSION = "1";
  const SECOND = 1000;
  // Judgement, without a source. As long as a code is shown it is drawn anew, so that it tells what is true now;
  // one that is old was kept, and belongs to another hour.
  const RENEWED = 10 * SECOND;
  const OLDEST = 10 * 60 * SECOND;
  const NOT_SHORTER = 60 * SECOND;
  const KINDS = ["told", "stopped", "still", "short", "long", "unknown"];

  const packedNumber = (number) => Math.max(0, Math.round(number)).toString(36);
  const packedText = (text) =>
    encodeURIComponent(text).replace(/%20/g, "+").replace(/[-._~!*'()]/g, (sign) => `%${sign.charCodeAt(0).toString(16)}`);
  const plainText = (text) => decodeURIComponent(text.replace(/\+/g, " "));

  /** What can be answered in a step: both devices have it in the same order. */
  const choicesOf = (step) => Array.from(step.querySelectorAll(".answers [data-to]"));
  const answersOf = (step) => choicesOf(step).map((one) => folded(one.textContent));

  /**
   * A walk as few letters.
   * @param {{ steps: Map<string, HTMLElement>, stamp: string, stampOf: (text: string) => string }} page
   * @param {{ node: string, way: { id: string, say: string, at: number }[] }} walk
   * @param {object} clock
   * @returns {string}
   */
  function packed({ steps, stamp, stampOf }, walk, clock) {
    const { way, given = {} } = walk;
    const sent = Math.floor(Date.now() / SECOND) * SECOND;
    const ids = Array.from(steps.keys());
    const ago = (at) => packedNumber((sent - at) / SECOND);
    // What was seen before and still held is as old as the look. "g": of looks that stand together; "w": worse.
    const entry = ({ id, say, at, seen = at, worse }, kind = worse ? "w" : "") => {
      const place = answersOf(steps.get(id)).indexOf(say);
      const answer = place < 0 ? `_${packedText(say)}` : packedNumber(place);
      return [packedNumber(ids.indexOf(id)), answer, ago(seen), kind].filter(Boolean).join("-");
    };
    const beside = Object.entries(given || {}).map(([id, one]) => entry({ ...one, id }, "g"));
    const rest = ({ kind, since, at, most }) =>
      [KINDS.indexOf(kind), packedNumber((sent + RENEWED - since) / SECOND), ago(at), ...(most ? ["1"] : [])].join("-");
    const told = clocks.rests(clock) ? rest(clock) : ended();
    function ended() {
      if (clock.kind !== "moved") return "n";
      const { before, by } = clock.ended;
      const place = way.findIndex((one) => one.id === by.id && one.at === by.at) + 1;
      return `m-${ago(clock.at)}-${packedNumber(place)}-${rest(before)}`;
    }
    const fields = [VERSION, stamp, packedNumber(sent / SECOND), packedNumber(ids.indexOf(walk.node)), told];
    const text = [...fields, ...way.map((one) => entry(one)), ...beside].join(".");
    return `${text}.${stampOf(text)}`;
  }

  /**
   * What such letters tell, or why nothing.
   * @returns {{ node: string, way: object[], given: Record<string, object>, clock: object } | string}
   */
  function unpacked({ steps, stamp, stampOf }, text) {
    const end = text.lastIndexOf(".");
    const [version, its, sentAt, node, told, ...entries] = text.slice(0, end).split(".");
    if (end < 0 || text.slice(end + 1) !== stampOf(text.slice(0, end))) return "The code of the other device is not whole.";
    if (version !== VERSION || its !== stamp) return "The other device has another version of this page.";
    const sent = parseInt(sentAt, 36) * SECOND;
    const now = Date.now();
    if (now - sent > OLDEST) return "That code is old, or the clocks of the two devices differ.";
    const isBehind = now < sent;
    const at = (ago) => Math.min(sent, now) - parseInt(ago, 36) * SECOND;
    const ids = Array.from(steps.keys());
    const all = entries.map((entry) => {
      const [place, answer, ago, kind] = entry.split("-");
      const id = ids[parseInt(place, 36)];
      const chosen = choicesOf(steps.get(id))[parseInt(answer, 36)];
      const say = answer.startsWith("_") ? plainText(answer.slice(1)) : folded(chosen.textContent);
      return { id, say, at: at(ago), to: kind === "g" ? chosen.dataset.to : undefined, worse: kind === "w" || undefined };
    });
    const way = all.filter(({ to }) => !to).map(({ id, say, at: when, worse }) => ({ id, say, at: when, worse }));
    const beside = all.filter(({ to }) => to).map(({ id, say, at: when, to }) => [id, { to, say, at: when }]);
    // By a clock that is behind nobody knows how long the code was on its way.
    const longest = (since) => at(since) - (isBehind ? NOT_SHORTER : 0);
    const rest = (kind, since, when, most) =>
      ({ kind: KINDS[kind], since: longest(since), at: at(when), most: Boolean(most) || undefined });
    const given = Object.fromEntries(beside);
    return { node: ids[parseInt(node, 36)], way, given, clock: clockOf(told.split("-"), way, at, rest) };
  }

  function clockOf([kind, ...told], way, at, rest) {
    if (kind === "n") return { kind: "" };
    if (kind !== "m") return rest(kind, ...told);
    const [when, place, ...before] = told;
    const by = { walk: "", ...way[parseInt(place, 36) - 1] };
    return { kind: "moved", at: at(when), ended: { before: rest(...before), by, length: "as the other device tells" } };
  }

  // Asked first

  /** What of this device would be mixed with another's walk: the walk that was left last, and a rest. */
  function mine() {
    const { clock } = shift.current();
    const [, walk] = shift.left() || [];
    if (!walk && (!clocks.rests(clock) || clock.isNew)) return null;
    const rest = clocks.rests(clock) && !clock.isNew
      ? `Its resting clock: ${clocks.reading(clock, clock.limit ?? null, clock.say || "").time}.` : "";
    const place = walk ? `This device has “${walk.title}” at “${walk.say}”, ${shift.ago(walk.at)}.` : "";
    return { rest, text: ["Same patient?", place, rest].filter(Boolean).join(" ") };
  }

  /** Keeps what there is now, so that it can be had back, before another device's walk takes its place. */
  function setAside(isOther) {
    const aside = ({ clock, walks }) => ({ at: Date.now(), turn: (clock.turn || 0) + 1, clock, walks });
    if (isOther) shift.clear();
    else shift.update((state) => ({ cleared: aside(state) }));
  }

  /** Marks the clock that came with it, to tell it from what is said here later. */
  const came = () => shift.update(({ clock, cleared }) => ({ cleared: { ...cleared, taken: clock.turn || 0 } }));

  /** Asks something in the header. What is asked is over as soon as somebody goes on with the walk in sight. */
  function ask(text, choices) {
    const asked = el("div", { class: "shift__told shift__asked", role: "group", "aria-labelledby": "_asked", tabindex: "-1" });
    const over = () => asked.remove();
    const presses = choices.map(([name, act]) => button("shift__choice", name, () => {
      over();
      act();
    }));
    asked.append(el("p", { id: "_asked" }, text), ...presses);
    document.querySelector(".top .top__row").after(asked);
    asked.focus({ preventScroll: true });
    document.addEventListener("walk:step", over, { once: true });
  }

  /**
   * In the bed may be another patient than the one whose walk this device has: nothing is mixed unasked.
   * @param {(change: (act: () => void) => void) => void} take calls `change` with what takes the other walk over
   */
  function askFirst(take) {
    const here = mine();
    const over = (isOther) => take((act) => {
      setAside(isOther);
      act();
      came();
    });
    if (!here) {
      take((act) => act());
      return;
    }
    ask(here.text, [
      ["Take over the other walk", () => over(false)],
      ["Keep what is here", () => shift.say("Nothing was taken over. What was here is as it was.")],
      ...(here.rest ? [["Other patient: take over, clear what is here", () => over(true)]] : []),
    ]);
  }

  // What is seen

  function drawn(code) {
    const svg = (name, given) => {
      const made = document.createElementNS("http://www.w3.org/2000/svg", name);
      Object.entries(given).forEach(([key, value]) => made.setAttribute(key, value));
      return made;
    };
    let path = "";
    for (let y = 0; y < code.size; y++) {
      for (let x = 0; x < code.size; x++) if (code.get(x, y)) path += `M${x} ${y}h1v1h-1z`;
    }
    const size = code.size + 8;
    const about = { viewBox: `-4 -4 ${size} ${size}`, class: "code", role: "img", "aria-label": "Code to be read by a camera" };
    const made = svg("svg", { ...about, "shape-rendering": "crispEdges" });
    made.append(svg("path", { fill: "#fff", d: `M-4-4h${size}v${size}h-${size}z` }), svg("path", { fill: "#000", d: path }));
    return made;
  }

  /**
   * Shows the code in a place, and draws it anew as long as it stands there.
   * @param {HTMLElement} place
   * @param {() => string} text
   */
  function show(place, text) {
    const address = `${location.origin}${location.pathname}#_handed=`;
    const isAlone = ["localhost", "127.0.0.1", "[::1]"].includes(location.hostname);
    const frame = el("div", "handed");
    const renew = () => frame.replaceChildren(drawn(window.leanQr.generate(address + text())));
    const timer = setInterval(() => {
      if (!place.isConnected) clearInterval(timer);
      else renew();
    }, RENEWED);
    place.replaceChildren(
      el("p", "", "Read this with the camera of the other device. It goes on at this step. Nothing is sent: the code holds the steps, answers and times. Notes from before this page stay here."),
      frame,
      el("p", "quiet", isAlone ? "This address is known to this device alone." : `The other device needs ${location.host}, or a saved copy of it.`),
    );
    renew();
    frame.scrollIntoView({ block: "center" });
  }

  /** What whoever takes over is told first. */
  function summary(words, answers) {
    const last = answers[answers.length - 1];
    if (!last) return "Taken over from another device. Nothing was answered yet.";
    const minutes = Math.floor((Date.now() - last.at) / 60000);
    const ago = minutes ? `${minutes} min ago` : "just now";
    return `Taken over from another device: ${many(answers.length, "answer")}, the last at ${timeOf(last.at)}, ${ago}: ${words(last.id)} ${last.say}. All stand in the notes below.`;
  }

  /** Takes over what another device tells. Where that fails, the page stays one that was opened anew. */
  function take(page, text, own) {
    const found = unpackedSafely(page, text);
    const isWhole = typeof found !== "string" && own.isSound({ ...found, ...own.state() }) && clocks.isSound(found.clock);
    if (!isWhole) {
      const why = typeof found === "string" ? found : UNREADABLE;
      shift.say(`${why} Nothing was taken over, and nothing here is lost. Make a new code there, or ask what was done.`);
      return;
    }
    askFirst((change) => {
      own.clearing(true);
      change(() => {
        page.takeOn({ ...found, ...own.state() });
        page.note(`Taken over from another device: ${page.title}`);
        const told = takenOver(page, found);
        emit("walk:anew");
        emit("walk:handed", found);
        page.go(found.node, found.way, { given: found.given });
        own.open();
        shift.say(told);
      });
      own.clearing(false);
    });
  }

  /** A text that no device of ours wrote may fail anywhere. */
  function unpackedSafely(page, text) {
    try {
      return unpacked(page, text);
    } catch {
      return UNREADABLE;
    }
  }

  /** Notes what the other device tells, and says it in short. */
  function takenOver({ steps, words, note, called, gotWorse }, { way, given }) {
    const answers = [...way, ...Object.entries(given).map(([of, one]) => ({ ...one, id: of }))];
    answers.forEach(({ id, say, at, worse }) => {
      note(`${words(id)} ${say}`, at);
      if (say === "Done") called(steps.get(id), at);
      const isWorse = Array.from(steps.get(id).querySelectorAll("[data-ends]")).some((link) => folded(link.textContent) === say);
      if (worse || isWorse) gotWorse(say, at);
    });
    return summary(words, answers);
  }

  window.alarmtrees.handOver = { packed, unpacked, show, take };
})();
