// Plays a case, choice by choice: what may be chosen, what a choice does, and what is said of the play afterwards. It
// knows nothing but the data of one tree, changes no state in place, and nothing here touches the page: the tests run
// it as it is. Time is the sum of what the steps take a calm reader. The balloon rests by the rules of
// `proof/resting.py`, but on through a call: there a call ends what one reader answers for, here the learner is told to
// count on until the balloon moves. The cause is removed by the rules of `proof/simulate.py`, safety rules are judged
// by those of `proof/patterns.py`: an event is a step's marks together, then its answer's, and "before" is strict. A
// rule broken by the case's answer alone is nobody's fault. Nor does an answer ask for what was done already and still
// holds: who has put the pump on hold, and then finds blood, need not do it again. What a learner's own step asks for
// has to come after it. Nor does an answer forbid anything until that is done once more. What is right as a first act
// (`learning/first.py`: a call, a look for what cannot wait, help) never harms for coming before the look at the
// patient; where that would have been quicker, `order` names the rule that says so. Rules and marks are bits of a
// BigInt: there may be more of them than an ordinary number has bits.
(() => {
  "use strict";
  const { Draw } = window.alarmtrees.Spacing;
  /** The balloon: it moves; it rests. */
  const RUNS = 0;
  const RESTS = 1;
  /** The cause: there; removed and not looked at; removed and seen to be. */
  const OPEN = 0;
  const DONE = 1;
  const SEEN = 2;
  const NOTHING_NEW = -1;
  /** How many choices are offered beside the right one, at the most. */
  const OTHERS = 3;
  const STRIDE = 0x9E3779B9;
  /** What no longer holds once something else is done. */
  const UNDOES = [["pump-stops", "pump-starts"], ["compressions", "compressions-stopped"]];
  const PARTS = ["first", "then", "of", "by", "after", "until"];
  const STRAYED = ["ahead", "aside", "no-use", "helps"];

  const bits = (numbers) => numbers.reduce((sum, number) => sum | 1n << BigInt(number), 0n);
  const words = (node) => [node.kind, node.text, node.call, node.goto].join("\n");

  /** For each step those that lead to it. */
  const leading = (nodes, ids) => {
    const before = new Map(ids.map((id) => [id, []]));
    ids.forEach((id) => {
      const node = nodes.get(id);
      [node.then, ...node.answers.map((answer) => answer.to)].forEach((to) => {
        if (before.has(to) && !before.get(to).includes(id)) before.get(to).push(id);
      });
    });
    return before;
  };

  /** A tree's data with its rules made ready, for all its cases. */
  class Tree {
    constructor(data) {
      this.data = data;
      this.nodes = new Map(Object.entries(data.nodes));
      this.ids = Array.from(this.nodes.keys()).sort();
      this.words = new Map(this.ids.map((id) => [id, words(this.nodes.get(id))]));
      this.before = leading(this.nodes, this.ids);
      this.rules = data.rules;
      this.kind = {};
      ["precedence", "absence", "response", "existence"].forEach((kind) => {
        this.kind[kind] = this.where((rule) => rule.pattern === kind);
      });
      this.anyThen = this.where((rule) => rule.then === null);
      this.pays = this.rules.map((rule) => bits(rule.pattern === "response" ? rule.by : []));
      this.known = new Map();
      this.undoes = UNDOES.map((pair) => pair.map((name) => bits([data.marks.indexOf(name)].filter((at) => at >= 0))));
      this.frees = this.rules.map((rule) => bits(rule.pattern === "absence" ? this.freeing(rule) : []));
      this.fresh = {
        seen: 0n, came: 0n, owed: this.kind.existence,
        active: this.kind.absence & this.where((rule) => !rule.after.length),
      };
    }

    /** The rules of which something holds, a bit each. */
    where(holds) {
      return this.rules.reduce((sum, rule, place) => (holds(rule) ? sum | 1n << BigInt(place) : sum), 0n);
    }

    /** What lifts a rule that forbids, and is asked for by another rule after the same sign. */
    freeing(rule) {
      const asks = (other) => other.pattern === "response" && other.of.some((mark) => rule.after.includes(mark));
      const asked = this.rules.filter(asks).flatMap((other) => other.by);
      return rule.until.filter((mark) => asked.includes(mark));
    }

    /** In which rules some marks that come together play a part. */
    parts(marks, isStep) {
      const key = `${isStep} ${marks}`;
      if (!this.known.has(key)) {
        const played = {};
        PARTS.forEach((part) => {
          played[part] = this.where((rule) => (rule[part] || []).some((mark) => marks.includes(mark)));
        });
        if (isStep) played.then |= this.anyThen & ~played.first;
        // What an existence rule asks for pays it.
        played.by |= played.of & this.kind.existence;
        this.known.set(key, played);
      }
      return this.known.get(key);
    }

    /** Whether a step is a question about what was done just before, and none of that was done. */
    isEarly(done, id) {
      const before = this.before.get(id);
      const undone = (one) => this.nodes.get(one).kind === "do" && !done.has(one);
      return this.nodes.get(id).kind === "ask" && before.length > 0 && before.every(undone);
    }

    /** Whether the start or a step that was done leads to a step. */
    isNear(done, id) {
      const before = this.before.get(id);
      return before.some((one) => done.has(one)) || [id, ...before].includes(this.data.start);
    }

    /**
     * The rules that doing a step now would break. A call is never wrong: a step that only calls breaks none, and an
     * end that calls somebody none by coming early.
     */
    broken(state, id) {
      const node = this.nodes.get(id);
      if (node.kind === "do" && node.welcome) return 0n;
      const parts = this.parts(node.marks, true);
      if (node.end === "call") return this.owing(state.memory.owed, parts, 0n);
      let broken = this.kind.precedence & parts.then & ~state.memory.seen;
      if (this.isFirst(node)) broken &= ~this.anyThen;
      broken |= this.kind.absence & parts.of & state.memory.active & ~this.freed(bits(node.marks));
      if (node.end === "resolved") broken |= this.owing(state.memory.owed, parts, 0n);
      return broken;
    }

    /** The rules that forbid nothing, for what lifts them and is asked for at once is among some marks. */
    freed(marks) { return bits(this.frees.flatMap((frees, place) => (frees & marks ? [place] : []))); }

    isFirst(node) { return node.welcome || node.helps !== null; }

    /** The rule by which something else would have been quicker before a step that is right as a first act. */
    order(state, id) {
      const node = this.nodes.get(id);
      if (!this.isFirst(node) && node.end !== "call") return null;
      const late = this.anyThen & this.kind.precedence & this.parts(node.marks, true).then & ~state.memory.seen;
      const rule = this.rules.find((one, place) => late >> BigInt(place) & 1n);
      return rule ? rule.id : null;
    }

    /** Whether a step helps here: nobody has looked yet, or a sign has come that it answers. */
    isHelp(state, id) {
      const { helps } = this.nodes.get(id);
      return helps !== null && (this.order(state, id) !== null || Boolean(bits(helps) & state.memory.came));
    }

    /** What is owed after an event; the rules in `settled` ask for nothing new. */
    owing(owed, parts, settled) {
      return (owed & ~parts.by) | (parts.of & this.kind.response & ~settled);
    }

    /** What the rules remember after a step's marks, or an answer's, have come together. */
    remember(memory, marks, isStep) {
      if (!marks.length) return memory;
      const parts = this.parts(marks, isStep);
      const paid = this.pays.flatMap((pays, place) => (pays & memory.came ? [place] : []));
      const freed = isStep ? 0n : this.freed(memory.came);
      const settled = isStep ? 0n : bits(paid);
      const fresh = bits(marks);
      const undone = this.undoes.reduce((sum, [what, by]) => (by & fresh ? sum | what : sum), 0n);
      return {
        seen: memory.seen | parts.first,
        active: (parts.after & ~freed) | (memory.active & ~parts.until),
        owed: this.owing(memory.owed, parts, settled),
        came: (memory.came | fresh) & ~undone,
      };
    }
  }

  /**
   * One case, played with one seed: the same seed offers the same choices. A state has the `way` of choices made, the
   * steps `done`, the rules' `memory`, `cause`, `pump`, seconds `rested` now and `longest`, the `clock`, and a
   * `verdict` once the case is over.
   */
  class Play {
    constructor(tree, told, seed) {
      this.tree = tree;
      this.case = told;
      this.seed = seed;
      this.way = told.way;
    }

    begin() {
      const still = this.case.still;
      const rested = still ? this.tree.data.before || 0 : 0;
      return {
        way: [], done: new Set(), memory: this.tree.fresh, cause: OPEN, pump: still ? RESTS : RUNS,
        rested, longest: rested, clock: 0, verdict: "",
      };
    }

    /** The step that the tree asks for next: the first on the case's way that is not done. */
    right(state) {
      if (state.verdict) throw new Error("the case is over");
      return this.way.find((id) => !state.done.has(id));
    }

    /**
     * The steps to choose from: the right one and up to three others, in a drawn order. No two have the same words, and
     * none the words of one that was chosen, but for the right one. One each is drawn, where there is any, from where
     * the last question's other answers lead, from later steps of the way, and from the questions and remedies off it;
     * of these, and to fill up, those first to which a step that was done leads.
     */
    offers(state) {
      const right = this.right(state);
      const draw = new Draw(this.seed + STRIDE * (state.way.length + 1));
      const left = this.others(state, right);
      const chosen = [];
      [this.beside(right), this.later(right), this.near(state, this.aside(), left)].forEach((pool) => {
        const fit = pool.filter((id) => left.includes(id));
        if (!fit.length) return;
        chosen.push(draw.take(fit));
        left.splice(left.indexOf(chosen[chosen.length - 1]), 1);
      });
      while (left.length && chosen.length < OTHERS) {
        chosen.push(draw.take(this.near(state, left, left)));
        left.splice(left.indexOf(chosen[chosen.length - 1]), 1);
      }
      return draw.shuffled([right, ...this.withAWayOut(state, right, chosen, left, draw)]);
    }

    /** The others, one of them safe where the right one is not: nobody is led into a trap. */
    withAWayOut(state, right, chosen, left, draw) {
      const isSafe = (id) => !this.tree.broken(state, id);
      if (isSafe(right) || chosen.some(isSafe)) return chosen;
      const safe = left.filter(isSafe);
      return safe.length ? [...chosen.slice(0, -1), draw.take(safe)] : chosen;
    }

    /**
     * All steps that can be offered beside the right one, in the order of their names. Each wording comes once: as the
     * way has it, else as near as there is. Neither the case's own end nor one that calls all well is among them before
     * half the way is done: it would name the cause before anybody has looked. Nor, if anything else is, a question
     * about a step that was not done.
     */
    others(state, right) {
      const used = new Set([...state.way.map((choice) => choice.node), right].map((id) => this.tree.words.get(id)));
      const halfway = 2 * this.way.filter((id) => state.done.has(id)).length >= this.way.length;
      const last = this.way[this.way.length - 1];
      const found = [];
      // Of a page that nobody has come to yet nothing is offered: it would tell where the way goes.
      const pageOf = (id) => this.tree.nodes.get(id).page;
      const pages = new Set([this.tree.data.start, right, ...state.done].map(pageOf));
      const open = this.tree.ids.filter((id) => pages.has(pageOf(id)));
      const near = open.filter((id) => this.tree.isNear(state.done, id));
      [...this.later(right).filter((id) => pages.has(pageOf(id))), ...near, ...open].forEach((id) => {
        if (used.has(this.tree.words.get(id))) return;
        used.add(this.tree.words.get(id));
        if (halfway || !(id === last || this.tree.nodes.get(id).end === "resolved")) found.push(id);
      });
      const ripe = found.filter((id) => !this.tree.isEarly(state.done, id));
      return (ripe.length ? ripe : found).sort();
    }

    /** Of those left the ones that a step that was done leads to, if there are any; of these what finds something. */
    near(state, pool, left) {
      const fit = pool.filter((id) => left.includes(id));
      const near = fit.filter((id) => this.tree.isNear(state.done, id));
      const some = near.length ? near : fit;
      const finding = some.filter((id) => this.finds(state, id));
      return finding.length ? finding : some;
    }

    /** Whether a step is no question, or one that the case answers. */
    finds(state, id) {
      const answers = this.case.world[id];
      return !answers || answers[state.cause === OPEN ? 0 : 1] !== NOTHING_NEW;
    }

    later(right) { return this.way.slice(this.way.indexOf(right) + 1); }

    /** Where the other answers of the question before a step lead, each once. */
    beside(right) {
      const before = this.way.slice(0, this.way.indexOf(right)).reverse();
      const asked = before.find((id) => this.tree.nodes.get(id).kind === "ask");
      if (!asked) return [];
      const own = this.tree.nodes.get(asked).answers.filter((answer) => !answer.anytime);
      return Array.from(new Set(own.map((answer) => answer.to)));
    }

    /** The questions and remedies off the way. */
    aside() { return this.tree.ids.filter((id) => !this.way.includes(id) && !this.tree.nodes.get(id).end); }

    /** The state after a step was chosen; the last choice of its `way` holds the verdict. */
    choose(state, id) {
      const right = this.right(state);
      if (!this.tree.nodes.has(id) || state.done.has(id)) throw new Error(`${id} cannot be chosen`);
      const known = this.knownAs(state, right, id);
      const broken = this.tree.broken(state, known);
      if (broken) {
        const rule = this.tree.rules.find((one, place) => broken >> BigInt(place) & 1n).id;
        const last = {
          node: known, verdict: "unsafe", answer: null, rule, took: 0, clock: state.clock, right, order: null, undone: false,
        };
        return { ...state, way: [...state.way, last], verdict: "unsafe" };
      }
      return this.done(state, known, this.verdict(state, right, known), right);
    }

    /** The step of the way that has the same words, where there is one: the same words are the same choice. */
    knownAs(state, right, id) {
      const alike = (one) => !state.done.has(one) && this.tree.words.get(one) === this.tree.words.get(id);
      return [right, ...this.later(right)].find(alike) || id;
    }

    verdict(state, right, id) {
      const node = this.tree.nodes.get(id);
      if (node.kind === "end") return id === right ? "solved" : this.early(node, id);
      if (id === right) return "as-the-tree";
      if (node.welcome) return "welcome";
      if (node.helps !== null && (this.way.includes(id) || this.tree.isHelp(state, id))) return "welcome";
      if (this.way.includes(id)) return "ahead";
      if (node.kind === "ask") return "aside";
      return state.cause === OPEN && node.fixes.includes(this.case.cause) ? "helps" : "no-use";
    }

    /** What is said of an end that is not the right one, or not yet. */
    early(node, id) {
      if (node.end === "resolved") return "left-too-early";
      return node.end === "call" || id === this.way[this.way.length - 1] ? "called-early" : "wrong-page";
    }

    /** Do a step: its marks, its time, what it does to pump and cause, and what the case answers. */
    done(state, id, verdict, right) {
      const node = this.tree.nodes.get(id);
      const took = node.takes;
      let memory = this.tree.remember(state.memory, node.marks, true);
      let [pump, rested] = afterStep(node, state.pump, state.rested, took);
      const longest = Math.max(state.longest, rested);
      let cause = node.fixes.includes(this.case.cause) ? DONE : state.cause;
      let index = null;
      if (node.kind === "ask") index = this.answer(state, id, pump, cause);
      if (index !== null && index !== NOTHING_NEW) {
        const answer = node.answers[index];
        memory = this.tree.remember(memory, answer.marks, false);
        [pump, rested] = afterAnswer(answer, pump, rested, took);
        cause = seenToHold(node, answer, cause);
      }
      const clock = state.clock + took;
      const undone = index === NOTHING_NEW && this.tree.isEarly(state.done, id);
      const order = this.tree.order(state, id);
      const choice = { node: id, verdict, answer: index, rule: null, took, clock, right, order, undone };
      return {
        way: [...state.way, choice], done: this.comesAgain(choice) ? state.done : new Set(state.done).add(id),
        memory, cause, pump, rested, longest: Math.max(longest, rested), clock,
        verdict: node.kind === "end" ? verdict : "",
      };
    }

    /** What the case answers: nothing new to a question about a step that was not done, nor against the balloon. */
    answer(state, id, pump, cause) {
      const index = this.case.world[id][cause === OPEN ? 0 : 1];
      const node = this.tree.nodes.get(id);
      if (index === NOTHING_NEW || (!node.known && this.tree.isEarly(state.done, id))) return NOTHING_NEW;
      const against = node.answers[index].pump === (pump === RUNS ? "still" : "moves");
      return against && !this.way.includes(id) ? NOTHING_NEW : index;
    }

    /**
     * Whether a step has to be done once more: a look at the patient before its turn takes the place of none, nor does
     * any that was too early to find anything.
     */
    comesAgain({ node, verdict, answer }) {
      if (verdict === "as-the-tree" || !this.way.includes(node)) return false;
      return answer === NOTHING_NEW || (verdict === "welcome" && this.tree.nodes.get(node).again);
    }

    /** The play that follows the tree to its end. */
    treePlay() {
      let state = this.begin();
      while (!state.verdict) state = this.choose(state, this.right(state));
      return state;
    }

    /**
     * The learner's way beside the tree's, of a state that is over: both ways; the steps `missed`; the choices that
     * were `wrong`, each with the seconds that it `cost`; times in seconds, the tree's with `tree_`.
     */
    debrief(state) {
      const tree = this.treePlay();
      const told = ({ node, answer, verdict, took, clock, right, order, undone }) => (
        { node, answer, verdict, took, clock, right, order, undone });
      const wrong = state.way.filter((choice) => STRAYED.includes(choice.verdict));
      return {
        verdict: state.verdict, rule: state.way[state.way.length - 1].rule, went: went(state),
        mine: state.way.map(told), tree: tree.way.map(told), missed: this.way.filter((id) => !state.done.has(id)),
        wrong: wrong.map((choice) => ({ ...told(choice), cost: choice.verdict === "ahead" ? 0 : choice.took })),
        clock: state.clock, rested: state.rested, longest: state.longest,
        tree_clock: tree.clock, tree_rested: tree.rested, tree_longest: tree.longest,
      };
    }
  }

  /**
   * The data of a told bedside: that of the page which it opens, with the steps of the other pages that its way passes.
   * A step that leads its way to another page is done and leads on. `told` is the case, `others` the data of its pages.
   */
  const joined = (home, others, told) => {
    const marks = Array.from(new Set([home, ...others].flatMap((data) => data.marks))).sort();
    const nodes = {};
    const rules = new Map();
    [home, ...others].forEach((data) => {
      const named = (id) => (data === home || !id ? id : `${data.tree}/${id}`);
      const known = (numbers) => numbers && numbers.map((number) => marks.indexOf(data.marks[number]));
      Object.entries(data.nodes).forEach(([id, node]) => {
        nodes[named(id)] = {
          ...node, page: data.tree, then: named(node.then), marks: known(node.marks), helps: known(node.helps),
          fixes: data === home ? node.fixes : [],
          answers: node.answers.map((answer) => ({ ...answer, to: named(answer.to), marks: known(answer.marks) })),
        };
      });
      data.rules.filter((rule) => data === home || !(rule.only || rules.has(rule.id))).forEach((rule) => {
        const slots = PARTS.map((part) => [part, known(rule[part])]);
        rules.set(rule.id, { ...rule, ...Object.fromEntries(slots) });
      });
    });
    told.way.slice(0, -1).forEach((id, place) => {
      if (nodes[id].end) nodes[id] = { ...nodes[id], kind: "on", end: "", then: told.way[place + 1] };
    });
    const asked = Object.keys(nodes).filter((id) => nodes[id].kind === "ask");
    const world = Object.fromEntries(asked.map((id) => [id, told.world[id] || [NOTHING_NEW, NOTHING_NEW]]));
    return { ...home, marks, nodes, rules: Array.from(rules.values()), cases: [{ ...told, world }] };
  };

  /**
   * How a case went, for the gap until it comes again: "good" with at most one turn too soon or off the way, "fair"
   * with more, with a remedy in vain or another than the page's, or with a call too early, else "bad". The steps are
   * chosen.
   */
  const ENDED = { unsafe: "bad", "left-too-early": "bad", "wrong-page": "bad", "called-early": "fair" };

  const went = (state) => {
    if (state.verdict in ENDED) return ENDED[state.verdict];
    if (state.verdict !== "solved") throw new Error("the case is not over");
    const verdicts = state.way.map((choice) => choice.verdict);
    const strayed = verdicts.filter((verdict) => verdict === "aside" || verdict === "ahead").length;
    return strayed > 1 || verdicts.includes("no-use") || verdicts.includes("helps") ? "fair" : "good";
  };

  /** The balloon's state and the seconds of its rest once a step has been done or asked. */
  const afterStep = (node, before, since, took) => {
    let pump = before;
    let rested = since;
    if (pump === RUNS && node.pump === "stops") [pump, rested] = [RESTS, 0];
    if (pump === RESTS) {
      rested += took;
      if (node.end === "resolved") return [RUNS, rested];
    }
    return [pump, rested];
  };

  /** The same once the case has answered. */
  const afterAnswer = (answer, pump, rested, took) => {
    if (answer.pump === "moves") return [RUNS, 0];
    if (answer.pump === "still" && pump === RUNS) return [RESTS, took];
    return [pump, rested];
  };

  /** Where a question asks whether the remedy held, every other answer means that it did not. */
  const seenToHold = (node, answer, cause) => {
    if (answer.anytime || !node.answers.some((other) => other.held)) return cause;
    return answer.held && cause !== OPEN ? SEEN : OPEN;
  };

  Object.assign(window.alarmtrees, { Playing: { RUNS, Tree, Play, went, joined } });
})();
