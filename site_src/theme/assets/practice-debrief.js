/* What is said and shown at the end of a practice case: how it ended and why, and your way beside the tree's. */
(function (root) {
  "use strict";
  const { el, mark, reason, tableOf, many, face, lasting } = root.Practice;

  const ENDS = {
    solved: ["✓", "Solved"], "left-too-early": ["◀", "Finished too early"], "called-early": ["☏", "Called early"],
    "wrong-page": ["✕", "Another page"], unsafe: ["▲", "Unsafe: the case ends here"],
  };
  const WENT_EARLY = ["↷", "Went on early"];
  const NOTED = {
    "as-the-tree": "", solved: "", ahead: "too soon", aside: "off the way", "no-use": "not needed", helps: "works too",
    unsafe: "unsafe", "left-too-early": "too early", "called-early": "early", "wrong-page": "another page",
  };
  const MEASURES = [["All steps", "clock"], ["Longest rest, until a call", "longest"], ["Last rest", "rested"]];
  const SOON = "The tree does more first: see the table.";

  /* One row a step: those of the tree's way in their order, and yours that are not on it where you took them. */
  function rowsOf(told) {
    const rows = told.tree.map((choice) => ({ node: choice.node, tree: choice, mine: null }));
    let place = -1;
    told.mine.forEach((choice) => {
      const known = rows.findIndex((row) => row.node === choice.node);
      if (known >= 0) {
        rows[known].mine = choice;
        place = known;
        return;
      }
      place += 1;
      rows.splice(place, 0, { node: choice.node, tree: null, mine: choice });
    });
    return rows;
  }

  function mineOf(row) {
    if (!row.mine) return "not done";
    const at = row.mine.verdict === "unsafe" ? "" : face(row.mine.clock);
    return [at, NOTED[row.mine.verdict]].filter(Boolean).join(", ");
  }

  /* `game` is a case that is over, with its `data`, `told`, `steps`, `address` and seconds `thought`; `told` what the
     engine says of it. */
  class Debrief {
    constructor(game, told) {
      this.game = game;
      this.told = told;
      this.last = told.mine[told.mine.length - 1].node;
      this.end = game.data.nodes[this.last];
      this.rule = game.data.rules.find((one) => one.id === told.rule);
      this.cause = game.data.causes[game.told.cause].say + ".";
      this.head = told.verdict === "called-early" && this.end.end === "go" ? WENT_EARLY : ENDS[told.verdict];
    }

    words() {
      const turns = this.told.wrong.length;
      return {
        solved: turns ? "You came to the right end, with " + many(turns, "turn") + " that the tree does not take." : "Your way was the tree’s way.",
        "left-too-early": "The tree does not finish here, or not yet. " + SOON,
        "called-early": (this.end.end === "call" ? "A call is never wrong. " : "The page is the right one, before its turn. ") + SOON,
        "wrong-page": "That page does not fit what was found here. " + SOON,
        unsafe: "It breaks a safety rule. At a bedside it can do harm; here it is a story.",
      }[this.told.verdict];
    }

    /* How it ended, and why. `right` is the step that the tree asked for last. */
    panel(right) {
      const frame = el("div", "play__result" + (this.rule ? " play__result--unsafe" : ""));
      const heading = el("h3", "play__verdict");
      heading.tabIndex = -1;
      heading.append(mark(this.head[0]), this.head[1]);
      frame.append(heading, el("p", "", this.words()), ...(this.rule ? this.broken(right) : this.says()));
      return frame;
    }

    says() {
      const lines = [this.game.steps.drawn(this.last, "p")];
      if (this.end.meanwhile) lines.push(reason(this.end.end === "resolved" ? "Watch next:" : "Meanwhile:", this.end.meanwhile));
      return lines;
    }

    broken(right) {
      const mine = el("p");
      const tree = el("p");
      mine.append(el("b", "", "You chose:"), " ", this.link(this.last));
      tree.append(el("b", "", "The tree’s next step here:"), " ", this.link(right));
      return [reason("The rule:", this.rule.say), reason("Why:", this.rule.reason), mine, tree];
    }

    link(id) {
      const link = el("a");
      link.href = "../alarms/" + this.game.data.tree + "/index.html#" + encodeURIComponent(id);
      link.append(this.game.steps.drawn(id));
      return link;
    }

    measured() {
      const told = this.told;
      const same = told.rested === told.longest && told.tree_rested === told.tree_longest;
      return MEASURES.filter(([, key]) => (told[key] || told["tree_" + key]) && !(same && key === "rested"))
        .map(([words, key]) => [words, lasting(told[key]), lasting(told["tree_" + key])]);
    }

    thinking() {
      const thought = this.game.thought;
      return thought >= 1 ? "You thought for " + lasting(thought) + ", counted apart." : "";
    }

    figures() {
      const frame = el("div");
      frame.append(tableOf("figures", ["Time", "Your way", "The tree’s"], this.measured()));
      if (this.thinking()) frame.append(el("p", "quiet", this.thinking()));
      return frame;
    }

    ways() {
      const { steps } = this.game;
      const missed = this.told.missed.length;
      const rows = rowsOf(this.told).map((row) => {
        const step = steps.drawn(row.node, "div");
        const found = steps.answer(row.mine || row.tree);
        if (found) step.append(el("b", "found", "→ " + found));
        return [step, mineOf(row), row.tree ? face(row.tree.clock) : "–"];
      });
      const frame = el("div");
      frame.append(
        el("h3", "", "Step by step"),
        el("p", "quiet", (missed ? many(missed, "step") + " of the tree’s way not done. " : "") + "Times: when each step was done."),
        tableOf("ways", ["Step", "Your way", "The tree’s"], rows));
      return frame;
    }

    /* All of it as plain text; `again` says when the cause comes again. */
    text(again) {
      const { data, told, steps, address } = this.game;
      const line = (choice) => {
        const found = steps.answer(choice) && " → " + steps.answer(choice);
        const noted = NOTED[choice.verdict] && " (" + NOTED[choice.verdict] + ")";
        return "  " + face(choice.clock) + "  " + steps.plain(choice.node) + found + noted;
      };
      return [
        "Practice case: " + data.title, "Address: practice/index.html" + address, "", ...told.story, "",
        this.head[1] + ". " + this.words(), ...(this.rule ? ["The rule: " + this.rule.say, "Why: " + this.rule.reason] : []),
        "What was behind it: " + this.cause, "",
        ...this.measured().map(([words, mine, tree]) => words + ": " + mine + "; the tree’s: " + tree),
        ...[this.thinking()].filter(Boolean), "",
        "Your way:", ...this.told.mine.map(line), "The tree’s way:", ...this.told.tree.map(line), "",
        again, "Practice, not a permission: times in a case are a story’s, not limits.",
      ].join("\n") + "\n";
    }
  }

  root.Practice.Debrief = Debrief;
})(window);
