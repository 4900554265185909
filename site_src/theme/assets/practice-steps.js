// What a practice case puts on its page: small elements, times in words, and the words of a step.
(() => {
  "use strict";
  const { el, two } = window.alarmtrees;

  /** A sign beside the words that say the same. */
  const mark = (shape) => el("span", { class: "play__mark", "aria-hidden": "true" }, shape);
  const reason = (lead, words) => el("p", "play__why", el("b", "", lead), ` ${words}`);

  function rowOf([first, ...others]) {
    return el("tr", "", el("th", { scope: "row" }, first), ...others.map((words) => el("td", "", words)));
  }

  /** Rows under a heading of their own. */
  function groupOf(words, columns, rows) {
    const head = el("tr", "", el("th", { scope: "rowgroup", colspan: columns }, words));
    return el("tbody", "", head, ...rows.map(rowOf));
  }

  function tableOf(className, heads, rows) {
    const head = el("tr", "", ...heads.map((words) => el("th", { scope: "col" }, words)));
    return el("table", className, el("thead", "", head), el("tbody", "", ...rows.map(rowOf)));
  }

  const face = (seconds) => `${two(Math.floor(seconds / 60))}:${two(Math.floor(seconds) % 60)}`;

  const lasting = (seconds) => {
    const whole = Math.round(seconds);
    const parts = [`${Math.floor(whole / 60)}\u00a0min`, `${whole % 60}\u00a0s`];
    return (whole < 60 ? parts.slice(1) : whole % 60 ? parts : parts.slice(0, 1)).join(" ");
  };

  /** What kind of step it is; before a choice also whether it ends the case. */
  const LEADS = { ask: "Look", do: "Do", on: "Go on to", "do-call": "Call and go on", call: "Call", go: "Go to", resolved: "Finish" };
  const ENDING = {
    call: "Call, then the case ends", go: "Go to another page, then the case ends", resolved: "Finish the case",
  };
  /** What counts as a wrong turn: a call or a look at the patient never does, nor another way that works. */
  const TURNS = ["ahead", "aside", "no-use"];
  const AS_BEFORE = "As before.";
  const UNDONE = "Nothing yet: it was not done.";

  const SAID = {
    "as-the-tree": ["✓", "As the page does."],
    welcome: ["✓", "Good at any time."],
    helps: ["✓", "This works too; the page goes another way."],
    ahead: ["↷", "Right, but not yet: its turn comes later."],
    aside: ["↷", "Not on the page’s way."],
    "no-use": ["✕", "Does not help here."],
  };
  const NOT_WRONG = ["✓", "Never wrong as a first act; another order is quicker."];
  const REST_OF_A_CALL = ["↷", "A call is never wrong; the rest does not help here."];

  /** A sign and words for a choice that does not end the case; `node` is the step chosen. */
  const said = (choice, node) => {
    if (choice.order) return NOT_WRONG;
    return choice.verdict === "no-use" && node.call ? REST_OF_A_CALL : SAID[choice.verdict];
  };

  /** The words of a tree's steps; `data` is what its file holds. */
  class Steps {
    constructor(data) { this.nodes = data.nodes; }

    words(id) {
      const node = this.nodes[id];
      const kind = node.end || (node.kind === "do" && node.call ? "do-call" : node.kind);
      const lines = node.text.split("\n");
      if (kind === "do-call") lines.push(`Who: ${node.call}.`);
      if (kind === "on") lines.unshift(`${node.go}.`);
      if (kind === "call" || kind === "go") lines.unshift(`${node[kind].charAt(0).toUpperCase() + node[kind].slice(1)}.`);
      return { lead: `${LEADS[kind]}:`, ending: ENDING[kind] || "", lines };
    }

    /** A step as one quotes it: its question, or the first thing to do. */
    quoted(id) { return `“${this.words(id).lines.filter(Boolean)[0]}”`; }

    plain(id) {
      const { lead, lines } = this.words(id);
      return [lead].concat(lines.filter(Boolean)).join(" ");
    }

    drawn(id, tag) { return this.shown(tag || "span", this.words(id).lead, id); }

    /** As a choice, which says what ends the case. */
    choice(id) {
      const { lead, ending } = this.words(id);
      return this.shown("span", ending ? `${ending}:` : lead, id);
    }

    shown(tag, lead, id) {
      const { lines } = this.words(id);
      const spans = lines.filter(Boolean).flatMap((line) => [el("span", "step-words__line", line), " "]);
      return el(tag, "step-words", el("b", "step-words__lead", lead), " ", ...spans);
    }

    /**
     * What the case has answered to a choice: "" where nothing was asked. Not every question has an answer in every
     * case.
     */
    answer(choice) {
      const node = this.nodes[choice.node];
      if (node.kind !== "ask" || choice.verdict === "unsafe") return "";
      const answer = node.answers[choice.answer === null ? -1 : choice.answer];
      if (answer) return answer.say;
      return choice.undone ? UNDONE : AS_BEFORE;
    }
  }

  const Practice = { mark, reason, tableOf, groupOf, face, lasting, said, TURNS, Steps };
  Object.assign(window.alarmtrees, { Practice });
})();
