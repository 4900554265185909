// An overview of learners' files, read here and nowhere else: nothing is sent, and nothing is kept. All that stands in
// a file is put on the page as text.
(() => {
  "use strict";
  const place = document.querySelector("[data-educator]");
  const holder = document.getElementById("learning-data");
  if (!place || !holder || !window.alarmtrees.Progress) return;
  const { Progress, button, el, has, sum } = window.alarmtrees;
  const known = JSON.parse(holder.textContent);
  const MOST_FILES = 300;

  const COLUMNS = [
    { name: "Label", key: "label", words: true },
    { name: "Saved", key: "saved", words: true },
    { name: "Pages read", key: "read" },
    { name: "Changed since it was read", key: "changed" },
    { name: "Questions right", key: "right" },
    { name: "Wrong now", key: "wrong" },
    { name: "Causes practised", key: "causes" },
    { name: "Unsafe choices", key: "unsafe" },
    { name: "Cases to play again today", key: "again" },
  ];

  let records = [];
  let sorted = { key: "label", down: false };
  const files = place.querySelector("#files");
  const done = place.querySelector("[data-done]");
  const bad = place.querySelector("[data-bad]");
  const table = place.querySelector("[data-table]");
  const buttons = ["clear", "csv", "print"].map((name) => place.querySelector(`[data-${name}]`));
  place.hidden = false;

  const treeOf = (key) => key.split("/")[0];
  const isAgain = (entry) => Boolean(entry.again_on) && Date.parse(entry.again_on) <= Date.now();

  /** What a record says of this site's pages; what this site does not have is left out. */
  const told = (data, name) => {
    const read = Object.keys(data.read).filter((key) => has(known.pages, key));
    const changed = read.filter((key) => data.read[key].stamp !== known.pages[key][1]);
    const checks = Object.keys(known.checks).filter((key) => key in data.checks);
    const wrong = checks.filter((key) => !data.checks[key].ok);
    const cases = Object.keys(data.cases).filter((key) => {
      const [tree, cause] = key.split("/");
      return has(known.alarms, tree) && known.alarms[tree][1].includes(cause);
    });
    const played = cases.filter((key) => data.cases[key].plays);
    const again = cases.filter((key) => isAgain(data.cases[key]));
    return {
      file: name, label: data.label || name.replace(/\.json$/i, ""), saved: data.saved.slice(0, 10),
      read: read.length, changed: changed.length, right: checks.length - wrong.length, wrong: wrong.length,
      causes: played.length, unsafe: sum(cases.map((key) => data.cases[key].unsafe)), again: again.length,
      pages: changed.map((key) => known.pages[key][0]), asks: wrong.map((key) => known.checks[key]),
      alarms: byAlarm(played, (count, all) => `${count} of ${all}`), rules: byRule(data, cases), toPlay: byAlarm(again, String),
    };
  };

  /** A line for each alarm that has some of the cases, with their count. */
  const byAlarm = (cases, words) => Object.entries(known.alarms).flatMap(([tree, [title, causes]]) => {
    const count = cases.filter((key) => treeOf(key) === tree).length;
    return count ? [`${title}: ${words(count, causes.length)}`] : [];
  });

  /** A line for each alarm and safety rule, what was broken most often first. */
  const byRule = (data, cases) => {
    const counts = new Map();
    const count = (key, rule, times) => {
      const line = `${known.alarms[treeOf(key)][0]}: ${rule}`;
      if (times > 0) counts.set(line, (counts.get(line) || 0) + times);
    };
    cases.forEach((key) => {
      const rules = Object.entries(data.cases[key].rules || {});
      rules.forEach(([rule, times]) => count(key, has(known.rules, rule) ? known.rules[rule] : rule, times));
      count(key, "not said which rule.", data.cases[key].unsafe - sum(rules.map(([, times]) => times)));
    });
    return Array.from(counts).sort(([, one], [, other]) => other - one).map(([line, times]) => `${line} ${times} ×`);
  };

  // The table, and what lies behind its numbers.

  const show = () => {
    buttons.forEach((button) => { button.disabled = !records.length; });
    table.textContent = "";
    if (!records.length) return;
    const head = el("thead", "", el("tr", "", ...COLUMNS.map(header)));
    const made = el("table", "overview", head, el("tbody", "", ...ordered().map(line)));
    const wide = el("div", { class: "wide", role: "region", tabindex: "0", "aria-label": "Overview" }, made);
    const more = el("p", "sideways", "The table goes on to the right: move it sideways.");
    const alarms = Object.values(known.alarms);
    const causes = sum(alarms.map(([, own]) => own.length));
    const all = `Of ${Object.keys(known.pages).length} pages, ${Object.keys(known.checks).length} questions, and ${causes} causes of ${alarms.length} alarms.`;
    table.append(more, wide, el("p", "", all), ...ordered().map(behind));
    hint();
  };

  const cellOf = (record, { key }, place) =>
    el(place ? "td" : "th", place ? "" : { scope: "row" }, String(record[key]));
  const line = (record) => el("tr", "", ...COLUMNS.map((column, place) => cellOf(record, column, place)));

  /** Said only where a part of the table lies out of sight. */
  const hint = () => {
    const wide = table.querySelector(".wide");
    if (wide) table.querySelector(".sideways").hidden = wide.scrollWidth <= wide.clientWidth;
  };

  window.addEventListener("resize", hint);

  const header = (column) => {
    const cell = el("th", { scope: "col" });
    const here = sorted.key === column.key;
    const press = button("", column.name, () => {
      sorted = { key: column.key, down: here ? !sorted.down : !column.words };
      show();
      table.querySelectorAll("th button")[COLUMNS.indexOf(column)].focus();
    });
    if (here) {
      cell.setAttribute("aria-sort", sorted.down ? "descending" : "ascending");
      press.append(el("span", { "aria-hidden": "true" }, sorted.down ? " ▼" : " ▲"));
    }
    cell.append(press);
    return cell;
  };

  const ordered = () => records.slice().sort((a, b) => {
    const one = a[sorted.key];
    const other = b[sorted.key];
    const way = typeof one === "number" ? one - other : one.localeCompare(other, "en", { numeric: true });
    return (sorted.down ? -way : way) || a.file.localeCompare(b.file);
  });

  const behind = (record) => {
    const part = el("section", "behind", el("h2", "", record.label));
    [
      ["Unsafe choices, by alarm and safety rule", record.rules], ["Questions answered wrong now", record.asks, true],
      ["Cases to play again today, by alarm", record.toPlay], ["Alarms with causes practised", record.alarms, true],
      ["Pages changed since they were read", record.pages, true],
    ].forEach(([words, lines, isFolded]) => {
      if (!lines.length) return;
      const list = el("ul", "", ...lines.map((one) => el("li", "", one)));
      if (isFolded) part.append(el("details", "", el("summary", "", `${words}: ${lines.length}`), list));
      else part.append(el("h3", "", words), list);
    });
    const nothing = "Nothing practised, nothing answered wrong, and nothing to read again.";
    if (part.children.length === 1) part.append(el("p", "", nothing));
    return part;
  };

  /**
   * A cell that a spreadsheet would take for a formula begins with an apostrophe, so that nothing in it is ever run.
   */
  const cell = (value) => {
    const words = String(value);
    const unseen = words.match(/^[\p{C}\p{Z}\u115f\u1160\u2800\u3164\uffa0]*/u)[0];
    const first = words.charAt(unseen.length).normalize("NFKC");
    const guard = /[\t\r]/.test(unseen) || /^[=+\-@\u2212]/.test(first) ? "'" : "";
    return `"${guard}${words.replace(/"/g, '""')}"`;
  };

  const csv = () => {
    const heads = COLUMNS.map((one) => one.name);
    const rows = [[...heads, "Unsafe by alarm and rule", "Wrong questions", "To play again by alarm", "Practised by alarm", "Changed pages", "File"]];
    ordered().forEach((record) => {
      const lists = [record.rules, record.asks, record.toPlay, record.alarms, record.pages].map((list) => list.join("; "));
      rows.push([...COLUMNS.map((one) => record[one.key]), ...lists, record.file]);
    });
    return rows.map((row) => `${row.map(cell).join(",")}\r\n`).join("");
  };

  const complain = (words) => {
    bad.hidden = false;
    bad.append(el("li", "", words));
  };

  const calm = () => {
    bad.textContent = "";
    bad.hidden = true;
  };

  files.addEventListener("change", async () => {
    let chosen = Array.from(files.files);
    let read = 0;
    calm();
    if (chosen.length > MOST_FILES) {
      complain(`${chosen.length} files at once; the first ${MOST_FILES} are read. Choose the others after them.`);
      chosen = chosen.slice(0, MOST_FILES);
    }
    for (const file of chosen) {
      try {
        const record = told(await Progress.open(file), file.name);
        // The same file once more takes the place of the one before.
        records = records.filter((one) => one.file !== record.file || one.label !== record.label);
        records.push(record);
        read += 1;
      } catch (fault) {
        complain(`${file.name}: ${fault.message}`);
      }
    }
    files.value = "";
    done.textContent = `${read} ${read === 1 ? "file" : "files"} read${bad.children.length ? `; ${bad.children.length} with a fault, see below.` : "."}`;
    show();
  });

  buttons[0].addEventListener("click", () => {
    records = [];
    calm();
    done.textContent = "All is cleared.";
    show();
    files.focus();
  });
  buttons[1].addEventListener("click", () => {
    Progress.download("learners.csv", csv(), "text/csv");
    done.textContent = "Saved as learners.csv.";
  });
})();
