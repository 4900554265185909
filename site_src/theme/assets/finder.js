// The one box on the home page: a field that fills a list of alarms, tasks and numbers, after the combobox pattern of
// the ARIA Authoring Practices. What fits is decided in finder-match.js.
(() => {
  "use strict";
  const ROOMY = 560; // pixels of height that hold the page's head and a list
  const root = document.querySelector("[data-finder]");
  if (!root) return;

  function start() {
    const { all, copied, el, many, openFinder, openGuess } = window.alarmtrees;
    if (!openFinder || !window.MiniSearch) throw new Error("The finder's engine is missing.");
    const field = root.querySelector("#finder");
    const list = root.querySelector("#finder-list");
    const found = root.querySelector(".finder__found");
    const verdict = root.querySelector("#finder-verdict");
    const miss = root.querySelector(".finder__miss");
    const editors = root.querySelector(".finder__editors");
    const status = root.querySelector("[role=status]");
    const copy = root.querySelector(".finder__copy");
    const line = root.querySelector(".finder__line");
    const data = JSON.parse(root.querySelector("#finder-data").textContent);
    const known = new Map([...data.trees, ...data.tasks].map((page) => [page.id, page]));
    const isEditor = /[?&]editor\b/.test(location.search);
    let answered = null;
    let guess = null;
    let active = -1;
    let saying = 0;
    let shown = "";

    /** What answers. What was learned may come later than the words, or never: then they answer alone. */
    function ready() {
      answered = answered || openFinder(data);
      guess = guess || (window.alarmtrees.learned && openGuess && openGuess(window.alarmtrees.learned)) || null;
      return (text) => answered(text, guess);
    }

    const options = () => all("[role=option]", list);
    const because = (why) => (why.length ? [" ", el("span", { class: "finder__why" }, `because: ${why.join(", ")}`)] : []);
    const fileOf = (page) => (page.endsWith("/") ? `${page}index.html` : page);

    /** An alarm in the list looks and leads as it does in the list of all alarms. */
    function alarmOption({ id, why }) {
      const link = document.querySelector(`.alarms a[data-tree="${CSS.escape(id)}"]`).cloneNode(true);
      link.className = "alarm-link finder__option";
      link.dataset.page = known.get(id).page;
      link.querySelector(".alarm-link__title").append(...because(why));
      return link;
    }

    function taskOption({ id, why }) {
      const { title, page, kind } = known.get(id);
      const name = kind ? `${title} (${kind.toLowerCase()})` : title;
      const looks = { class: "finder__option finder__task", href: fileOf(page) };
      const link = el("a", looks, el("b", {}, name), ...because(why));
      link.dataset.page = page;
      return link;
    }

    /** Whom to call: a number that dials is a link, one that is invented is none. */
    function roleOption({ id }) {
      const { title, number, dial, page } = data.numbers.find((role) => role.id === id);
      const told = [el("span", {}, `Call: ${title} `), el("b", { class: "phone" }, number)];
      const option = dial
        ? el("a", { class: "finder__option finder__task", href: `tel:${dial}` }, ...told)
        : el("div", { class: "finder__option finder__task" }, ...told);
      option.dataset.page = page;
      return option;
    }

    function group(name, label, some) {
      if (!some.length) return [];
      const heading = el("p", { class: "finder__group", id: `finder-${name}`, role: "presentation" }, label);
      return [el("div", { role: "group", "aria-labelledby": heading.id }, heading, ...some)];
    }

    /** The list of an answer, alarms first. */
    function listOf({ alarms, tasks, sole, none, byTask }) {
      const hits = [...alarms];
      const isOffered = hits.some((hit) => hit.id === data.fallback || hit.id === data.together);
      const isShort = !sole && !byTask && (none || hits.length > 0) && !isOffered;
      if (data.fallback && isShort) hits.push({ id: data.fallback, why: [] });
      const groups = [
        ...group("alarms", "Alarms", hits.map(alarmOption)),
        ...group("tasks", "Tasks and numbers", tasks.map((hit) => (hit.role ? roleOption(hit) : taskOption(hit)))),
      ];
      groups.flatMap((one) => all(".finder__option", one)).forEach((option, number) => {
        option.id = `finder-${number}`;
        option.setAttribute("role", "option");
        option.setAttribute("aria-selected", "false");
        option.tabIndex = -1;
      });
      return groups;
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
      if (answer.several) return "Several alarms, most urgent first:";
      if (answer.vague) return "Say more: what do you see or hear?";
      return answer.none ? "Nothing here fits well. This site is only about balloon pumps." : "Look which one it is:";
    }

    function show() {
      shown = field.value;
      if (!shown.trim()) {
        close();
        return;
      }
      const answer = ready()(shown);
      if (!answer.none && !answer.alarms.length && !answer.tasks.length) {
        close(); // "?" asks for nothing
        return;
      }
      list.replaceChildren(...listOf(answer));
      const some = options();
      if (answer.sole) some[0].setAttribute("data-sole", "");
      list.toggleAttribute("data-none", answer.none);
      verdict.textContent = verdictOf(answer);
      miss.hidden = !answer.none || answer.vague;
      editors.hidden = answer.sole || !isEditor;
      line.hidden = true;
      copy.textContent = "Copy for our own list";
      found.hidden = false;
      field.setAttribute("aria-expanded", String(some.length > 0));
      choose(-1);
      say(`${verdict.textContent} ${some.length ? `${many(some.length, "page")} in the list.` : ""}`);
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

    /** Where an option leads; one whose number is invented leads to the page where it stands. */
    function open(option) {
      location.href = option.href || fileOf(option.dataset.page);
    }

    /** Only what is certain or was chosen is opened; else the first of the list is offered, not taken. */
    function enter() {
      const some = options();
      const sole = some.length === 1 && some[0].hasAttribute("data-sole");
      if (active >= 0 || sole) open(some[Math.max(active, 0)]);
      else if (some.length) offer(some[0]);
    }

    /** Says which one the next Enter opens, to the eye and to the ear. */
    function offer(option) {
      choose(0);
      verdict.textContent = "Enter opens the marked one:";
      const name = (option.querySelector(".alarm-link__title, b") || option).firstChild.textContent.trim();
      say(`Marked: ${option.matches(":has(.phone)") ? option.textContent.trim() : name}. Enter opens it.`);
    }

    function leave() {
      if (found.hidden) field.value = "";
      close();
    }

    const keys = { ArrowDown: () => step(true), ArrowUp: () => step(false), Enter: enter, Escape: leave };

    /**
     * With the keyboard open there is little room: what stands above the field gives way, until the list is closed.
     * It does not come back when the field is left, or a list would move away under the finger.
     */
    function makeRoom() {
      const view = window.visualViewport ? window.visualViewport.height : window.innerHeight;
      if (document.activeElement !== field || view > ROOMY) return;
      document.documentElement.classList.add("finding");
      root.scrollIntoView({ block: "start" });
    }

    function giveBack() {
      if (found.hidden) document.documentElement.classList.remove("finding");
    }

    field.addEventListener("input", show);
    field.addEventListener("focus", makeRoom);
    field.addEventListener("blur", giveBack);
    (window.visualViewport || window).addEventListener("resize", makeRoom);
    list.addEventListener("click", (event) => {
      const option = event.target.closest("div[role=option]");
      if (option) open(option);
    });
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
