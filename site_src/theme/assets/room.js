// A practice case on a screen in front of a class: the scene, then each step of the page's way with its choices, hands
// counted by the teacher, and how each choice is judged; at the end what the class chose. The rules of the game are
// those of play.js, the words those of practice-steps.js and practice-debrief.js. The case goes on as the page does,
// whatever the class chose. Nothing is kept: a new visit begins anew. Without this file the page is a list of alarms.
(() => {
  "use strict";
  const host = document.getElementById("_room");
  const { Cases, Playing, Practice, Spacing } = window.alarmtrees;
  if (!host || !Cases || !Playing || !Practice || !Practice.Debrief || !Spacing) return;
  const { all, button, el, inAddress, many, sum } = window.alarmtrees;
  const { mark, reason, face } = Practice;
  /** How many hands a screen shows for one choice, at the most. */
  const MOST = 99;
  /** How many steps of the debrief stand on one screen. */
  const ROWS = 5;
  /** How close a screen is set: the first of these that holds all of it. */
  const TIGHT = ["", "some", "most"];
  const NOTE = "Practice, not a permission. Times are a story’s, not limits.";

  const anySeed = () => crypto.getRandomValues(new Uint32Array(1))[0];
  const alarms = new Map(all("[data-tree-of]").map((entry) => [entry.dataset.treeOf, entry]));
  const named = document.querySelector("[data-named]");
  const note = document.querySelector("[data-note]");

  const say = (words) => {
    note.textContent = words;
    note.hidden = !words;
  };

  // The list: an alarm's cases come when it is opened

  const causeOf = (data, told) => (told.causes ? told.causes.join("; and ") : data.causes[told.cause].say);

  /** A link to a case; what is behind it is seen only where the teacher wants it. */
  const linkTo = (id, words, name, cause) => el("li", "", el("a", { href: `#${id}/${name}` }, words),
    el("span", "known_cause", cause && `: ${cause}`));

  const fill = async (entry) => {
    const id = entry.dataset.treeOf;
    try {
      const data = await Cases.fetched(id);
      // Of a case that turns, the cause alone would tell half.
      const turns = (told) => (told.id.includes("+") ? ", with a turn" : "");
      list(entry, "[data-cases]", data.cases.map((told) =>
        linkTo(id, "Case", Cases.codeOf(told.id), `${causeOf(data, told)}${turns(told)}`)));
      if (!("told" in entry.dataset)) return;
      const { cases } = await Cases.fetched(`told/${id}`);
      list(entry, "[data-bedsides]", cases.map((told) => linkTo(id, "Told bedside", told.id, causeOf(data, told))));
    } catch {
      say("The cases of this alarm cannot be loaded. Copy the whole folder of the site, or try again.");
    }
  };

  const list = (entry, place, links) => {
    const shown = entry.querySelector(place);
    shown.replaceChildren(...links);
    shown.hidden = false;
  };

  /** The data and the case that an address names; null where there is none. */
  const found = async (id, name) => {
    const isTold = /^t-/.test(name);
    const data = await (isTold ? Cases.toldData(id, name) : Cases.fetched(id)).catch(() => null);
    const isNamed = (one) => isTold || one.id === name || Cases.codeOf(one.id) === name;
    const told = data && data.cases.find(isNamed);
    return told ? { data, told } : null;
  };

  const route = async () => {
    const [id, name, seed] = inAddress("?").split("/");
    const entry = alarms.get(id);
    if (!entry) return host.open && host.close();
    entry.open = true;
    if (!name) return entry.scrollIntoView();
    const known = await found(id, name);
    if (!known) return say("There is no such case here. Choose another one.");
    const { data, told } = known;
    const number = /^\d{1,10}$/.test(seed || "") ? Number(seed) >>> 0 : anySeed();
    history.replaceState(null, "", `#${id}/${told.must ? told.id : Cases.codeOf(told.id)}/${number}`);
    return begin(data, told, number);
  };

  // A case as a row of screens

  let game = null;
  let at = 0;

  /** All turns of the page's way: the choices, the right one, and the state before and after. */
  const turnsOf = (play) => {
    const turns = [];
    for (let state = play.begin(); !state.verdict;) {
      const right = play.right(state);
      const after = play.choose(state, right);
      const offers = play.offers(state);
      turns.push({ state, right, after, offers, hands: offers.map(() => 0) });
      state = after;
    }
    return turns;
  };

  const begin = async (data, told, seed) => {
    const shown = await shownOf(data.tree);
    const play = new Playing.Play(new Playing.Tree(data), told, seed);
    const turns = turnsOf(play);
    game = { data, told, play, turns, steps: new Practice.Steps(data) };
    const pages = Math.ceil(turns.length / ROWS);
    const seen = new Set();
    const pictureOf = (id) => {
      const picture = shown.pictures[id];
      if (!picture || seen.has(picture.file)) return null;
      seen.add(picture.file);
      return picture;
    };
    const tables = Array.from({ length: pages }, (_, page) => () => tableScreen(page, pages));
    game.screens = [sceneScreen, ...turns.flatMap((turn, place) => screensOf(turn, place, pictureOf(turn.right)))];
    game.end = game.screens.length;
    game.screens.push(endScreen, ...tables, lawScreen, ...shown.traces.map((trace) => () => traceScreen(trace)));
    say("");
    build();
    if (!host.open) host.showModal();
    show(0);
  };

  /** The screens of a turn; its drawing, where it has one that was not shown yet, stands behind the answer. */
  const screensOf = (turn, place, picture) => {
    const choice = () => chooseScreen(turn, place);
    choice.isChoice = true;
    return [choice, () => revealScreen(turn, place), ...(picture ? [() => pictureScreen(picture, place)] : [])];
  };

  /** Drawings of an alarm's steps and its traces; without them the case is played all the same. */
  const shownOf = (id) => new Promise((resolve) => {
    let found = { traces: [], pictures: {} };
    if (!("shown" in alarms.get(id).dataset)) return resolve(found);
    window.alarmtrees.shown = (shown) => { found = shown; };
    const script = el("script", { src: `shown/${id}.js` });
    const done = () => {
      script.remove();
      resolve(found);
    };
    script.addEventListener("load", done);
    script.addEventListener("error", done);
    return document.head.append(script);
  });

  // The frame of a screen

  let parts = {};

  const press = (words, act, className = "") => button(className, words, (event) => {
    act();
    // Pressed by hand, a button keeps the focus, and the space bar would press it again.
    if (event.detail) parts.title.focus({ preventScroll: true });
  });

  const build = () => {
    parts = {
      where: el("p", "room__where"), clock: el("p", "room__clock"),
      title: el("h2", { id: "_room-title", class: "room__title", tabindex: "-1" }),
      body: el("div", "room__body"), said: el("p", { class: "unseen", role: "status" }),
      back: press("‹ Back", () => show(at - 1)), on: press("Next ›", () => show(at + 1), "loud"),
      reveal: press("Reveal (R)", () => show(at + 1)), end: press("Debrief", () => show(firstOfEnd())),
      close: press("All cases", () => host.close()),
    };
    const { where, clock, title, body, said, back, on, reveal, end, close } = parts;
    host.replaceChildren(
      el("div", "room__top", where, clock),
      el("div", { class: "room__screen", role: "region", "aria-labelledby": "_room-title", tabindex: "0" }, title, body),
      el("div", "room__foot", el("p", "room__buttons", back, on, reveal, end, close),
        el("div", "room__keys", el("p", "", "→ next · ← back · 1–4 a hand more, Shift less · R reveal"), el("p", "", NOTE))),
      said);
  };

  const firstOfEnd = () => game.end;
  const isChoice = () => Boolean(game.screens[at].isChoice);

  const show = (to) => {
    at = Math.max(0, Math.min(game.screens.length - 1, to));
    const { title, kicker, clock, inside } = game.screens[at]();
    const screen = host.querySelector(".room__screen");
    parts.where.textContent = [game.data.title, kicker].filter(Boolean).join(" · ");
    parts.clock.textContent = clock || "";
    parts.title.textContent = title;
    parts.body.replaceChildren(...inside.filter(Boolean));
    bar();
    // Set closer, never with letters under a thirtieth of the screen, until all can be seen at once.
    TIGHT.find((tight) => {
      host.dataset.tight = tight;
      return screen.scrollHeight <= screen.clientHeight;
    });
    screen.scrollTop = 0;
    parts.title.focus({ preventScroll: true });
  };

  const bar = () => {
    parts.back.disabled = at === 0;
    parts.on.disabled = at === game.screens.length - 1;
    parts.reveal.disabled = !isChoice();
    parts.end.disabled = at >= firstOfEnd();
  };

  // The screens

  const clockOf = (state) => {
    const rest = state.pump === Playing.RUNS ? "" : ` · Balloon resting ${face(state.rested)}`;
    return `Clock ${face(state.clock)}${rest}`;
  };

  const traceOf = (html) => {
    if (!html) return null;
    const frame = el("div", "trace");
    frame.innerHTML = html;
    return frame;
  };

  const sceneScreen = () => ({
    title: "The case", clock: clockOf(game.play.begin()),
    inside: [el("div", `room__scene${game.told.trace ? " room__scene--drawn" : ""}`,
      el("div", "", ...game.told.story.map((sentence) => el("p", "", sentence))), traceOf(game.told.trace))],
  });

  /** What was chosen last on the page's way, and what it found. */
  const foundBefore = (place) => {
    if (!place) return null;
    const { after, right } = game.turns[place - 1];
    const found = game.steps.answer(after.way[after.way.length - 1]) || "Done.";
    return el("p", "room__found", `${game.steps.quoted(right)} `, el("b", "", `→ ${found}`));
  };

  const chooseScreen = (turn, place) => {
    const list = el("ol", "room__choices", ...turn.offers.map((id, number) => choiceOf(turn, id, number)));
    return {
      title: place ? "What next?" : "What do you do first?", kicker: `Step ${place + 1} of ${game.turns.length}`,
      clock: clockOf(turn.state), inside: [foundBefore(place), list],
    };
  };

  const choiceOf = (turn, id, number) => {
    const hands = el("b", "hands__count", String(turn.hands[number]));
    const count = (by) => {
      turn.hands[number] = Math.max(0, Math.min(MOST, turn.hands[number] + by));
      hands.textContent = String(turn.hands[number]);
      parts.said.textContent = `Answer ${number + 1}: ${many(turn.hands[number], "hand")}`;
    };
    const less = press("−", () => count(-1));
    const more = press("+", () => count(1));
    less.setAttribute("aria-label", `One hand less for answer ${number + 1}`);
    more.setAttribute("aria-label", `One hand more for answer ${number + 1}`);
    const made = el("li", "choice", el("b", "choice__number", String(number + 1)), game.steps.choice(id),
      el("span", "hands", less, hands, more));
    made.dataset.to = id;
    made.count = count;
    return made;
  };

  /** How a choice is judged, and by which rule where one says so. */
  const judged = (turn, id) => {
    const { play, data, told, steps } = game;
    const after = play.choose(turn.state, id);
    const choice = after.way[after.way.length - 1];
    const rule = data.rules.find((one) => one.id === (choice.rule || choice.order));
    const over = after.verdict && new Practice.Debrief({ data, told, steps, state: after }, play.debrief(after));
    const [shape, words] = over ? over.head : Practice.said(choice, data.nodes[choice.node]);
    return { shape, words, rule, verdict: choice.verdict, isRight: id === turn.right, isUnsafe: choice.verdict === "unsafe" };
  };

  const revealScreen = (turn, place) => {
    const counted = sum(turn.hands);
    const verdicts = turn.offers.map((id) => judged(turn, id));
    const rows = turn.offers.map((id, number) => {
      const told = verdicts[number];
      const share = el("span", { class: "hands__bar", "aria-hidden": "true" });
      share.style.width = `${counted ? Math.round((100 * turn.hands[number]) / counted) : 0}%`;
      const row = el("li", `choice choice--told${told.isRight ? " choice--right" : ""}`,
        el("b", "choice__number", String(number + 1)),
        el("div", "choice__words", el("span", "step-words", el("b", "step-words__lead", game.steps.words(id).lead), " ",
          game.steps.quoted(id).slice(1, -1)),
        el("p", "choice__judged", mark(told.shape), el("b", "", told.isRight ? "As the page does" : told.words.replace(/\.$/, "")),
          told.rule && `: ${told.rule.say}`)),
        el("span", "hands", el("b", "hands__count", counted ? String(turn.hands[number]) : "–"), share));
      row.dataset.to = id;
      return row;
    });
    const node = game.data.nodes[turn.right];
    const broken = verdicts.find((told) => told.isUnsafe);
    const found = game.steps.answer(turn.after.way[turn.after.way.length - 1]);
    return {
      title: "How it is judged", kicker: `Step ${place + 1} of ${game.turns.length}`, clock: clockOf(turn.after),
      inside: [
        el("ol", "room__choices room__choices--told", ...rows), node.why && reason("Why:", node.why),
        broken && reason("Why the rule:", broken.rule.reason), found && reason("Found:", found),
      ],
    };
  };

  const pictureScreen = ({ title, says, file }, place) => ({
    title, kicker: `Step ${place + 1} of ${game.turns.length}`,
    inside: [el("div", "room__traced", el("img", { class: "room__drawn", src: file, alt: title }), el("p", "", says))],
  });

  // What the class chose

  const shareOf = (turn) => {
    const hands = sum(turn.hands);
    return { hands, right: turn.hands[turn.offers.indexOf(turn.right)] };
  };

  /** What most hands were for; of two with as many, that of the page. */
  const mostOf = (turn) => {
    const most = Math.max(...turn.hands);
    const right = turn.offers.indexOf(turn.right);
    return turn.hands[right] === most ? right : turn.hands.indexOf(most);
  };

  const unsafeHands = (turn) =>
    sum(turn.offers.map((id, number) => (judged(turn, id).isUnsafe ? turn.hands[number] : 0)));

  const endScreen = () => {
    const { turns, data, told } = game;
    const counted = turns.filter((turn) => shareOf(turn).hands);
    const parted = counted.filter((turn) => turn.offers[mostOf(turn)] !== turn.right);
    const widest = [...counted].sort((one, other) => apart(other) - apart(one))[0];
    const unsafe = sum(counted.map(unsafeHands));
    const lines = [causeOf(data, told) && reason("What was behind it:", `${causeOf(data, told)}.`)];
    if (!counted.length) lines.push(el("p", "", "No hands were counted."));
    else {
      const went = counted.length - parted.length;
      lines.push(el("p", "", `Most hands went with the page at ${went} of ${many(counted.length, "step")} counted.`));
      if (widest && apart(widest)) lines.push(widestLine(widest));
      lines.push(el("p", "", unsafe ? `${many(unsafe, "hand")} for a choice that breaks a safety rule.` : "No hand for a choice that breaks a safety rule."));
    }
    const end = data.nodes[turns[turns.length - 1].right];
    if (end.meanwhile) lines.push(reason(end.end === "resolved" ? "Watch next:" : "Meanwhile:", end.meanwhile));
    return { title: "What the class chose", kicker: "Debrief", inside: [el("div", "room__told", ...lines.filter(Boolean))] };
  };

  /** The share of hands that were not for the page's step. */
  const apart = (turn) => {
    const { hands, right } = shareOf(turn);
    return hands ? (hands - right) / hands : 0;
  };

  const widestLine = (turn) => {
    const { hands, right } = shareOf(turn);
    const words = ` at step ${game.turns.indexOf(turn) + 1}, ${right} of ${hands} for ${game.steps.quoted(turn.right)}`;
    return el("p", "", el("b", "", "It parted most"), words);
  };

  const otherLine = (turn, number) => {
    const id = turn.offers[number];
    return `${turn.hands[number]}: ${game.steps.quoted(id)} ${judged(turn, id).words}`;
  };

  const tableScreen = (page, pages) => {
    const rows = game.turns.slice(page * ROWS, (page + 1) * ROWS).map((turn, place) => {
      const { hands, right } = shareOf(turn);
      const most = mostOf(turn);
      const other = hands && turn.offers[most] !== turn.right;
      return el("tr", "", el("th", { scope: "row" }, `${page * ROWS + place + 1}. ${game.steps.quoted(turn.right)}`),
        el("td", "", hands ? `${right} of ${hands}` : "–"),
        el("td", "", other ? otherLine(turn, most) : hands ? "as the page" : "–"));
    });
    const head = el("tr", "", ...["The page", "Hands", "Most of the class"].map((words) => el("th", { scope: "col" }, words)));
    return {
      title: "Step by step", kicker: pages > 1 ? `Debrief, ${page + 1} of ${pages}` : "Debrief",
      inside: [el("table", "room__table", el("thead", "", head), el("tbody", "", ...rows))],
    };
  };

  /** The rules that a choice of this case would have broken, those with most hands first. */
  const lawScreen = () => {
    const hands = new Map();
    game.turns.forEach((turn) => turn.offers.forEach((id, number) => {
      const { rule, isUnsafe } = judged(turn, id);
      if (isUnsafe) hands.set(rule, (hands.get(rule) || 0) + turn.hands[number]);
    }));
    const rules = [...hands].sort((one, other) => other[1] - one[1]).slice(0, 3);
    const told = rules.map(([rule, count]) => el("li", "", el("b", "", rule.say), ` ${rule.reason}`, count ? ` (${many(count, "hand")})` : ""));
    return {
      title: "What the rules say", kicker: "Debrief",
      inside: [told.length ? el("ul", "room__rules", ...told) : el("p", "", "No choice of this case would have broken a safety rule.")],
    };
  };

  const traceScreen = ({ title, drawn, key, seen }) => ({
    title, kicker: "Debrief",
    inside: [el("div", "room__traced", traceOf(drawn),
      el("div", "", el("ul", "", ...seen.map((words) => el("li", "", words))), el("p", "quiet", key)))],
  });

  // Keys

  const KEYS = {
    ArrowRight: () => show(at + 1), PageDown: () => show(at + 1),
    ArrowLeft: () => show(at - 1), PageUp: () => show(at - 1),
    Home: () => show(0), End: () => show(firstOfEnd()),
    r: () => isChoice() && show(at + 1), R: () => isChoice() && show(at + 1),
    " ": () => show(at + 1), Enter: () => show(at + 1),
  };

  const countedBy = (event) => {
    const digit = /^(?:Digit|Numpad)([1-9])$/.exec(event.code);
    const made = digit && isChoice() && all(".choice", host)[Number(digit[1]) - 1];
    if (made) made.count(event.shiftKey ? -1 : 1);
    return Boolean(made);
  };

  host.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    if ((event.key === " " || event.key === "Enter") && event.target.closest("button")) return;
    const act = KEYS[event.key];
    if (act) act();
    if (act || countedBy(event)) event.preventDefault();
  });

  host.addEventListener("close", () => {
    const id = game && game.data.tree;
    game = null;
    history.replaceState(null, "", location.pathname + location.search);
    if (id) alarms.get(id).querySelector("summary").focus();
  });

  alarms.forEach((entry) => entry.addEventListener("toggle", () => { if (entry.open) fill(entry); }));
  all("[data-scripted]").forEach((one) => { one.hidden = false; });
  const tell = () => { document.documentElement.dataset.causes = named.checked ? "told" : "hidden"; };
  named.addEventListener("change", tell);
  tell();
  window.addEventListener("hashchange", route);
  route();
})();
