/* The walk: one step of a tree at a time, made from the page's own list of steps, which stays in reach.
   Tells the rest of the page by events: walk:open, walk:step, walk:answer, walk:went, walk:sum. */
(function () {
  "use strict";
  const host = document.querySelector("[data-walk]");
  if (!host) return;

  const tree = host.dataset.walk;
  const root = document.documentElement;
  const title = document.getElementById("_top").textContent.trim();
  const ownTitle = document.title;
  const LOG = "walk-log";
  const LAST = "walk-last";
  const CARRY = "walk-carry";

  const el = (name, className, text) => {
    const made = document.createElement(name);
    if (className) made.className = className;
    if (text) made.textContent = text;
    return made;
  };
  const two = (number) => String(number).padStart(2, "0");
  const timeOf = (moment) => two(new Date(moment).getHours()) + ":" + two(new Date(moment).getMinutes());
  const emit = (name, detail) => document.dispatchEvent(new CustomEvent(name, { detail: detail }));
  const folded = (text) => text.replace(/\s+/g, " ").trim();

  const session = {
    get(key) {
      try {
        return JSON.parse(sessionStorage.getItem(key));
      } catch (fault) {
        return null;
      }
    },
    set(key, value) {
      try {
        sessionStorage.setItem(key, JSON.stringify(value));
      } catch (fault) { /* Where nothing may be kept, the walk lives as long as the page. */ }
    },
  };

  /* The list of steps, read once. Its hooks move to the step shown, so that each stands on the page once. */

  const steps = new Map();
  const listed = Array.from(document.querySelectorAll("section.step[data-node]"));
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

  /* Where the reader is */

  let state = null;
  let log = [];

  const entered = (node, way, by) => ({ walk: tree, node: node, way: way, by: by, at: Date.now() });
  const sound = (kept) =>
    kept && kept.walk === tree && steps.has(kept.node) && Array.isArray(kept.way) && kept.way.every((one) => steps.has(one.id));

  function inAddress() {
    try {
      return decodeURIComponent(location.hash.slice(1));
    } catch (fault) {
      return "";
    }
  }

  function note(text, at, going) {
    const last = log[log.length - 1];
    if (going && last && last.going) log.pop();
    log.push({ at: at || Date.now(), text: text, going: going || undefined });
    session.set(LOG, log);
  }

  function noteEnd() {
    if (steps.get(state.node).dataset.end) note("End: " + words(state.node));
  }

  function keep() {
    session.set(LAST, state);
  }

  function push(node, way, by) {
    state = entered(node, way, by);
    history.pushState(state, "", "#" + encodeURIComponent(node));
    keep();
    noteEnd();
    show(true);
  }

  function answer(press) {
    const here = steps.get(state.node);
    const asked = here.classList.contains("step--ask") || press.dataset.anytime;
    const said = folded(press.textContent);
    const at = Date.now();
    const text = press.dataset.anytime ? said : asked ? words(state.node) + " " + said : "Done: " + words(state.node);
    note(text, at);
    emit("walk:answer", {
      step: state.node, pump: press.dataset.pump, rest: press.dataset.rest, since: state.at, at: at,
      does: press.dataset.anytime ? undefined : here.dataset.pump,
    });
    stayAwake();
    const entry = { id: state.node, say: asked ? said : "Done", at: at };
    push(press.dataset.to, state.way.concat(entry), "answer");
  }

  function went(way) {
    note("Went to: " + words(state.node), 0, true);
    emit("walk:went", { way: way });
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

  /* The browser's own back and forward, and links to a step on the page. */
  function moved(event) {
    if (sound(event.state)) {
      state = event.state;
    } else if (steps.has(inAddress())) {
      const node = inAddress();
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

  /* What is seen */

  const parts = {
    progress: el("p", "progress quiet"), step: el("div", "walk__step"), way: el("nav", "walk__way"), end: el("div", "walk__end"), dock: el("div", "dock"),
    inner: el("div", "dock__inner"), anytime: el("div", "dock__anytime"), back: el("button", "plain dock__back", "Back"),
  };

  function pressable(link) {
    const made = el("button", link.className || "plain");
    made.type = "button";
    made.append(...Array.from(link.cloneNode(true).childNodes));
    Object.assign(made.dataset, link.dataset);
    // The second click of a double one would answer the next step, which nobody has read yet.
    made.addEventListener("click", (event) => { if (event.detail < 2) answer(made); });
    return made;
  }

  function progress() {
    const ahead = Number(steps.get(state.node).dataset.ahead);
    const first = state.way.length ? state.way[0].id : state.node;
    if (steps.get(state.node).dataset.end) return "";
    if (!Number.isFinite(ahead)) return "";
    if (first !== start) return "About " + (ahead + 1) + " more";
    return state.way.length + 1 + " of about " + (state.way.length + 1 + ahead);
  }

  function drawn() {
    const step = steps.get(state.node).cloneNode(true);
    const old = step.querySelector("h2, h3");
    const heading = el("h2");
    const lines = step.querySelector(".lines");
    heading.append(...Array.from(old.childNodes));
    heading.tabIndex = -1;
    if (lines) lines.id = "_lines";
    old.replaceWith(heading);
    parts.progress.textContent = progress();
    heading.setAttribute("aria-describedby", "_progress" + (lines ? " _lines" : ""));
    step.querySelectorAll("a[data-to]").forEach((link) => link.replaceWith(pressable(link)));
    step.querySelectorAll("a[data-tree]").forEach((link) => link.addEventListener("click", () => {
      session.set(CARRY, { to: link.dataset.tree, at: Date.now() });
    }));
    step.classList.add("step--shown");
    return step;
  }

  function drawWay() {
    const list = el("ol");
    state.way.forEach((one, place) => {
      const item = el("li");
      const press = el("button", "way");
      press.type = "button";
      press.append(el("span", "way__asked", words(one.id)), " ", el("b", "", one.say));
      press.addEventListener("click", () => goBackTo(place));
      item.append(press);
      list.append(item);
    });
    parts.way.replaceChildren(el("p", "quiet", "So far (press one to go back to it)"), list);
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
    const pairs = new Set(taken.slice(1).map((to, place) => taken[place] + " " + to));
    picture.querySelectorAll("[data-from][data-to]").forEach((line) => {
      line.classList.toggle("taken", pairs.has(line.dataset.from + " " + line.dataset.to));
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

  /* Scrolls the picture, and nothing around it, until the step stands in its middle. */
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
    emit("walk:step", { step: step });
    drawPicture();
    document.title = folded(words(state.node)) + " – " + ownTitle;
    fit();
    if (!follow) return;
    window.scrollTo(0, 0);
    step.querySelector("h2").focus({ preventScroll: true });
  }

  /* On a screen with little room, such as with very large text, nothing is fixed: it would cover the step. */
  function fit() {
    const top = document.querySelector(".top");
    const fixed = parts.dock.offsetHeight + (top ? top.offsetHeight : 0);
    const tight = fixed > 0.4 * window.innerHeight;
    root.toggleAttribute("data-tight", tight);
    root.style.setProperty("--dock", (tight ? 0 : parts.dock.offsetHeight) + "px");
    root.style.setProperty("--top", (tight || !top ? 0 : top.offsetHeight) + "px");
  }

  /* At an end: what was done, for the notes */

  function told() {
    const day = new Date();
    const date = day.getFullYear() + "-" + two(day.getMonth() + 1) + "-" + two(day.getDate());
    const rest = [];
    emit("walk:sum", { lines: rest });
    const lines = log.map((one) => timeOf(one.at) + "  " + one.text);
    return [title + ", " + date].concat(lines, rest).join("\n");
  }

  function record() {
    const frame = el("section", "record");
    const text = el("pre", "record__text", told());
    const done = el("span", "quiet");
    const copy = el("button", "plain", "Copy");
    const clear = el("button", "plain", "Next patient: clear all");
    text.tabIndex = 0;
    text.setAttribute("role", "region");
    text.setAttribute("aria-label", "What was done");
    done.setAttribute("role", "status");
    copy.type = clear.type = "button";
    copy.addEventListener("click", () => {
      text.textContent = told();
      copied(text).then((well) => {
        done.textContent = well ? "Copied." : "Marked above: copy it by hand.";
      });
    });
    clear.addEventListener("click", () => {
      log = [];
      emit("walk:clear", {});
      note("Opened: " + title);
      push(start, [], "jump");
    });
    const presses = el("p", "record__presses");
    presses.append(copy, " ", clear, " ", done);
    frame.append(el("h3", "", "For the notes"), text, presses);
    frame.refresh = () => { text.textContent = told(); };
    return frame;
  }

  async function copied(text) {
    try {
      await navigator.clipboard.writeText(text.textContent);
      return true;
    } catch (fault) {
      const range = document.createRange();
      range.selectNodeContents(text);
      getSelection().removeAllRanges();
      getSelection().addRange(range);
      return document.execCommand("copy");
    }
  }

  /* The screen stays on while somebody walks. */
  let awake = null;
  async function stayAwake() {
    if (!navigator.wakeLock || awake || document.visibilityState !== "visible") return;
    try {
      awake = await navigator.wakeLock.request("screen");
      awake.addEventListener("release", () => { awake = null; });
    } catch (fault) { /* A device that saves power may refuse. */ }
  }

  /* The list under "All steps" */

  function foldList() {
    const heading = listed[0].parentElement.querySelector("[data-all-steps]");
    if (!heading) return;
    const home = document.createComment("step 1");
    const press = el("button", "fold", "All steps");
    press.type = "button";
    listed[0].before(home);
    heading.replaceChildren(press);
    const open = (opened) => {
      press.setAttribute("aria-expanded", String(opened));
      root.toggleAttribute("data-list", opened);
      (opened ? heading : home).after(listed[0]);
    };
    press.addEventListener("click", () => open(!root.hasAttribute("data-list")));
    open(false);
  }

  /* Title, priority and progress side by side, so that the first step stands on the first screen of a small phone. */
  function buildHead() {
    const head = el("div", "head");
    const heading = document.getElementById("_top");
    const rank = document.querySelector(".rank");
    const strip = document.querySelector(".strip");
    parts.progress.id = "_progress";
    heading.before(head);
    if (!rank || !strip) return head.append(heading, parts.progress);
    strip.append(" ", ...Array.from(rank.querySelectorAll(".quiet")));
    head.append(heading, rank);
    return rank.append(parts.progress);
  }

  function build() {
    const dial = host.querySelector(".dial");
    const calls = el("div", "dock__calls");
    parts.dock.setAttribute("role", "group");
    parts.dock.setAttribute("aria-label", "At any time");
    parts.way.setAttribute("aria-label", "The way so far");
    parts.back.type = "button";
    parts.back.addEventListener("click", back);
    if (dial) calls.append(dial);
    calls.append(parts.back);
    parts.inner.append(parts.anytime, calls);
    parts.dock.append(parts.inner);
    host.replaceChildren(parts.step, parts.end, parts.way);
  }

  /* Opened anew, come to from another tree's page, or found again after a reload. */
  function open() {
    const kept = session.get(LAST);
    const how = performance.getEntriesByType("navigation")[0];
    const again = how && (how.type === "reload" || how.type === "back_forward");
    const asked = steps.has(inAddress()) ? inAddress() : "";
    const here = history.state;
    let found = sound(here) ? here : again && sound(kept) ? kept : null;
    if (found && asked && found.node !== asked) found = null;
    if (found && found !== here) found.by = "jump";
    const carry = session.get(CARRY);
    const carried = !found && carry && carry.to === tree;
    session.set(CARRY, null);
    log = found || carried ? session.get(LOG) || [] : [];
    state = found || entered(asked || start, [], "open", 0);
    if (carried) state.carried = true;
    if (!found) note((carried ? "Went on to: " : "Opened: ") + title);
    history.replaceState(state, "");
    keep();
    document.addEventListener("walk:log", (event) => {
      note(event.detail.text);
      if (parts.end.firstChild) parts.end.firstChild.refresh();
    });
    if (!found) noteEnd();
    emit("walk:open", { resumed: Boolean(found), carried: Boolean(carried) });
    show(false);
  }

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
