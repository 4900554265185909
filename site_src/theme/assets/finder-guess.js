// What the box has learned from phrases: how likely each page is meant by a text, whatever the words of the page are.
// Needs finder-words.js; gives alarmtrees.openGuess. The weights are made by site/guess.py, which says what they are.
(() => {
  "use strict";
  const { finderWords } = window.alarmtrees;

  const BUCKETS = 8192;
  const LEVELS = 7;

  /** The bucket of a piece: FNV-1a in 32 bits. */
  function hashed(piece) {
    let value = 0x811c9dc5;
    for (let at = 0; at < piece.length; at++) value = Math.imul(value ^ piece.charCodeAt(at), 0x01000193);
    return (value >>> 0) % BUCKETS;
  }

  /** The buckets of a text's pieces: its words, its pairs of words, and all rows of three letters. */
  function pieces(text) {
    const found = new Set();
    const words = finderWords.words(text);
    words.forEach((word, i) => {
      found.add(hashed(` ${word}`));
      if (i) found.add(hashed(`${words[i - 1]} ${word}`));
      const whole = `^${word}$`;
      for (let at = 0; at + 3 <= whole.length; at++) found.add(hashed(whole.slice(at, at + 3)));
    });
    return found;
  }

  /** One page's weights, from letters: a number says how many are 0, `A` to `G` are above 0, `a` to `g` below. */
  function unpack(line, scale, all, page, count) {
    let bucket = 0;
    let empty = 0;
    for (let at = 0; at < line.length; at++) {
      const code = line.charCodeAt(at);
      if (code < 58) {
        empty = empty * 10 + code - 48;
        continue;
      }
      bucket += empty;
      empty = 0;
      const step = code > 96 ? 96 - code : code - 64;
      all[bucket * count + page] = (Math.sign(step) * scale * step * step) / (LEVELS * LEVELS);
      bucket++;
    }
  }

  /** @returns {(text: string) => Map<string, number>} how much speaks for each page, on the scale of logarithms */
  window.alarmtrees.openGuess = ({ pages, scale, weights }) => {
    const count = pages.length;
    const all = new Float32Array(BUCKETS * count);
    weights.forEach((line, page) => unpack(line, scale, all, page, count));
    return (text) => {
      const found = pieces(text);
      const sums = new Float64Array(count);
      found.forEach((bucket) => {
        for (let page = 0; page < count; page++) sums[page] += all[bucket * count + page];
      });
      const length = Math.sqrt(found.size || 1);
      return new Map(pages.map((page, i) => [page, sums[i] / length]));
    };
  };
})();
