// The path of a learner: ticks, questions with a choice, and the record that stays in this browser (see progress.js).
// Without this file the page is a list, with the answers folded away.
(() => {
  "use strict";
  const AT_ONCE = 4;

  const { Calendar, Group, Progress, all, button, el, many } = window.alarmtrees;
  const day = (iso) => iso.slice(0, 10);

  /** Buttons that print, on any page of this part. */
  all("[data-scripted]").forEach((one) => { one.hidden = false; });
  all("[data-print]").forEach((button) => button.addEventListener("click", () => window.print()));

  /** Paper shows what is folded; the screen is as before afterwards. */
  const isPrinted = (one) => one.matches("[data-stage], .behind details");

  window.addEventListener("beforeprint", () => {
    all("details:not([open])", document.querySelector(".page")).filter(isPrinted).forEach((one) => {
      one.open = true;
      one.dataset.reopened = "";
    });
  });
  window.addEventListener("afterprint", () => {
    all("[data-reopened]").forEach((one) => {
      one.open = false;
      delete one.dataset.reopened;
    });
  });

  if (!document.querySelector("[data-page]") || !Progress) return;

  // One page of the path: read or not, and whether it has changed since.

  const ticked = (item) => {
    const id = item.dataset.page;
    const title = item.querySelector("b").textContent;
    const box = el("input", { type: "checkbox", "aria-label": `Read: ${title}` });
    const note = el("p", { class: "changed", hidden: "" });
    item.append(el("label", "tick", box, el("span", "", "Read")), note);
    box.addEventListener("change", () => {
      Progress.change((data) => {
        if (box.checked) data.read[id] = { on: Progress.now(), stamp: item.dataset.stamp };
        else delete data.read[id];
      });
      summary();
    });
    return {
      item, title, stage: item.closest("[data-stage]"), show: (data) => {
        const told = data.read[id];
        const same = Boolean(told) && told.stamp === item.dataset.stamp;
        box.checked = same;
        note.hidden = !told || same;
        note.textContent = note.hidden ? "" : `Changed since you read it on ${day(told.on)}.`;
        return told ? (same ? "read" : "changed") : "new";
      },
    };
  };

  // The stages are folded, but for the one to go on with and the one that a link names.

  const stages = all("[data-stage]");

  const fold = () => {
    const data = Progress.load();
    const next = entries.find((entry) => entry.show(data) !== "read");
    stages.forEach((stage) => { stage.open = Boolean(next) && stage === next.stage; });
    unfold();
  };

  const unfold = () => {
    const place = location.hash.length > 1 && document.getElementById(location.hash.slice(1));
    const stage = place && place.querySelector("[data-stage]");
    if (stage) stage.open = true;
    if (place) place.scrollIntoView();
  };

  /** What the page says of itself, as `group.js` knows a site. */
  const known = () => {
    const items = all("[data-page]");
    const causes = items.filter((one) => one.dataset.causes);
    return {
      pages: Object.fromEntries(items.map((one) => [one.dataset.page, [one.querySelector("b").textContent, one.dataset.stamp]])),
      alarms: Object.fromEntries(causes.map((one) => [one.dataset.page, ["", one.dataset.causes.split(" ")]])),
    };
  };

  const counted = (data) => {
    const site = known();
    stages.forEach((stage) => {
      const ids = (name) => all(`[data-${name}]`, stage).map((one) => one.dataset[name]);
      const state = Group.stateOf({ pages: ids("page"), checks: ids("check") }, data, site);
      const words = state.begun ? Group.leftOf(state) : `0 of ${state.pages} read`;
      stage.querySelector("[data-count]").textContent = state.finished ? "finished" : words;
    });
    planned(data);
  };

  /** When each stage is due, where the learner has a plan. */
  const planned = (data) => {
    const own = stages.map((stage) => ({ id: stage.dataset.stage, days: daysOf(stage, data) }));
    const dues = data.plan ? Calendar.planned(data.plan.start, own) : [];
    stages.forEach((stage, place) => {
      stage.querySelector("[data-due-by]").textContent = dues[place] ? ` Due ${dues[place].due}.` : "";
    });
  };

  const daysOf = (stage, data) => data.plan?.days?.[stage.dataset.stage] || Number(stage.dataset.days);

  // The questions of a stage: a few at a time, those first that were not answered right yet.

  const questionOf = (item) => ({
    id: item.dataset.check,
    ask: item.querySelector(".ask"),
    choices: all("[data-answer]", item).map((one) => ({
      right: one.dataset.answer === "right", say: one.querySelector("[data-say]").textContent, why: one.querySelector("[data-why]"),
    })),
  });

  /** Never asked, answered wrong, answered right. */
  const stateOf = (question, data) => {
    const kept = data.checks[question.id];
    return kept ? (kept.ok ? 2 : 1) : 0;
  };

  const answered = (question, isRight) => Progress.change((data) => {
    const kept = data.checks[question.id] || { right: 0, wrong: 0 };
    data.checks[question.id] = {
      right: kept.right + (isRight ? 1 : 0), wrong: kept.wrong + (isRight ? 0 : 1), on: Progress.now(), ok: isRight,
    };
  });

  /** The focus goes there; the screen moves only as far as it has to. */
  const goTo = (one) => {
    one.focus({ preventScroll: true });
    one.scrollIntoView({ block: "nearest" });
  };

  const asking = (block) => {
    const questions = all("[data-check]", block).map(questionOf);
    const told = block.querySelector("[data-told]");
    const begin = button("", "", () => round());
    const place = el("div", "now");
    const list = block.querySelector(".asks");
    list.hidden = true;
    list.before(begin, place);

    const show = (data) => {
      const right = questions.filter((one) => stateOf(one, data) === 2).length;
      told.textContent = `${many(questions.length, "question")}, ${right} answered right.`;
      begin.textContent = right === questions.length ? "Ask again" : `Ask ${Math.min(AT_ONCE, questions.length)}`;
      return right;
    };

    const round = () => {
      const data = Progress.load();
      const when = (one) => (data.checks[one.id] ? data.checks[one.id].on : "");
      // Answered wrong, never asked, answered right; the one asked longest ago first.
      const rank = (one) => [1, 0, 2][stateOf(one, data)];
      const later = (a, b) => (when(a) < when(b) ? -1 : when(a) > when(b) ? 1 : 0);
      const order = questions.slice().sort((a, b) => rank(a) - rank(b) || later(a, b));
      play(order.slice(0, AT_ONCE), 0, 0);
    };

    const play = (some, number, right) => {
      place.textContent = "";
      begin.hidden = number < some.length;
      if (number === some.length) {
        const words = `${right} of ${some.length} right at the first choice. Nothing is counted against you.`;
        const said = el("p", { role: "status", tabindex: "-1" }, words);
        place.append(said);
        goTo(said);
        return;
      }
      const question = some[number];
      const numbered = el("span", "number", `Question ${number + 1} of ${some.length}`);
      const heading = el("h4", { tabindex: "-1" }, numbered, question.ask.cloneNode(true));
      const verdict = el("p", { role: "status", class: "verdict", tabindex: "-1" });
      const items = question.choices.map((choice) => el("li", "", button("answer", choice.say, () => judge(choice))));
      place.append(heading, verdict, el("ul", "answers", ...items));
      goTo(heading);

      // The question stays where it is on the screen, whatever the reasons need of room.
      const judge = (chosen) => {
        const before = heading.getBoundingClientRect().top;
        answered(question, chosen.right);
        question.choices.forEach((choice, index) => {
          const told = el("b", "", `${choice.right ? "Right" : "Wrong"}: ${choice.say}`);
          const own = el("span", "", choice === chosen ? " (your choice) " : " ");
          const said = choice.right ? "told told--right" : "told";
          items[index].replaceChildren(el("p", said, told, own, choice.why.cloneNode(true)));
        });
        verdict.textContent = chosen.right ? "Right. The reasons:" : "Not that one. The reasons:";
        const words = number + 1 < some.length ? "Next question" : "Done";
        place.append(button("", words, () => play(some, number + 1, right + (chosen.right ? 1 : 0))));
        summary();
        verdict.focus({ preventScroll: true });
        window.scrollBy(0, heading.getBoundingClientRect().top - before);
      };
    };

    const stop = () => {
      place.textContent = "";
      begin.hidden = false;
    };
    return { count: questions.length, show, stop };
  };

  // How far one has come.

  const sofar = document.querySelector("[data-sofar]");
  const keep = document.querySelector("[data-keep]");
  const kept = keep && keep.querySelector("[data-unkept]");
  const label = keep && keep.querySelector("#label");

  const isAgain = (entry) => Boolean(entry.again_on) && Date.parse(entry.again_on) <= Date.now();

  const summary = () => {
    const data = Progress.load();
    const states = entries.map((entry) => entry.show(data));
    const read = states.filter((one) => one === "read").length;
    const changed = states.filter((one) => one === "changed").length;
    const right = asked.reduce((sum, one) => sum + one.show(data), 0);
    const questions = asked.reduce((sum, one) => sum + one.count, 0);
    const played = Object.values(data.cases);
    const words = [
      `${read} of ${many(entries.length, "page")} read${changed ? `, ${changed} changed since` : ""}.`,
      `${right} of ${many(questions, "question")} answered right.`,
    ];
    if (played.length) words.push(`${many(played.length, "cause")} practised, ${played.filter(isAgain).length} to play again.`);
    sofar.hidden = false;
    sofar.querySelector("[data-said]").textContent = words.join(" ");
    sofar.querySelector("progress").value = read;
    const next = sofar.querySelector("[data-next]");
    next.textContent = "";
    const first = entries[states.findIndex((one) => one !== "read")];
    if (first) next.append("Next: ", el("a", { href: first.item.querySelector("a").getAttribute("href") }, first.title));
    counted(data);
    if (kept) kept.hidden = Progress.kept;
    if (label && label !== document.activeElement) label.value = data.label || label.value;
  };

  // The record: to a file, from a file, gone.

  const records = () => {
    const done = keep.querySelector("[data-done]");
    const file = keep.querySelector("#file");
    const erase = keep.querySelector("[data-erase]");
    const ids = (name) => new Set(all(`[data-${name}]`).map((one) => one.dataset[name]));
    const known = { read: ids("page"), checks: ids("check") };
    let sure = false;
    keep.hidden = false;

    const say = (words) => { done.textContent = words; };

    const calm = () => {
      sure = false;
      erase.textContent = "Erase all here";
    };

    const warn = () => {
      const place = keep.querySelector("[data-named]");
      place.hidden = !Progress.looksLikeName(label.value);
      place.textContent = place.hidden ? "" : Progress.NAMED;
    };

    // Kept with the progress, so that the next file has it as well.
    const named = () => Progress.change((data) => { data.label = label.value; });

    label.addEventListener("change", named);
    label.addEventListener("change", warn);
    keep.querySelector("[data-save]").addEventListener("click", () => {
      calm();
      named();
      say(`Saved as ${Progress.save(label.value)}.`);
    });
    file.addEventListener("change", async () => {
      const chosen = file.files[0];
      calm();
      if (!chosen) return;
      try {
        const left = Progress.take(await Progress.open(chosen), known);
        summary();
        fold();
        say(`Read in: ${chosen.name}.${left ? ` Left out, for not of this site or of a day to come: ${left}.` : ""}`);
      } catch (fault) {
        say(`${chosen.name}: ${fault.message}`);
      }
      file.value = "";
    });
    erase.addEventListener("click", () => {
      if (!sure) {
        sure = true;
        erase.textContent = "Erase: press once more";
        say("This takes away all ticks, answers and practice in this browser. Nothing brings them back.");
        return;
      }
      Progress.erase();
      label.value = "";
      warn();
      calm();
      asked.forEach((one) => one.stop());
      summary();
      say("All is erased.");
    });
    erase.addEventListener("blur", calm);
    label.value = Progress.load().label || label.value;
    warn();
  };

  const entries = all("[data-page]").map(ticked);
  const asked = all("[data-asked]").map(asking);
  if (keep) records();

  /** Another tab, or the way back to this one, may have changed what is kept. */
  window.addEventListener("pageshow", summary);
  window.addEventListener("storage", summary);
  window.addEventListener("hashchange", unfold);
  all(".jump a").forEach((link) => {
    link.addEventListener("click", () => setTimeout(unfold)); // also where the address names it already
  });
  summary();
  fold();
})();
