// Plays practice cases on their page: which one is next, one choice at a time, and your way beside the page's at the
// end. The rules of the game are in play.js, when a case comes again in spacing.js, what is kept in progress.js; words
// and tables in practice-steps.js and practice-debrief.js. Without this file the page is a list of alarms.
(() => {
  "use strict";
  const host = document.getElementById("_case");
  const { Cases, Playing, Practice, Progress, Spacing } = window.alarmtrees;
  if (!host || !Progress || !Spacing || !Playing || !Cases || !Practice || !Practice.Debrief) return;
  const { all, button, copied, dayOf, el, inAddress, local, many, single } = window.alarmtrees;
  const { fetched, toldData, codeOf } = Cases;
  const { mark, reason, face, lasting } = Practice;

  const root = document.documentElement;
  const ownTitle = document.title;
  const CLOCK_OFF = "practice-clock-off";
  const SLEPT = 2000;

  const press = (words, className, act) => button(className, words, single(act));
  const present = () => Math.floor(Date.now() / 1000);
  const seconds = (iso) => Math.floor(Date.parse(iso || "") / 1000) || 0;
  const anySeed = () => crypto.getRandomValues(new Uint32Array(1))[0];

  // What is known of all alarms: read from the list, and what was played from the record in this browser

  const alarms = new Map(all("[data-tree-of]").map((entry) => [entry.dataset.treeOf, {
    id: entry.dataset.treeOf, entry, harm: entry.dataset.harm, causes: entry.dataset.causes.split(" ").filter(Boolean),
    badge: entry.querySelector(".priority"), link: entry.querySelector("a"),
  }]));

  const itemOf = (data, alarm, cause) => {
    const id = `${alarm.id}/${cause}`;
    const kept = data.cases[id];
    if (!kept) return Spacing.item({ id, harm: alarm.harm });
    const { on, went } = kept.last || {};
    const last = went ? { went, seen: seconds(on) } : {};
    const again = seconds(kept.again_on);
    return Spacing.item({ id, harm: alarm.harm, gap: kept.gap, plays: kept.plays, again, ...last });
  };

  const itemsOf = (data, some) => some.flatMap((alarm) => alarm.causes.map((cause) => itemOf(data, alarm, cause)));

  const count = (items) => {
    const now = present();
    const again = items.filter((item) => Spacing.isAgain(item, now)).length;
    return { every: items.length, played: items.filter((item) => item.plays).length, again };
  };

  const showList = () => {
    const data = Progress.load();
    alarms.forEach((alarm) => {
      const told = count(itemsOf(data, [alarm]));
      const words = [many(told.every, "cause")];
      if (told.played) words.push(`${told.played} played`);
      if (told.again) words.push(`${told.again} to play again`);
      alarm.entry.querySelector("[data-state]").textContent = words.join(", ");
    });
    const { every, played, again } = count(itemsOf(data, Array.from(alarms.values())));
    const gone = Progress.kept ? "" : " This browser keeps nothing: it is forgotten when you leave the page.";
    const words = `${played} of ${every} causes played, ${again} to play again.`;
    document.querySelector("[data-sum]").textContent = words + gone;
  };

  // Addresses: #alarm, or #alarm/case/seed.

  const addressOf = (tree, told, seed) => `#${tree}/${told.must ? told.id : codeOf(told.id)}/${seed}`;

  const route = () => {
    const asked = inAddress("?");
    const [id, name, seed] = asked.split("/");
    const alarm = alarms.get(id);
    if (alarm) return openCase(alarm, name, seed);
    // A link within the page, such as the one that skips the header: whoever plays goes on playing.
    if (asked && document.getElementById(asked)) return game && history.replaceState(null, "", game.address);
    leave();
    if (asked) note("There is no such case here. Choose another one.");
    return undefined;
  };

  let asking = 0;
  const openCase = async (alarm, name, seed) => {
    const turn = ++asking;
    const isTold = /^t-/.test(name || "");
    let data = null;
    try {
      data = await (isTold ? toldData(alarm.id, name) : fetched(alarm.id));
    } catch {
      if (turn !== asking) return;
      leave();
      note("The cases of this alarm cannot be loaded. Try again when the network is back, or choose another one.");
      return;
    }
    if (turn !== asking) return;
    const isAsked = (one) => one.id === name || codeOf(one.id) === name;
    const drawn = () => (name ? data.cases.find(isAsked) : drawnCase(alarm, data));
    const told = isTold ? data && data.cases[0] : drawn();
    if (!told) {
      leave();
      note("There is no such case any more. Choose another one.");
      return;
    }
    const number = /^\d{1,10}$/.test(seed || "") ? Number(seed) >>> 0 : anySeed();
    history.replaceState(null, "", addressOf(alarm.id, told, number));
    begin(alarm, data, told, number);
  };

  /** The cause by the rule of spacing; of its cases the plain one first, later any. */
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
    } catch {
      if (turn === asking) note("The next case cannot be loaded. Try again when the network is back.");
    }
  };

  // A case from its beginning

  let game = null;
  const trees = new Map();

  const begin = (alarm, data, told, seed) => {
    if (!trees.has(data)) trees.set(data, new Playing.Tree(data));
    const play = new Playing.Play(trees.get(data), told, seed);
    game = {
      alarm, data, told, play, steps: new Practice.Steps(data), state: play.begin(),
      address: addressOf(alarm.id, told, seed), thought: 0, restThought: 0, last: performance.now(),
    };
    root.dataset.playing = "yes";
    note("");
    host.hidden = false;
    document.title = `${data.title} – ${ownTitle}`;
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

  /** The case comes to the top of the screen: on a phone the next choices have room below what was found. */
  const focusOn = (heading) => {
    parts.head.scrollIntoView();
    heading.focus({ preventScroll: true });
  };

  // What is seen while a case is played

  let parts = {};

  const build = () => {
    const { data, told, alarm } = game;
    parts = {
      title: el("h2", { class: "play__title", tabindex: "-1" }, data.title), clock: el("p", "play__clock"),
      off: press("", "plain", () => setClock(!clockOff())), said: el("div", { class: "play__said", role: "status" }),
      story: el("div", "play__story", ...told.story.map((sentence) => el("p", "", sentence)), traceOf(told)),
      ask: el("h3", { class: "play__ask", tabindex: "-1" }, "What do you do first?"),
      hint: el("p", "quiet", "A choice in a double frame ends the case."), offers: el("ul", "answers play__offers"),
      end: el("div", "play__end"), way: el("section", "play__way"),
    };
    parts.head = el("div", "play__head", parts.title, alarm.badge.cloneNode(true));
    const { head, clock, off, said, story, ask, hint, offers, end, way } = parts;
    const top = el("p", "play__top", press("‹ All cases", "plain", backToList), off);
    host.replaceChildren(top, head, clock, said, story, ask, hint, offers, end, way);
    sayClock();
  };

  /** Drawn when the site was built, by the same model as the figures of the articles: the only mark-up in a case. */
  const traceOf = (told) => {
    if (!told.trace) return null;
    const frame = el("div", "trace");
    frame.innerHTML = told.trace;
    return frame;
  };

  const drawOffers = () => {
    const { play, state } = game;
    parts.offers.replaceChildren(...play.offers(state).map((id) => {
      const made = press("", "answer offer", () => choose(id));
      made.dataset.to = id;
      made.classList.toggle("offer--ends", game.data.nodes[id].kind === "end");
      made.append(game.steps.choice(id));
      return el("li", "", made);
    }));
    drawWay();
  };

  const drawWay = () => {
    const { steps } = game;
    const list = el("ol", "", ...game.state.way.map((choice) => {
      const answer = steps.answer(choice);
      return el("li", "", steps.drawn(choice.node), " ", el("b", "found", answer && `→ ${answer}`));
    }));
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

  // What is said of a choice that does not end the case

  const quicker = (choice) => {
    const rule = game.data.rules.find((one) => one.id === choice.order);
    return reason("Quicker:", `${rule.say} ${rule.reason}`);
  };

  const say = (choice, right, before) => {
    const node = game.data.nodes[choice.node];
    const [shape, words] = Practice.said(choice, node);
    const found = el("b", "found", `→ ${game.steps.answer(choice) || "Done."}`);
    const wrong = Practice.TURNS.includes(choice.verdict);
    const told = [
      el("p", "play__answer", game.steps.drawn(choice.node), " ", found),
      el("p", "play__verdict", mark(shape), el("b", "", words), wrong && ` ${cost(choice, right, before)}`),
    ];
    const why = wrong ? game.data.nodes[right].why : node.why;
    if (choice.order) told.push(quicker(choice));
    else if (why && choice.verdict !== "welcome") told.push(reason(wrong ? "Think first of this:" : "Why:", why));
    parts.said.className = `play__said${wrong ? " play__said--wrong" : ""}`;
    parts.said.replaceChildren(...told);
  };

  const cost = (choice, right, before) => {
    if (choice.verdict === "ahead") {
      const first = game.data.nodes[right].kind === "ask" ? "asks" : "says";
      return `The page first ${first}: ${game.steps.quoted(right)} That has waited for ${lasting(choice.took)}.`;
    }
    return `It took ${lasting(choice.took)}${rests(before) ? ", and the balloon rested meanwhile." : "."}`;
  };

  const rests = (state) => state.pump !== Playing.RUNS;

  // The clock: what the steps take a calm reader, and the time spent thinking; shown, never judged

  const clockOff = () => root.dataset.clock === "off";

  const setClock = (off) => {
    tick();
    root.dataset.clock = off ? "off" : "on";
    local.set(CLOCK_OFF, off ? true : null);
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
      shown.push(el("span", "play__late", `Past the hospital’s ${lasting(data.warning)}: in earnest, do not restart; call.`));
    }
    parts.clock.replaceChildren(...shown);
  };

  // The end

  const finish = (right) => {
    const told = game.play.debrief(game.state);
    game.debrief = new Practice.Debrief(game, told);
    game.again = keep(told);
    const panel = game.debrief.panel(right);
    // Read aloud; those who see have it in the panel.
    parts.said.className = "unseen";
    parts.said.textContent = `${game.debrief.head[1]}.`;
    [parts.ask, parts.offers, parts.hint].forEach((part) => part.remove());
    parts.way.replaceChildren();
    parts.clock.hidden = parts.off.hidden = true;
    parts.end.replaceChildren(
      panel, game.debrief.behind(), game.debrief.asked(), game.debrief.figures(), el("p", "play__again", game.again),
      presses(), statusLine(), game.debrief.quicker(), game.debrief.ways(), el("h3", "", "The story"), parts.story);
    focusOn(panel.querySelector("h3"));
  };

  /** Where what is done with the debrief is said; and the text of it, for a browser that cannot copy. */
  const statusLine = () => {
    parts.status = el("p", { class: "quiet", role: "status" });
    return parts.status;
  };

  /** Kept in this browser: how it went, and when this cause comes again. */
  const keep = (told) => {
    const { alarm, data, told: one } = game;
    if (one.must) return "A told bedside does not count: play it as often as you like.";
    const cause = data.causes[one.cause].id;
    const id = `${alarm.id}/${cause}`;
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
    const lead = after.early ? "Played before its day: this cause still comes again in" : "This cause comes again in";
    return `${lead} ${many(days, "day")}, on ${dayOf(after.again * 1000)}.`;
  };

  const presses = () => {
    const unsafe = game.state.verdict === "unsafe";
    const onward = [
      press("Next case", unsafe ? "" : "loud", next),
      press("Same case again", unsafe ? "loud" : "", () => begin(game.alarm, game.data, game.told, game.play.seed)),
    ];
    return el(
      "p", "buttons", ...(unsafe ? onward.reverse() : onward),
      press("Copy", "", copy), press("Print", "", () => window.print()), press("All cases", "", backToList));
  };

  const copy = async () => {
    const text = game.debrief.text(game.again);
    const isCopied = await copied(text, () => {
      const shown = { class: "play__text", tabindex: "0", role: "region", "aria-label": "The case as text" };
      const place = host.querySelector(".play__text") || el("pre", shown);
      place.textContent = text;
      parts.status.after(place);
      return place;
    });
    parts.status.textContent = isCopied ? "Copied." : "Marked below: copy it by hand.";
  };

  /** A word about the list: what cannot be played */
  const notice = el("p", { class: "notice", role: "status", hidden: "" });
  const note = (words) => {
    notice.textContent = words;
    notice.hidden = !words;
  };

  if (local.get(CLOCK_OFF)) root.dataset.clock = "off";
  alarms.forEach((alarm) => { alarm.link.href = `#${alarm.id}`; });
  all("[data-scripted]").forEach((one) => { one.hidden = false; });
  document.querySelector("[data-next]").addEventListener("click", next);
  document.querySelector("[data-intro]").after(notice);
  window.addEventListener("hashchange", route);
  document.addEventListener("visibilitychange", () => { if (game) game.last = performance.now(); });
  setInterval(tick, 500);
  showList();
  route();
})();
