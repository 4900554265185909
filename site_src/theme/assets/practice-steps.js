/* What a practice case puts on its page: small elements, times in words, and the words of a step. */
((root) => {
  "use strict";

  const el = (name, className, text) => {
    const made = document.createElement(name);
    if (className) made.className = className;
    if (text) made.textContent = text;
    return made;
  };

  /* A sign beside the words that say the same. */
  const mark = (shape) => {
    const made = el("span", "play__mark", shape);
    made.setAttribute("aria-hidden", "true");
    return made;
  };

  const reason = (lead, words) => {
    const made = el("p", "play__why");
    made.append(el("b", "", lead), " " + words);
    return made;
  };

  const rowOf = (cells) => {
    const row = el("tr");
    const first = el("th");
    first.scope = "row";
    first.append(cells[0]);
    row.append(first, ...cells.slice(1).map((words) => el("td", "", words)));
    return row;
  };

  /* Rows under a heading of their own. */
  const groupOf = (words, columns, rows) => {
    const group = el("tbody");
    const head = el("tr");
    const cell = el("th", "", words);
    cell.scope = "rowgroup";
    cell.colSpan = columns;
    head.append(cell);
    group.append(head, ...rows.map(rowOf));
    return group;
  };

  const tableOf = (className, heads, rows) => {
    const table = el("table", className);
    const head = el("tr");
    heads.forEach((words) => {
      const cell = el("th", "", words);
      cell.scope = "col";
      head.append(cell);
    });
    table.append(el("thead"), el("tbody"));
    table.tHead.append(head);
    table.tBodies[0].append(...rows.map(rowOf));
    return table;
  };

  const many = (count, word) => count + " " + word + (count === 1 ? "" : "s");
  const two = (number) => String(number).padStart(2, "0");
  const face = (seconds) => two(Math.floor(seconds / 60)) + ":" + two(Math.floor(seconds) % 60);

  const lasting = (seconds) => {
    const whole = Math.round(seconds);
    const parts = [Math.floor(whole / 60) + "\u00a0min", whole % 60 + "\u00a0s"];
    return (whole < 60 ? parts.slice(1) : whole % 60 ? parts : parts.slice(0, 1)).join(" ");
  };

  /* What kind of step it is; before a choice also whether it ends the case. */
  const LEADS = { ask: "Look", do: "Do", "do-call": "Call and go on", call: "Call", go: "Go to", resolved: "Finish" };
  const ENDING = { call: "Call, then the case ends", go: "Go to another page, then the case ends", resolved: "Finish the case" };
  /* What counts as a wrong turn: a call or a look at the patient never does, nor another way that works. */
  const TURNS = ["ahead", "aside", "no-use"];
  const NOTHING = "Nothing new: here it shows nothing that helps.";
  const NOTHING_AMISS = "Nothing new.";

  /* The words of a tree's steps; `data` is what its file holds. */
  class Steps {
    constructor(data) { this.nodes = data.nodes; }

    words(id) {
      const node = this.nodes[id];
      const kind = node.end || (node.kind === "do" && node.call ? "do-call" : node.kind);
      const lines = node.text.split("\n");
      if (kind === "do-call") lines.push("Who: " + node.call + ".");
      if (kind === "call" || kind === "go") lines.unshift(node[kind].charAt(0).toUpperCase() + node[kind].slice(1) + ".");
      return { lead: LEADS[kind] + ":", ending: ENDING[kind] || "", lines };
    }

    /* A step as one quotes it: its question, or the first thing to do. */
    quoted(id) { return "“" + this.words(id).lines.filter(Boolean)[0] + "”"; }

    plain(id) {
      const { lead, lines } = this.words(id);
      return [lead].concat(lines.filter(Boolean)).join(" ");
    }

    drawn(id, tag) { return this.shown(tag || "span", this.words(id).lead, id); }

    /* As a choice, which says what ends the case. */
    choice(id) {
      const { lead, ending } = this.words(id);
      return this.shown("span", ending ? ending + ":" : lead, id);
    }

    shown(tag, lead, id) {
      const { lines } = this.words(id);
      const made = el(tag, "step-words");
      made.append(el("b", "step-words__lead", lead), " ");
      lines.filter(Boolean).forEach((line) => made.append(el("span", "step-words__line", line), " "));
      return made;
    }

    /* What the case has answered to a choice: "" where nothing was asked. Not every question has an answer in every case. */
    answer(choice) {
      const node = this.nodes[choice.node];
      if (node.kind !== "ask" || choice.verdict === "unsafe") return "";
      const answer = node.answers[choice.answer === null ? -1 : choice.answer];
      if (answer) return answer.say;
      return choice.verdict === "welcome" ? NOTHING_AMISS : NOTHING;
    }
  }

  root.Practice = {
    el, mark, reason, tableOf, groupOf, many, two, face, lasting,
    TURNS, Steps,
  };
})(window);
