// What the alarm finder makes of words: forms, slips of the finger, sounds, and words of one meaning.
// Gives alarmtrees.finderWords; knows neither the alarms nor the page.
(() => {
  "use strict";

  const ELSEWHERE = "~elsewhere";
  const FILLER = "~filler";
  const SLIP = 0.8; // how well a mistyped word must be understood to be part of a row

  /** One word as it is compared: small letters, no accents, American as British spelling. */
  const plain = (word) =>
    word
      .replace(/ae/g, "e")
      .replace(/(.{2})oe/g, "$1e")
      .replace(/our(s?)$/, "or$1")
      .replace(/([^aeiou])re(s?)$/, "$1er$2")
      .replace(/([iy])s(e[ds]?|ing|ation)$/, "$1z$2")
      .replace(/ogue$/, "og");

  function words(text) {
    if (/^[a-z ]+$/.test(text)) return text.split(" ").filter(Boolean); // most of what is known, and the quick way
    return text
      .toLowerCase()
      .normalize("NFKD")
      .replace(/[\u0300-\u036f'’`]/g, "")
      .split(/[^\p{L}\p{N}:]+/u)
      .map((word) => word.replace(/^:+|:+$/g, ""))
      .filter(Boolean);
  }

  const undouble = (stem) => stem.replace(/([bdgkmnprt])\1$/, "$1");

  function cut(word) {
    if (/\d/.test(word)) return word;
    let base = plain(word);
    if (base.length > 4 && /ie[sd]$/.test(base)) base = `${base.slice(0, -3)}y`;
    else if (base.length > 3 && /[^suio]s$/.test(base)) base = base.replace(/(sh|ch|ss|x)es$|s$/, "$1");
    if (base.length > 5 && /[aeiouy].*ing$/.test(base)) base = undouble(base.slice(0, -3));
    else if (base.length > 4 && /[aeiouy].*[^e]ed$/.test(base)) base = undouble(base.slice(0, -2));
    return base.length > 3 ? base.replace(/e$/, "") : base;
  }

  const stems = new Map();

  /** A word without its ending: kinked, kinking, kinks and kink are one. */
  function stem(word) {
    if (!stems.has(word)) stems.set(word, cut(word));
    return stems.get(word);
  }

  /** How a word sounds, roughly: a spoken word comes as one that sounds like it. */
  function sound(word) {
    const key = word
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
    const rest = key.slice(1).replace(/[aeiouyhw]/g, "").replace(/(.)\1+/g, "$1");
    return key.charAt(0).replace(/[aeiouy]/, "a") + rest;
  }

  /** Edits from one word to the other, two letters changing places counted as one; more than `most` is `most + 1`. */
  function distance(a, b, most) {
    if (Math.abs(a.length - b.length) > most) return most + 1;
    let before = [];
    let last = [];
    let now = [];
    for (let j = 0; j <= b.length; j++) now[j] = j;
    for (let i = 1; i <= a.length; i++) {
      before = last;
      last = now;
      now = [i];
      let least = i;
      for (let j = 1; j <= b.length; j++) {
        const same = a[i - 1] === b[j - 1];
        now[j] = Math.min(last[j] + 1, now[j - 1] + 1, last[j - 1] + (same ? 0 : 1));
        const crossed = i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1];
        if (crossed) now[j] = Math.min(now[j], before[j - 2] + 1);
        if (now[j] < least) least = now[j];
      }
      if (least > most) return most + 1;
    }
    return now[b.length];
  }

  const letters = (word) => word.split("").sort().join("");

  const slips = (length) => (length < 4 ? 0 : length < 6 ? 1 : length < 9 ? 2 : 3);

  const isFiller = (place) => place.terms.length > 0 && place.terms[0].term === FILLER;

  /** Whether a place is the part `i` of a row of words. */
  function isPart(entry, i, place, asSaid) {
    if (place.key === entry.raw[i]) return true;
    if (asSaid && place.exact && place.key) return false;
    // What stands as it stands may still be mistyped, but not said in other words.
    if (entry.asItStands && place.exact) return false;
    // A slip of the finger is no part of a row by a word that is only a little like it.
    const least = entry.asItStands || !place.exact ? SLIP : 0;
    return place.terms.some((one) => one.term === entry.row[i] && one.quality > least);
  }

  /** Where a row that begins at `start` ends; 0 if it does not stand there. */
  function fits(entry, places, start, asSaid) {
    let at = start;
    for (let i = 0; i < entry.row.length; i++) {
      let skipped = 0;
      while (at < places.length && !isPart(entry, i, places[at], asSaid)) {
        if (i === 0 || entry.asItStands || !isFiller(places[at]) || ++skipped > 2) return 0;
        at++;
      }
      if (at++ >= places.length) return 0;
    }
    return at;
  }

  /** The places of a row as one. */
  function asOne(part, meaning) {
    const qualities = part.map((one) => (one.terms.length ? one.terms[0].quality : 1));
    return {
      terms: [{ term: meaning, quality: Math.min(...qualities) }],
      topic: true,
      exact: part.every((one) => one.exact),
      word: part.map((one) => one.word).join(" "),
    };
  }

  /** The edits from what was typed to a known word, and the length that they are a part of. */
  function editsTo({ base, key }, entry, allowed) {
    const edits = distance(base, entry.word, allowed);
    if (edits > 1 && (base !== key || entry.word !== entry.stem)) {
      const ofStems = distance(key, entry.stem, allowed);
      // A slip in a short stem is a larger part of it: "pinced" is rather "pinched" than "pink".
      if (ofStems < edits) return [ofStems, key.length];
    }
    return [edits, base.length];
  }

  function soundsLike({ heard, keyHeard }, entry) {
    if (!entry.sound) {
      entry.sound = sound(entry.word);
      entry.stemSound = sound(entry.stem);
    }
    return heard.length > 1 && (heard === entry.sound || keyHeard === entry.stemSound);
  }

  /** How well a word that was typed may stand for a known one; 0 if it may not. */
  function closeness(typed, entry) {
    const { base } = typed;
    const alike = soundsLike(typed, entry);
    const allowed = slips(base.length) + (alike ? 1 : 0);
    if (!allowed || entry.word.length < 3) return 0;
    const [edits, length] = editsTo(typed, entry, allowed);
    if (edits > allowed) return 0;
    const quality = 1 - edits / Math.max(length, 4) - (base[0] === entry.word[0] ? 0 : 0.12) + (alike ? 0.05 : 0);
    // Of a short word one edit makes another one, unless it sounds alike or has the same letters.
    return base.length < 5 && (alike || letters(base) === letters(entry.word)) ? quality + 0.1 : quality;
  }

  /** What is known of words: which meanings a word has, and which rows of words count as one. */
  class Lexicon {
    constructor(data) {
      this.meanings = new Map();
      this.light = new Set(data.light);
      this.places = new Map();
      this.rows = new Map();
      this.known = []; // every word that a slip of the finger may have meant
      this.seen = new Set();
      const rows = [];
      const add = (text, meaning) => {
        const asWritten = text.charAt(0) === "=";
        const parts = words(text);
        this.learn(text);
        if (parts.length > 1) {
          rows.push([parts.map(stem), meaning, asWritten || meaning === ELSEWHERE]);
          return;
        }
        const key = asWritten ? `=${plain(parts[0])}` : stem(parts[0]);
        const list = this.meanings.get(key) || [];
        if (!list.includes(meaning)) list.push(meaning);
        this.meanings.set(key, list);
      };
      Object.entries(data.same).forEach(([name, texts]) => texts.forEach((text) => add(text, name)));
      data.elsewhere.forEach((text) => add(text, ELSEWHERE));
      data.fillers.forEach((text) => {
        const parts = words(text);
        if (parts.length > 1 || !this.meanings.has(stem(parts[0]))) add(text, FILLER);
      });
      rows.forEach((row) => this.addRow(...row));
    }

    learn(text) {
      words(text).forEach((word) => {
        const key = stem(word);
        if (this.seen.has(key)) return;
        this.seen.add(key);
        if (/\d/.test(word)) return; // a code is right or it is another code
        // Sounds wait until they are asked for.
        this.known.push({ word: plain(word), stem: key, sound: "", stemSound: "" });
      });
    }

    /** A row is kept as the meanings of its words, so that it is found in other words too. */
    addRow(parts, meaning, asItStands) {
      const row = asItStands ? parts : parts.map((part) => this.first(part));
      const list = this.rows.get(row[0]) || [];
      list.push({ row, raw: parts, meaning, asItStands });
      this.rows.set(row[0], list);
    }

    first(part) {
      const list = this.meanings.get(part);
      return list && list[0] !== FILLER && list[0] !== ELSEWHERE ? list[0] : part;
    }

    /** The words behind one whose ending is not yet typed. */
    completions(word) {
      const base = plain(word);
      return this.known
        .filter((entry) => entry.word.startsWith(base) || entry.stem.startsWith(base))
        .map((entry) => ({ stem: entry.stem, quality: 0.9 }));
    }

    /** The words behind one that is not known: a slip of the finger, or a sound. */
    nearest(word) {
      const base = plain(word);
      const key = stem(word);
      const typed = { base, key, heard: sound(base), keyHeard: sound(key) };
      const found = [];
      this.known.forEach((entry) => {
        const quality = closeness(typed, entry);
        if (quality > 0.45) found.push({ stem: entry.stem, quality: Math.min(quality, 0.9) });
      });
      const best = Math.max(...found.map((one) => one.quality));
      return found.filter((one) => one.quality > best - 0.12).sort((a, b) => b.quality - a.quality);
    }

    terms(key) {
      return this.meanings.get(key) || [key];
    }

    /** The text as a list of places; each has one or more meanings, and how well they were understood. `asSaid` puts
     * only those words together that stand so in the list, and none that merely mean the same. */
    read(text, typing, asSaid) {
      const raw = words(text);
      const places = [];
      for (let i = 0; i < raw.length; i++) {
        const pair = typing && i + 1 < raw.length ? [raw[i], raw[i + 1]] : null;
        let place = this.place(raw[i], typing && i === raw.length - 1 && !/\s$/.test(text));
        const joined = pair && this.together(place, ...pair);
        if (joined) {
          place = joined;
          i++;
        }
        const two = !place.exact && !place.terms.length ? this.split(raw[i]) : null;
        places.push(...(two || [place]));
      }
      return this.joinRows(this.joinRows(places, asSaid), asSaid); // a row may hold a row: "heart" + "stands still"
    }

    /** Two words as one place, where they are one; `place` is the first alone. */
    together(place, one, two) {
      if (!place.exact) return this.join(one, two);
      return this.isWhole(one + two) && !this.isWhole(two) ? this.place(one + two, false) : null;
    }

    isWhole(word) {
      return this.seen.has(stem(word));
    }

    /** What one word may mean. Each key reads all words again, so what was found is kept. */
    place(word, unfinished) {
      const name = word + (unfinished ? "…" : "");
      if (this.places.size > 2000) this.places.clear();
      if (!this.places.has(name)) this.places.set(name, this.understand(word, unfinished));
      return this.places.get(name);
    }

    understand(word, unfinished) {
      const key = stem(word);
      const place = (found, exact) => {
        const nearest = found.length ? found[0].stem : "";
        const terms = found.flatMap((one) => this.terms(one.stem).map((term) => ({ term, quality: one.quality })));
        return { word, key, terms, exact, nearest, topic: this.meanings.has(nearest) };
      };
      const form = `=${plain(word)}`;
      if (this.meanings.has(form)) return place([{ stem: form, quality: 1 }], true);
      if (this.meanings.has(key) || this.seen.has(key)) return place([{ stem: key, quality: 1 }], true);
      const root = this.root(word);
      if (root) return place([{ stem: root, quality: 1 }], true);
      if (/\d/.test(word)) return { word, key, terms: [], exact: false, code: !/^[\d:.,]+$/.test(word), number: true };
      const ends = unfinished && word.length > 1 ? this.completions(word) : [];
      return place(ends.length ? ends : this.nearest(word), false);
    }

    /** The stems of the text as it was meant to be spelt: of a word that is not known, the nearest one that is. */
    spelt(text) {
      const meant = (word) => (this.isWhole(word) ? stem(word) : this.place(word, false).nearest || stem(word));
      return new Set(words(text).map(meant));
    }

    /** The known word inside a longer one: "weaker", "coldness", "brownish", "slowly". */
    root(word) {
      const parts = /^(.{3,}?)(er|est|ness|ish|ly|y)$/.exec(word);
      if (!parts) return "";
      const bases = [parts[1], undouble(parts[1]), `${parts[1]}e`, parts[1].replace(/i$/, "y")];
      return bases.map(stem).find((key) => this.meanings.has(key) || this.seen.has(key)) || "";
    }

    /** Two words that are one: "dis connected", "helly um". */
    join(one, two) {
      if (/\d/.test(one + two) || one.length + two.length < 6) return null;
      if (this.isWhole(one + two)) return this.place(one + two, false);
      if (this.isWhole(two)) return null;
      const place = this.place(one + two, false);
      return place.terms.length && place.terms[0].quality > 0.7 ? place : null;
    }

    /** One word that is two: "gasline". */
    split(word) {
      if (word.length <= 5) return null;
      for (let at = 2; at <= word.length - 2; at++) {
        const parts = [word.slice(0, at), word.slice(at)];
        if (parts.every((part) => this.meanings.has(stem(part)))) return parts.map((part) => this.place(part, false));
      }
      return null;
    }

    /** Put rows of words together, the longest first; small words between them do not part them. */
    joinRows(places, asSaid) {
      const result = [];
      for (let i = 0; i < places.length; i++) {
        const row = this.rowAt(places, i, asSaid);
        result.push(row ? asOne(places.slice(i, row.end), row.meaning) : places[i]);
        if (row) i = row.end - 1;
      }
      return result;
    }

    rowAt(places, start, asSaid) {
      const names = [...places[start].terms.map((one) => one.term), places[start].key];
      let best = null;
      names.forEach((name) => {
        (this.rows.get(name) || []).forEach((entry) => {
          const end = fits(entry, places, start, asSaid);
          const length = entry.row.length;
          if (end && (!best || length > best.length)) best = { meaning: entry.meaning, end, length };
        });
      });
      return best;
    }
  }

  window.alarmtrees.finderWords = { ELSEWHERE, FILLER, Lexicon, isFiller, words, stem, sound, distance };
})();
