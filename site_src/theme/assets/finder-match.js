// The box, without the page: from typed or spoken words to alarms, tasks and numbers.
// Needs MiniSearch and finder-words.js; gives alarmtrees.openFinder. What finder-guess.js has learned is joined here
// with what the words say.
(() => {
  "use strict";
  const { sum, finderWords } = window.alarmtrees;
  const { ELSEWHERE, FILLER, Lexicon, isFiller, words, stem } = finderWords;

  const FIELDS = { title: 3, names: 3, wordings: 4, causes: 1.2, summary: 0.75 };
  // How much a word counts that no alarm can be found by.
  const WEIGHT = { elsewhere: 2.5, code: 2, number: 0.04, unknown: 0.7, topic: 1.3, light: 0.2 };
  const BETTER = 0.8; // how much the better one counts of two ways to understand the same words
  const PHRASE = 0.45; // how much the likest phrase counts beside the single words
  const LITERAL = 0.6; // how much the words as they stand count for the order of the list
  const CAUSE = 0.75; // how much a cause counts beside a name
  const OWN = 0.6; // how much the words of a phrase count that were not typed
  const LIMIT = {
    none: 0.38,
    unsure: 0.5,
    other: 0.62,
    shown: 0.4,
    ahead: 0.68,
    named: 0.8,
    guess: 0.8,
    few: 3,
    most: 5,
  };
  // How what was learned is joined with the words, on the scale of logarithms of odds. Chosen by `bench_finder.py`, so
  // that no sole answer is wrong by what the other voices taught, and two alarms in 100 find nothing.
  const JOIN = {
    alarms: 2, // how much the words count beside it
    tasks: 1,
    nothing: 1, // what fits must be ahead of nothing by this much,
    unfound: 2.8, // by this much where the words alone find nothing,
    unfoundAlarm: 3.2, // an alarm by this much then,
    code: 5, // and by this much where a code is among the words,
    other: 4, // and a task by this much beside a word of another device
    task: 7, // how far a task may lie behind the best of all, and still be shown
    alarm: 6, // how far an alarm may
    beside: 3, // and where a task is the best
    ahead: 5, // how far a sole answer is ahead of all others
    learned: 3.2, // and how far by what was learned alone
    unsaid: 2, // how far one may be behind by what was learned, where no typed word speaks for it
    oneWord: 4, // and where one word of several does, or none but by a slip of the finger
    guessed: 1, // how many alarms stand above a task that fits better: it must be in sight above a keyboard
  };
  // When a part of what was typed names an alarm by itself. Chosen on the queries and phrases that may be tuned by.
  const APART = { nothing: 6.5, next: 1.5, score: 0.8, words: 2, unsaid: 2.5, unsaidScore: 0.9 };
  const PARTS = /[,;+&/]|\b(?:and|plus|also|then)\b/i;
  const WELL = /\b(ok|okay|good|fine|normal)\b/i;
  // A half that begins or ends so goes on with what was said before it.
  const HOLDS_ON = new Set(
    (
      "a an at after before but by during for from her his in into is no not of on or over since than the to under " +
      "until when while with"
    ).split(" "),
  );
  const QUESTION = /^\s*(how|who|what|where|when|which|why|can|may|do|does|is|are)\b/i;
  const HELP = /^\W*((please|help|me|us|now|quick|quickly|urgent|emergency|sos|i|need|a)\b\W*)+$/i;
  const CALLING = /^(call|ring|phone|dial|number|extension|ext|contact|reach|need|get|want|page)$/;
  const CALLED = /^(?:(?:call|ring|phone|dial|number|extension|ext)\b)?[\s.:]*([\d\s-]+)$/i;
  const DIGITS = 3; // so many of a number are enough to know it by
  const RARE = 0.02; // the part of all phrases that may hold a word which tells a role from others
  const WHY = { least: 0.3, weight: 0.2, most: 3 };
  const NONE = { hits: [], sole: false, none: true };
  const NOT_ASKED = { alarms: [], tasks: [], sole: false, none: false, byTask: false, vague: false, several: false };

  const [NUMBERS, NOTHING] = ["numbers", "none"]; // pages of the learned ones that are none

  const keysOf = (text) => new Set(words(text).map(stem));

  function raise(map, key, value) {
    if (value > (map.get(key) || 0)) map.set(key, value);
  }

  /** The phrases by their words as they stand, small ones too: of two that mean the same, the one said so is meant. */
  class Wording {
    constructor(phrases) {
      this.phrases = phrases;
      this.of = new Map(); // a word's stem -> the numbers of the phrases that hold it
      const keys = phrases.map((phrase) => keysOf(phrase.text));
      keys.forEach((some, number) => {
        some.forEach((key) => {
          if (!this.of.has(key)) this.of.set(key, []);
          this.of.get(key).push(number);
        });
      });
      this.weight = keys.map((some) => this.worthOf(some));
    }

    worth(key) {
      const held = this.of.get(key);
      return held ? Math.log(1 + this.phrases.length / held.length) : 0;
    }

    worthOf(keys) {
      return sum(Array.from(keys, (key) => this.worth(key)));
    }

    /** For each alarm how like the likest of its phrases is to the words of these stems, from 0 to 1. */
    likeness(keys) {
      const shared = new Map();
      const total = this.worthOf(keys);
      const best = new Map();
      keys.forEach((key) => {
        const worth = this.worth(key);
        (this.of.get(key) || []).forEach((number) => shared.set(number, (shared.get(number) || 0) + worth));
      });
      shared.forEach((worth, number) => {
        const { id, part } = this.phrases[number];
        raise(best, id, (part * 2 * worth) / (total + this.weight[number]));
      });
      return best;
    }
  }

  const isLight = (place, light) => place.terms.every((one) => light.has(one.term));

  /** How much a word counts that no alarm was found by. */
  function unfound(place, isTopic) {
    if (place.code) return WEIGHT.code;
    if (place.number) return WEIGHT.number;
    return isTopic ? WEIGHT.topic : WEIGHT.unknown;
  }

  /** Two readings of the same name are the same reading. */
  const nameOf = (places) =>
    places.map((place) => `${place.word}=${place.terms.map((one) => one.term).join("+")}`).join("|");

  /** What to show: one alarm where that is certain, a list where it is not, nothing where nothing fits well. */
  function judge(hits, query) {
    if (!hits.length || isForAny(hits, query) || !isGood(hits[0], query)) return NONE;
    const [best, next] = hits;
    const isSole = isCertain(best, next, query) && best.all && !best.withdrawn && !next?.whole;
    const shown = hits.filter((hit, i) => i < LIMIT.few || hit.score >= LIMIT.shown * best.score);
    return { hits: isSole ? [best] : shown.slice(0, LIMIT.most), sole: isSole, none: false };
  }

  /** Whether only the way for any alarm fits: it stands alone, unless another alarm fits nearly as well. */
  const isForAny = ([best, next], query) =>
    best.id === query.fallback && !best.whole && !(next && next.score >= LIMIT.other);

  function isGood(best, query) {
    const least = query.other ? LIMIT.other : query.sure ? LIMIT.none : LIMIT.unsure;
    return best.score >= least && (query.guess || query.sure || best.whole);
  }

  function isCertain(best, next, query) {
    if (best.whole) return true;
    const isAhead = !next || next.score < LIMIT.ahead * best.score;
    return best.many && best.weight > 0.8 && isAhead && best.named > LIMIT.named && !query.other;
  }

  /** All that is known of some pages, and how a text is compared with it. */
  class Finder {
    constructor(pages, lexicon, fallback) {
      this.pages = pages;
      this.lexicon = lexicon;
      this.fallback = fallback;
      this.cache = new Map();
      this.phrases = [];
      pages.forEach((page) => {
        Object.keys(FIELDS)
          .flatMap((field) => page[field] || [])
          .forEach((text) => lexicon.learn(text));
      });
      this.index = new window.MiniSearch({
        fields: Object.keys(FIELDS),
        tokenize: (text) => text.split(" "),
        processTerm: (term) => term,
        searchOptions: { boost: FIELDS, prefix: false, fuzzy: false },
      });
      pages.forEach((page) => this.add(page));
      this.worth = new Map();
      new Set(this.phrases.flatMap((phrase) => [...phrase.terms])).forEach((term) => {
        this.worth.set(term, this.weigh({ terms: [{ term, quality: 1 }] }).weight);
      });
      this.wording = new Wording(this.phrases);
    }

    add(page) {
      const entry = { id: page.id };
      Object.keys(FIELDS).forEach((field) => {
        entry[field] = []
          .concat(page[field] || [])
          .map((text) => this.indexed(page.id, field, text))
          .join(" ");
      });
      this.index.add(entry);
    }

    indexed(id, field, text) {
      const all = this.lexicon.read(text, false).flatMap((place) => place.terms.map((one) => one.term));
      const terms = all.filter((term) => term !== FILLER && term !== ELSEWHERE);
      const part = field === "causes" ? CAUSE : 1;
      if (field !== "summary") this.phrases.push({ id, terms: new Set(terms), text: words(text).join(" "), part });
      return terms.join(" ");
    }

    scores(term) {
      if (!this.cache.has(term)) this.cache.set(term, this.index.search(term));
      return this.cache.get(term);
    }

    /** How a place speaks for each alarm, from 0 to 1, and how much it tells them apart. */
    weigh(place) {
      const found = new Map();
      let isTopic = false;
      let isElsewhere = false;
      place.terms.forEach(({ term, quality }) => {
        if (term === ELSEWHERE) {
          isElsewhere = quality > 0.84;
          return;
        }
        const list = this.scores(term);
        if (!list.length && place.topic) isTopic = true;
        list.forEach((hit) => raise(found, hit.id, (quality * hit.score) / list[0].score));
      });
      if (!found.size) {
        const weight = isElsewhere ? WEIGHT.elsewhere : unfound(place, isTopic);
        return { found, weight, elsewhere: isElsewhere };
      }
      const most = Math.max(...found.values());
      const count = this.pages.length;
      const rest = count > 1 ? (sum(found.values()) - most) / (count - 1) : 0;
      const cap = isLight(place, this.lexicon.light) ? WEIGHT.light : 1;
      return { found, weight: Math.min(Math.max(1 - rest / most, 0.08), cap) };
    }

    /** Each alarm with its score, for the words understood in one way. */
    compare(places, said, weighed) {
      const total = sum(weighed.map((one) => one.weight));
      const weightOf = new Map();
      places.forEach((place, i) => {
        place.terms.forEach(({ term, quality }) => {
          weightOf.set(term, Math.max(weightOf.get(term) || 0, weighed[i].weight * quality));
        });
      });
      const closest = this.likeness(weightOf, total);
      return this.pages.map(({ id, withdrawn }) => {
        const shares = weighed.map((one) => one.found.get(id) || 0);
        const whole = this.isWhole(said, id);
        const single = sum(weighed.map((one, i) => one.weight * shares[i])) / total;
        return {
          id,
          whole,
          withdrawn: Boolean(withdrawn),
          named: closest.named.get(id) || 0,
          score: whole ? 2 : (1 - PHRASE) * single + PHRASE * (closest.any.get(id) || 0),
          all: shares.every((share, i) => share > 0 && places[i].exact),
          matched: sum(weighed.map((one, i) => (shares[i] ? one.weight : 0))) / total,
          weight: total,
          many: places.length > 1,
        };
      });
    }

    /** Whether somebody said a whole name, of any alarm or of one. */
    isWhole(said, id) {
      return this.phrases.some((phrase) => phrase.part === 1 && phrase.text === said && (!id || phrase.id === id));
    }

    /** How like each alarm's likest phrase is to what was typed, from 0 to 1. */
    likeness(weightOf, total) {
      const any = new Map();
      const named = new Map();
      this.phrases.forEach(({ id, terms, part }) => {
        let shared = 0;
        let own = 0;
        terms.forEach((term) => {
          const weight = weightOf.get(term);
          shared += weight || 0;
          own += weight || OWN * this.worth.get(term);
        });
        if (!shared) return;
        // A word of two meanings stands twice in a phrase, and is typed once.
        const like = part * Math.min(1, (2 * shared) / (own + total));
        raise(any, id, like);
        if (part === 1 && like > 0.5) raise(named, id, Math.min(1, shared / total));
      });
      return { any, named };
    }

    ask(text) {
      const said = words(text).join(" ");
      const whole = this.isWhole(said);
      const places = this.read(text, whole, false);
      const empty = { hits: [], sole: false, none: said !== "", ranked: [] };
      if (!places.length) return empty;
      const weighed = places.map((place) => this.weigh(place));
      // "pump", "not", "balloon" alone fit every alarm, and so none.
      const heard = this.heard(places, weighed);
      const isVague = places.every((place, i) => !weighed[i].found.size || isLight(place, this.lexicon.light));
      if (isVague && !whole) {
        const isLightAlone = places.every((place) => place.terms.length && isLight(place, this.lexicon.light));
        return { ...empty, heard, vague: isLightAlone };
      }
      const hits = this.bestOf(this.compare(places, said, weighed), text, places, whole);
      const ranked = this.ranked(hits, text);
      return { ...judge(ranked, heard), ranked, heard, places, weighed };
    }

    /** The text as places, without fillers; but "hold" says nothing in a sentence, and much alone. */
    read(text, whole, asSaid) {
      const all = this.lexicon.read(text, true, asSaid);
      const some = all.filter((place) => !isFiller(place));
      return !some.length && whole ? all : some;
    }

    /** A row of words may have been found where it was not meant: the words as they stand are judged beside it. */
    bestOf(hits, text, places, whole) {
      const plainly = this.read(text, whole, true);
      if (!plainly.length || nameOf(plainly) === nameOf(places)) return hits;
      const said = words(text).join(" ");
      const others = this.compare(plainly, said, plainly.map((place) => this.weigh(place)));
      return hits.map((hit, i) => {
        const more = Math.max(hit.score, others[i].score);
        const less = Math.min(hit.score, others[i].score);
        const matched = Math.max(hit.matched, others[i].matched);
        return { ...hit, score: BETTER * more + (1 - BETTER) * less, matched };
      });
    }

    /** Those that match at all, the likest first. */
    ranked(hits, text) {
      const alike = this.wording.likeness(this.lexicon.spelt(text));
      return hits
        .filter((hit) => hit.matched > 0 || hit.whole)
        .map((hit) => ({ ...hit, rank: hit.score + LITERAL * (alike.get(hit.id) || 0) }))
        .sort((a, b) => b.rank - a.rank);
    }

    /** How well the words were understood, whatever they fit. */
    heard(places, weighed) {
      const isFound = (i) => weighed[i].found.size > 0;
      const isClear = (place, i) => place.exact && isFound(i) && weighed[i].weight > 0.2;
      const isLikely = (place) => place.word.length > 4 || place.terms[0].quality >= LIMIT.guess;
      return {
        sure: places.filter((place, i) => isFound(i)).length > 1 || places.some(isClear),
        guess: places.some((place, i) => isFound(i) && isLikely(place)),
        other: weighed.some((one) => one.elsewhere),
        fallback: this.fallback,
      };
    }
  }

  /** The typed words that speak for a page. */
  function reasons({ places, weighed }, id) {
    if (!places) return [];
    const speaks = (place, i) => weighed[i].weight > WHY.weight && (weighed[i].found.get(id) || 0) > WHY.least;
    return places.filter(speaks).map((place) => place.word).slice(0, WHY.most);
  }

  /** The pages of a list with all that speaks for each, the likest first. */
  function joined(pages, answer, guessed, part) {
    const ranks = new Map(answer.ranked.map((hit) => [hit.id, hit.rank]));
    return pages
      .map(({ id }) => ({ id, learned: guessed.get(id) || 0, words: part * (ranks.get(id) || 0) }))
      .map((one) => ({ ...one, all: one.learned + one.words }))
      .sort((a, b) => b.all - a.all);
  }

  /** Whether there is reason enough to show one beside the best; `behind` is how far it is by what was learned. */
  function isSupported(one, answer, behind, best) {
    if (one.all === best) return true;
    const why = reasons(answer, one.id);
    if (!why.length) return behind < JOIN.unsaid;
    const isOneOfMore = why.length === 1 && answer.places.length > 1;
    const isClear = answer.places.some((place) => place.exact && why.includes(place.word));
    return (isClear && !isOneOfMore) || behind < JOIN.oneWord;
  }

  const asRole = ({ id }) => ({ id, role: true, why: [] });

  /** Who a role is, without where and for whom: "doctor" of "doctor on call for this patient". */
  const nameIn = (title) => title.split(/\s(?:on|for|of|in|at)\s/)[0];

  /** How far ahead of nothing one must be that the words alone do not find. */
  function leastUnfound({ places }, isAlarm) {
    if (places && places.some((place) => place.code)) return JOIN.code;
    return isAlarm ? JOIN.unfoundAlarm : JOIN.unfound;
  }

  /** Whether nothing here fits what was typed; `ahead` is how far the best is ahead of nothing. */
  function isRefused(text, ahead, isAlarm, alarms, tasks) {
    const isFound = !alarms.none || (!isAlarm && !tasks.none);
    if (!isFound && words(text).every((word) => /\d/.test(word))) return true; // a code is right or it is another code
    if (alarms.none && alarms.heard?.other) return isAlarm || ahead < JOIN.other;
    return ahead < (isFound ? JOIN.nothing : leastUnfound(alarms, isAlarm));
  }

  /** Whether one alarm is the only answer: the words are certain, and what was learned is too. */
  function isSole(text, [first, ...rest], tasks, words) {
    if (!words.sole || words.hits[0].id !== first.id || QUESTION.test(text)) return false;
    return [...rest, ...tasks].every(
      (one) => first.all - one.all > JOIN.ahead && first.learned - one.learned > JOIN.learned,
    );
  }

  /** All that can be found: alarms, and tasks with calculators and numbers. */
  class Box {
    constructor(data) {
      const lexicon = new Lexicon(data);
      this.data = data;
      this.alarms = new Finder(data.trees, lexicon, data.fallback);
      this.tasks = new Finder(data.tasks, lexicon, null);
      this.others = [...data.tasks, { id: NUMBERS }];
    }

    ask(text, guess) {
      const said = words(text);
      if (!said.length) return { ...NOT_ASKED };
      if (HELP.test(text) && said.some((word) => /^(help|sos|emergency|urgent)$/.test(word))) return this.help();
      const alarms = this.alarms.ask(text);
      const tasks = this.tasks.ask(text);
      const found = guess ? this.join(text, alarms, tasks, guess(text)) : this.plain(alarms, tasks);
      const answer = {
        alarms: found.alarms.map((id) => ({ id, why: reasons(alarms, id) })),
        tasks: found.tasks.flatMap((id) => (id === NUMBERS ? this.roles(text) : [{ id, why: reasons(tasks, id) }])),
        sole: found.sole,
        none: found.none,
        byTask: Boolean(found.byTask),
        vague: Boolean(found.none && alarms.vague),
        several: false,
      };
      const asked = guess ? this.withAll(text, answer, guess) : answer;
      return this.withNumber(text, asked, alarms.places || []);
    }

    /** The answer with all alarms that were named, each by words of its own, and with the page for several at once. */
    withAll(text, answer, guess) {
      const { together, soonest } = this.data;
      const [best] = answer.alarms;
      if (!together || !best || answer.byTask || best.id === together) return answer;
      const parts = text.split(PARTS).filter((part) => words(part).length);
      const named = [...new Set(parts.map((part) => this.namedBy(part, guess)).filter(Boolean))];
      const isApart = named.length > 1 && named.includes(best.id);
      if (!isApart && !this.isTwo(text, answer, guess)) return answer;
      const known = new Map(answer.alarms.map((hit) => [hit.id, hit]));
      const hitOf = (id) => known.get(id) || { id, why: this.whyOf(parts, id) };
      const hits = isApart ? named.map(hitOf) : answer.alarms.slice(0, 2);
      // One word behind the others mostly tells more of the same: "leg pale and pulseless". Then the order stays.
      const several = isApart && parts.slice(1).every((part) => words(part).length >= APART.words);
      const near = answer.alarms.map((hit) => hit.id);
      const found = ({ id }) => (near.includes(id) ? near.indexOf(id) : near.length);
      const harm = ({ id }) => (several ? soonest.findIndex((group) => group.includes(id)) : 0);
      hits.sort((a, b) => harm(a) - harm(b) || found(a) - found(b)); // of what harms as soon, what is likelier
      const others = answer.alarms.filter(({ id }) => id !== together && !hits.some((hit) => hit.id === id));
      const both = { id: together, why: ["several named"] };
      return { ...answer, alarms: [...hits.slice(0, 2), both, ...hits.slice(2), ...others], sole: false, several };
    }

    /** The alarm that a part of a text names by itself, or none; `least` and `score` say how clearly it has to. */
    namedBy(part, guess, least = APART.next, score = APART.score) {
      const said = this.alarms.ask(part);
      const [hit] = said.hits;
      if (!hit || WELL.test(part) || hit.score <= score) return "";
      const guessed = guess(part);
      const [first, next] = joined(this.data.trees, said, guessed, JOIN.alarms);
      const [task] = joined(this.others, this.tasks.ask(part), guessed, JOIN.tasks);
      const isAhead = first.all > Math.max(task.all, next.all + least, (guessed.get(NOTHING) || 0) + APART.nothing);
      const isOne = hit.id === first.id && hit.id !== this.data.together && hit.id !== this.data.fallback;
      return isAhead && isOne ? hit.id : "";
    }

    whyOf(parts, id) {
      return parts.flatMap((part) => reasons(this.alarms.ask(part), id)).slice(0, WHY.most);
    }

    /** Whether the two likeliest alarms are each named by one half of the words. */
    isTwo(text, answer, guess) {
      const [one, two] = answer.alarms;
      if (answer.sole || !two || QUESTION.test(text)) return false;
      const said = words(text);
      const halves = (at) => [said.slice(0, at), said.slice(at)];
      const isCut = (half, at) => half.length >= APART.words && !HOLDS_ON.has(half.at(at));
      return said.some((_word, at) => {
        const [before, after] = halves(at);
        if (!isCut(before, -1) || !isCut(after, 0)) return false;
        const nameOfHalf = (half) => this.namedBy(half.join(" "), guess, APART.unsaid, APART.unsaidScore);
        const named = [nameOfHalf(before), nameOfHalf(after)];
        return named.includes(one.id) && named.includes(two.id);
      });
    }

    /** Who cries for help gets the way for any alarm, and all numbers. */
    help() {
      const alarms = this.data.fallback ? [{ id: this.data.fallback, why: [] }] : [];
      return { ...NOT_ASKED, alarms, tasks: this.data.numbers.map(asRole) };
    }

    /** The answer with the number of who was named: at the top where nothing else was, else at the end. */
    withNumber(text, answer, places) {
      const dialled = this.dialled(text);
      if (dialled.length) return { ...NOT_ASKED, tasks: dialled.map(asRole), byTask: true };
      const named = this.named(text);
      if (!named.length || answer.sole) return answer;
      if (this.isNoMore(text, named)) {
        // A role's own name is no slip of the finger for a word of an alarm.
        const clear = places.filter((place) => place.exact).map((place) => place.word);
        const isMeant = (hit) => hit.why.some((word) => clear.includes(word));
        const alarms = answer.alarms.filter(isMeant).slice(0, JOIN.guessed);
        const others = answer.tasks.filter((hit) => !named.some((role) => role.id === hit.id));
        return { ...NOT_ASKED, alarms, tasks: [...named.map(asRole), ...others], byTask: true };
      }
      const isShown = answer.none || answer.tasks.some((hit) => hit.role);
      return isShown ? answer : { ...answer, tasks: [...answer.tasks, ...named.map(asRole)] };
    }

    /** By the words alone, where nothing was learned. */
    plain(alarms, tasks) {
      const ids = (answer) => answer.hits.map((hit) => hit.id);
      const none = alarms.none && tasks.none;
      const isAlone = alarms.sole && !tasks.sole;
      return { alarms: ids(alarms), tasks: alarms.sole ? [] : ids(tasks), sole: isAlone, none };
    }

    join(text, said, taskWords, guessed) {
      const alarms = joined(this.data.trees, said, guessed, JOIN.alarms);
      const tasks = joined(this.others, taskWords, guessed, JOIN.tasks);
      const isAlarm = alarms[0].all >= tasks[0].all;
      const best = Math.max(alarms[0].all, tasks[0].all);
      const isNamed = said.ranked.some((hit) => hit.whole) || taskWords.ranked.some((hit) => hit.whole);
      const ahead = best - (guessed.get(NOTHING) || 0);
      if (!isNamed && isRefused(text, ahead, isAlarm, said, taskWords)) {
        return { alarms: [], tasks: [], sole: false, none: true };
      }
      if (isSole(text, alarms, tasks, said)) return { alarms: [alarms[0].id], tasks: [], sole: true, none: false };
      const learned = Math.max(alarms[0].learned, tasks[0].learned);
      const near = (some, answer, most, few) =>
        some
          .filter((one, i) => i < few && one.all > best - most && isSupported(one, answer, learned - one.learned, best))
          .map((one) => one.id);
      return {
        alarms: near(alarms, said, isAlarm ? JOIN.alarm : JOIN.beside, isAlarm ? LIMIT.few : JOIN.guessed),
        tasks: near(tasks, taskWords, JOIN.task, LIMIT.few),
        sole: false,
        none: false,
        byTask: !isAlarm,
      };
    }

    /** Whom to call: who was named, and who is called first. */
    roles(text) {
      const meant = new Set([...this.named(text).slice(0, 1), ...this.data.numbers.slice(0, 1)]);
      return Array.from(meant, asRole);
    }

    /** The roles whose number holds the digits that were typed. */
    dialled(text) {
      const digits = (CALLED.exec(text.trim())?.[1] || "").replace(/\D/g, "");
      if (digits.length < DIGITS) return [];
      return this.data.numbers.filter(({ number }) => number.replace(/\D/g, "").includes(digits));
    }

    /** The roles that most of the words name. A word that many phrases hold ("line") tells no role from others. */
    named(text) {
      const said = keysOf(text);
      const isTelling = (key) => said.has(key) && key.length > 2 && !CALLING.test(key) && this.isRare(key);
      const counts = this.data.numbers.map(({ title }) => Array.from(keysOf(nameIn(title))).filter(isTelling).length);
      const most = Math.max(0, ...counts);
      return most ? this.data.numbers.filter((_role, i) => counts[i] === most) : [];
    }

    isRare(key) {
      const { of, phrases } = this.alarms.wording;
      return (of.get(key) || []).length < RARE * phrases.length;
    }

    /** Whether the words name these roles and say nothing else. */
    isNoMore(text, named) {
      const titles = keysOf(named.map((role) => role.title).join(" "));
      const others = words(text).filter((word) => !titles.has(stem(word)) && !CALLING.test(word));
      return !others.length || this.alarms.lexicon.read(others.join(" "), false).every(isFiller);
    }
  }

  /**
   * @typedef {{id: string, why: string[], role?: boolean}} Hit
   * @returns {(text: string, guess?: (text: string) => Map<string, number>) =>
   *   {alarms: Hit[], tasks: Hit[], sole: boolean, none: boolean, byTask: boolean, vague: boolean, several: boolean}}
   *   `byTask` says that a task or number fits better than the alarms, `vague` that all words are of the pump itself,
   *   `several` that alarms stand first of which each was named, and of these the one that harms soonest
   */
  window.alarmtrees.openFinder = (data) => {
    const box = new Box(data);
    return (text, guess) => box.ask(text, guess);
  };
})();
