// The walk: one step of a tree at a time, made from the page's own list of steps, which stays in reach.
// Tells the rest of the page by events: walk:open, walk:step, walk:answer, walk:went, walk:sum, walk:clear.
(() => {
  "use strict";
  const host = document.querySelector("[data-walk]");
  if (!host) return;
  const { all, button, copied, dayOf, el, emit, folded, inAddress, isTime, session, single } = window.alarmtrees;
  const { timeOf } = window.alarmtrees;

  const tree = host.dataset.walk;
  const root = document.documentElement;
  const title = document.getElementById("_top").textContent.trim();
  const ownTitle = document.title;
  const LOG = "walk-log";
  const LAST = "walk-last";
  const CARRY = "walk-carry";

  // The list of steps, read once. Its hooks move to the step shown, so that each stands on the page once.

  const steps = new Map();
  const listed = all("section.step[data-node]");
  const start = listed[0].dataset.node;
  const anytime = new Map();

  function read(section) {
    const copy = section.cloneNode(true);
    copy.querySelectorAll(".anytime a").forEach((link) => {
      if (!anytime.has(link.dataset.to)) anytime.set(link.dataset.to, link);
    });
    copy.querySelectorAll(".number, .goto, .anytime").forEach((part) => part.remove());
    copy.removeAttribute("id");
    steps.set(section.dataset.node, copy);
  }

  function unhook(section) {
    ["id", "data-node", "data-end"].forEach((name) => section.removeAttribute(name));
    section.classList.add("listed");
    section.querySelectorAll("[data-to]").forEach((link) => link.removeAttribute("data-to"));
    section.querySelectorAll("[data-tree]").forEach((link) => link.removeAttribute("data-tree"));
  }

  function words(id) {
    const step = steps.get(id);
    const lines = Array.from(step.querySelectorAll(".lines li"), (line) => folded(line.textContent));
    if (lines.length) return lines.join(" ");
    const heading = step.querySelector("h2, h3").cloneNode(true);
    heading.querySelectorAll(".how").forEach((part) => part.append(":"));
    return folded(heading.textContent);
  }

  // Where the reader is

  let state = null;
  let log = [];

  const entered = (node, way, by) => ({ walk: tree, node, way, by, at: Date.now() });
  const isSound = (kept) =>
    kept?.walk === tree &&
    steps.has(kept.node) &&
    isTime(kept.at) &&
    Array.isArray(kept.way) &&
    kept.way.every((one) => steps.has(one?.id) && typeof one.say === "string" && isTime(one.at));
  const noted = (kept) =>
    (Array.isArray(kept) ? kept : []).filter((one) => isTime(one?.at) && typeof one.text === "string");
  const asked = () => (steps.has(inAddress()) ? inAddress() : "");

  function note(text, at, going) {
    const last = log[log.length - 1];
    if (going && last?.going) log.pop();
    log.push({ at: at || Date.now(), text, going: going || undefined });
    session.set(LOG, log);
  }

  function noteEnd() {
    if (steps.get(state.node).dataset.end) note(`End: ${words(state.node)}`);
  }

  function keep() {
    session.set(LAST, state);
  }

  function push(node, way, by) {
    state = entered(node, way, by);
    history.pushState(state, "", `#${encodeURIComponent(node)}`);
    keep();
    noteEnd();
    show(true);
  }

  function answer(press) {
    const here = steps.get(state.node);
    const { to, pump, rest, anytime: isAnytime } = press.dataset;
    const isAsked = here.classList.contains("step--ask") || isAnytime;
    const said = folded(press.textContent);
    const at = Date.now();
    const inStep = isAsked ? `${words(state.node)} ${said}` : `Done: ${words(state.node)}`;
    note(isAnytime ? said : inStep, at);
    emit("walk:answer", { step: state.node, pump, rest, since: state.at, at, does: isAnytime ? undefined : here.dataset.pump });
    stayAwake();
    push(to, state.way.concat({ id: state.node, say: isAsked ? said : "Done", at }), "answer");
  }

  function went(way) {
    note(`Went to: ${words(state.node)}`, 0, true);
    emit("walk:went", { way });
  }

  function goBackTo(place) {
    const node = state.way[place].id;
    const way = state.way.slice(0, place);
    push(node, way, "jump");
    went(way);
  }

  function back() {
    if (state.by === "answer" || (state.carried && !state.way.length)) history.back();
    else if (state.way.length) goBackTo(state.way.length - 1);
  }

  /** The browser's own back and forward, and links to a step on the page. */
  function moved(event) {
    if (isSound(event.state)) {
      state = event.state;
    } else if (asked()) {
      const node = asked();
      const place = state.way.findIndex((one) => one.id === node);
      state = entered(node, place < 0 ? [] : state.way.slice(0, place), "jump");
      history.replaceState(state, "");
    } else {
      history.replaceState(state, "");
      return;
    }
    keep();
    show(true);
    went(state.way);
  }

  // What is seen

  const parts = {
    progress: el("p", { class: "progress quiet", id: "_progress" }),
    step: el("div", "walk__step"),
    way: el("nav", { class: "walk__way", "aria-label": "The way so far" }),
    end: el("div", "walk__end"),
    dock: el("div", { class: "dock", role: "group", "aria-label": "At any time" }),
    anytime: el("div", "dock__anytime"),
    back: button("plain dock__back", "Back", back),
  };

  function pressable(link) {
    const made = button(link.className || "plain", "", single(() => answer(made)));
    made.append(...link.cloneNode(true).childNodes);
    Object.assign(made.dataset, link.dataset);
    return made;
  }

  function progress() {
    const here = steps.get(state.node).dataset;
    const ahead = Number(here.ahead);
    const first = state.way.length ? state.way[0].id : state.node;
    if (here.end || !Number.isFinite(ahead)) return "";
    const number = state.way.length + 1;
    return first === start ? `${number} of about ${number + ahead}` : `About ${ahead + 1} more`;
  }

  function drawn() {
    const step = steps.get(state.node).cloneNode(true);
    const old = step.querySelector("h2, h3");
    const heading = el("h2");
    const lines = step.querySelector(".lines");
    heading.append(...old.childNodes);
    heading.tabIndex = -1;
    if (lines) lines.id = "_lines";
    old.replaceWith(heading);
    parts.progress.textContent = progress();
    heading.setAttribute("aria-describedby", `_progress${lines ? " _lines" : ""}`);
    step.querySelectorAll("a[data-to]").forEach((link) => link.replaceWith(pressable(link)));
    step.querySelectorAll("a[data-tree]").forEach((link) => {
      link.addEventListener("click", () => session.set(CARRY, { to: link.dataset.tree, at: Date.now() }));
    });
    step.classList.add("step--shown");
    return step;
  }

  function drawWay() {
    const items = state.way.map((one, place) => {
      const press = button("way", "", () => goBackTo(place));
      press.append(el("span", "way__asked", words(one.id)), " ", el("b", "", one.say));
      return el("li", "", press);
    });
    parts.way.replaceChildren(el("p", "quiet", "So far (press one to go back to it)"), el("ol", "", ...items));
    parts.way.hidden = !state.way.length;
  }

  function drawDock() {
    const offered = Array.from(anytime).filter(([to]) => to !== state.node);
    parts.anytime.replaceChildren(...offered.map(([, link]) => {
      const press = pressable(link);
      press.textContent = folded(link.firstChild.textContent);
      press.dataset.anytime = "yes";
      return press;
    }));
    parts.anytime.hidden = !offered.length;
    parts.back.hidden = !state.way.length && !state.carried;
  }

  function drawPicture() {
    const picture = document.getElementById("_picture");
    if (!picture) return;
    const taken = state.way.map((one) => one.id).concat(state.node);
    const pairs = new Set(taken.slice(1).map((to, place) => `${taken[place]} ${to}`));
    picture.querySelectorAll("[data-from][data-to]").forEach((line) => {
      line.classList.toggle("taken", pairs.has(`${line.dataset.from} ${line.dataset.to}`));
    });
    picture.querySelectorAll('a[href^="#"]').forEach((link) => {
      const to = decodeURIComponent(link.getAttribute("href").slice(1));
      link.classList.toggle("taken", taken.includes(to));
      link.toggleAttribute("aria-current", false);
      if (to !== state.node) return;
      link.setAttribute("aria-current", "step");
      center(link, picture);
    });
  }

  /** Scrolls the picture, and nothing around it, until the step stands in its middle. */
  function center(link, picture) {
    const at = link.getBoundingClientRect();
    for (let frame = link.parentElement; frame && picture.contains(frame); frame = frame.parentElement) {
      const around = frame.getBoundingClientRect();
      if (!at.height || frame instanceof SVGElement) continue;
      frame.scrollTop += at.top + at.height / 2 - around.top - around.height / 2;
      frame.scrollLeft += at.left + at.width / 2 - around.left - around.width / 2;
    }
  }

  function show(follow) {
    const step = drawn();
    parts.step.replaceChildren(step);
    step.append(parts.dock);
    drawWay();
    drawDock();
    parts.end.replaceChildren();
    if (step.dataset.end && step.dataset.end !== "go") parts.end.append(record());
    emit("walk:step", { step });
    drawPicture();
    document.title = `${folded(words(state.node))} – ${ownTitle}`;
    fit();
    if (!follow) return;
    window.scrollTo(0, 0);
    step.querySelector("h2").focus({ preventScroll: true });
  }

  /** On a screen with little room, such as with very large text, nothing is fixed: it would cover the step. */
  function fit() {
    const top = document.querySelector(".top");
    const fixed = parts.dock.offsetHeight + (top ? top.offsetHeight : 0);
    const tight = fixed > 0.49 * window.innerHeight;
    root.toggleAttribute("data-tight", tight);
    root.style.setProperty("--dock", `${tight ? 0 : parts.dock.offsetHeight}px`);
    root.style.setProperty("--top", `${tight || !top ? 0 : top.offsetHeight}px`);
  }

  // At an end: what was done, for the notes

  function told() {
    const rest = [];
    emit("walk:sum", { lines: rest });
    const lines = log.map((one) => `${timeOf(one.at)}  ${one.text}`);
    return [`${title}, ${dayOf(Date.now())}`, ...lines, ...rest].join("\n");
  }

  function record() {
    const about = { class: "record__text", tabindex: "0", role: "region", "aria-label": "What was done" };
    const text = el("pre", about, told());
    const done = el("span", { class: "quiet", role: "status" });
    const copy = button("plain", "Copy", async () => {
      text.textContent = told();
      const isDone = await copied(text.textContent, () => text);
      done.textContent = isDone ? "Copied." : "Marked above: copy it by hand.";
    });
    const clear = button("plain", "Next patient: clear all", () => {
      log = [];
      emit("walk:clear");
      note(`Opened: ${title}`);
      push(start, [], "jump");
    });
    const presses = el("p", "record__presses", copy, " ", clear, " ", done);
    const frame = el("section", "record", el("h3", "", "For the notes"), text, presses);
    frame.refresh = () => { text.textContent = told(); };
    return frame;
  }

  // The screen stays on while somebody walks.

  let awake = null;
  async function stayAwake() {
    if (!navigator.wakeLock || awake || document.visibilityState !== "visible") return;
    try {
      awake = await navigator.wakeLock.request("screen");
      awake.addEventListener("release", () => { awake = null; });
    } catch {
      // A device that saves power may refuse.
    }
  }

  // The list under "All steps"

  function foldList() {
    const heading = listed[0].parentElement.querySelector("[data-all-steps]");
    if (!heading) return;
    const home = document.createComment("step 1");
    const press = button("fold", "All steps", () => unfold(!root.hasAttribute("data-list")));
    listed[0].before(home);
    heading.replaceChildren(press);
    function unfold(isOpen) {
      press.setAttribute("aria-expanded", String(isOpen));
      root.toggleAttribute("data-list", isOpen);
      (isOpen ? heading : home).after(listed[0]);
    }
    unfold(false);
  }

  /** Title, priority and progress side by side, so that the first step stands on the first screen of a small phone. */
  function buildHead() {
    const head = el("div", "head");
    const heading = document.getElementById("_top");
    const rank = document.querySelector(".rank");
    const strip = document.querySelector(".strip");
    heading.before(head);
    if (rank && strip) {
      strip.append(" ", ...rank.querySelectorAll(".quiet"));
      rank.append(parts.progress);
    }
    head.append(heading, rank && strip ? rank : parts.progress);
  }

  function build() {
    const calls = el("div", "dock__calls", host.querySelector(".dial"), parts.back);
    parts.dock.append(el("div", "dock__inner", parts.anytime, calls));
    host.replaceChildren(parts.step, parts.end, parts.way);
  }

  /** Where this page was left: by the browser's history, else what was kept, where a reload or a way back led here. */
  function foundAgain() {
    const here = history.state;
    const how = performance.getEntriesByType("navigation")[0]?.type;
    const kept = how === "reload" || how === "back_forward" ? session.get(LAST) : null;
    const found = [here, kept].find(isSound);
    if (!found || (asked() && found.node !== asked())) return null;
    return found === here ? found : { ...found, by: "jump" };
  }

  /** Opened anew, come to from another tree's page, or found again after a reload. */
  function open() {
    const found = foundAgain();
    const isCarried = !found && session.get(CARRY)?.to === tree;
    session.set(CARRY, null);
    log = found || isCarried ? noted(session.get(LOG)) : [];
    state = found || entered(asked() || start, [], "open");
    if (isCarried) state.carried = true;
    if (!found) note((isCarried ? "Went on to: " : "Opened: ") + title);
    history.replaceState(state, "");
    keep();
    document.addEventListener("walk:log", (event) => {
      note(event.detail.text);
      parts.end.firstChild?.refresh();
    });
    if (!found) noteEnd();
    emit("walk:open", { resumed: Boolean(found), carried: isCarried });
    show(false);
  }

  const wide = window.matchMedia("(min-width: 68.75em)");

  /** The drawing is seen on wide screens alone, and fetched there. */
  function fetchPicture() {
    const frame = document.querySelector("[data-picture]");
    if (!frame || !wide.matches) return;
    window.alarmtrees.picture = (drawing) => {
      frame.insertAdjacentHTML("beforeend", drawing);
      if (root.dataset.walking) drawPicture();
    };
    document.body.append(el("script", { src: frame.dataset.picture }));
    delete frame.dataset.picture;
  }

  fetchPicture();
  wide.addEventListener("change", fetchPicture);

  // Whatever fails here leaves the page's own list, which has all there is, as it was.
  listed.forEach(read);
  build();
  open();
  listed.forEach(unhook);
  foldList();
  buildHead();
  host.hidden = false;
  root.dataset.walking = "yes";
  history.scrollRestoration = "manual";
  if (inAddress()) window.scrollTo(0, 0);
  fit();
  window.addEventListener("popstate", moved);
  window.addEventListener("resize", fit);
  if (window.ResizeObserver) {
    const seen = new ResizeObserver(fit);
    seen.observe(parts.dock);
    seen.observe(document.querySelector(".top") || parts.dock);
  }
  document.addEventListener("visibilitychange", () => { if (state.way.length) stayAwake(); });
})();
