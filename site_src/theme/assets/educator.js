// The view of a group, from learners' files that are read here and nowhere else: nothing is sent, and nothing is kept.
// All that stands in a file is put on the page as text. What the files say together is worked out in `group.js`.
(() => {
  "use strict";
  const place = document.querySelector("[data-educator]");
  const holder = document.getElementById("learning-data");
  if (!place || !holder || !window.alarmtrees.Progress) return;
  const { Group, Progress, button, dayOf, el, has, many, sum } = window.alarmtrees;
  const known = JSON.parse(holder.textContent);
  const MOST_FILES = 300;
  const SHOWN = 5;

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

  // What was opened, and what the educator has said of it; the view is made anew from both each time.
  let records = [];
  let groups = [];
  let apart = new Set();
  let same = new Map();
  let called = new Map();
  let learners = [];
  let sorted = { key: "label", down: false };
  const files = place.querySelector("#files");
  const done = place.querySelector("[data-done]");
  const bad = place.querySelector("[data-bad]");
  const table = place.querySelector("[data-table]");
  const buttons = ["clear", "csv", "print", "group", "print-all"].map((name) => place.querySelector(`[data-${name}]`));
  const asked = place.querySelector("[data-asked-back]");
  place.hidden = false;

  const treeOf = (key) => key.split("/")[0];
  const isAgain = (entry) => Boolean(entry.again_on) && Date.parse(entry.again_on) <= Date.now();

  /** What a record says of this site's pages; what this site does not have is left out. */
  const told = ({ data, label, files, key }) => {
    const read = Object.keys(data.read).filter((key) => has(known.pages, key));
    const changed = read.filter((key) => data.read[key].stamp !== known.pages[key][1]);
    const checks = Object.keys(known.checks).filter((key) => key in data.checks);
    const wrong = checks.filter((key) => !data.checks[key].ok);
    const cases = Group.casesOf(data, known);
    const played = cases.filter((key) => data.cases[key].plays);
    const again = cases.filter((key) => isAgain(data.cases[key]));
    return {
      key, file: files.join("; "), label, saved: data.saved.slice(0, 10),
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

  // What the group says together

  const part = (words, ...inside) => el("section", "part", el("h2", "", words), ...inside);
  const listed = (lines, name = "ul") => el(name, "", ...lines.map((one) => el("li", "", ...[one].flat())));
  const link = (piece) => (typeof piece === "string" ? piece : el("a", { href: piece.href }, piece.words));
  const of = (count) => `${count} of ${many(learners.length, "learner")}`;
  const pageOf = (id) => el("a", { href: known.at[id] }, known.pages[id][0]);

  const nextPart = () => part("What to teach next", el("p", "teach-next", ...Group.nextOf(learners, known).map(link)));

  const changesPart = () => {
    const lines = Group.changesOf(learners, known);
    const days = groups.map((one) => one.saved.slice(0, 10)).sort();
    const day = days[days.length - 1] || "an unknown day";
    return lines.length ? part(`Since the group file of ${day}`, listed(lines)) : null;
  };

  const names = (some) => (some.length > 1 && some.length === learners.length ? `all ${some.length}` : some.map((one) => one.label).join("; "));
  const whole = (some) => (some.length === learners.length ? names(some) : `${of(some.length)}: ${names(some)}`);

  /** Whether somebody's own plan says that a stage was to be finished before today. */
  const late = ({ due }) => (due && due < dayOf(Date.now()) ? `was due ${due}` : "");

  /** Those who stand at the same place together, those who are furthest behind first. */
  const together = (some, words) => {
    const heaps = new Map();
    some.forEach((one) => {
      const told = [words(one), late(one)].filter(Boolean).join(", ");
      heaps.set(told, [...(heaps.get(told) || []), one]);
    });
    const lines = Array.from(heaps, ([told, heap]) => (told ? `${told}: ${names(heap)}` : names(heap)));
    return lines.sort((a, b) => a.localeCompare(b, "en", { numeric: true }));
  };

  /** A cell says what it is: on a phone the head of the table is out of sight. */
  const cellWith = (words, ...lines) => el(
    "td", { "data-head": words, ...(lines.length ? {} : { "data-none": "" }) },
    ...(lines.length ? lines.map((one) => el("div", "", one)) : ["–"]));

  const stagesPart = () => {
    const rows = Group.stagesOf(learners, known).map(({ stage, finished, begun, none }) => el(
      "tr", "", el("th", { scope: "row" }, el("a", { href: `${known.learn}#stage-${stage.id}` }, stage.title)),
      cellWith("Finished", ...(finished.length ? [whole(finished)] : [])),
      cellWith("Under way", ...together(begun, (one) => Group.nextIn(one.state))),
      cellWith("Not begun", ...together(none, () => ""))));
    const heads = ["Stage", "Finished", "Under way", "Not begun"].map((words) => el("th", { scope: "col" }, words));
    const told = "Finished: all pages read as they are now, all questions right, and a case of each alarm played that did not end badly.";
    return part("Stages", el("p", "quiet", told), el("table", "stages", el("thead", "", el("tr", "", ...heads)), el("tbody", "", ...rows)));
  };

  const asksPart = () => {
    const lines = Group.asksOf(learners.map((one) => one.data), known).slice(0, SHOWN).map((one) => [
      el("b", "", known.checks[one.id]), ` Wrong now: ${of(one.wrong)}`, one.ever > one.wrong ? `, ever: ${one.ever}` : "",
      ". The answer stands in ", pageOf(one.page), ".",
    ]);
    return part("Questions most often wrong", lines.length ? listed(lines, "ol") : el("p", "", "None was answered wrong."));
  };

  const rulesPart = () => {
    const lines = Group.rulesOf(learners.map((one) => one.data), known).slice(0, SHOWN).map((one) => [
      el("b", "", known.rules[one.id]), ` Broken by ${of(one.by)}, ${one.times} ×; ${one.by - one.open} played it well since. Most often in `,
      pageOf(one.tree), ".",
    ]);
    return part("Safety rules most often broken", lines.length ? listed(lines, "ol") : el("p", "", "None was broken in a case."));
  };

  const refresherPart = () => {
    const { entries, work, pauses } = Group.refresherOf(learners.map((one) => one.data), known);
    const lines = entries.map((one) => [
      pageOf(one.id), one.play ? `: read ${one.read} min, ` : `: read ${one.read} min. `,
      one.play ? el("a", { href: `${known.practice}#${one.id}` }, "a case") : null, one.play ? ` ${one.play} min. ` : null, one.why,
    ]);
    const sums = `${many(entries.length, "page")}: ${work} min of work and ${pauses} min of pauses.`;
    const told = el("p", "", `What is wrong most, then what harms soonest. ${sums}`);
    return el("div", "on-request", part("Once a year, for this group", told, listed(lines, "ol")));
  };

  // What is asked back: the same label twice, two labels that may be one person, a label that looks like a name

  const question = (words, ...presses) => el("li", "", words, " ", ...presses);

  const press = (words, act) => button("", words, () => {
    act();
    show();
    done.textContent = `${many(learners.length, "learner")} in view.`;
    files.focus();
  });

  const twice = (one) => question(
    `“${one.label}” ${toldBy(one)}: merged, of each answer the newest, nothing lost.`,
    press(`“${one.label}” is several people`, () => apart.add(one.own)));

  const toldBy = ({ times, files, sources }) => (times > 1
    ? `was opened ${times} times (${files.join("; ")})`
    : `stands for ${many(sources.length, "record")} of the group’s file, each from another device`);

  const merged = ([one, other]) => question(
    `“${one}” is taken as “${other}”.`, press(`“${one}” and “${other}” are two`, () => same.delete(one)));

  const parted = (label) => question(`“${label}” is kept apart.`, press(`“${label}” is one person`, () => apart.delete(label)));

  const maybe = ({ one, other, count }) => question(
    `“${one.label}” and “${other.label}” have ${count} entries of the same moment: they may be one person, or two at one computer.`,
    press(`“${one.label}” and “${other.label}” are one`, () => same.set(other.own, one.own)));

  /** Other words for a label that looks like a name: in this view, and in the group's file. */
  const named = (one) => {
    const other = `learner ${learners.indexOf(one) + 1}`;
    return question(
      `“${one.label}” looks like a person’s name. Ask for other words in the next file, such as “bed 4 night”.`,
      press(`Call it “${other}” here`, () => called.set(one.key, other)));
  };

  const askBack = () => {
    const lines = [
      ...learners.filter((one) => one.times > 1 || one.sources.length > 1).map(twice), ...Array.from(apart).map(parted),
      ...Array.from(same).map(merged),
      ...Group.alike(learners).map(maybe),
      ...learners.filter((one) => Progress.looksLikeName(one.label)).map(named),
    ];
    asked.replaceChildren(...(lines.length ? [el("ul", "asked-back", ...lines)] : []));
  };

  // The table, and what lies behind its numbers.

  let rows = [];

  const show = () => {
    learners = Group.gathered(records, groups, apart, same, called);
    rows = learners.map(told);
    buttons.forEach((button) => { button.disabled = !rows.length; });
    table.textContent = "";
    askBack();
    if (!rows.length) return;
    const head = el("thead", "", el("tr", "", ...COLUMNS.map(header)));
    const made = el("table", "overview", head, el("tbody", "", ...ordered().map(line)));
    const wide = el("div", { class: "wide", role: "region", tabindex: "0", "aria-label": "Overview" }, made);
    const more = el("p", "sideways", "The table goes on to the right: move it sideways.");
    const alarms = Object.values(known.alarms);
    const causes = sum(alarms.map(([, own]) => own.length));
    const all = `Of ${Object.keys(known.pages).length} pages, ${Object.keys(known.checks).length} questions, and ${causes} causes of ${alarms.length} alarms.`;
    const parts = [nextPart(), changesPart(), stagesPart(), rulesPart(), asksPart(), refresherPart()].filter(Boolean);
    table.append(
      el("p", "on-sheet", whence()), ...parts, part("Each learner", more, wide, el("p", "", all)),
      el("div", "on-request", ...ordered().map(behind)));
    hint();
  };

  /** What a sheet says of itself. */
  const whence = () => {
    const days = rows.map((one) => one.saved).filter(Boolean).sort();
    const span = Array.from(new Set([days[0], days[days.length - 1]].filter(Boolean))).join(" to ");
    return `${many(rows.length, "learner")}; records saved ${span || "on no known day"}; printed ${dayOf(Date.now())}.`;
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

  const ordered = () => rows.slice().sort((a, b) => {
    const one = a[sorted.key];
    const other = b[sorted.key];
    const way = typeof one === "number" ? one - other : one.localeCompare(other, "en", { numeric: true });
    return (sorted.down ? -way : way) || a.file.localeCompare(b.file);
  });

  const behind = (record) => {
    const own = el("section", "behind", el("h3", "", record.label));
    [
      ["Unsafe choices, by alarm and safety rule", record.rules], ["Questions answered wrong now", record.asks, true],
      ["Cases to play again today, by alarm", record.toPlay, true], ["Alarms with causes practised", record.alarms, true],
      ["Pages changed since they were read", record.pages, true],
    ].forEach(([words, lines, isFolded]) => {
      if (!lines.length) return;
      const list = el("ul", "", ...lines.map((one) => el("li", "", one)));
      if (isFolded) own.append(el("details", "", el("summary", "", `${words}: ${lines.length}`), list));
      else own.append(el("h4", "", words), list);
    });
    const nothing = "Nothing practised, nothing answered wrong, and nothing to read again.";
    const empty = "Nothing is read, answered or practised yet.";
    if (own.children.length === 1) own.append(el("p", "", record.read || record.right ? nothing : empty));
    return own;
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
    const lines = [[...heads, "Unsafe by alarm and rule", "Wrong questions", "To play again by alarm", "Practised by alarm", "Changed pages", "File"]];
    ordered().forEach((record) => {
      const lists = [record.rules, record.asks, record.toPlay, record.alarms, record.pages].map((list) => list.join("; "));
      lines.push([...COLUMNS.map((one) => record[one.key]), ...lists, record.file]);
    });
    return lines.map((row) => `${row.map(cell).join(",")}\r\n`).join("");
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
        await take(file);
        read += 1;
      } catch (fault) {
        complain(`${file.name}: ${fault.message}`);
      }
    }
    files.value = "";
    show();
    done.textContent = `${many(read, "file")} read, ${many(learners.length, "learner")} in view${bad.children.length ? `; ${bad.children.length} with a fault, see below.` : "."}`;
  });

  /** A learner's file, or one of a group. The very same file once more changes nothing. */
  const take = async (file) => {
    const words = file.size > Group.MOST_SIGNS ? "" : await textOf(file);
    if (words && Group.isGroup(words)) {
      const group = { ...Group.read(words), file: file.name, words };
      group.faults.forEach((fault) => complain(`${file.name}, ${fault}`));
      group.same.forEach(([one, other]) => same.set(one, other));
      groups = [...groups.filter((one) => one.words !== words), group];
      return;
    }
    const data = await Progress.open(file);
    records = [...records.filter((one) => one.words !== words), { file: file.name, data, words }];
  };

  const textOf = async (file) => {
    try {
      return await file.text();
    } catch {
      return "";
    }
  };

  buttons[0].addEventListener("click", () => {
    records = [];
    groups = [];
    apart = new Set();
    same = new Map();
    called = new Map();
    calm();
    done.textContent = "All is cleared.";
    show();
    files.focus();
  });
  buttons[1].addEventListener("click", () => {
    Progress.download("learners.csv", csv(), "text/csv");
    done.textContent = "Saved as learners.csv.";
  });
  // Two sheets say who stands where and what to teach; what lies behind is printed on request.
  buttons[4].addEventListener("click", () => {
    document.documentElement.dataset.paper = "all";
    window.print();
  });
  window.addEventListener("afterprint", () => document.documentElement.removeAttribute("data-paper"));
  buttons[3].addEventListener("click", () => {
    const made = Group.file(learners);
    Progress.download(made.name, made.text, "application/json");
    done.textContent = `Saved as ${made.name}. Next month, choose it together with the new files.`;
  });
})();
