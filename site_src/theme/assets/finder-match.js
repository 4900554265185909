/* The alarm finder, without the page: from typed or spoken words to alarms.
   Needs MiniSearch and finder-words.js; gives window.alarmFinder.open(data), a function from a text to
   {hits, sole, none}. */
(function () {
  "use strict";

  var FIELDS = { title: 3, names: 3, wordings: 4, causes: 1.2, summary: 0.75 };
  var ELSEWHERE = window.finderWords.ELSEWHERE;
  var FILLER = window.finderWords.FILLER;
  var Lexicon = window.finderWords.Lexicon;
  var isFiller = window.finderWords.isFiller;
  var words = window.finderWords.words;
  var NOTHING = []; // of the alarms there is none with this word

  // How much a word counts that no alarm can be found by.
  var WEIGHT = { elsewhere: 2.5, code: 2, number: 0.04, unknown: 0.7, topic: 1.3, light: 0.2 };
  var BETTER = 0.8; // how much the better one counts of two ways to understand the same words
  var PHRASE = 0.45; // how much the likest phrase counts beside the single words
  var LITERAL = 0.6; // how much the words as they stand count for the order of the list
  var CAUSE = 0.75; // how much a cause counts beside a name
  var OWN = 0.6; // how much the words of a phrase count that were not typed
  var LIMIT = {
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

  function termsOf(places) {
    var terms = [];
    places.forEach(function (place) {
      place.terms.forEach(function (one) {
        if (one.term !== FILLER && one.term !== ELSEWHERE) terms.push(one.term);
      });
    });
    return terms;
  }

  /* The index over all alarms. */
  function open(data) {
    var lexicon = new Lexicon(data);
    data.trees.forEach(function (tree) {
      texts(tree).forEach(function (text) {
        lexicon.learn(text);
      });
    });
    var index = new window.MiniSearch({
      fields: Object.keys(FIELDS),
      tokenize: function (text) {
        return text.split(" ");
      },
      processTerm: function (term) {
        return term;
      },
      searchOptions: { boost: FIELDS, prefix: false, fuzzy: false },
    });
    var phrases = [];
    function indexed(text) {
      return termsOf(lexicon.read(text, false));
    }
    data.trees.forEach(function (tree) {
      var entry = { id: tree.id };
      Object.keys(FIELDS).forEach(function (field) {
        entry[field] = []
          .concat(tree[field] || [])
          .map(function (text) {
            var terms = indexed(text);
            if (field !== "summary") {
              phrases.push({
                id: tree.id,
                terms: new Set(terms),
                text: words(text).join(" "),
                part: field === "causes" ? CAUSE : 1,
              });
            }
            return terms.join(" ");
          })
          .join(" ");
      });
      index.add(entry);
    });
    var cache = new Map(),
      worth = new Map();
    function scores(term) {
      if (!cache.has(term)) cache.set(term, index.search(term));
      return cache.get(term);
    }
    phrases.forEach(function (phrase) {
      phrase.terms.forEach(function (term) {
        if (!worth.has(term))
          worth.set(
            term,
            weigh({ terms: [{ term: term, quality: 1 }] }, scores, data.trees.length, lexicon.light).weight,
          );
      });
    });
    var literally = new Wording(phrases);
    return function (text) {
      return ask(text, lexicon, scores, phrases, data, worth, literally);
    };
  }

  function texts(tree) {
    return [].concat(tree.title, tree.names || [], tree.wordings || [], tree.causes || [], tree.summary || []);
  }

  /* The phrases by their words as they stand, small ones too: of two that mean the same, the one said so is meant. */
  function Wording(phrases) {
    var self = this;
    this.phrases = phrases;
    this.of = new Map(); // a word's stem -> the numbers of the phrases that hold it
    phrases.forEach(function (phrase, number) {
      keysOf(phrase.text).forEach(function (key) {
        if (!self.of.has(key)) self.of.set(key, []);
        self.of.get(key).push(number);
      });
    });
    this.weight = phrases.map(function (phrase) {
      var sum = 0;
      keysOf(phrase.text).forEach(function (key) {
        sum += self.worth(key);
      });
      return sum;
    });
  }

  function keysOf(text) {
    return new Set(words(text).map(window.finderWords.stem));
  }

  Wording.prototype.worth = function (key) {
    var held = this.of.get(key);
    return held ? Math.log(1 + this.phrases.length / held.length) : 0;
  };

  /* For each alarm how like the likest of its phrases is to the words of these stems, from 0 to 1. */
  Wording.prototype.likeness = function (keys) {
    var self = this,
      shared = new Map(),
      total = 0,
      best = new Map();
    keys.forEach(function (key) {
      var worth = self.worth(key);
      total += worth;
      (self.of.get(key) || []).forEach(function (number) {
        shared.set(number, (shared.get(number) || 0) + worth);
      });
    });
    shared.forEach(function (sum, number) {
      var phrase = self.phrases[number],
        like = (phrase.part * 2 * sum) / (total + self.weight[number]);
      if (like > (best.get(phrase.id) || 0)) best.set(phrase.id, like);
    });
    return best;
  };

  /* How a place speaks for each alarm, from 0 to 1, and how much it tells them apart. */
  function weigh(place, scores, count, light) {
    var found = new Map(),
      topic = false,
      elsewhere = false;
    place.terms.forEach(function (one) {
      if (one.term === ELSEWHERE) {
        elsewhere = one.quality > 0.84;
        return;
      }
      var list = scores(one.term);
      if (!list.length && place.topic) topic = true;
      list.forEach(function (hit) {
        var share = (one.quality * hit.score) / list[0].score;
        if (share > (found.get(hit.id) || 0)) found.set(hit.id, share);
      });
    });
    if (elsewhere && !found.size) return { found: found, weight: WEIGHT.elsewhere, elsewhere: true };
    if (!found.size) {
      var weight = place.code ? WEIGHT.code : place.number ? WEIGHT.number : topic ? WEIGHT.topic : WEIGHT.unknown;
      return { found: found, weight: weight };
    }
    var sum = 0,
      most = 0;
    found.forEach(function (share) {
      sum += share;
      most = Math.max(most, share);
    });
    var rest = count > 1 ? (sum - most) / (count - 1) : 0;
    return {
      found: found,
      weight: Math.min(Math.max(1 - rest / most, 0.08), isLight(place, light) ? WEIGHT.light : 1),
    };
  }

  function isLight(place, light) {
    return place.terms.every(function (one) {
      return light.has(one.term);
    });
  }

  /* Each alarm with its score, for the words understood in one way. */
  function compare(places, said, weighed, lexicon, phrases, data, worth) {
    var total = 0;
    weighed.forEach(function (one) {
      total += one.weight;
    });
    var weightOf = new Map();
    places.forEach(function (place, i) {
      place.terms.forEach(function (one) {
        weightOf.set(one.term, Math.max(weightOf.get(one.term) || 0, weighed[i].weight * one.quality));
      });
    });
    var closest = likeness(phrases, weightOf, total, worth);
    return data.trees.map(function (tree) {
      var sum = 0,
        matched = 0;
      weighed.forEach(function (one) {
        var share = one.found.get(tree.id) || 0;
        sum += one.weight * share;
        if (share) matched += one.weight;
      });
      var whole = phrases.some(function (phrase) {
        return phrase.id === tree.id && phrase.part === 1 && phrase.text === said;
      });
      return {
        id: tree.id,
        whole: whole,
        withdrawn: !!tree.withdrawn,
        named: closest.named.get(tree.id) || 0,
        score: whole ? 2 : (1 - PHRASE) * (sum / total) + PHRASE * (closest.any.get(tree.id) || 0),
        all: weighed.every(function (one, i) {
          return (one.found.get(tree.id) || 0) > 0 && places[i].exact;
        }),
        matched: matched / total,
        weight: total,
        many: places.length > 1,
      };
    });
  }

  function ask(text, lexicon, scores, phrases, data, worth, literally) {
    var said = words(text).join(" ");
    var whole = phrases.some(function (phrase) {
      return phrase.part === 1 && phrase.text === said;
    });
    function read(asSaid) {
      var all = lexicon.read(text, true, asSaid);
      var some = all.filter(function (place) {
        return !isFiller(place);
      });
      return !some.length && whole ? all : some; // "hold" says nothing in a sentence, and much alone
    }
    function weighAll(places) {
      return places.map(function (place) {
        return weigh(place, scores, data.trees.length, lexicon.light);
      });
    }
    var places = read(false);
    var empty = { hits: NOTHING, sole: false, none: words(text).length > 0 };
    if (!places.length) return empty;
    var weighed = weighAll(places);
    var hits = compare(places, said, weighed, lexicon, phrases, data, worth);
    // A row of words may have been found where it was not meant: the words as they stand are judged beside it.
    var plainly = read(true);
    if (plainly.length && nameOf(plainly) !== nameOf(places)) {
      var others = compare(plainly, said, weighAll(plainly), lexicon, phrases, data, worth);
      hits = hits.map(function (hit, i) {
        var more = Math.max(hit.score, others[i].score),
          less = Math.min(hit.score, others[i].score);
        hit.score = BETTER * more + (1 - BETTER) * less;
        hit.matched = Math.max(hit.matched, others[i].matched);
        return hit;
      });
    }
    hits = hits.filter(function (hit) {
      return hit.matched > 0 || hit.whole;
    });
    var alike = literally.likeness(lexicon.spelt(text));
    hits.forEach(function (hit) {
      hit.rank = hit.score + LITERAL * (alike.get(hit.id) || 0);
    });
    hits.sort(function (a, b) {
      return b.rank - a.rank;
    });
    // "pump", "not", "balloon" alone fit every alarm, and so none.
    var vague = places.every(function (place, i) {
      return !weighed[i].found.size || isLight(place, lexicon.light);
    });
    if (vague && !whole) return empty;
    var sure =
      weighed.filter(function (one) {
        return one.found.size;
      }).length > 1 ||
      weighed.some(function (one, i) {
        return places[i].exact && one.found.size && one.weight > 0.2;
      });
    var guess = places.some(function (place, i) {
      return weighed[i].found.size && (place.word.length > 4 || place.terms[0].quality >= LIMIT.guess);
    });
    var other = weighed.some(function (one) {
      return one.elsewhere;
    });
    return judge(hits, { sure: sure, guess: guess, other: other, fallback: data.fallback });
  }

  /* Two readings of the same name are the same reading. */
  function nameOf(places) {
    return places
      .map(function (place) {
        var terms = place.terms.map(function (one) {
          return one.term;
        });
        return place.word + "=" + terms.join("+");
      })
      .join("|");
  }

  /* How like each alarm's likest phrase is to what was typed, from 0 to 1. */
  function likeness(phrases, weightOf, total, worth) {
    var result = new Map(),
      named = new Map();
    phrases.forEach(function (phrase) {
      var shared = 0,
        own = 0;
      phrase.terms.forEach(function (term) {
        var weight = weightOf.get(term);
        if (weight) {
          shared += weight;
          own += weight;
        } else own += OWN * worth.get(term);
      });
      if (!shared) return;
      // A word of two meanings stands twice in a phrase, and is typed once.
      var like = phrase.part * Math.min(1, (2 * shared) / (own + total));
      if (like > (result.get(phrase.id) || 0)) result.set(phrase.id, like);
      var covers = Math.min(1, shared / total);
      if (phrase.part === 1 && like > 0.5 && covers > (named.get(phrase.id) || 0)) named.set(phrase.id, covers);
    });
    return { any: result, named: named };
  }

  /* What to show: one alarm where that is certain, a list where it is not, nothing where nothing fits well. */
  function judge(hits, query) {
    var best = hits[0],
      next = hits[1];
    // The way for any alarm stands alone, unless another alarm fits nearly as well.
    if (best && best.id === query.fallback && !best.whole && !(next && next.score >= LIMIT.other))
      return { hits: NOTHING, sole: false, none: true };
    var least = query.other ? LIMIT.other : query.sure ? LIMIT.none : LIMIT.unsure;
    if (!best || best.score < least || !(query.guess || query.sure || best.whole))
      return { hits: NOTHING, sole: false, none: true };
    var ahead = !next || next.score < LIMIT.ahead * best.score;
    var certain =
      best.whole || (best.many && best.weight > 0.8 && ahead && best.named > LIMIT.named && !query.other);
    var sole = certain && best.all && !best.withdrawn && !(next && next.whole);
    var shown = hits
      .filter(function (hit, i) {
        return i < LIMIT.few || hit.score >= LIMIT.shown * best.score;
      })
      .slice(0, LIMIT.most);
    return { hits: sole ? [best] : shown, sole: sole, none: false };
  }

  window.alarmFinder = { open: open };
})();
