/* Plays practice cases on their page: which one is next, one choice at a time, and your way beside the page's at the
   end. The rules of the game are in play.js, when a case comes again in spacing.js, what is kept in progress.js; words and
   tables in practice-steps.js and practice-debrief.js.
   Without this file the page is a list of alarms. */
(() => {
  "use strict";
  const host = document.getElementById("_case");
  const { Progress, Spacing, Playing, Practice } = window;
  if (!host || !Progress || !Spacing || !Playing || !Practice || !Practice.Debrief) return;
  const { el, mark, reason, many, two, face, lasting } = Practice;

  const root = document.documentElement;
  const ownTitle = document.title;
  const CLOCK_OFF = "practice-clock-off";
  const SLEPT = 2000;

  const press = (words, className, act) => {
    const made = el("button", className, words);
    made.type = "button";
    // The second click of a double one would choose among the next steps, which nobody has read yet.
    made.addEventListener("click", (event) => { if (event.detail < 2) act(made); });
    return made;
  };
  const present = () => Math.floor(Date.now() / 1000);
  const seconds = (iso) => Math.floor(Date.parse(iso || "") / 1000) || 0;
  const anySeed = () => crypto.getRandomValues(new Uint32Array(1))[0];

  /* What is known of all alarms: read from the list, and what was played from the record in this browser */

  const alarms = new Map(Array.from(document.querySelectorAll("[data-tree-of]"), (entry) => [entry.dataset.treeOf, {
    id: entry.dataset.treeOf, entry, harm: entry.dataset.harm, causes: entry.dataset.causes.split(" ").filter(Boolean),
    badge: entry.querySelector(".priority"), link: entry.querySelector("a"),
  }]));

  const itemOf = (data, alarm, cause) => {
    const id = alarm.id + "/" + cause;
    const kept = data.cases[id];
    if (!kept) return Spacing.item({ id, harm: alarm.harm });
    const { on, went } = kept.last || {};
    const last = went ? { went, seen: seconds(on) } : {};
    return Spacing.item({ id, harm: alarm.harm, gap: kept.gap, plays: kept.plays, again: seconds(kept.again_on), ...last });
  };

  const itemsOf = (data, some) => {
    return some.flatMap((alarm) => alarm.causes.map((cause) => itemOf(data, alarm, cause)));
  };

  const count = (items) => {
    const now = present();
    const played = items.filter((item) => item.plays);
    return { all: items.length, played: played.length, again: items.filter((item) => Spacing.isAgain(item, now)).length };
  };

  const showList = () => {
    const data = Progress.load();
    alarms.forEach((alarm) => {
      const told = count(itemsOf(data, [alarm]));
      const parts = [many(told.all, "cause"), told.played && told.played + " played", told.again && told.again + " to play again"];
      alarm.entry.querySelector("[data-state]").textContent = parts.filter(Boolean).join(", ");
    });
    const all = count(itemsOf(data, Array.from(alarms.values())));
    const gone = Progress.kept ? "" : " This browser keeps nothing: it is forgotten when you leave the page.";
    document.querySelector("[data-sum]").textContent = all.played + " of " + all.all + " causes played, " + all.again + " to play again." + gone;
  };

  /* Addresses: #alarm, or #alarm/case/seed. The case is written as a number made from its name, for its name would tell
     the cause. */

  const codeOf = (id) => Spacing.seedOf(id).toString(36);
  const addressOf = (tree, told, seed) => "#" + tree + "/" + codeOf(told.id) + "/" + seed;

  const inAddress = () => {
    try {
      return decodeURIComponent(location.hash.slice(1));
    } catch (fault) {
      return "?";
    }
  };

  const route = () => {
    const asked = inAddress();
    const [id, name, seed] = asked.split("/");
    const alarm = alarms.get(id);
    if (alarm) return openCase(alarm, name, seed);
    // A link within the page, such as the one that skips the header: whoever plays goes on playing.
    if (asked && document.getElementById(asked)) return game && history.replaceState(null, "", game.address);
    leave();
    if (asked) note("There is no such case here. Choose another one.");
    return undefined;
  };

  /* The cases of an alarm come in a file of their own, when they are asked for. */

  const files = new Map();
  window.practiceData = (data) => { files.set(data.tree, data); };

  const fetched = (id) => {
    return new Promise((resolve, reject) => {
      if (files.has(id)) return resolve(files.get(id));
      const script = el("script");
      const fail = () => { script.remove(); reject(new Error(id)); };
      script.src = id + ".js";
      script.addEventListener("load", () => (files.has(id) ? resolve(files.get(id)) : fail()));
      script.addEventListener("error", fail);
      return document.head.append(script);
    });
  };

  let asking = 0;
  const openCase = async (alarm, name, seed) => {
    const turn = ++asking;
    let data = null;
    try {
      data = await fetched(alarm.id);
    } catch (fault) {
      if (turn !== asking) return;
      leave();
      note("The cases of this alarm cannot be loaded. Try again when the network is back, or choose another one.");
      return;
    }
    if (turn !== asking) return;
    const told = name ? data.cases.find((one) => one.id === name || codeOf(one.id) === name) : drawnCase(alarm, data);
    if (!told) {
      leave();
      note("There is no such case any more. Choose another one.");
      return;
    }
    const number = /^\d{1,10}$/.test(seed || "") ? Number(seed) >>> 0 : anySeed();
    history.replaceState(null, "", addressOf(alarm.id, told, number));
    begin(alarm, data, told, number);
  };

  /* The cause by the rule of spacing; of its cases the plain one first, later any. */
  const drawnCase = (alarm, data, cause) => {
    const kept = Progress.load();
    const seed = anySeed();
    const chosen = cause || Spacing.nextItem(itemsOf(kept, [alarm]), present(), seed).split("/")[1];
    const fit = data.cases.filter((one) => data.causes[one.cause].id === chosen);
    if (!itemOf(kept, alarm, chosen).plays) return fit.find((one) => one.id === chosen) || fit[0];
    return fit[new Spacing.Draw(seed).below(fit.length)];
  };

  const next = async () => {
    const turn = ++asking;
    const chosen = Spacing.nextItem(itemsOf(Progress.load(), Array.from(alarms.values())), present(), anySeed());
    if (!chosen) return;
    const [id, cause] = chosen.split("/");
    try {
      const data = await fetched(id);
      if (turn !== asking) return;
      const told = drawnCase(alarms.get(id), data, cause);
      const seed = anySeed();
      history.pushState(null, "", addressOf(id, told, seed));
      begin(alarms.get(id), data, told, seed);
    } catch (fault) {
      if (turn === asking) note("The next case cannot be loaded. Try again when the network is back.");
    }
  };

  /* A case from its beginning */

  let game = null;
  const trees = new Map();

  const begin = (alarm, data, told, seed) => {
    if (!trees.has(alarm.id)) trees.set(alarm.id, new Playing.Tree(data));
    const play = new Playing.Play(trees.get(alarm.id), told, seed);
    game = {
      alarm, data, told, play, steps: new Practice.Steps(data), state: play.begin(), address: addressOf(alarm.id, told, seed),
      thought: 0, restThought: 0, last: performance.now(),
    };
    root.dataset.playing = "yes";
    note("");
    host.hidden = false;
    document.title = data.title + " – " + ownTitle;
    build();
    drawOffers();
    tick();
    window.scrollTo(0, 0);
    parts.title.focus({ preventScroll: true });
  };

  const leave = () => {
    game = null;
    asking += 1;
    delete root.dataset.playing;
    host.hidden = true;
    document.title = ownTitle;
    note("");
    showList();
  };

  const backToList = () => {
    const alarm = game.alarm;
    history.pushState(null, "", location.pathname + location.search);
    leave();
    alarm.link.focus();
  };

  /* The case comes to the top of the screen: on a phone the next choices have room below what was found. */
  const focusOn = (heading) => {
    parts.head.scrollIntoView();
    heading.focus({ preventScroll: true });
  };

  /* What is seen while a case is played */

  let parts = {};

  const build = () => {
    const { data, told, alarm } = game;
    parts = {
      head: el("div", "play__head"), title: el("h2", "play__title", data.title), clock: el("p", "play__clock"), story: el("div", "play__story"),
      said: el("div", "play__said"), ask: el("h3", "play__ask", "What do you do first?"), offers: el("ul", "answers play__offers"),
      hint: el("p", "quiet", "A choice in a double frame ends the case."), way: el("section", "play__way"), end: el("div", "play__end"),
    };
    parts.title.tabIndex = parts.ask.tabIndex = -1;
    parts.said.setAttribute("role", "status");
    told.story.forEach((sentence) => parts.story.append(el("p", "", sentence)));
    if (told.trace) parts.story.append(traceOf(told));
    const top = el("p", "play__top");
    parts.off = press("", "plain", () => setClock(!clockOff()));
    top.append(press("‹ All cases", "plain", backToList), parts.off);
    parts.head.append(parts.title, alarm.badge.cloneNode(true));
    host.replaceChildren(top, parts.head, parts.clock, parts.said, parts.story, parts.ask, parts.hint, parts.offers, parts.end, parts.way);
    sayClock();
  };

  /* Drawn when the site was built, by the same model as the figures of the articles: the only mark-up in a case. */
  const traceOf = (told) => {
    const frame = el("div", "trace");
    frame.innerHTML = told.trace;
    return frame;
  };

  const drawOffers = () => {
    const { play, state } = game;
    parts.offers.replaceChildren(...play.offers(state).map((id) => {
      const item = el("li");
      const made = press("", "answer offer", () => choose(id));
      made.dataset.to = id;
      made.classList.toggle("offer--ends", game.data.nodes[id].kind === "end");
      made.append(game.steps.choice(id));
      item.append(made);
      return item;
    }));
    drawWay();
  };

  const drawWay = () => {
    const list = el("ol");
    game.state.way.forEach((choice) => {
      const item = el("li");
      item.append(game.steps.drawn(choice.node), " ", el("b", "found", game.steps.answer(choice) && "→ " + game.steps.answer(choice)));
      list.append(item);
    });
    const found = game.state.way.length > 0;
    parts.way.replaceChildren(...(found ? [el("h3", "", "So far"), parts.story, list] : []));
    if (!found) parts.said.after(parts.story);
  };

  const choose = (id) => {
    tick();
    const { play, state } = game;
    const right = play.right(state);
    const after = play.choose(state, id);
    if (!rests(state) || !rests(after) || after.rested < state.rested) game.restThought = 0;
    game.state = after;
    if (after.verdict) return finish(right);
    say(after.way[after.way.length - 1], right, state);
    parts.ask.textContent = "What next?";
    parts.hint.remove();
    drawOffers();
    showClock();
    return focusOn(parts.ask);
  };

  /* What is said of a choice that does not end the case */

  const SAID = {
    "as-the-tree": ["✓", "As the page does."],
    welcome: ["✓", "Good at any time."],
    helps: ["✓", "This works too; the page goes another way."],
    ahead: ["↷", "Right, but not yet: its turn comes later."],
    aside: ["↷", "Not on the page’s way."],
    "no-use": ["✕", "Does not help here."],
  };
  const REST_OF_A_CALL = ["↷", "A call is never wrong; the rest does not help here."];

  const say = (choice, right, before) => {
    const node = game.data.nodes[choice.node];
    const [shape, words] = choice.verdict === "no-use" && node.call ? REST_OF_A_CALL : SAID[choice.verdict];
    const told = [el("p", "play__answer")];
    told[0].append(game.steps.drawn(choice.node), " ", el("b", "found", "→ " + (game.steps.answer(choice) || "Done.")));
    const verdict = el("p", "play__verdict");
    verdict.append(mark(shape), el("b", "", words));
    const wrong = Practice.TURNS.includes(choice.verdict);
    if (wrong) verdict.append(" " + cost(choice, right, before));
    told.push(verdict);
    const why = wrong ? game.data.nodes[right].why : node.why;
    if (why && choice.verdict !== "welcome") told.push(reason(wrong ? "Think first of this:" : "Why:", why));
    parts.said.className = "play__said" + (wrong ? " play__said--wrong" : "");
    parts.said.replaceChildren(...told);
  };

  const cost = (choice, right, before) => {
    if (choice.verdict === "ahead") {
      const first = game.data.nodes[right].kind === "ask" ? "asks" : "says";
      return "The page first " + first + ": " + game.steps.quoted(right) + " That has waited for " + lasting(choice.took) + ".";
    }
    return "It took " + lasting(choice.took) + (rests(before) ? ", and the balloon rested meanwhile." : ".");
  };

  const rests = (state) => state.pump !== Playing.RUNS;

  /* The clock: what the steps take a calm reader, and the time spent thinking; shown, never judged */

  const clockOff = () => root.dataset.clock === "off";

  const setClock = (off) => {
    tick();
    root.dataset.clock = off ? "off" : "on";
    try {
      if (off) localStorage.setItem(CLOCK_OFF, "yes");
      else localStorage.removeItem(CLOCK_OFF);
    } catch (fault) { /* forgotten with the page */ }
    sayClock();
  };

  const sayClock = () => {
    parts.off.textContent = clockOff() ? "Clock on" : "Clock off";
    parts.clock.hidden = clockOff();
    showClock();
  };

  const tick = () => {
    if (!game) return;
    const now = performance.now();
    const passed = Math.max(0, Math.min(now - game.last, SLEPT)) / 1000;
    game.last = now;
    if (game.state.verdict || clockOff() || document.hidden) return;
    game.thought += passed;
    if (rests(game.state)) game.restThought += passed;
    showClock();
  };

  const showClock = () => {
    const { state, data } = game;
    const shown = [el("span", "", "Clock "), el("b", "", face(state.clock + game.thought))];
    const rest = state.rested + game.restThought;
    if (rests(state)) shown.push(el("span", "", "Balloon resting "), el("b", "", face(rest)));
    if (rests(state) && data.warning && rest >= data.warning) {
      shown.push(el("span", "play__late", "Past the hospital’s " + lasting(data.warning) + ": in earnest, do not restart; call."));
    }
    parts.clock.replaceChildren(...shown);
  };

  /* The end */

  const finish = (right) => {
    const told = game.play.debrief(game.state);
    game.debrief = new Practice.Debrief(game, told);
    game.again = keep(told);
    const panel = game.debrief.panel(right);
    // Read aloud; those who see have it in the panel.
    parts.said.className = "unseen";
    parts.said.textContent = game.debrief.head[1] + ".";
    [parts.ask, parts.offers, parts.hint].forEach((part) => part.remove());
    parts.way.replaceChildren();
    parts.clock.hidden = parts.off.hidden = true;
    parts.end.replaceChildren(
      panel, game.debrief.behind(), game.debrief.figures(), el("p", "play__again", game.again),
      presses(), statusLine(), game.debrief.ways(), el("h3", "", "The story"), parts.story);
    focusOn(panel.querySelector("h3"));
  };

  /* Where what is done with the debrief is said; and the text of it, for a browser that cannot copy. */
  const statusLine = () => {
    parts.status = el("p", "quiet");
    parts.status.setAttribute("role", "status");
    return parts.status;
  };

  /* Kept in this browser: how it went, and when this cause comes again. */
  const keep = (told) => {
    const { alarm, data, told: one } = game;
    const cause = data.causes[one.cause].id;
    const id = alarm.id + "/" + cause;
    const now = present();
    let after = null;
    Progress.change((kept) => {
      const before = kept.cases[id] || { unsafe: 0 };
      after = Spacing.after(itemOf(kept, alarm, cause), told.went, now);
      kept.cases[id] = {
        ...before, plays: after.plays, gap: after.gap, again_on: new Date(after.again * 1000).toISOString(),
        unsafe: before.unsafe + (told.verdict === "unsafe" ? 1 : 0),
        last: {
          case: one.id, verdict: told.verdict, went: told.went, seconds: Math.round(told.clock + game.thought),
          rested: Math.round(told.rested), rule: told.rule, on: Progress.now(),
        },
      };
    });
    const days = Math.max(1, Math.ceil((after.again - now) / Spacing.DAY));
    const day = new Date(after.again * 1000);
    const date = day.getFullYear() + "-" + two(day.getMonth() + 1) + "-" + two(day.getDate());
    return (after.early ? "Played before its day: this cause still comes again in " : "This cause comes again in ") + many(days, "day") + ", on " + date + ".";
  };

  const presses = () => {
    const row = el("p", "buttons");
    const unsafe = game.state.verdict === "unsafe";
    const onward = [
      press("Next case", unsafe ? "" : "loud", next),
      press("Same case again", unsafe ? "loud" : "", () => begin(game.alarm, game.data, game.told, game.play.seed)),
    ];
    row.append(
      ...(unsafe ? onward.reverse() : onward),
      press("Copy", "", copy), press("Print", "", () => window.print()), press("All cases", "", backToList));
    return row;
  };

  const copy = async () => {
    try {
      await navigator.clipboard.writeText(game.debrief.text(game.again));
      parts.status.textContent = "Copied.";
    } catch (fault) {
      const text = host.querySelector(".play__text") || el("pre", "play__text");
      const range = document.createRange();
      text.textContent = game.debrief.text(game.again);
      text.tabIndex = 0;
      text.setAttribute("role", "region");
      text.setAttribute("aria-label", "The case as text");
      parts.status.after(text);
      range.selectNodeContents(text);
      getSelection().removeAllRanges();
      getSelection().addRange(range);
      parts.status.textContent = document.execCommand("copy") ? "Copied." : "Marked below: copy it by hand.";
    }
  };

  /* A word about the list: what cannot be played */
  const notice = el("p", "notice");
  notice.setAttribute("role", "status");
  notice.hidden = true;
  const note = (words) => {
    notice.textContent = words;
    notice.hidden = !words;
  };

  try {
    if (localStorage.getItem(CLOCK_OFF)) root.dataset.clock = "off";
  } catch (fault) { /* the clock runs */ }
  alarms.forEach((alarm) => { alarm.link.href = "#" + alarm.id; });
  document.querySelectorAll("[data-scripted]").forEach((one) => { one.hidden = false; });
  document.querySelector("[data-next]").addEventListener("click", next);
  document.querySelector("[data-intro]").after(notice);
  window.addEventListener("hashchange", route);
  document.addEventListener("visibilitychange", () => { if (game) game.last = performance.now(); });
  setInterval(tick, 500);
  showList();
  route();
})();
