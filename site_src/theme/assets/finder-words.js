/* What the alarm finder makes of words: forms, slips of the finger, sounds, and words of one meaning.
   Gives window.finderWords; knows neither the alarms nor the page. */
(function () {
  "use strict";

  var ELSEWHERE = "~elsewhere";
  var FILLER = "~filler";
  var SLIP = 0.8; // how well a mistyped word must be understood to be part of a row

  /* One word as it is compared: small letters, no accents, American as British spelling. */
  function plain(word) {
    return word
      .replace(/ae/g, "e")
      .replace(/(.{2})oe/g, "$1e")
      .replace(/our(s?)$/, "or$1")
      .replace(/([^aeiou])re(s?)$/, "$1er$2")
      .replace(/([iy])s(e[ds]?|ing|ation)$/, "$1z$2")
      .replace(/ogue$/, "og");
  }

  function words(text) {
    if (/^[a-z ]+$/.test(text)) return text.split(" ").filter(Boolean); // most of what is known, and the quick way
    return text
      .toLowerCase()
      .normalize("NFKD")
      .replace(/[\u0300-\u036f'’`]/g, "")
      .split(/[^\p{L}\p{N}:]+/u)
      .map(function (word) {
        return word.replace(/^:+|:+$/g, "");
      })
      .filter(Boolean);
  }

  function undouble(stem) {
    return stem.replace(/([bdgkmnprt])\1$/, "$1");
  }

  var stems = new Map();

  /* A word without its ending: kinked, kinking, kinks and kink are one. */
  function stem(word) {
    if (!stems.has(word)) stems.set(word, cut(word));
    return stems.get(word);
  }

  function cut(word) {
    if (/\d/.test(word)) return word;
    var base = plain(word);
    if (base.length > 4 && /ie[sd]$/.test(base)) base = base.slice(0, -3) + "y";
    else if (base.length > 3 && /[^suio]s$/.test(base)) base = base.replace(/(sh|ch|ss|x)es$|s$/, "$1");
    if (base.length > 5 && /[aeiouy].*ing$/.test(base)) base = undouble(base.slice(0, -3));
    else if (base.length > 4 && /[aeiouy].*[^e]ed$/.test(base)) base = undouble(base.slice(0, -2));
    return base.length > 3 ? base.replace(/e$/, "") : base;
  }

  /* How a word sounds, roughly: a spoken word comes as one that sounds like it. */
  function sound(word) {
    var key = word
      .replace(/ph/g, "f")
      .replace(/t(?=u[rl])/g, "ch")
      .replace(/[tsc]i(on|a)/g, "x$1")
      .replace(/sh|ch/g, "x")
      .replace(/gh|wh/g, "w")
      .replace(/ck|q|c(?=[aoulrkt])|c$/g, "k")
      .replace(/c/g, "s")
      .replace(/th/g, "t")
      .replace(/z/g, "s")
      .replace(/kn/g, "n")
      .replace(/dg|j/g, "g")
      .replace(/v/g, "f");
    return (
      key.charAt(0).replace(/[aeiouy]/, "a") +
      key
        .slice(1)
        .replace(/[aeiouyhw]/g, "")
        .replace(/(.)\1+/g, "$1")
    );
  }

  /* Edits from one word to the other, two letters changing places counted as one; more than `most` is `most + 1`. */
  function distance(a, b, most) {
    if (Math.abs(a.length - b.length) > most) return most + 1;
    var before,
      last = [],
      now = [];
    for (var j = 0; j <= b.length; j++) now[j] = j;
    for (var i = 1; i <= a.length; i++) {
      before = last;
      last = now;
      now = [i];
      var least = i;
      for (j = 1; j <= b.length; j++) {
        var same = a[i - 1] === b[j - 1];
        now[j] = Math.min(last[j] + 1, now[j - 1] + 1, last[j - 1] + (same ? 0 : 1));
        if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1])
          now[j] = Math.min(now[j], before[j - 2] + 1);
        if (now[j] < least) least = now[j];
      }
      if (least > most) return most + 1;
    }
    return now[b.length];
  }

  function letters(word) {
    return word.split("").sort().join("");
  }

  function slips(length) {
    return length < 4 ? 0 : length < 6 ? 1 : length < 9 ? 2 : 3;
  }

  /* What is known of words: which meanings a word has, and which rows of words count as one. */
  function Lexicon(data) {
    var self = this;
    this.meanings = new Map();
    this.light = new Set(data.light);
    this.places = new Map();
    this.rows = new Map();
    this.known = []; // every word that a slip of the finger may have meant
    this.seen = new Set();
    var rows = [];
    function add(text, meaning) {
      var asWritten = text.charAt(0) === "=";
      var all = words(text);
      self.learn(text);
      if (all.length > 1) {
        rows.push([all.map(stem), meaning, asWritten || meaning === ELSEWHERE]);
        return;
      }
      var parts = [asWritten ? "=" + plain(all[0]) : stem(all[0])];
      var list = self.meanings.get(parts[0]) || [];
      if (list.indexOf(meaning) < 0) list.push(meaning);
      self.meanings.set(parts[0], list);
    }
    Object.keys(data.same).forEach(function (name) {
      data.same[name].forEach(function (text) {
        add(text, name);
      });
    });
    data.elsewhere.forEach(function (text) {
      add(text, ELSEWHERE);
    });
    data.fillers.forEach(function (text) {
      var key = stem(words(text)[0]);
      if (words(text).length > 1 || !self.meanings.has(key)) add(text, FILLER);
    });
    rows.forEach(function (row) {
      self.addRow(row[0], row[1], row[2]);
    });
  }

  Lexicon.prototype.learn = function (text) {
    var self = this;
    words(text).forEach(function (word) {
      var key = stem(word);
      if (self.seen.has(key)) return;
      self.seen.add(key);
      if (/\d/.test(word)) return; // a code is right or it is another code
      // Sounds wait until they are asked for.
      self.known.push({ word: plain(word), stem: key, sound: "", stemSound: "" });
    });
  };

  /* A row is kept as the meanings of its words, so that it is found in other words too. */
  Lexicon.prototype.addRow = function (parts, meaning, asItStands) {
    var self = this;
    var row = asItStands
      ? parts
      : parts.map(function (part) {
          return self.first(part);
        });
    var list = this.rows.get(row[0]) || [];
    list.push({ row: row, raw: parts, meaning: meaning, asItStands: asItStands });
    this.rows.set(row[0], list);
  };

  Lexicon.prototype.first = function (part) {
    var list = this.meanings.get(part);
    return list && list[0] !== FILLER && list[0] !== ELSEWHERE ? list[0] : part;
  };

  /* The words behind one that is not known: its ending not yet typed, a slip of the finger, or a sound. */
  Lexicon.prototype.completions = function (word) {
    var base = plain(word);
    return this.known
      .filter(function (entry) {
        return entry.word.indexOf(base) === 0 || entry.stem.indexOf(base) === 0;
      })
      .map(function (entry) {
        return { stem: entry.stem, quality: 0.9 };
      });
  };

  Lexicon.prototype.nearest = function (word) {
    var base = plain(word),
      key = stem(word),
      most = slips(base.length);
    var heard = sound(base),
      keyHeard = sound(key),
      found = [];
    this.known.forEach(function (entry) {
      if (!entry.sound) {
        entry.sound = sound(entry.word);
        entry.stemSound = sound(entry.stem);
      }
      var alike = heard.length > 1 && (heard === entry.sound || keyHeard === entry.stemSound);
      var allowed = most + (alike ? 1 : 0);
      if (!allowed || entry.word.length < 3) return;
      var edits = distance(base, entry.word, allowed),
        length = base.length;
      if (edits > 1 && (base !== key || entry.word !== entry.stem)) {
        var ofStems = distance(key, entry.stem, allowed);
        // A slip in a short stem is a larger part of it: "pinced" is rather "pinched" than "pink".
        if (ofStems < edits) {
          edits = ofStems;
          length = key.length;
        }
      }
      if (edits > allowed) return;
      var quality = 1 - edits / Math.max(length, 4) - (base[0] === entry.word[0] ? 0 : 0.12);
      if (alike) quality += 0.05;
      // Of a short word one edit makes another one, unless it sounds alike or has the same letters.
      if (base.length < 5 && (alike || letters(base) === letters(entry.word))) quality += 0.1;
      if (quality > 0.45) found.push({ stem: entry.stem, quality: Math.min(quality, 0.9) });
    });
    var best = Math.max.apply(
      null,
      found.map(function (one) {
        return one.quality;
      }),
    );
    return found
      .filter(function (one) {
        return one.quality > best - 0.12;
      })
      .sort(function (a, b) {
        return b.quality - a.quality;
      });
  };

  Lexicon.prototype.terms = function (key) {
    return this.meanings.get(key) || [key];
  };

  /* The text as a list of places; each has one or more meanings, and how well they were understood. `asSaid` puts only
     those words together that stand so in the list, and none that merely mean the same. */
  Lexicon.prototype.read = function (text, typing, asSaid) {
    var raw = words(text),
      places = [];
    for (var i = 0; i < raw.length; i++) {
      var last = typing && i === raw.length - 1 && !/\s$/.test(text);
      var place = this.place(raw[i], last);
      if (!place.exact && typing && i + 1 < raw.length) {
        var joined = this.join(raw[i], raw[i + 1]);
        if (joined) {
          place = joined;
          i++;
        }
      } else if (typing && i + 1 < raw.length && this.isWhole(raw[i] + raw[i + 1]) && !this.isWhole(raw[i + 1])) {
        place = this.place(raw[i] + raw[++i], false);
      }
      if (!place.exact && !place.terms.length) {
        var two = this.split(raw[i]);
        if (two) {
          places.push(two[0]);
          place = two[1];
        }
      }
      places.push(place);
    }
    return this.joinRows(this.joinRows(places, asSaid), asSaid); // a row may hold a row: "heart" + "stands still"
  };

  Lexicon.prototype.isWhole = function (word) {
    return this.seen.has(stem(word));
  };

  /* What one word may mean. Each key reads all words again, so what was found is kept. */
  Lexicon.prototype.place = function (word, unfinished) {
    var name = word + (unfinished ? "…" : "");
    if (this.places.size > 2000) this.places.clear();
    if (!this.places.has(name)) this.places.set(name, this.understand(word, unfinished));
    return this.places.get(name);
  };

  Lexicon.prototype.understand = function (word, unfinished) {
    var key = stem(word),
      self = this;
    function all(found, exact) {
      var terms = [];
      found.forEach(function (one) {
        self.terms(one.stem).forEach(function (term) {
          terms.push({ term: term, quality: one.quality });
        });
      });
      return {
        word: word,
        key: key,
        terms: terms,
        exact: exact,
        nearest: found.length ? found[0].stem : "",
        topic: self.meanings.has(found.length ? found[0].stem : ""),
      };
    }
    var form = "=" + plain(word);
    if (this.meanings.has(key) || this.meanings.has(form) || this.seen.has(key)) {
      return all([{ stem: this.meanings.has(form) ? form : key, quality: 1 }], true);
    }
    var root = this.root(word);
    if (root) return all([{ stem: root, quality: 1 }], true);
    if (/\d/.test(word))
      return { word: word, key: key, terms: [], exact: false, code: !/^[\d:.,]+$/.test(word), number: true };
    if (unfinished && word.length > 1) {
      var ends = this.completions(word);
      if (ends.length) return all(ends, false);
    }
    return all(this.nearest(word), false);
  };

  /* The stems of the text as it was meant to be spelt: of a word that is not known, the nearest one that is. */
  Lexicon.prototype.spelt = function (text) {
    var self = this;
    return new Set(
      words(text).map(function (word) {
        return self.isWhole(word) ? stem(word) : self.place(word, false).nearest || stem(word);
      }),
    );
  };

  /* The known word inside a longer one: "weaker", "coldness", "brownish", "slowly". */
  Lexicon.prototype.root = function (word) {
    var parts = /^(.{3,}?)(er|est|ness|ish|ly|y)$/.exec(word);
    if (!parts) return "";
    var self = this;
    var bases = [parts[1], undouble(parts[1]), parts[1] + "e", parts[1].replace(/i$/, "y")];
    return (
      bases.map(stem).filter(function (key) {
        return self.meanings.has(key) || self.seen.has(key);
      })[0] || ""
    );
  };

  /* Two words that are one: "dis connected", "helly um". */
  Lexicon.prototype.join = function (one, two) {
    if (/\d/.test(one + two) || one.length + two.length < 6) return null;
    if (this.isWhole(one + two)) return this.place(one + two, false);
    if (this.isWhole(two)) return null;
    var place = this.place(one + two, false);
    return place.terms.length && place.terms[0].quality > 0.7 ? place : null;
  };

  /* One word that is two: "gasline". */
  Lexicon.prototype.split = function (word) {
    for (var at = 2; at <= word.length - 2; at++) {
      var head = word.slice(0, at),
        tail = word.slice(at);
      if (this.meanings.has(stem(head)) && this.meanings.has(stem(tail)) && word.length > 5) {
        return [this.place(head, false), this.place(tail, false)];
      }
    }
    return null;
  };

  function isFiller(place) {
    return place.terms.length > 0 && place.terms[0].term === FILLER;
  }

  /* Put rows of words together, the longest first; small words between them do not part them. */
  Lexicon.prototype.joinRows = function (places, asSaid) {
    var result = [];
    for (var i = 0; i < places.length; i++) {
      var row = this.rowAt(places, i, asSaid);
      if (row) {
        var part = places.slice(i, row.end);
        result.push({
          terms: [
            {
              term: row.meaning,
              quality: Math.min.apply(
                null,
                part.map(function (one) {
                  return one.terms.length ? one.terms[0].quality : 1;
                }),
              ),
            },
          ],
          topic: true,
          exact: part.every(function (one) {
            return one.exact;
          }),
          word: part
            .map(function (one) {
              return one.word;
            })
            .join(" "),
        });
        i = row.end - 1;
      } else result.push(places[i]);
    }
    return result;
  };

  Lexicon.prototype.rowAt = function (places, start, asSaid) {
    var self = this,
      starts = [];
    places[start].terms.forEach(function (one) {
      starts.push(one.term);
    });
    starts.push(places[start].key);
    var best = null;
    starts.forEach(function (name) {
      (self.rows.get(name) || []).forEach(function (entry) {
        var end = fits(entry, places, start, asSaid);
        if (end && (!best || entry.row.length > best.length))
          best = { meaning: entry.meaning, end: end, length: entry.row.length };
      });
    });
    return best;
  };

  function fits(entry, places, start, asSaid) {
    var at = start;
    for (var i = 0; i < entry.row.length; i++) {
      var skipped = 0;
      while (at < places.length && !isPart(entry, i, places[at], asSaid)) {
        if (i === 0 || entry.asItStands || !isFiller(places[at]) || ++skipped > 2) return 0;
        at++;
      }
      if (at++ >= places.length) return 0;
    }
    return at;
  }

  function isPart(entry, i, place, asSaid) {
    if (place.key === entry.raw[i]) return true;
    if (asSaid && place.exact && place.key) return false;
    // What stands as it stands may still be mistyped, but not said in other words.
    if (entry.asItStands && place.exact) return false;
    // A slip of the finger is no part of a row by a word that is only a little like it.
    var least = entry.asItStands ? SLIP : place.exact ? 0 : SLIP;
    return place.terms.some(function (one) {
      return one.term === entry.row[i] && one.quality > least;
    });
  }

  window.finderWords = {
    ELSEWHERE: ELSEWHERE,
    FILLER: FILLER,
    Lexicon: Lexicon,
    isFiller: isFiller,
    words: words,
    stem: stem,
    sound: sound,
    distance: distance,
  };
})();
