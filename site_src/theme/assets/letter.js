// The letter of completion, filled in from a learner's file or from the record in this browser. It says what the file
// says, and never more: no name is asked for, and nothing is judged.
(() => {
  "use strict";
  const place = document.querySelector("[data-letter]");
  const holder = document.getElementById("learning-data");
  if (!place || !holder || !window.alarmtrees.Progress) return;
  const { Group, Progress, dayOf, el, many, sum } = window.alarmtrees;
  const known = JSON.parse(holder.textContent);
  const sheet = document.querySelector("[data-sheet]");
  const done = document.querySelector("[data-done]");
  const file = place.querySelector("#file");
  const print = place.querySelector("[data-print]");
  place.hidden = false;

  const daysOf = (data) => ["read", "checks", "cases"].flatMap((part) => Object.values(data[part]))
    .map((entry) => entry.on || entry.last?.on || "").filter(Boolean).sort();

  const show = (data, from) => {
    const states = known.stages.map((stage) => ({ stage, state: Group.stateOf(stage, data, known) }));
    const finished = states.filter((one) => one.state.finished);
    const isWhole = finished.length === states.length;
    const total = (name) => sum(states.map((one) => one.state[name]));
    const days = daysOf(data);
    const span = days.length ? ` from ${dayOf(days[0])} to ${dayOf(days[days.length - 1])}` : "";
    const cases = Group.casesOf(data, known).map((key) => data.cases[key]).filter((one) => one.plays);
    const passed = cases.filter((one) => one.last && one.last.went !== "bad").length;
    const words = (name) => sheet.querySelector(`[data-${name}]`);
    words("heading").textContent = isWhole ? "Letter of completion" : "Letter of what has been done so far";
    words("said").textContent = isWhole
      ? `The bearer has gone through all ${many(states.length, "stage")} of the path of new colleagues${span}, by the file of their own browser:`
      : `The bearer has finished ${finished.length} of ${many(states.length, "stage")} of the path of new colleagues${span}, by the file of their own browser:`;
    words("lines").replaceChildren(...[
      `${total("read")} of ${many(total("pages"), "page")} read, as they are now.`,
      `${total("right")} of ${many(total("checks"), "question")} answered right.`,
      `${many(cases.length, "cause")} practised in cases; ${passed} went well, or fairly, at the last play.`,
      ...(isWhole ? [] : [`Open: ${states.filter((one) => !one.state.finished).map((one) => one.stage.title).join("; ")}.`]),
    ].map((line) => el("li", "", line)));
    words("from").textContent = `Made on ${dayOf(Date.now())} from ${from}.`;
    sheet.hidden = false;
    print.disabled = false;
    done.textContent = isWhole ? "All stages are finished." : `${finished.length} of ${states.length} stages are finished: the letter says so.`;
  };

  const labelled = (data) => (data.label ? `, under the words “${data.label}”` : "");

  place.querySelector("[data-own]").addEventListener("click", () => {
    const data = Progress.load();
    show(data, `the record in this browser${labelled(data)}`);
  });
  file.addEventListener("change", async () => {
    const chosen = file.files[0];
    if (!chosen) return;
    try {
      const data = await Progress.open(chosen);
      const saved = data.saved ? ` of ${data.saved.slice(0, 10)}` : "";
      show(data, `a file${saved}${labelled(data)}`);
      if (Progress.looksLikeName(data.label)) done.textContent = `“${data.label}”: ${Progress.NAMED}`;
    } catch (fault) {
      sheet.hidden = true;
      print.disabled = true;
      done.textContent = `${chosen.name}: ${fault.message}`;
    }
    file.value = "";
  });
})();
