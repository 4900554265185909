/* What a practice case puts on its page: small elements, times in words, and the words of a step. */
(function (root) {
  "use strict";

  function el(name, className, text) {
    const made = document.createElement(name);
    if (className) made.className = className;
    if (text) made.textContent = text;
    return made;
  }

  /* A sign beside the words that say the same. */
  function mark(shape) {
    const made = el("span", "play__mark", shape);
    made.setAttribute("aria-hidden", "true");
    return made;
  }

  function reason(lead, words) {
    const made = el("p", "play__why");
    made.append(el("b", "", lead), " " + words);
    return made;
  }

  function tableOf(className, heads, rows) {
    const table = el("table", className);
    const head = el("tr");
    heads.forEach((words) => {
      const cell = el("th", "", words);
      cell.scope = "col";
      head.append(cell);
    });
    table.append(el("thead"), el("tbody"));
    table.tHead.append(head);
    table.tBodies[0].append(...rows.map((cells) => {
      const row = el("tr");
      const first = el("th");
      first.scope = "row";
      first.append(cells[0]);
      row.append(first, ...cells.slice(1).map((words) => el("td", "", words)));
      return row;
    }));
    return table;
  }

  const many = (count, word) => count + " " + word + (count === 1 ? "" : "s");
  const two = (number) => String(number).padStart(2, "0");
  const face = (seconds) => two(Math.floor(seconds / 60)) + ":" + two(Math.floor(seconds) % 60);

  function lasting(seconds) {
    const whole = Math.round(seconds);
    const parts = [Math.floor(whole / 60) + " min", whole % 60 + " s"];
    return (whole < 60 ? parts.slice(1) : whole % 60 ? parts : parts.slice(0, 1)).join(" ");
  }

  /* The words of a tree's steps; `data` is what its file holds. */
  class Steps {
    constructor(data) { this.nodes = data.nodes; }

    words(id) {
      const node = this.nodes[id];
      if (node.kind === "ask") return { lead: "Look:", lines: [node.text] };
      if (node.kind === "do") return { lead: "Do:", lines: node.text.split("\n").concat(node.call ? "Call: " + node.call + "." : "") };
      if (node.end === "call") return { lead: "Call:", lines: [node.call + ".", node.text] };
      return node.end === "go" ? { lead: "Go to:", lines: [node.go + ".", node.text] } : { lead: "Finish:", lines: [node.text] };
    }

    plain(id) {
      const { lead, lines } = this.words(id);
      return [lead].concat(lines.filter(Boolean)).join(" ");
    }

    drawn(id, tag) {
      const { lead, lines } = this.words(id);
      const made = el(tag || "span", "step-words");
      made.append(el("b", "step-words__lead", lead), " ");
      lines.filter(Boolean).forEach((line) => made.append(el("span", "step-words__line", line), " "));
      return made;
    }

    /* What the case has answered to a choice; nothing where it was not asked. */
    answer(choice) { return choice.answer === null ? "" : this.nodes[choice.node].answers[choice.answer].say; }
  }

  root.Practice = {
    el: el, mark: mark, reason: reason, tableOf: tableOf, many: many, two: two, face: face, lasting: lasting, Steps: Steps,
  };
})(window);
