// What the records of several learners say together: who has finished what, what is wrong most, what comes next, what
// is to be refreshed, and what has changed since they were last looked at. It knows what `learning-data` of a page
// holds, and nothing of the page: tests run it as it is.
(() => {
  "use strict";
  const { Calendar, Progress, has, sum } = window.alarmtrees;
  const KIND = "learning-group";
  const VERSION = 1;
  const MOST_SIGNS = 60000000;
  const MOST_LEARNERS = 300;
  const MOST_SOURCES = 50;
  const PARTS = ["read", "checks", "cases"];
  // One moment in common happens by chance; records of two devices have none.
  const SAME_MOMENTS = 3;
  // A third of a group is enough to teach it to all; chosen.
  const ENOUGH = 3;
  const IN_REFRESHER = 6;

  const treeOf = (key) => key.split("/")[0];
  const most = (...keys) => (one, other) => keys.reduce((told, key) => told || key(other) - key(one), 0);

  // Stages

  /**
   * How far a record has come in a stage. It is finished where all is read and answered right, and a case of each alarm
   * did not end badly.
   */
  const stateOf = (stage, data, known) => {
    const isRead = (id) => has(data.read, id) && data.read[id].stamp === known.pages[id][1];
    const passed = (id) => known.alarms[id][1].some((cause) => {
      const last = has(data.cases, `${id}/${cause}`) && data.cases[`${id}/${cause}`].last;
      return Boolean(last) && last.went !== "bad";
    });
    const alarms = stage.pages.filter((id) => has(known.alarms, id));
    const told = {
      read: stage.pages.filter(isRead).length, pages: stage.pages.length,
      right: stage.checks.filter((id) => has(data.checks, id) && data.checks[id].ok).length,
      checks: stage.checks.length,
      passed: alarms.filter(passed).length, alarms: alarms.length,
    };
    const isBegun = told.read || told.passed || stage.checks.some((id) => has(data.checks, id))
      || Object.keys(data.cases).some((key) => alarms.includes(treeOf(key)))
      || stage.pages.some((id) => has(data.read, id));
    const finished = told.read === told.pages && told.right === told.checks && told.passed === told.alarms;
    return { ...told, finished, begun: Boolean(isBegun) };
  };

  /** What is still open in a stage, in a few words. */
  const leftOf = (state) => [
    state.read < state.pages && `${state.read} of ${state.pages} read`,
    state.right < state.checks && `${state.right} of ${state.checks} questions right`,
    state.passed < state.alarms && `${state.passed} of ${state.alarms} alarms played`,
  ].filter(Boolean).join(", ");

  /** What comes next in a stage, in a few words: pages before questions, questions before cases. */
  const nextIn = (state) => (state.read || !state.pages
    ? leftOf(state).split(", ")[0] : `none of ${state.pages} pages read, only cases or questions`);

  /** The day on which a stage is due by a learner's own plan; nothing without one. */
  const dueOf = (stage, data, known) => {
    if (!data.plan) return "";
    const own = known.stages.map(({ id, days }) => ({ id, days: data.plan.days?.[id] || days }));
    return Calendar.planned(data.plan.start, own).find((one) => one.id === stage.id).due;
  };

  // Learners

  const keyOf = (record) => (record.data.label ? record.data.label.toLowerCase().replace(/\s+/g, " ") : `file ${record.file}`);

  const moments = (data) => new Set(PARTS.flatMap((part) => Object.entries(data[part]).flatMap(([key, entry]) => {
    const on = entry.on || entry.last?.on;
    return on ? [`${part} ${key} ${on}`] : [];
  })));

  const inCommon = (one, other) => Array.from(one).filter((moment) => other.has(moment)).length;

  const joined = (some) => {
    const ordered = some.slice().sort((a, b) => (a.data.saved || "").localeCompare(b.data.saved || ""));
    const data = ordered.map((one) => one.data).reduceRight((one, other) => Progress.merged(one, other));
    return { ...data, saved: ordered[ordered.length - 1].data.saved || "" };
  };

  /**
   * The learners of some files: those with the same label are one, unless they are to be kept apart.
   * @param {{file: string, data: object}[]} records each what `Progress.read` gave
   * @param {{file: string, saved: string, learners: object[]}[]} groups each what `read` gave
   * @param {Set<string>} apart labels whose files belong to different people
   * @param {Map<string, string>} same labels of one and the same person: the first is told as the second
   * @param {Map<string, string>} called other words for a label
   */
  const gathered = (records, groups, apart = new Set(), same = new Map(), called = new Map()) => {
    const latest = groups.reduce((one, other) => (one && one.saved >= other.saved ? one : other), null);
    const seen = groups.flatMap((group) => group.learners.map((data) => ({ file: group.file, data, group })));
    const heaps = new Map();
    [...seen, ...records].forEach((record) => {
      const own = keyOf(record);
      const key = same.get(own) || own;
      const isApart = apart.has(key) || !record.data.label;
      const place = isApart ? placeOf(heaps, key, record) : key;
      heaps.set(place, [...(heaps.get(place) || []), record]);
    });
    return Array.from(heaps, ([key, heap]) => {
      const before = heap.filter((one) => one.group === latest);
      const files = Array.from(new Set(heap.filter((one) => !one.group).map((one) => one.file)));
      const data = joined(heap);
      const number = / \((\d+)\)$/.exec(key);
      // Who is told as another has that one's label.
      const named = heap.find((one) => keyOf(one) === key) || { data };
      const plain = named.data.label || data.label || heap[0].file.replace(/\.json$/i, "");
      return {
        key, label: called.get(key) || (number && !plain.endsWith(number[0]) ? `${plain}${number[0]}` : plain), data,
        files, times: heap.filter((one) => !one.group).length, own: keyOf(heap[0]), sources: devicesOf(heap),
        before: latest && before.length ? joined(before) : null,
      };
    });
  };

  /** What a learner is merged from: one record a device, as far as moments in common tell. */
  const devicesOf = (heap) => {
    const parts = new Map();
    heap.filter(({ data }) => moments(data).size).forEach((record) => {
      const place = placeOf(parts, "", record);
      parts.set(place, [...(parts.get(place) || []), record]);
    });
    return Array.from(parts.values(), joined);
  };

  /** Records to be kept apart go on only with one that they share moments with. */
  const placeOf = (heaps, key, record) => {
    const mine = moments(record.data);
    for (let number = 1; ; number += 1) {
      const place = number === 1 ? key : `${key} (${number})`;
      const heap = heaps.get(place);
      const enough = Math.min(SAME_MOMENTS, mine.size || 1);
      if (!heap || heap.some((one) => inCommon(moments(one.data), mine) >= enough)) return place;
    }
  };

  /** Pairs of learners under two labels whose records have moments in common: they may be one person. */
  const alike = (learners) => {
    const own = learners.map((one) => moments(one.data));
    return learners.flatMap((one, place) => learners.slice(place + 1).flatMap((other, more) => {
      const count = inCommon(own[place], own[place + 1 + more]);
      return count >= SAME_MOMENTS && one.own !== other.own ? [{ one, other, count }] : [];
    }));
  };

  // What is wrong most

  const casesOf = (data, known) => Object.keys(data.cases).filter((key) => {
    const [tree, cause] = key.split("/");
    return has(known.alarms, tree) && known.alarms[tree][1].includes(cause);
  });

  /** Of a record each safety rule that was broken: how often, in which alarms, whether those cases went well since. */
  const brokenBy = (data, known) => {
    const broken = new Map();
    casesOf(data, known).forEach((key) => {
      const entry = data.cases[key];
      const rules = Object.entries(entry.rules || {}).filter(([id, times]) => times && has(known.rules, id));
      rules.forEach(([id, times]) => {
        const told = broken.get(id) || { times: 0, alarms: new Map(), open: false };
        told.times += times;
        told.alarms.set(treeOf(key), (told.alarms.get(treeOf(key)) || 0) + times);
        told.open = told.open || entry.last?.went !== "good";
        broken.set(id, told);
      });
    });
    return broken;
  };

  /** The rules that some records break, those first that most of them break and have not mended. */
  const rulesOf = (some, known) => {
    const all = new Map();
    some.forEach((data) => brokenBy(data, known).forEach((told, id) => {
      const rule = all.get(id) || { id, by: 0, open: 0, times: 0, alarms: new Map() };
      rule.by += 1;
      rule.open += told.open ? 1 : 0;
      rule.times += told.times;
      told.alarms.forEach((times, tree) => rule.alarms.set(tree, (rule.alarms.get(tree) || 0) + times));
      all.set(id, rule);
    }));
    const ranked = Array.from(all.values()).sort(most((one) => one.open, (one) => one.by, (one) => one.times));
    return ranked.map((one) => ({ ...one, tree: Array.from(one.alarms).sort((a, b) => b[1] - a[1])[0][0] }));
  };

  /** The questions that some records answered wrong, those first that most of them have wrong now. */
  const asksOf = (some, known) => Object.keys(known.checks).map((id) => {
    const own = some.filter((data) => has(data.checks, id)).map((data) => data.checks[id]);
    return {
      id, page: treeOf(id), answered: own.length, wrong: own.filter((one) => !one.ok).length,
      ever: own.filter((one) => one.wrong > 0).length,
    };
  }).filter((one) => one.ever || one.wrong).sort(most((one) => one.wrong, (one) => one.ever));

  /** Who has finished each stage, who is in it, and who has not begun. */
  const stagesOf = (learners, known) => known.stages.map((stage) => {
    const told = learners.map(({ label, data }) => {
      return { label, state: stateOf(stage, data, known), due: dueOf(stage, data, known) };
    });
    return {
      stage, finished: told.filter(({ state }) => state.finished),
      begun: told.filter(({ state }) => state.begun && !state.finished),
      none: told.filter(({ state }) => !state.begun && !state.finished),
    };
  });

  const title = (id, known) => `“${known.pages[id][0]}”`;
  const pageLink = (id, known) => ({ words: title(id, known), href: known.at[id] });
  const caseLink = (id, known, words) => ({ words, href: `${known.practice}#${id}` });

  /**
   * What to teach next, as one sentence in pieces: plain words, and links. Safety rules come first, for who breaks one
   * may do harm; then questions; then the first stage that is not finished by all.
   */
  const nextOf = (learners, known) => {
    const some = learners.map((one) => one.data);
    const enough = Math.max(1, Math.ceil(some.length / ENOUGH));
    const of = (count) => `${count} of ${some.length}`;
    const rule = rulesOf(some, known).find((one) => one.open >= enough);
    if (rule) {
      return [
        `Teach next: “${known.rules[rule.id]}” That was broken, and not played well since, by ${of(rule.open)}; most often in `,
        pageLink(rule.tree, known), ": read the page together, then ", caseLink(rule.tree, known, "play a case of it"), ".",
      ];
    }
    const ask = asksOf(some, known).find((one) => one.wrong >= enough);
    if (ask) {
      return [
        `Teach next: “${known.checks[ask.id]}” ${of(ask.wrong)} have that wrong now; the answer stands in `,
        pageLink(ask.page, known), ".",
      ];
    }
    const open = stagesOf(learners, known).find((one) => one.finished.length < some.length);
    if (open) {
      return [
        "Teach next: the stage ", { words: `“${open.stage.title}”`, href: `${known.learn}#stage-${open.stage.id}` },
        `, which ${of(open.finished.length)} have finished.`,
      ];
    }
    const soonest = known.soon[0];
    return soonest
      ? ["All stages are finished by all; play once more what harms soonest: ", caseLink(soonest, known, title(soonest, known)), "."]
      : ["All stages are finished by all."];
  };

  // What has changed since a group file was saved

  const told = (before, now, count, words) => (before === now ? [] : [`${words}: ${before} before, ${now} now, of ${count}.`]);

  /** Lines that say what has changed for those who were in the group file before. */
  const changesOf = (learners, known) => {
    const both = learners.filter((one) => one.before);
    if (!both.length) return [];
    const old = both.map((one) => one.before);
    const now = both.map((one) => one.data);
    const fresh = learners.filter((one) => !one.before).map((one) => one.label);
    const silent = both.filter((one) => one.data.saved <= one.before.saved).map((one) => one.label);
    const lines = [];
    if (fresh.length) lines.push(`New: ${fresh.join("; ")}.`);
    if (silent.length) lines.push(`No newer file: ${silent.join("; ")}.`);
    known.stages.forEach((stage) => {
      const done = (some) => some.filter((data) => stateOf(stage, data, known).finished).length;
      lines.push(...told(done(old), done(now), both.length, `Finished “${stage.title}”`));
    });
    const byId = (some, key) => new Map(some.map((one) => [one.id, one[key]]));
    const compared = (before, after, words, shown) => {
      const changed = Array.from(new Set([...before.keys(), ...after.keys()]))
        .map((id) => ({ id, was: before.get(id) || 0, is: after.get(id) || 0 })).filter((one) => one.was !== one.is)
        .sort(most((one) => Math.abs(one.is - one.was)));
      // In a group what changed for one alone stands under that learner.
      const isMany = (one) => both.length < ENOUGH || Math.abs(one.is - one.was) > 1;
      const some = changed.filter(isMany).slice(0, IN_REFRESHER);
      some.forEach(({ id, was, is }) => lines.push(...told(was, is, both.length, `${words}, “${shown[id]}”`)));
      if (changed.length > some.length) lines.push(`${words}: ${changed.length - some.length} others, each by one learner.`);
    };
    compared(byId(rulesOf(old, known), "open"), byId(rulesOf(now, known), "open"), "Broken and not played well since", known.rules);
    compared(byId(asksOf(old, known), "wrong"), byId(asksOf(now, known), "wrong"), "Wrong now", known.checks);
    const pages = now.map((data, place) => Object.keys(data.read).length - Object.keys(old[place].read).length);
    lines.push(`Pages read since: ${sum(pages)}.`);
    return lines;
  };

  // Time, counted as `learning/minutes.py` counts it

  const minutes = (words, known) => Math.ceil(words / known.speed);

  const wordsOf = (stage, known) => sum(stage.pages.map((id) => sum(known.words[id] || [])));

  const needed = (some, known) => {
    const work = some.map((words) => minutes(words, known));
    const pauses = work.map((one) => Math.max(0, Math.ceil(one / known.work) - 1) * known.pause);
    return { work: sum(work), pauses: sum(pauses) };
  };

  /**
   * What to go through again once a year: what is wrong most, then what harms soonest; each page once.
   * @returns {{entries: {id: string, why: string, read: number, play: number}[], work: number, pauses: number}}
   */
  const refresherOf = (some, known) => {
    const of = (count) => (some.length > 1 ? ` by ${count} of ${some.length}` : "");
    const chosen = new Map();
    const add = (id, why, most) => {
      if (has(known.pages, id) && !chosen.has(id) && chosen.size < most) chosen.set(id, why);
    };
    rulesOf(some, known).forEach((one) => add(one.tree, `Broken${of(one.by)}: ${known.rules[one.id]}`, IN_REFRESHER));
    asksOf(some, known).forEach((one) => add(one.page, `Answered wrong${of(Math.max(one.ever, one.wrong))}: ${known.checks[one.id]}`, IN_REFRESHER));
    const most = chosen.size + IN_REFRESHER;
    known.soon.forEach((id) => add(id, known.soonest[id] || "Harm can come at once.", most));
    const entries = Array.from(chosen, ([id, why]) => {
      const [page, , play] = known.words[id] || [0, 0, 0];
      return { id, why, read: minutes(page, known), play: minutes(play, known), words: page + play };
    });
    return { entries, ...needed([sum(entries.map((one) => one.words))], known) };
  };

  // The group as a file

  const entryOf = (label, data) => {
    const { saved, plan, version, read, checks, cases } = data;
    return { label, saved, plan, version, read, checks, cases };
  };

  /** The group, each learner as it is seen; one that was merged has its sources beside: it can be parted again. */
  const file = (learners) => {
    const saved = Progress.now();
    const own = learners.map(({ label, data, key, sources }) => {
      // What was called otherwise, or looks like a name, stands nowhere in the file.
      const isOther = (one) => one.label && keyOf({ data: one }) !== key && !Progress.looksLikeName(one.label);
      const parts = sources.map((one) => entryOf(isOther(one) ? one.label : label, one));
      return { ...entryOf(label, data), ...(parts.length > 1 && { sources: parts }) };
    });
    const text = JSON.stringify({ kind: KIND, version: VERSION, saved, learners: own });
    return { name: `group-${saved.slice(0, 10)}.json`, text: `${text}\n` };
  };

  const isGroup = (words) => words.length <= MOST_SIGNS && /"kind"\s*:\s*"learning-group"/.test(words.slice(0, 300));

  const recordOf = (one) => Progress.read(JSON.stringify({ ...one, kind: "learning-record" }));

  /** What one learner of a group file was merged from; where that is damaged, the learner as it was seen. */
  const sourcesOf = (one, whole) => {
    if (!Array.isArray(one.sources) || one.sources.length > MOST_SOURCES) return [whole];
    try {
      return one.sources.map(recordOf);
    } catch {
      return [whole];
    }
  };

  /**
   * The learners in a group file, each by all records that it was merged from. One that does not fit is told in
   * `faults`, and takes nothing from the others; `same` has labels that were one learner's, with that it was seen by.
   */
  const read = (words) => {
    let given;
    try {
      given = JSON.parse(words.charAt(0) === "\ufeff" ? words.slice(1) : words);
    } catch {
      throw new Error("The group file is not JSON, or it is cut short; choose the one that was saved before it.");
    }
    if (given.version !== VERSION) throw new Error("The group file is of another version; save it again with the same pages as these.");
    if (!Array.isArray(given.learners)) throw new Error("learners is no list; choose a group file that was saved by this page.");
    if (given.learners.length > MOST_LEARNERS) throw new Error(`The group file has ${given.learners.length} learners; at most ${MOST_LEARNERS} are read.`);
    const learners = [];
    const faults = [];
    const same = [];
    given.learners.forEach((one, place) => {
      try {
        const whole = recordOf(one);
        const sources = sourcesOf(one, whole);
        const [seenAs, ...labels] = [whole, ...sources].map((data) => keyOf({ data }));
        learners.push(...sources);
        same.push(...labels.filter((label) => label !== seenAs).map((label) => [label, seenAs]));
      } catch (fault) {
        faults.push(`learner ${place + 1}: ${fault.message}`);
      }
    });
    const saved = typeof given.saved === "string" && !isNaN(Date.parse(given.saved)) ? given.saved : "";
    return { saved, learners, faults, same };
  };

  Object.assign(window.alarmtrees, {
    Group: {
      MOST_SIGNS, stateOf, leftOf, nextIn, gathered, alike, rulesOf, asksOf, stagesOf, nextOf, changesOf, refresherOf,
      needed, wordsOf, file, isGroup, read, casesOf,
    },
  });
})();
