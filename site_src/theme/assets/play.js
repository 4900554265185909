// Plays a case, choice by choice: what may be chosen, what a choice does, and what is said of the play afterwards. It
// knows nothing but the data of one tree, changes no state in place, and nothing here touches the page: the tests run
// it as it is. Time is the sum of what the steps take a calm reader. The balloon rests by the rules of
// `proof/resting.py`, but on through a call: there a call ends what one reader answers for, here the learner is told to
// count on until the balloon moves. The cause is removed by the rules of `proof/simulate.py`, safety rules are judged
// by those of `proof/patterns.py`: an event is a step's marks together, then its answer's, and "before" is strict. A
// rule broken by the case's answer alone is nobody's fault. Nor does an answer ask for what was done already and still
// holds: who has put the pump on hold, and then finds blood, need not do it again. What a learner's own step asks for
// has to come after it. Rules and marks are bits of a BigInt: there may be more of them than an ordinary number has
// bits.
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
  const PUMP = ["pump-stops", "pump-starts"];
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
      [this.stops, this.starts] = PUMP.map((name) => bits([data.marks.indexOf(name)].filter((at) => at >= 0)));
      this.fresh = {
        seen: 0n, came: 0n, owed: this.kind.existence,
        active: this.kind.absence & this.where((rule) => !rule.after.length),
      };
    }

    /** The rules of which something holds, a bit each. */
    where(holds) {
      return this.rules.reduce((sum, rule, place) => (holds(rule) ? sum | 1n << BigInt(place) : sum), 0n);
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
      broken |= this.kind.absence & parts.of & state.memory.active;
      if (node.end === "resolved") broken |= this.owing(state.memory.owed, parts, 0n);
      return broken;
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
      const settled = isStep ? 0n : bits(paid);
      const fresh = bits(marks);
      const came = memory.came | fresh;
      return {
        seen: memory.seen | parts.first,
        active: parts.after | (memory.active & ~parts.until),
        owed: this.owing(memory.owed, parts, settled),
        came: this.starts & fresh ? came & ~this.stops : came,
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
      const near = this.tree.ids.filter((id) => this.tree.isNear(state.done, id));
      [...this.later(right), ...near, ...this.tree.ids].forEach((id) => {
        if (used.has(this.tree.words.get(id))) return;
        used.add(this.tree.words.get(id));
        if (halfway || !(id === last || this.tree.nodes.get(id).end === "resolved")) found.push(id);
      });
      const ripe = found.filter((id) => !this.tree.isEarly(state.done, id));
      return (ripe.length ? ripe : found).sort();
    }

    /** Of those left the ones that a step that was done leads to, if there are any. */
    near(state, pool, left) {
      const fit = pool.filter((id) => left.includes(id));
      const near = fit.filter((id) => this.tree.isNear(state.done, id));
      return near.length ? near : fit;
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
        const last = { node: known, verdict: "unsafe", answer: null, rule, took: 0, clock: state.clock };
        return { ...state, way: [...state.way, last], verdict: "unsafe" };
      }
      return this.done(state, known, this.verdict(state, right, known));
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
    done(state, id, verdict) {
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
      const choice = { node: id, verdict, answer: index, rule: null, took, clock };
      return {
        way: [...state.way, choice], done: this.comesAgain(id, verdict) ? state.done : new Set(state.done).add(id),
        memory, cause, pump, rested, longest: Math.max(longest, rested), clock,
        verdict: node.kind === "end" ? verdict : "",
      };
    }

    /** What the case answers: nothing new to a question about a step that was not done, nor against the balloon. */
    answer(state, id, pump, cause) {
      const index = this.case.world[id][cause === OPEN ? 0 : 1];
      if (index === NOTHING_NEW || this.tree.isEarly(state.done, id)) return NOTHING_NEW;
      const against = this.tree.nodes.get(id).answers[index].pump === (pump === RUNS ? "still" : "moves");
      return against && !this.way.includes(id) ? NOTHING_NEW : index;
    }

    /** Whether a step has to be done once more: a look at the patient before its turn takes the place of none. */
    comesAgain(id, verdict) {
      return verdict === "welcome" && this.way.includes(id) && this.tree.nodes.get(id).kind === "ask";
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
      const told = ({ node, answer, verdict, took, clock }) => ({ node, answer, verdict, took, clock });
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

  Object.assign(window.alarmtrees, { Playing: { RUNS, Tree, Play, went } });
})();
