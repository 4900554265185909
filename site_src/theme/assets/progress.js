// What a learner has read, answered and practised: kept in this browser alone, saved to a file when asked, read back.
// Nothing here sends anything anywhere. A record holds no name: its label is what the learner types.
(function (root) {
  "use strict";
  var PLACE = "learning";
  var ASIDE = "learning-damaged";
  var KIND = "learning-record";
  var VERSION = 1;
  var MOST_SIGNS = 4000000;
  var MOST_ENTRIES = 5000;
  var LABEL = 60;
  var TOO_LARGE = "The file has more than 4 million signs; a learning record is far smaller. Choose another file.";

  var ID = "[a-z0-9]+(?:[-_][a-z0-9]+)*";
  var KEYS = {
    read: new RegExp("^" + ID + "$"),
    checks: new RegExp("^" + ID + "(?:/" + ID + ")+$"),
    cases: new RegExp("^" + ID + "/" + ID + "$")
  };
  var WORD = new RegExp("^" + ID + "$");
  var CASE = new RegExp("^" + ID + "(?:\\+" + ID + ")?$");
  var STAMP = /^[0-9a-f]{0,64}$/;
  var DATE = /^\d{4}-\d\d-\d\dT\d\d:\d\d(?::\d\d(?:\.\d{1,6})?)?Z$/;

  // Readers of one value each: they give it back, or throw what belongs there.

  function text(shape, wanted) {
    return function (value) {
      if (typeof value !== "string" || value.length > 200 || !shape.test(value)) throw wanted;
      return value;
    };
  }

  function number(least, most, whole) {
    return function (value) {
      if (typeof value !== "number" || !isFinite(value) || value < least || value > most || (whole && value % 1)) {
        throw (whole ? "a whole number" : "a number") + " from " + least + " to " + most;
      }
      return value;
    };
  }

  function date(value) {
    if (typeof value !== "string" || !DATE.test(value) || isNaN(Date.parse(value))) {
      throw "a date such as 2026-09-14T08:00:00Z";
    }
    return value;
  }

  function yes(value) {
    if (typeof value !== "boolean") throw "true or false";
    return value;
  }

  function or(reader, other) {
    return function (value, where) {
      return value === undefined || value === null || value === "" ? other : reader(value, where);
    };
  }

  // Keys that are not named here are left behind.
  function parts(readers) {
    return function (value, where) {
      if (!isMap(value)) throw "a mapping of keys and values";
      var out = {};
      Object.keys(readers).forEach(function (key) {
        out[key] = at(readers[key], Object.prototype.hasOwnProperty.call(value, key) ? value[key] : undefined, where + " › " + key);
      });
      return out;
    };
  }

  var count = number(0, 1000000, true);
  var seconds = number(0, 100000000);
  var word = text(WORD, "a word in small letters");
  var LAST = parts({
    case: text(CASE, "the id of a case"), verdict: word, grade: number(0, 5, true), seconds: seconds, rested: seconds,
    rule: or(word, null), on: date
  });

  // How often each safety rule was broken in the cases of one cause.
  function tally(value, where) {
    if (!isMap(value) || Object.keys(value).length > 100) throw "a mapping of at most 100 safety rules";
    var out = Object.create(null);
    Object.keys(value).forEach(function (key) { out[at(word, key, where)] = at(count, value[key], where + " › " + key); });
    return out;
  }

  var ENTRY = {
    read: parts({ on: date, stamp: text(STAMP, "a stamp in hexadecimal digits") }),
    checks: parts({ right: count, wrong: count, on: date, ok: yes }),
    cases: parts({
      plays: count, ef: or(number(1, 1000), 2.5), interval: or(number(0, 1000000), 0), reps: or(count, 0),
      due: or(date, ""), last: or(LAST, null), unsafe: or(count, 0), rules: or(tally, null)
    })
  };

  function isMap(value) { return typeof value === "object" && value !== null && !Array.isArray(value); }

  function at(reader, value, where) {
    try {
      return reader(value, where);
    } catch (wanted) {
      if (wanted instanceof Error) throw wanted;
      throw new Error(where + " is " + shown(value) + "; " + wanted + " belongs there.");
    }
  }

  function shown(value) {
    if (value === undefined) return "missing";
    var words = Array.isArray(value) ? "a list" : isMap(value) ? "a mapping" : JSON.stringify(value);
    return words.length > 40 ? words.slice(0, 39) + "…" : words;
  }

  // No prototype: a key such as `constructor` is there only if somebody put it there.
  function empty() {
    var data = Object.create(null);
    data.version = VERSION;
    ["read", "checks", "cases"].forEach(function (part) { data[part] = Object.create(null); });
    return data;
  }

  // A record as an object of known shape. `lenient`: what does not fit is left out, and never thrown.
  function shaped(told, lenient) {
    var data = empty();
    ["read", "checks", "cases"].forEach(function (part) {
      var given = told[part];
      if (given === undefined) return;
      if (!isMap(given)) {
        if (lenient) return;
        throw new Error(part + " is " + shown(given) + "; a mapping of ids belongs there.");
      }
      var keys = Object.keys(given);
      if (keys.length > MOST_ENTRIES) {
        if (!lenient) throw new Error(part + " has " + keys.length + " entries; at most " + MOST_ENTRIES + " are read.");
        keys = keys.slice(0, MOST_ENTRIES);
      }
      keys.forEach(function (key) {
        try {
          if (key.length > 200 || !KEYS[part].test(key)) {
            throw new Error(part + " has an entry " + shown(key) + "; an id in small letters and digits belongs there.");
          }
          data[part][key] = at(ENTRY[part], given[key], part + " › " + key);
        } catch (fault) {
          if (!lenient) throw fault;
        }
      });
    });
    var label = cleaned(told.label);
    if (label) data.label = label;
    return data;
  }

  // In memory, where the browser keeps nothing.
  var here = null;

  function store() {
    try {
      return root.localStorage || null;
    } catch (fault) {
      return null;
    }
  }

  function load() {
    if (here) return here;
    var kept = null;
    try {
      kept = store() && store().getItem(PLACE);
      if (!kept) return empty();
      var told = JSON.parse(kept);
      if (!isMap(told) || told.version !== VERSION) throw new Error("another version");
      return shaped(told, true);
    } catch (fault) {
      // What cannot be read is put aside once, never overwritten unseen.
      try { if (kept) store().setItem(ASIDE, kept); } catch (again) { /* full, or refused: it stays where it is */ }
      return empty();
    }
  }

  function keep(data) {
    here = null;
    try {
      store().setItem(PLACE, JSON.stringify(data));
    } catch (fault) {
      here = data;
    }
    Progress.kept = !here;
    return data;
  }

  function change(fn) {
    var data = shaped(load(), true);
    var before = shaped(data, true).cases;
    fn(data);
    counted(before, data.cases);
    return keep(data);
  }

  // Whoever plays a case says only what broke a rule last: how often each was broken is counted here.
  function counted(before, after) {
    Object.keys(after).forEach(function (key) {
      var was = before[key] || { unsafe: 0, rules: null };
      var is = after[key];
      var rules = is.rules || was.rules;
      if (is.unsafe > (was.unsafe || 0) && is.last && is.last.rule) {
        var told = Object.assign(Object.create(null), rules);
        told[is.last.rule] = (told[is.last.rule] || 0) + 1;
        rules = told;
      }
      is.rules = rules || null;
    });
  }

  function erase() {
    here = null;
    try {
      store().removeItem(PLACE);
      store().removeItem(ASIDE);
    } catch (fault) { /* nothing was kept */ }
  }

  function now() { return new Date().toISOString(); }

  function cleaned(label) {
    return (typeof label === "string" ? label : "").replace(/[\u0000-\u001f\u007f-\u009f\u200b-\u200f\u2028-\u202e\u2066-\u2069\ufeff]/g, "").trim().slice(0, LABEL);
  }

  function build() {
    var mark = root.document && root.document.querySelector('meta[name="build"]');
    return mark ? mark.content.slice(0, 80) : "";
  }

  function file(label) {
    var data = load();
    var whose = cleaned(label) || data.label || "";
    var on = now();
    var name = whose.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-+|-+$/g, "").slice(0, 30);
    var told = { kind: KIND, version: VERSION, label: whose, saved: on, build: build(), read: data.read, checks: data.checks, cases: data.cases };
    return { name: "learning-" + (name ? name + "-" : "") + on.slice(0, 10) + ".json", text: JSON.stringify(told, null, 1) + "\n" };
  }

  function download(name, words, type) {
    var link = root.document.createElement("a");
    var address = URL.createObjectURL(new Blob([words], { type: type }));
    link.href = address;
    link.download = name;
    link.hidden = true;
    root.document.body.append(link);
    link.click();
    link.remove();
    setTimeout(function () { URL.revokeObjectURL(address); }, 10000);
  }

  function save(label) {
    var made = file(label);
    download(made.name, made.text, "application/json");
    return made.name;
  }

  // The record in a file, with `label` and `saved` beside the three parts.
  function read(words) {
    if (typeof words !== "string" || !words.trim()) throw new Error("The file is empty; choose one that was saved by the page Learn.");
    if (words.length > MOST_SIGNS) throw new Error(TOO_LARGE);
    var told;
    try {
      told = JSON.parse(words.charAt(0) === "\ufeff" ? words.slice(1) : words);
    } catch (fault) {
      throw new Error("The file is not JSON, or it is cut short; save it again from the page Learn.");
    }
    if (!isMap(told) || told.kind !== KIND) throw new Error("The file is no learning record; choose one that was saved by the page Learn.");
    if (told.version !== VERSION) throw new Error("version is " + shown(told.version) + "; this page reads version " + VERSION + ". Save the file again with the same pages as these.");
    var data = shaped(told, false);
    data.label = data.label || "";
    data.saved = at(or(date, ""), told.saved, "saved");
    return data;
  }

  // The record in a chosen file; what is too large is not even opened.
  function open(chosen) {
    if (chosen.size > MOST_SIGNS) return Promise.reject(new Error(TOO_LARGE));
    return chosen.text().catch(function () {
      throw new Error("The file cannot be opened; copy it to this computer, and choose it again.");
    }).then(read);
  }

  function when(entry) { return Date.parse(entry.on || (entry.last && entry.last.on) || "") || 0; }

  // Two records as one: of each entry the later, and the label of the first that has one.
  function merged(one, other) {
    var data = shaped(one, true);
    var label = data.label || cleaned(other.label);
    if (label) data.label = label;
    ["read", "checks", "cases"].forEach(function (part) {
      Object.keys(other[part]).forEach(function (key) {
        var known = data[part][key];
        if (!known || when(other[part][key]) > when(known)) data[part][key] = other[part][key];
      });
    });
    return data;
  }

  var Progress = {
    kept: Boolean(store()), load: load, change: change, erase: erase, file: file, save: save, read: read, open: open,
    merged: merged, take: function (data) { return keep(merged(load(), data)); }, download: download, now: now
  };
  root.Progress = Progress;
})(typeof window === "undefined" ? globalThis : window);
