// Fills into the competency record what a learner's file knows: read, answered, practised. The marks, and the line to
// sign, stay blank: they are for whoever has watched.
(() => {
  "use strict";
  const place = document.querySelector(".fill");
  if (!place || !window.alarmtrees.Progress) return;
  const { Progress, all, el, has } = window.alarmtrees;
  const done = place.querySelector("[data-done]");
  const file = place.querySelector("#file");
  const clear = place.querySelector("[data-empty]");
  const cells = all("[data-about]");

  const ids = (words) => words.split(" ").filter(Boolean);

  const lineOf = ({ about, stamp, checks, causes }, data) => {
    const told = [];
    const read = has(data.read, about) && data.read[about];
    if (read) told.push(`read ${read.on.slice(0, 10)}${read.stamp === stamp ? "" : ", changed since"}`);
    const asked = ids(checks);
    const right = asked.filter((id) => has(data.checks, id) && data.checks[id].ok);
    if (asked.some((id) => has(data.checks, id))) told.push(`${right.length} of ${asked.length} questions right`);
    const own = ids(causes);
    const played = own.map((cause) => `${about}/${cause}`).filter((key) => has(data.cases, key) && data.cases[key].plays);
    const passed = played.filter((key) => data.cases[key].last && data.cases[key].last.went !== "bad");
    if (played.length) told.push(`${played.length} of ${own.length} causes practised, ${passed.length} passed at the last play`);
    return told.length ? `In the file: ${told.join("; ")}.` : "";
  };

  const empty = () => {
    all(".known").forEach((one) => one.remove());
    clear.disabled = true;
  };

  const fill = (data, from) => {
    empty();
    let filled = 0;
    cells.forEach((cell) => {
      const line = lineOf(cell.dataset, data);
      if (!line) return;
      cell.append(el("span", "known", line));
      filled += 1;
    });
    clear.disabled = !filled;
    done.textContent = `${filled} of ${cells.length} lines filled in from ${from}. The marks are for whoever has watched.`;
  };

  place.querySelector("[data-own]").addEventListener("click", () => fill(Progress.load(), "this browser"));
  clear.addEventListener("click", () => {
    empty();
    done.textContent = "Taken out.";
    place.querySelector("[data-own]").focus();
  });
  file.addEventListener("change", async () => {
    const chosen = file.files[0];
    if (!chosen) return;
    try {
      fill(await Progress.open(chosen), chosen.name);
    } catch (fault) {
      done.textContent = `${chosen.name}: ${fault.message}`;
    }
    file.value = "";
  });
})();
