// What a learner has read, answered and practised: kept in this browser alone, saved to a file when asked, read back.
// Nothing here sends anything anywhere. A record holds no name: its label is what the learner types.
(() => {
  "use strict";
  const { el, has } = window.alarmtrees;
  const PLACE = "learning";
  const ASIDE = "learning-damaged";
  const PLAN_MARK = "learning-plan";
  const KIND = "learning-record";
  const VERSION = 2;
  const PARTS = ["read", "checks", "cases"];
  const MOST_SIGNS = 4000000;
  const MOST_ENTRIES = 5000;
  const LABEL = 60;
  const TOO_LARGE = "The file has more than 4 million signs; a learning record is far smaller. Choose another file.";

  const ID = "[a-z0-9]+(?:[-_][a-z0-9]+)*";
  const KEYS = {
    read: new RegExp(`^${ID}$`),
    checks: new RegExp(`^${ID}(?:/${ID})+$`),
    cases: new RegExp(`^${ID}/${ID}$`),
  };
  const WORD = new RegExp(`^${ID}$`);
  const CASE = new RegExp(`^${ID}(?:\\+${ID})?$`);
  const STAMP = /^[0-9a-f]{0,64}$/;
  const DATE = /^\d{4}-\d\d-\d\dT\d\d:\d\d(?::\d\d(?:\.\d{1,6})?)?Z$/;

  const isMap = (value) => typeof value === "object" && value !== null && !Array.isArray(value);

  // Readers of one value each: they give it back, or throw what belongs there.

  const text = (shape, wanted) => (value) => {
    if (typeof value !== "string" || value.length > 200 || !shape.test(value)) throw wanted;
    return value;
  };

  const number = (least, most, whole) => (value) => {
    if (typeof value !== "number" || !isFinite(value) || value < least || value > most || (whole && value % 1)) {
      throw `${whole ? "a whole number" : "a number"} from ${least} to ${most}`;
    }
    return value;
  };

  const date = (value) => {
    if (typeof value !== "string" || !DATE.test(value) || isNaN(Date.parse(value))) throw "a date such as 2026-09-14T08:00:00Z";
    return value;
  };

  const yes = (value) => {
    if (typeof value !== "boolean") throw "true or false";
    return value;
  };

  const or = (reader, other) => (value, where) =>
    (value === undefined || value === null || value === "" ? other : reader(value, where));

  /** Keys that are not named here are left behind. */
  const parts = (readers) => (value, where) => {
    if (!isMap(value)) throw "a mapping of keys and values";
    const read = ([key, reader]) => [key, at(reader, has(value, key) ? value[key] : undefined, `${where} › ${key}`)];
    return Object.fromEntries(Object.entries(readers).map(read));
  };

  const count = number(0, 1000000, true);
  const seconds = number(0, 100000000);
  const days = number(0, 1000000);
  const word = text(WORD, "a word in small letters");

  /** How often each safety rule was broken in the cases of one cause. */
  const tally = (value, where) => {
    if (!isMap(value) || Object.keys(value).length > 100) throw "a mapping of at most 100 safety rules";
    const out = Object.create(null);
    Object.keys(value).forEach((key) => { out[at(word, key, where)] = at(count, value[key], `${where} › ${key}`); });
    return out;
  };

  const LAST = { case: text(CASE, "the id of a case"), verdict: word, seconds, rested: seconds, rule: or(word, null), on: date };
  const PLAYED = { plays: count, unsafe: or(count, 0), rules: or(tally, null) };
  const WENT = text(/^(?:good|fair|bad)$/, "good, fair or bad");

  const ENTRY = {
    read: parts({ on: date, stamp: text(STAMP, "a stamp in hexadecimal digits") }),
    checks: parts({ right: count, wrong: count, on: date, ok: yes }),
    cases: parts({ ...PLAYED, gap: or(days, 0), again_on: or(date, ""), last: or(parts({ ...LAST, went: WENT }), null) }),
  };

  /** The days of each stage of a plan. */
  const daysOf = (value, where) => {
    if (!isMap(value) || Object.keys(value).length > 100) throw "a mapping of at most 100 stages";
    const out = Object.create(null);
    Object.keys(value).forEach((key) => {
      out[at(word, key, where)] = at(number(1, 99, true), value[key], `${where} › ${key}`);
    });
    return out;
  };

  const dayOnly = (value) => {
    const told = typeof value === "string" && /^\d{4}-\d\d-\d\d$/.test(value) ? new Date(`${value}T00:00:00Z`) : null;
    if (!told || isNaN(told) || told.toISOString().slice(0, 10) !== value) throw "a day such as 2026-09-14";
    return value;
  };

  const PLAN = parts({ start: dayOnly, days: or(daysOf, null) });

  /** Files and browsers from before hold cases by another rule; the day that was told for the next play stays. */
  const CASE_OF_1 = parts({
    ...PLAYED, interval: or(days, 0), due: or(date, ""), last: or(parts({ ...LAST, grade: number(0, 5, true) }), null),
  });

  const fromOf1 = (value, where) => {
    const { interval, due, last, ...same } = CASE_OF_1(value, where);
    if (!last) return { ...same, gap: interval, again_on: due, last };
    const { grade, ...told } = last;
    return { ...same, gap: interval, again_on: due, last: { ...told, went: grade > 3 ? "good" : grade === 3 ? "fair" : "bad" } };
  };

  const READERS = { 1: { ...ENTRY, cases: fromOf1 }, 2: ENTRY };

  const at = (reader, value, where) => {
    try {
      return reader(value, where);
    } catch (wanted) {
      if (wanted instanceof Error) throw wanted;
      throw new Error(`${where} is ${shown(value)}; ${wanted} belongs there.`);
    }
  };

  const shown = (value) => {
    if (value === undefined) return "missing";
    const words = Array.isArray(value) ? "a list" : isMap(value) ? "a mapping" : JSON.stringify(value);
    return words.length > 40 ? `${words.slice(0, 39)}…` : words;
  };

  /** No prototype: a key such as `constructor` is there only if somebody put it there. */
  const empty = () => {
    const data = Object.create(null);
    data.version = VERSION;
    PARTS.forEach((part) => { data[part] = Object.create(null); });
    return data;
  };

  /** A record as an object of known shape. `lenient`: what does not fit is left out, and never thrown. */
  const shaped = (told, lenient) => {
    const data = empty();
    const readers = READERS[told.version];
    PARTS.forEach((part) => {
      const given = told[part];
      if (given === undefined) return;
      if (!isMap(given)) {
        if (lenient) return;
        throw new Error(`${part} is ${shown(given)}; a mapping of ids belongs there.`);
      }
      let keys = Object.keys(given);
      if (keys.length > MOST_ENTRIES) {
        if (!lenient) throw new Error(`${part} has ${keys.length} entries; at most ${MOST_ENTRIES} are read.`);
        // What is added now must not be what is cut off.
        keys.sort((one, other) => when(given[other]) - when(given[one]));
        keys = keys.slice(0, MOST_ENTRIES);
      }
      keys.forEach((key) => {
        try {
          if (key.length > 200 || !KEYS[part].test(key)) {
            throw new Error(`${part} has an entry ${shown(key)}; an id in small letters and digits belongs there.`);
          }
          data[part][key] = at(readers[part], given[key], `${part} › ${key}`);
        } catch (fault) {
          if (!lenient) throw fault;
        }
      });
    });
    const label = cleaned(told.label);
    if (label) data.label = label;
    try {
      const plan = at(or(PLAN, null), told.plan, "plan");
      if (plan) data.plan = plan;
    } catch (fault) {
      if (!lenient) throw fault;
    }
    return data;
  };

  /** In memory, where the browser keeps nothing. */
  let here = null;

  const store = () => {
    try {
      return window.localStorage || null;
    } catch {
      return null;
    }
  };

  const load = () => {
    if (here) return here;
    let kept = null;
    try {
      kept = store() && store().getItem(PLACE);
      if (!kept) return empty();
      const told = JSON.parse(kept);
      if (!isMap(told) || !has(READERS, told.version)) throw new Error("another version");
      return shaped(told, true);
    } catch {
      // What cannot be read is put aside once, never overwritten unseen.
      try { if (kept) store().setItem(ASIDE, kept); } catch { /* full, or refused: it stays where it is */ }
      return empty();
    }
  };

  const keep = (data) => {
    here = null;
    try {
      store().setItem(PLACE, JSON.stringify(data));
    } catch {
      here = data;
    }
    Progress.kept = !here;
    return data;
  };

  const change = (fn) => {
    const data = shaped(load(), true);
    const before = shaped(data, true).cases;
    fn(data);
    counted(before, data.cases);
    return keep(data);
  };

  /** Whoever plays a case says only what broke a rule last: how often each was broken is counted here. */
  const counted = (before, after) => {
    Object.keys(after).forEach((key) => {
      const was = before[key] || { unsafe: 0, rules: null };
      const is = after[key];
      let rules = is.rules || was.rules;
      if (is.unsafe > (was.unsafe || 0) && is.last && is.last.rule) {
        rules = Object.assign(Object.create(null), rules);
        rules[is.last.rule] = (rules[is.last.rule] || 0) + 1;
      }
      is.rules = rules || null;
    });
  };

  const erase = () => {
    here = null;
    try {
      store().removeItem(PLACE);
      store().removeItem(ASIDE);
      store().removeItem(PLAN_MARK);
    } catch { /* nothing was kept */ }
  };

  const now = () => new Date().toISOString();

  const cleaned = (label) => {
    return (typeof label === "string" ? label : "").replace(/[\u0000-\u001f\u007f-\u009f\u200b-\u200f\u2028-\u202e\u2066-\u2069\ufeff]/g, "").trim().slice(0, LABEL);
  };

  // Words of a ward, that begin with a capital letter as a name does.
  const AT_WORK = new Set([
    "bed bay room ward unit floor house team group shift day night late early morning evening week month year new",
    "nurse nurses doctor learner learners student colleague newcomer trainee starter novice person code number record",
    "file test demo icu ccu hdu itu monday tuesday wednesday thursday friday saturday sunday january february march",
    "april may june july august september october november december spring summer autumn winter north south east west",
    "left right upper lower red blue green yellow white black grey brown first second third fourth fifth sixth one",
    "two three four five six seven eight nine ten the a an of at in on and for no",
  ].join(" ").split(" "));
  const TITLES = /^(?:mr|mrs|ms|miss|mx|dr|prof|sr)\.?$/i;

  /**
   * Whether a label looks like a person's name: a title, an address of e-mail, two words of letters that are none of a
   * ward's, or one such word with a capital letter. It is a guess, and only a warning follows from it.
   */
  const looksLikeName = (label) => {
    const words = cleaned(label).split(/[\s,;_]+/).filter(Boolean);
    if (/\S@\S+\.\S/.test(label) || words.some((one) => TITLES.test(one))) return true;
    const isWord = (one) => /^\p{L}[\p{L}\p{M}'’.-]*$/u.test(one) && one.replace(/\P{L}/gu, "").length > 2;
    const isOther = (one) => isWord(one) && !AT_WORK.has(one.toLowerCase());
    const others = words.filter(isOther);
    const hasCapital = others.some((one) => /^\p{Lu}.*\p{Ll}/u.test(one));
    return hasCapital || (others.length > 1 && others.length === words.length);
  };

  const NAMED = "This looks like a person’s name. Put a few words of your own instead, such as “bed 4 night”.";

  const build = () => {
    const mark = document.querySelector('meta[name="build"]');
    return mark ? mark.content.slice(0, 80) : "";
  };

  const file = (label) => {
    const { read, checks, cases, label: known, plan } = shaped(load(), true);
    const whose = cleaned(label) || known || "";
    const saved = now();
    const name = whose.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-+|-+$/g, "").slice(0, 30);
    const told = { kind: KIND, version: VERSION, label: whose, saved, build: build(), plan, read, checks, cases };
    return { name: `learning-${name ? `${name}-` : ""}${saved.slice(0, 10)}.json`, text: `${JSON.stringify(told, null, 1)}\n` };
  };

  const download = (name, words, type) => {
    const address = URL.createObjectURL(new Blob([words], { type }));
    const link = el("a", { href: address, download: name, hidden: "" });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(address), 10000);
  };

  const save = (label) => {
    const made = file(label);
    download(made.name, made.text, "application/json");
    return made.name;
  };

  /** The record in a file, with `label` and `saved` beside the three parts. */
  const read = (words) => {
    if (typeof words !== "string" || !words.trim()) throw new Error("The file is empty; choose one that was saved by the page Learn.");
    if (words.length > MOST_SIGNS) throw new Error(TOO_LARGE);
    let told;
    try {
      told = JSON.parse(words.charAt(0) === "\ufeff" ? words.slice(1) : words);
    } catch {
      throw new Error("The file is not JSON, or it is cut short; save it again from the page Learn.");
    }
    if (!isMap(told) || told.kind !== KIND) throw new Error("The file is no learning record; choose one that was saved by the page Learn.");
    if (typeof told.version !== "number" || !has(READERS, told.version)) {
      throw new Error(`version is ${shown(told.version)}; this page reads version 1 and 2. Save the file again with the same pages as these.`);
    }
    const data = shaped(told, false);
    data.label = data.label || "";
    data.saved = at(or(date, ""), told.saved, "saved");
    return data;
  };

  /** The record in a chosen file; what is too large is not even opened. */
  const open = async (chosen) => {
    if (chosen.size > MOST_SIGNS) throw new Error(TOO_LARGE);
    let words;
    try {
      words = await chosen.text();
    } catch {
      throw new Error("The file cannot be opened; copy it to this computer, and choose it again.");
    }
    return read(words);
  };

  const DAY = 86400000;

  /** When an entry was made, or null. */
  const madeAt = (entry) => Date.parse(entry?.on || entry?.last?.on || "") || null;

  /** More than a day ahead no two devices' clocks are: such a day would be later than all that is still done. */
  const isToCome = (entry) => madeAt(entry) > Date.now() + DAY;
  const when = (entry) => (isToCome(entry) ? 0 : madeAt(entry) || 0);

  const COUNTS = ["right", "wrong", "plays", "unsafe"];

  /** The greater of each rule's counts; null where neither counts any. */
  const mostRules = (one, other) => {
    if (!one || !other) return one || other || null;
    const most = Object.assign(Object.create(null), one);
    Object.entries(other).forEach(([rule, times]) => { most[rule] = Math.max(most[rule] || 0, times); });
    return most;
  };

  /** Of two accounts of one entry the later; of what is counted nothing is lost, and nothing is counted twice. */
  const later = (one, other) => {
    const [last, before] = when(other) > when(one) ? [other, one] : [one, other];
    if (isToCome(before) || isToCome(last)) return last;
    const most = COUNTS.filter((key) => has(last, key)).map((key) => [key, Math.max(last[key], before[key] || 0)]);
    const rules = has(last, "rules") ? { rules: mostRules(last.rules, before.rules) } : {};
    return { ...last, ...Object.fromEntries(most), ...rules };
  };

  /** Two records as one: of each entry the later, and label and plan of the first that has one. */
  const merged = (one, other) => {
    const data = shaped(one, true);
    const label = data.label || cleaned(other.label);
    if (label) data.label = label;
    if (!data.plan && other.plan) data.plan = other.plan;
    PARTS.forEach((part) => {
      Object.entries(other[part]).forEach(([key, entry]) => {
        data[part][key] = data[part][key] ? later(data[part][key], entry) : entry;
      });
    });
    return data;
  };

  /**
   * Takes in what a file holds. What this site does not have is left out, and what is said to have been done on a day
   * that has yet to come.
   * @param {object} data what `read` gave
   * @param {Record<string, Set<string>>} known ids that this site has, by part; of a part not named all are taken
   * @returns {number} how many entries were left out
   */
  const take = (data, known = {}) => {
    const own = shaped(data, true);
    let left = 0;
    PARTS.forEach((part) => {
      Object.keys(own[part]).forEach((key) => {
        if (!isToCome(own[part][key]) && (!known[part] || known[part].has(key))) return;
        delete own[part][key];
        left += 1;
      });
    });
    keep(merged(load(), own));
    return left;
  };

  const Progress = {
    kept: Boolean(store()), load, change, erase, file, save, read, open, merged, take, download, now,
    looksLikeName, NAMED, PLAN_MARK,
  };
  Object.assign(window.alarmtrees, { Progress });
})();
