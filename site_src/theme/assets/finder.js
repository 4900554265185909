// The alarm finder on the home page: a field that fills a list, after the combobox pattern of the ARIA Authoring
// Practices. What fits is decided in finder-match.js.
(() => {
  "use strict";
  const root = document.querySelector("[data-finder]");
  if (!root) return;

  function start() {
    const { all, copied, many, openFinder } = window.alarmtrees;
    if (!openFinder || !window.MiniSearch) throw new Error("The finder's engine is missing.");
    const field = root.querySelector("#finder");
    const list = root.querySelector("#finder-list");
    const found = root.querySelector(".finder__found");
    const verdict = root.querySelector("#finder-verdict");
    const miss = root.querySelector(".finder__miss");
    const status = root.querySelector("[role=status]");
    const copy = root.querySelector(".finder__copy");
    const line = root.querySelector(".finder__line");
    const data = JSON.parse(root.querySelector("#finder-data").textContent);
    let ask = null;
    let active = -1;
    let saying = 0;
    let shown = "";

    function ready() {
      ask = ask || openFinder(data);
      return ask;
    }

    const options = () => all("[role=option]", list);

    /** An alarm in the list looks and leads as it does in the list of all alarms. */
    function option(id, number) {
      const link = document.querySelector(`.alarms a[data-tree="${CSS.escape(id)}"]`).cloneNode(true);
      link.id = `finder-${number}`;
      link.className = "alarm-link finder__option";
      link.setAttribute("role", "option");
      link.setAttribute("aria-selected", "false");
      link.tabIndex = -1;
      return link;
    }

    /** Chooses one of the list; one beyond either end is none. */
    function choose(number) {
      const some = options();
      active = number >= 0 && number < some.length ? number : -1;
      some.forEach((one, i) => one.setAttribute("aria-selected", String(i === active)));
      if (active < 0) {
        field.removeAttribute("aria-activedescendant");
        return;
      }
      field.setAttribute("aria-activedescendant", some[active].id);
      some[active].scrollIntoView({ block: "nearest" });
    }

    /** Spoken a little later, so that each key does not interrupt what is said of the one before. */
    function say(text) {
      clearTimeout(saying);
      saying = setTimeout(() => { status.textContent = text; }, text ? 600 : 0);
    }

    function close() {
      found.hidden = true;
      list.textContent = "";
      list.removeAttribute("data-none");
      field.setAttribute("aria-expanded", "false");
      choose(-1);
      say("");
    }

    function verdictOf(answer) {
      if (answer.sole) return "This fits:";
      return answer.none ? "No alarm here fits well. All alarms are listed below." : "No exact match. Look which one it is:";
    }

    function show() {
      shown = field.value;
      if (!shown.trim()) {
        close();
        return;
      }
      const answer = ready()(shown);
      const ids = answer.hits.map((hit) => hit.id);
      if (!answer.sole && data.fallback && !ids.includes(data.fallback)) ids.push(data.fallback);
      list.replaceChildren(...ids.map(option));
      if (answer.sole) list.firstChild.setAttribute("data-sole", "");
      list.toggleAttribute("data-none", answer.none);
      verdict.textContent = verdictOf(answer);
      miss.hidden = answer.sole;
      line.hidden = true;
      copy.textContent = "Copy for our own list";
      found.hidden = false;
      field.setAttribute("aria-expanded", String(ids.length > 0));
      choose(-1);
      say(`${verdict.textContent} ${ids.length ? `${many(ids.length, "alarm")} in the list.` : ""}`);
    }

    /** The words as a line for the hospital's own file: quoted as JSON, which YAML reads as it stands. */
    function ownLine() {
      const text = shown.replace(/[\u0000-\u001f\u007f-\u009f\u2028\u2029]/g, " ").trim().slice(0, 120);
      const why = `found nothing on ${new Date().toISOString().slice(0, 10)}; put the right alarm's id`;
      return `  ${data.fallback || "id-of-the-alarm"}: [${JSON.stringify(text)}]  # under wordings:, ${why}`;
    }

    copy.addEventListener("click", async () => {
      line.firstChild.textContent = ownLine();
      line.hidden = false;
      const isDone = await copied(line.firstChild.textContent, () => line.firstChild);
      copy.textContent = isDone ? "Copied" : "Copy this line by hand:";
      status.textContent = isDone ? "Copied." : "Copy the line by hand.";
    });

    /** The one of the list that is above or below, and around its ends. */
    function step(down) {
      if (found.hidden) show();
      if (down) choose(active + 1);
      else choose(active < 0 ? options().length - 1 : active - 1);
    }

    /** Only what is certain or was chosen is opened; else the first of the list is offered, not taken. */
    function enter() {
      const some = options();
      const sole = some.length === 1 && some[0].hasAttribute("data-sole");
      if (active >= 0 || sole) location.href = some[Math.max(active, 0)].href;
      else if (some.length) choose(0);
    }

    function leave() {
      if (found.hidden) field.value = "";
      close();
    }

    const keys = { ArrowDown: () => step(true), ArrowUp: () => step(false), Enter: enter, Escape: leave };

    field.addEventListener("input", show);
    field.addEventListener("focus", ready, { once: true });
    field.addEventListener("keydown", (event) => {
      if (event.isComposing || !keys[event.key]) return;
      event.preventDefault();
      keys[event.key]();
    });

    // Words that were there before the script: typed while the page came, or kept when going back.
    window.addEventListener("pageshow", () => {
      if (field.value !== shown) show();
    });
    if (field.value) show();
    else if (window.requestIdleCallback) window.requestIdleCallback(ready);
  }

  try {
    start();
  } catch (fault) {
    root.hidden = true; // a field that finds nothing is worse than none: the list of alarms stands below
    throw fault;
  }
})();
