// What is said and shown at the end of a practice case: how it ended and why, and your way beside the page's.
(() => {
  "use strict";
  const { el, many, Playing, Practice } = window.alarmtrees;
  const { mark, reason, tableOf, groupOf, face, lasting, TURNS } = Practice;

  const ENDS = {
    solved: ["✓", "Solved"], "left-too-early": ["◀", "Finished too early"], "called-early": ["☏", "Called early"],
    "wrong-page": ["✕", "Another page"], unsafe: ["▲", "Unsafe: the case ends here"],
  };
  // The right end need not have removed the cause.
  const RIGHT = { call: ["✓", "Right: help is called"], go: ["✓", "Right: on to another page"] };
  const WENT_EARLY = ["↷", "Went on early"];
  const NOTED = {
    "as-the-tree": "✓", solved: "✓", welcome: "✓ good at any time", helps: "✓ works too", ahead: "too soon", aside: "off the way",
    "no-use": "not needed", unsafe: "unsafe", "left-too-early": "too early", "called-early": "early", "wrong-page": "another page",
  };
  const NOT_WRONG = "✓ not wrong, patient first is quicker";
  const MEASURES = [["All steps", "clock"], ["Longest rest of the balloon", "longest"], ["Its last rest", "rested"]];
  const SLOWER = [...TURNS, "called-early"];
  const SOON = "The page does more first: see the table.";

  /**
   * `game` is a case that is over, with its `data`, `told`, `steps`, `state`, `address` and seconds `thought`; `told`
   * what the engine says of it.
   */
  class Debrief {
    constructor(game, told) {
      this.game = game;
      this.told = told;
      this.last = told.mine[told.mine.length - 1].node;
      this.end = game.data.nodes[this.last];
      this.rule = game.data.rules.find((one) => one.id === told.rule);
      const { causes, cause } = game.told;
      this.cause = causes ? `${causes.join("; and ")}.` : `${game.data.causes[cause].say}.`;
      this.isNamed = !causes || causes.length > 0;
      this.solved = told.verdict === "solved";
      this.head = this.heading();
    }

    heading() {
      if (this.told.verdict === "called-early" && this.end.end === "go") return WENT_EARLY;
      return (this.solved && RIGHT[this.end.end]) || ENDS[this.told.verdict];
    }

    words() {
      return {
        solved: this.rightly(),
        "left-too-early": `The page does not finish here, or not yet. ${SOON}`,
        "called-early": (this.end.end === "call" ? "A call is never wrong. " : "That page is the right one, before its turn. ") + SOON,
        "wrong-page": `That page does not fit what was found here. ${SOON}`,
        unsafe: "It breaks a safety rule. At a bedside it can do harm; here it is a story.",
      }[this.told.verdict];
    }

    rightly() {
      const { mine, tree } = this.told;
      const turns = mine.filter((choice) => TURNS.includes(choice.verdict)).length;
      if (turns) return `You came to the right end, with ${many(turns, "turn")} too soon or off the page’s way.`;
      return mine.length === tree.length ? "Your way was the page’s way." : "You came to the right end, without a wrong turn.";
    }

    /** How it ended, and why. `right` is the step that the page asked for last. */
    panel(right) {
      const frame = el("div", `play__result${this.rule ? " play__result--unsafe" : ""}`);
      const heading = el("h3", "play__verdict");
      heading.tabIndex = -1;
      heading.append(mark(this.head[0]), this.head[1]);
      frame.append(heading, el("p", "", this.words()), ...(this.rule ? this.broken(right) : this.says()));
      return frame;
    }

    says() {
      const lines = [this.solved && this.end.goto ? this.onward() : this.game.steps.drawn(this.last, "p")];
      if (this.balloon()) lines.push(reason("The balloon:", this.balloon()));
      if (this.end.meanwhile) lines.push(reason(this.end.end === "resolved" ? "Watch next:" : "Meanwhile:", this.end.meanwhile));
      return lines;
    }

    /** Whether it still stands where others take over; a finished case has it running. */
    balloon() {
      if (this.rule || this.end.end === "resolved") return "";
      if (this.game.state.pump === Playing.RUNS) return "it moves.";
      return `it still rests, for ${lasting(this.told.rested)} by now.`;
    }

    onward() {
      const line = el("p");
      const link = el("a", "", this.end.go);
      link.href = `../alarms/${this.end.goto}/index.html`;
      line.append(el("b", "", "Go on there:"), " ", link, `. ${this.end.text}`);
      return line;
    }

    broken(right) {
      const mine = el("p");
      const page = el("p");
      mine.append(el("b", "", "You chose:"), " ", this.link(this.last));
      page.append(el("b", "", "The page’s next step here:"), " ", this.link(right));
      return [reason("The rule:", this.rule.say), reason("Why:", this.rule.reason), mine, page];
    }

    link(id) {
      const link = el("a");
      const [page, step] = id.includes("/") ? id.split("/") : [this.game.data.tree, id];
      link.href = `../alarms/${page}/index.html#${encodeURIComponent(step)}`;
      link.append(this.game.steps.drawn(id));
      return link;
    }

    /** The cause; not after an unsafe end, so that the same case can be played again. */
    behind() {
      if (this.rule) return el("p", "", "What is behind it is not told yet: play the same case again.");
      return this.isNamed ? reason("What was behind it:", this.cause) : "";
    }

    /** What a told bedside asks for, and by when: what was done of it, and what was not to be done. */
    asked() {
      const { must, never } = this.game.told;
      if (!must || this.rule) return "";
      const rows = [
        ...must.map((one) => [one.call ? `Call: ${one.call}` : one.say, one.by ? `within ${lasting(one.by)}` : "at some time", this.kept(one)]),
        ...never.map((one) => [`Never: ${one.say}`, "–", this.firstOf(one) === null ? "✓ kept" : "done, and was not to be"]),
      ];
      return el("div", "", el("h3", "", "What this bedside asked for"), tableOf("asked", ["What", "When", "Your way"], rows));
    }

    askedText() {
      const { must } = this.game.told;
      if (!must || this.rule) return [];
      return ["What this bedside asked for:", ...must.map((one) => `  ${one.call ? `Call: ${one.call}` : one.say} ${this.kept(one)}`), ""];
    }

    kept(demand) {
      const first = this.firstOf(demand);
      if (first === null) return "not done";
      return demand.by && first > demand.by ? `late: ${face(first)}` : `✓ ${face(first)}`;
    }

    /** When what is asked for was first done or told, in seconds; null where it was not. */
    firstOf({ call, mark }) {
      const { data } = this.game;
      const number = data.marks.indexOf(mark);
      const times = this.told.mine.filter((one) => one.verdict !== "unsafe").flatMap(({ node: id, answer, clock, took }) => {
        const node = data.nodes[id];
        const told = answer !== null && node.answers[answer];
        if (call ? node.call === call : node.marks.includes(number)) return [clock - took];
        return !call && told && told.marks.includes(number) ? [clock] : [];
      });
      return times.length ? Math.min(...times) : null;
    }

    /** Why another order would have been quicker, for each turn that was only slower; not after an unsafe end. */
    quicker() {
      if (this.rule) return "";
      const lines = this.told.mine.map((choice) => this.why(choice)).filter(Boolean);
      const known = Array.from(new Set(lines));
      return known.length ? el("div", "", el("h3", "", "Why another order is quicker"), el("ul", "", ...known.map((line) => el("li", "", line)))) : "";
    }

    why({ node, verdict, right, order }) {
      const { steps, data } = this.game;
      const rule = data.rules.find((one) => one.id === order);
      if (rule) return `${rule.say} ${rule.reason}`;
      if (!SLOWER.includes(verdict) || node === right || !data.nodes[right].why) return "";
      return `${steps.quoted(right)} comes before ${steps.quoted(node)} ${data.nodes[right].why}`;
    }

    /** Only of cases that came to the same end: one that was cut short is no quicker. */
    measured() {
      const told = this.told;
      if (!this.solved) return [];
      const same = told.rested === told.longest && told.tree_rested === told.tree_longest;
      return MEASURES.filter(([, key]) => (told[key] || told[`tree_${key}`]) && !(same && key === "rested"))
        .map(([words, key]) => [words, lasting(told[key]), lasting(told[`tree_${key}`])]);
    }

    figures() {
      const rows = this.measured();
      return rows.length ? tableOf("figures", ["Time", "Your way", "The page’s"], rows) : "";
    }

    whoseTime() {
      const thought = this.game.thought;
      const yours = thought >= 1 ? ` Your own thinking, ${lasting(thought)}, ran on the clock and is not in them.` : "";
      return `Times are the story’s: when each step is done.${yours}`;
    }

    /**
     * Your way in its order, each step with its clock, then what the page does besides. Of an unsafe play only your own
     * way: the page's would tell the cause.
     */
    ways() {
      const { mine, tree } = this.told;
      const clocks = new Map(tree.map((choice) => [choice.node, face(choice.clock)]));
      // A look at the patient may come twice; the page's is the later one.
      const last = new Map(mine.map((choice) => [choice.node, choice]));
      const rows = mine.map((choice) => [
        this.step(choice), `${face(choice.clock)} ${choice.order && !choice.rule ? NOT_WRONG : NOTED[choice.verdict]}`, (last.get(choice.node) === choice && clocks.get(choice.node)) || "–",
      ]);
      const own = new Set(mine.map((choice) => choice.node));
      const missed = tree.filter((choice) => !own.has(choice.node)).map((choice) => [this.step(choice), "–", face(choice.clock)]);
      const frame = el("div");
      const table = this.rule
        ? tableOf("ways", ["Step", "Your way"], rows.map((cells) => cells.slice(0, 2)))
        : tableOf("ways", ["Step", "Your way", "The page’s"], rows);
      if (missed.length && !this.rule) table.append(groupOf("On the page’s way, not done by you", 3, missed));
      frame.append(el("h3", "", "Step by step"), el("p", "quiet", this.whoseTime()), table);
      return frame;
    }

    step(choice) {
      const { steps } = this.game;
      const made = steps.drawn(choice.node, "div");
      const found = steps.answer(choice);
      if (found) made.append(el("b", "found", `→ ${found}`));
      return made;
    }

    line(choice) {
      const { steps } = this.game;
      const found = steps.answer(choice) && ` → ${steps.answer(choice)}`;
      const noted = NOTED[choice.verdict] !== "✓" && ` (${NOTED[choice.verdict].replace("✓ ", "")})`;
      return `  ${face(choice.clock)}  ${steps.plain(choice.node)}${found}${noted || ""}`;
    }

    /** All of it as plain text; `again` says when the cause comes again. */
    text(again) {
      const { data, told, address } = this.game;
      const line = (choice) => this.line(choice);
      return `${[
        `Practice case: ${data.title}`, `Address: practice/index.html${address}`, "", ...told.story, "",
        `${this.head[1]}. ${this.words()}`, ...(this.rule ? [`The rule: ${this.rule.say}`, `Why: ${this.rule.reason}`] : []),
        ...(this.balloon() ? [`The balloon: ${this.balloon()}`] : []), ...(this.rule ? [] : [`What was behind it: ${this.cause}`]), "",
        ...this.askedText(), ...this.measured().map(([words, mine, page]) => `${words}: ${mine}; the page’s: ${page}`), this.whoseTime(), "",
        "Your way:", ...this.told.mine.map(line), ...(this.rule ? [] : ["The page’s way:", ...this.told.tree.map(line)]), "",
        again, "Practice, not a permission: times in a case are a story’s, not limits.",
      ].join("\n")}\n`;
    }
  }

  Practice.Debrief = Debrief;
})();
