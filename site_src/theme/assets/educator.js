// An overview of learners' files, read here and nowhere else: nothing is sent, and nothing is kept.
// All that stands in a file is put on the page as text.
(function () {
  "use strict";
  var place = document.querySelector("[data-educator]");
  var holder = document.getElementById("learning-data");
  if (!place || !holder || !window.Progress) return;
  var Progress = window.Progress;
  var known = JSON.parse(holder.textContent);
  var MOST_FILES = 300;

  var COLUMNS = [
    { name: "Label", key: "label", words: true },
    { name: "Saved", key: "saved", words: true },
    { name: "Pages read", key: "read" },
    { name: "Changed since it was read", key: "changed" },
    { name: "Questions right", key: "right" },
    { name: "Wrong now", key: "wrong" },
    { name: "Causes practised", key: "causes" },
    { name: "Unsafe choices", key: "unsafe" },
    { name: "Cases to repeat today", key: "due" }
  ];

  var records = [];
  var sorted = { key: "label", down: false };
  var files = place.querySelector("#files");
  var done = place.querySelector("[data-done]");
  var bad = place.querySelector("[data-bad]");
  var table = place.querySelector("[data-table]");
  var buttons = ["clear", "csv", "print"].map(function (name) { return place.querySelector("[data-" + name + "]"); });
  place.hidden = false;

  function make(kind, words, attributes) {
    var one = document.createElement(kind);
    if (words) one.textContent = words;
    Object.keys(attributes || {}).forEach(function (name) { one.setAttribute(name, attributes[name]); });
    return one;
  }

  function has(map, key) { return Object.prototype.hasOwnProperty.call(map, key); }

  function sum(numbers) { return numbers.reduce(function (all, one) { return all + one; }, 0); }

  // What a record says of this site's pages; what this site does not have is left out.
  function told(data, name) {
    var read = Object.keys(data.read).filter(function (key) { return has(known.pages, key); });
    var changed = read.filter(function (key) { return data.read[key].stamp !== known.pages[key][1]; });
    var checks = Object.keys(known.checks).filter(function (key) { return key in data.checks; });
    var wrong = checks.filter(function (key) { return !data.checks[key].ok; });
    var cases = Object.keys(data.cases).filter(function (key) {
      var parts = key.split("/");
      return has(known.alarms, parts[0]) && known.alarms[parts[0]][1].indexOf(parts[1]) >= 0;
    });
    var now = Date.now();
    return {
      file: name, label: data.label || name.replace(/\.json$/i, ""), saved: data.saved.slice(0, 10),
      read: read.length, changed: changed.length, right: checks.length - wrong.length, wrong: wrong.length,
      causes: cases.filter(function (key) { return data.cases[key].plays; }).length,
      unsafe: sum(cases.map(function (key) { return data.cases[key].unsafe; })),
      due: cases.filter(function (key) { return data.cases[key].due && Date.parse(data.cases[key].due) <= now; }).length,
      pages: changed.map(function (key) { return known.pages[key][0]; }),
      asks: wrong.map(function (key) { return known.checks[key]; }),
      alarms: byAlarm(data, cases), rules: byRule(data, cases), dues: byDue(data, cases, now)
    };
  }

  function byAlarm(data, cases) {
    return Object.keys(known.alarms).map(function (tree) {
      var played = cases.filter(function (key) { return key.split("/")[0] === tree && data.cases[key].plays; });
      return played.length ? known.alarms[tree][0] + ": " + played.length + " of " + known.alarms[tree][1].length : "";
    }).filter(Boolean);
  }

  // A line for each alarm and safety rule, what was broken most often first.
  function byRule(data, cases) {
    var counts = Object.create(null);
    function count(key, rule, times) {
      var line = known.alarms[key.split("/")[0]][0] + ": " + rule;
      if (times > 0) counts[line] = (counts[line] || 0) + times;
    }
    cases.forEach(function (key) {
      var rules = data.cases[key].rules || {};
      Object.keys(rules).forEach(function (rule) {
        count(key, has(known.rules, rule) ? known.rules[rule] : rule, rules[rule]);
      });
      var named = sum(Object.keys(rules).map(function (rule) { return rules[rule]; }));
      count(key, "not said which rule.", data.cases[key].unsafe - named);
    });
    return Object.keys(counts).sort(function (a, b) { return counts[b] - counts[a]; }).map(function (line) {
      return line + " " + counts[line] + " ×";
    });
  }

  function byDue(data, cases, now) {
    return Object.keys(known.alarms).map(function (tree) {
      var due = cases.filter(function (key) {
        return key.split("/")[0] === tree && data.cases[key].due && Date.parse(data.cases[key].due) <= now;
      });
      return due.length ? known.alarms[tree][0] + ": " + due.length : "";
    }).filter(Boolean);
  }

  // The table, and what lies behind its numbers.

  function show() {
    buttons.forEach(function (button) { button.disabled = !records.length; });
    table.textContent = "";
    if (!records.length) return;
    var wide = make("div", "", { class: "wide", role: "region", tabindex: "0", "aria-label": "Overview" });
    var made = make("table", "", { class: "overview" });
    var head = make("thead");
    var row = make("tr");
    COLUMNS.forEach(function (column) { row.append(header(column)); });
    head.append(row);
    var body = make("tbody");
    ordered().forEach(function (record) {
      var line = make("tr");
      COLUMNS.forEach(function (column, index) {
        line.append(make(index ? "td" : "th", String(record[column.key]), index ? {} : { scope: "row" }));
      });
      body.append(line);
    });
    made.append(head, body);
    wide.append(made);
    var more = make("p", "The table goes on to the right: move it sideways.", { class: "sideways" });
    table.append(more, wide, make("p", "Of " + Object.keys(known.pages).length + " pages, " + Object.keys(known.checks).length + " questions, and " +
      sum(Object.keys(known.alarms).map(function (key) { return known.alarms[key][1].length; })) + " causes of " + Object.keys(known.alarms).length + " alarms."));
    ordered().forEach(function (record) { table.append(behind(record)); });
    hint();
  }

  // Said only where a part of the table lies out of sight.
  function hint() {
    var wide = table.querySelector(".wide");
    if (wide) table.querySelector(".sideways").hidden = wide.scrollWidth <= wide.clientWidth;
  }

  window.addEventListener("resize", hint);

  function header(column) {
    var cell = make("th", "", { scope: "col" });
    var here = sorted.key === column.key;
    var button = make("button", column.name, { type: "button" });
    if (here) {
      cell.setAttribute("aria-sort", sorted.down ? "descending" : "ascending");
      button.append(make("span", sorted.down ? " ▼" : " ▲", { "aria-hidden": "true" }));
    }
    button.addEventListener("click", function () {
      sorted = { key: column.key, down: here ? !sorted.down : !column.words };
      show();
      table.querySelectorAll("th button")[COLUMNS.indexOf(column)].focus();
    });
    cell.append(button);
    return cell;
  }

  function ordered() {
    return records.slice().sort(function (a, b) {
      var one = a[sorted.key];
      var other = b[sorted.key];
      var way = typeof one === "number" ? one - other : one.localeCompare(other, "en", { numeric: true });
      return (sorted.down ? -way : way) || a.file.localeCompare(b.file);
    });
  }

  function behind(record) {
    var part = make("section", "", { class: "behind" });
    part.append(make("h2", record.label));
    [["Unsafe choices, by alarm and safety rule", record.rules], ["Questions answered wrong now", record.asks, true],
      ["Cases to repeat today, by alarm", record.dues], ["Alarms with causes practised", record.alarms, true],
      ["Pages changed since they were read", record.pages, true]].forEach(function (pair) {
      if (!pair[1].length) return;
      var list = make("ul");
      pair[1].forEach(function (words) { list.append(make("li", words)); });
      if (pair[2]) part.append(folded(pair[0] + ": " + pair[1].length, list));
      else part.append(make("h3", pair[0]), list);
    });
    if (part.children.length === 1) part.append(make("p", "Nothing practised, nothing answered wrong, and nothing to read again."));
    return part;
  }

  function folded(words, list) {
    var fold = make("details");
    fold.append(make("summary", words), list);
    return fold;
  }

  // A cell that a spreadsheet would take for a formula begins with an apostrophe, so that nothing in it is ever run.
  function cell(value) {
    var words = String(value);
    if (/^\s*[=+\-@\t\r\uff1d\uff0b\uff0d\uff20]/.test(words)) words = "'" + words;
    return '"' + words.replace(/"/g, '""') + '"';
  }

  function csv() {
    var rows = [COLUMNS.map(function (one) { return one.name; }).concat("Unsafe by alarm and rule", "Wrong questions", "To repeat by alarm", "Practised by alarm", "Changed pages", "File")];
    ordered().forEach(function (record) {
      rows.push(COLUMNS.map(function (one) { return record[one.key]; })
        .concat([record.rules, record.asks, record.dues, record.alarms, record.pages].map(function (list) { return list.join("; "); }), record.file));
    });
    return rows.map(function (row) { return row.map(cell).join(","); }).join("\r\n") + "\r\n";
  }

  function complain(words) {
    bad.hidden = false;
    bad.append(make("li", words));
  }

  files.addEventListener("change", function () {
    var chosen = Array.prototype.slice.call(files.files);
    bad.textContent = "";
    bad.hidden = true;
    if (chosen.length > MOST_FILES) {
      complain(chosen.length + " files at once; the first " + MOST_FILES + " are read. Choose the others after them.");
      chosen = chosen.slice(0, MOST_FILES);
    }
    var read = 0;
    chosen.reduce(function (before, file) {
      return before.then(function () { return Progress.open(file); }).then(function (data) {
        var record = told(data, file.name);
        // The same file once more takes the place of the one before.
        records = records.filter(function (one) { return one.file !== record.file || one.label !== record.label; });
        records.push(record);
        read += 1;
      }).catch(function (fault) { complain(file.name + ": " + fault.message); });
    }, Promise.resolve()).then(function () {
      files.value = "";
      done.textContent = read + (read === 1 ? " file" : " files") + " read" + (bad.children.length ? "; " + bad.children.length + " with a fault, see below." : ".");
      show();
    });
  });

  buttons[0].addEventListener("click", function () {
    records = [];
    bad.textContent = "";
    bad.hidden = true;
    done.textContent = "All is cleared.";
    show();
    files.focus();
  });
  buttons[1].addEventListener("click", function () {
    Progress.download("learners.csv", csv(), "text/csv");
    done.textContent = "Saved as learners.csv.";
  });
})();
