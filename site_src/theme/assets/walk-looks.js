// The looks with which a page begins, on one screen: each with its own answers, in any order. Given to walk.js.
// The page goes on when all are given, or as soon as one of them leads elsewhere and nothing before it is open.
(() => {
  "use strict";
  const { all, button, el, folded, isTime, put } = window.alarmtrees;

  /**
   * @param {Map<string, HTMLElement>} steps
   * @param {string[]} ids the looks, in the order of the tree
   * @param {(id: string) => string} words what a step says
   */
  function looksOf(steps, ids, words) {
    /** The looks that stand together from a step on; none where it is shown alone. */
    function from({ node, alone }) {
      const rest = alone || !ids.includes(node) ? [] : ids.slice(ids.indexOf(node));
      return rest.length > 1 ? rest : [];
    }

    /** What is given as steps of the way, in the order of the tree. */
    const way = (given) => ids.filter((id) => given[id]).map((id) => ({ id, ...given[id] }));

    /**
     * Where the answers lead: past all looks, or off them. An answer that leads off waits for the looks before it, but
     * where the tree offers what it says at any time.
     */
    function out(state, given, isAnytime) {
      const row = from(state);
      const off = row.findIndex((id, place) => given[id] && given[id].to !== row[place + 1]);
      if (off < 0) return null;
      if (row.slice(0, off).every((id) => given[id])) return { to: given[row[off]].to, way: way(given) };
      const next = row.find((id, place) => given[id] && given[id].to !== row[place + 1] && isAnytime(given[id].to));
      return next ? { to: given[next].to, way: way(given) } : null;
    }

    /** Where the answer leads that a step of the way tells. */
    function toOf(one) {
      const links = all("[data-to]", steps.get(one.id));
      return links.find((link) => folded(link.textContent) === one.say)?.dataset.to || "";
    }

    const isGiven = ([id, one]) => ids.includes(id) && steps.has(one?.to) && typeof one.say === "string" && isTime(one.at);
    const sound = (given) => Object.fromEntries(Object.entries(given || {}).filter(isGiven));

    // What is seen

    function look(id, drawn) {
      const step = drawn(id);
      const old = step.querySelector("h2, h3");
      const heading = el("h3", { id: `_look-${id}` });
      heading.append(...old.childNodes);
      old.replaceWith(heading);
      step.className = "look";
      step.setAttribute("aria-labelledby", heading.id);
      step.querySelector(".answers").classList.add("segments");
      all(".answers li", step).forEach((item) => item.style.setProperty("--letters", String(folded(item.textContent).length)));
      return step;
    }

    /** All whys behind one word, all warnings below the answers, for these lead on at once. */
    function together(parts) {
      const whys = parts.flatMap((part) => {
        const why = part.querySelector("details:not(.drawn)");
        if (!why) return [];
        why.remove();
        why.querySelector("summary").remove();
        return [el("p", "", el("b", "", part.querySelector("h3").textContent)), ...why.childNodes];
      });
      const warn = el("ul", { class: "warn", id: "_warn" });
      const said = new Set();
      parts.forEach((part) => all(".warn", part).forEach((list) => {
        all("li", list).filter((item) => !said.has(item.textContent)).forEach((item) => {
          said.add(item.textContent);
          warn.append(item);
        });
        list.remove();
      }));
      return [warn.firstChild ? warn : null, whys.length ? el("details", "", el("summary", "", "Why"), ...whys) : null];
    }

    function drawn(row, draw) {
      const heading = el("h2", { class: "looks__title", "aria-describedby": "_progress" }, "First look");
      const left = el("p", { class: "looks__left quiet", role: "status" });
      heading.tabIndex = -1;
      const parts = row.map((id) => look(id, draw));
      return el("div", "looks step--shown", el("div", "looks__head", heading, left), ...parts, ...together(parts));
    }

    /** A look that was passed, or is taken for given: what was seen, how long ago, and the way to look again. */
    function passed(one, ago, again) {
      const when = one.byClock ? "By the resting clock" : "Seen ";
      const since = one.byClock ? "" : el("span", { "data-since": String(one.seen) }, `${ago(one.seen)} ago`);
      const press = button("plain", "Look again", () => again(one.id));
      press.dataset.to = one.id;
      press.setAttribute("aria-label", `Look again: ${words(one.id)}`);
      const line = el("p", "", when, since, ": ", el("b", "", one.say));
      return el("div", { class: "kept", "data-kept": one.id }, line, press);
    }

    /** Shows which answers are given, and which looks are open still. */
    function mark(frame, given, ago, again) {
      all(".look", frame).forEach((part) => {
        const id = part.dataset.node;
        const one = given[id];
        part.querySelector(".kept")?.remove();
        const answers = part.querySelector(".answers");
        answers.hidden = Boolean(one?.seen);
        part.toggleAttribute("data-kept", Boolean(one?.seen));
        if (one?.seen) answers.before(passed({ id, ...one }, ago, again));
        all("[data-to]", answers).forEach((press) => {
          press.setAttribute("aria-pressed", String(Boolean(one) && folded(press.textContent) === one.say));
        });
      });
      const open = all(".look", frame).filter((part) => !given[part.dataset.node]);
      const told = `Still to answer: ${open.map((part) => words(part.dataset.node)).join(" ")}`;
      const isLast = Object.keys(given).length > 0 && open.length === 1;
      put(frame.querySelector(".looks__left"), isLast ? told : "");
      if (isLast) open[0].scrollIntoView({ block: "nearest" });
    }

    return { all: ids, from, way, out, toOf, sound, drawn, passed, mark };
  }

  Object.assign(window.alarmtrees, { looksOf });
})();
