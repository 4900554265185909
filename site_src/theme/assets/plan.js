// The plan of one learner: first day and days of each stage, kept in this browser with the record; due dates on the
// page, on paper and as a calendar file; and what to refresh every year, from the record here.
(() => {
  "use strict";
  const place = document.querySelector("[data-plan]");
  const holder = document.getElementById("learning-data");
  if (!place || !holder || !window.alarmtrees.Progress) return;
  const { Calendar, Group, Progress, all, dayOf, el, local, many, sum } = window.alarmtrees;
  const known = JSON.parse(holder.textContent);
  const start = place.querySelector("#start");
  const done = place.querySelector("[data-done]");
  const rows = all("[data-stage-of]");
  const refresher = document.querySelector("[data-refresher]");
  place.hidden = false;
  document.documentElement.dataset.planned = "";

  /** The days of each stage as they stand in the fields; what is no number of days is as at first. */
  const days = new Map(known.stages.map((stage) => [stage.id, stage.days]));

  const fields = new Map(rows.map((row) => {
    const id = row.dataset.stageOf;
    const title = row.querySelector("th").textContent;
    const field = el("input", { type: "number", min: "1", max: "99", step: "1", inputmode: "numeric", "aria-label": `Days: ${title}` });
    row.querySelector("[data-days]").replaceChildren(field);
    field.addEventListener("input", changed);
    return [id, field];
  }));

  const daysIn = (id) => {
    const given = Number(fields.get(id).value);
    return Number.isInteger(given) && given >= 1 && given <= 99 ? given : 0;
  };

  const isDay = (day) => /^[12]\d{3}-\d\d-\d\d$/.test(day) && !isNaN(Date.parse(day));

  /** First and last days, or nothing where a field is not filled in. */
  const dates = () => {
    const stages = known.stages.map(({ id }) => ({ id, days: daysIn(id) }));
    return isDay(start.value) && stages.every((one) => one.days) ? Calendar.planned(start.value, stages) : null;
  };

  const wrong = () => {
    if (!isDay(start.value)) return "Put the first day, such as 2026-09-14.";
    const odd = known.stages.find(({ id }) => !daysIn(id));
    return odd ? `Put a whole number of days from 1 to 99 at “${odd.title}”.` : "";
  };

  const refresh = () => Group.refresherOf([Progress.load()], known);

  const show = () => {
    const told = dates();
    rows.forEach((row, number) => {
      row.querySelector("[data-from]").textContent = told ? told[number].from : "";
      row.querySelector("[data-due-on]").textContent = told ? told[number].due : "";
    });
    done.textContent = wrong();
    place.querySelector("[data-calendar]").disabled = !told;
    const total = Group.needed(known.stages.map((stage) => Group.wordsOf(stage, known)), known);
    const last = told && told[told.length - 1].due;
    const count = sum(known.stages.map(({ id }) => daysIn(id)));
    const hours = `${Math.floor((total.work + total.pauses) / 60)} h ${(total.work + total.pauses) % 60} min`;
    document.querySelector("[data-sum]").textContent = `The whole path: ${many(count, "day")}${told ? `, ${told[0].from} to ${last}` : ""}, `
      + `${total.work} min of work and ${total.pauses} min of pauses, ${hours} in all.`;
    showRefresher(last);
  };

  const showRefresher = (last) => {
    const { entries, work, pauses } = refresh();
    const lines = entries.map((one) => el(
      "li", "", el("a", { href: known.at[one.id] }, known.pages[one.id][0]), `: read ${one.read} min${one.play ? ", " : ". "}`,
      one.play ? el("a", { href: `${known.practice}#${one.id}` }, "a case") : null, one.play ? ` ${one.play} min. ` : null, one.why));
    const when = last ? ` First on ${Calendar.yearAfter(last)}, then every year.` : "";
    refresher.replaceChildren(
      el("p", "", `${many(entries.length, "page")}: ${work} min of work and ${pauses} min of pauses.${when}`), el("ol", "", ...lines));
  };

  function changed() {
    show();
    if (!wrong()) keep();
  }

  const keep = () => {
    const own = known.stages.map(({ id }) => [id, daysIn(id)]).filter(([id, count]) => count !== days.get(id));
    Progress.change((data) => {
      data.plan = { start: start.value, days: own.length ? Object.fromEntries(own) : null };
    });
  };

  /** The plan's own mark, so that a calendar that reads the file again moves its dates and doubles none. */
  const mark = () => {
    const kept = local.get(Progress.PLAN_MARK);
    if (typeof kept === "string" && /^[0-9a-f]{24}$/.test(kept)) return kept;
    const drawn = crypto.getRandomValues(new Uint8Array(12));
    const made = Array.from(drawn, (one) => one.toString(16).padStart(2, "0")).join("");
    local.set(Progress.PLAN_MARK, made);
    return made;
  };

  const save = () => {
    const told = dates();
    if (!told) return;
    keep();
    const own = mark();
    const events = known.stages.map((stage, number) => {
      const time = Group.needed([Group.wordsOf(stage, known)], known);
      const titles = stage.pages.map((id) => known.pages[id][0]).join("\n");
      return {
        id: `${stage.id}-${own}`, on: told[number].due, title: `Due: ${stage.title}`,
        told: `From ${told[number].from}. ${time.work} min of work and ${time.pauses} min of pauses.\n${titles}`,
      };
    });
    const { entries, work, pauses } = refresh();
    const titles = entries.map((one) => known.pages[one.id][0]).join("\n");
    events.push({
      id: `refresher-${own}`, on: Calendar.yearAfter(told[told.length - 1].due), title: "Refresher, once a year", yearly: true,
      told: `${work} min of work and ${pauses} min of pauses. The list is made anew on the page Plan and refresher; today:\n${titles}`,
    });
    Progress.download("learning-plan.ics", Calendar.file(events, Progress.now()), "text/calendar");
    done.textContent = "Saved as learning-plan.ics.";
  };

  const fill = () => {
    const { plan } = Progress.load();
    start.value = plan ? plan.start : start.value || dayOf(Date.now());
    fields.forEach((field, id) => { field.value = String(plan?.days?.[id] || days.get(id)); });
    show();
  };

  start.addEventListener("input", changed);
  place.querySelector("[data-calendar]").addEventListener("click", save);
  place.querySelector("[data-reset]").addEventListener("click", () => {
    fields.forEach((field, id) => { field.value = String(days.get(id)); });
    changed();
    done.textContent = wrong() || "The days are as at first.";
  });
  window.addEventListener("pageshow", fill);
  fill();
})();
