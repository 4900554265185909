// A calculator: what is typed becomes a number or clear words, and the result stands only where every entry is sound.
// The formula itself is a function that the page brings along, made from the same text as the formula that is read.
(() => {
  "use strict";
  const host = document.querySelector("[data-calc]");
  const store = host?.querySelector("[data-calc-data]");
  const { all, button, clocks, el, emit, formula, put, shift, two } = window.alarmtrees;
  if (!store || !formula) return;

  const data = JSON.parse(store.textContent);
  const form = host.querySelector("form");
  const result = host.querySelector("[data-result]");
  const bar = host.querySelector("[data-bar]");
  const rows = document.querySelector("[data-plan]");
  const says = document.querySelector("[data-plan-says]");
  const waits = document.querySelector("[data-plan-wait]");
  const NUMBER = new RegExp(`^(?:${data.number})$`);
  const CLOCK = new RegExp(`^(?:${data.clock})$`);
  const touched = new Set();

  const minus = (text) => text.replace("-", "\u2212");

  /** A number with four digits that count, and no powers of ten. */
  function short(number) {
    if (number === Math.floor(number)) return minus(String(number));
    const places = Math.max(0, 3 - Math.floor(Math.log10(Math.abs(number))));
    const text = number.toFixed(places);
    return minus(text.includes(".") ? text.replace(/0+$/, "").replace(/\.$/, "") : text);
  }

  const range = (unit) => `${short(unit.low)} to ${short(unit.high)}${unit.label ? ` ${unit.label}` : ""}`;

  /** What is wrong with an entry, or its number in SI units. */
  function number(text, unit) {
    const fault = (key) => ({ fault: data.words[key].replace("{wanted}", `a number from ${range(unit)}`) });
    if (!text) return fault("empty");
    if (text.includes(",")) return fault("comma");
    const plain = text.replace("\u2212", "-");
    if (!NUMBER.test(plain)) return fault("number");
    const value = Number(plain);
    const room = 1e-9 * Math.max(Math.abs(unit.low), Math.abs(unit.high));
    if (value < unit.low - room) return fault(value < 0 && unit.low >= 0 ? "negative" : "below");
    if (value > unit.high + room) return fault("above");
    return { value: value * unit.factor + unit.offset };
  }

  function clock(text) {
    const shape = CLOCK.exec(text);
    return shape ? { value: Number(shape[1]) * 60 + Number(shape[2]) } : { fault: data.words.clock };
  }

  function read(key) {
    const field = data.fields[key];
    const box = form.querySelector(`[data-field="${key}"]`);
    if (field.kind === "choice" || field.kind === "yes-no") {
      const picked = box.querySelector("input:checked");
      if (!picked) return { fault: data.words.choose, empty: true };
      return { value: field.kind === "yes-no" ? picked.value === "yes" : picked.value };
    }
    const text = box.querySelector(".field__entry").value.trim();
    if (field.optional && !text) return { isLeft: true };
    if (field.kind === "clock") return text ? clock(text) : { fault: data.words.clock, empty: true };
    return { ...number(text, unitOf(key)), empty: !text };
  }

  /** An entry in the words of the page. */
  function said(key) {
    const box = form.querySelector(`[data-field="${key}"]`);
    const picked = box.querySelector("input:checked");
    if (picked) return picked.parentElement.textContent.trim();
    const label = data.fields[key].kind === "number" ? unitOf(key).label : "";
    return `${box.querySelector(".field__entry").value.trim()}${label ? `\u00a0${label}` : ""}`;
  }

  function unitOf(key) {
    const choice = form.querySelector(`[data-field="${key}"] select`);
    return data.fields[key].units[choice ? Number(choice.value) : 0];
  }

  /** The unit that a result is shown in: the one chosen for the input that it is like, else its only one. */
  function unitFor(step) {
    const choice = step.like && form.querySelector(`[data-field="${step.like}"] select`);
    return step.units[choice ? Number(choice.value) : 0];
  }

  function shown(step, value) {
    const { digits, factor, label, offset } = unitFor(step);
    const scale = Math.pow(10, digits);
    const turned = ((value - offset) / factor) * scale;
    const whole = Math.floor(turned + (step.down ? 1e-9 : 0.5 + 1e-9)) / scale;
    const text = minus((whole === 0 ? 0 : whole).toFixed(digits));
    return label ? `${text}\u00a0${label}` : text;
  }

  /** Who reads one number in a unit reads the others in it too: fields of the same units that are empty follow. */
  function followUnit(changed) {
    const units = (choice) => all("option", choice).map((option) => option.textContent).join();
    all("select.field__unit", form).forEach((other) => {
      const entry = other.closest("[data-field]").querySelector(".field__entry");
      if (!entry.value.trim() && units(other) === units(changed)) other.value = changed.value;
    });
  }

  /** The time of day that lies some seconds after the start, in minutes of its day; rounded down, for it may be a
   * deadline. */
  function planTime(start, after) {
    const minute = Math.floor(start + after / 60 + 1e-9);
    const day = minute >= 1440 ? ` (day ${Math.floor(minute / 1440) + 1})` : "";
    return `${two(Math.floor(minute / 60) % 24)}:${two(minute % 60)}${day}`;
  }

  function say(fields) {
    Object.entries(fields).forEach(([key, read]) => {
      const box = form.querySelector(`[data-field="${key}"]`);
      const told = read.fault && (touched.has(key) || !read.empty) ? read.fault : "";
      put(box.querySelector(".field__fault"), told);
      box.querySelector(".field__entry")?.setAttribute("aria-invalid", String(Boolean(told)));
      const hint = box.querySelector("[data-range]");
      if (hint) hint.textContent = `From ${range(unitOf(key))}.`;
    });
  }

  /** Whom these lines tell a reader to call, as everywhere: an invented number is no link. */
  function calls(lines) {
    const roles = Object.keys(data.roles).filter((id) => lines.some((line) => data.calls[line]?.includes(id)));
    return roles.map((id) => {
      const { dial, note, number, say } = data.roles[id];
      const told = el(dial ? "a" : "span", dial ? { class: "phone", href: `tel:${dial}` } : "phone", number);
      return el("p", "call", "Call: ", el("b", "", say), " ", told, note);
    });
  }

  /** `lines` are the result in short: they stand at the screen's foot as long as the result itself is not seen. */
  function present(state, lines, ...parts) {
    host.dataset.state = state;
    result.replaceChildren(...parts);
    bar.replaceChildren(...lines.filter(Boolean).map((line) => el("span", "", line)));
    bar.hidden = false;
  }

  /** The plan is away, rows and all, so that nothing can show or print it; a line says why. */
  function unplanned(why) {
    if (!rows) return;
    rows.replaceChildren();
    says.replaceChildren();
    put(waits, `No plan here yet. ${why}`);
  }

  function planned(values, entered) {
    if (!rows) return;
    const made = [];
    let last = null;
    values.plan.forEach(([index, at, amount]) => {
      const row = data.plan.rows[index];
      if (last === null || last.at !== at) {
        last = { at, what: el("td") };
        const write = Array.from({ length: data.plan.write + 1 }, () => el("td"));
        made.push(el("tr", "", el("td", "", planTime(entered[data.plan.start], at)), last.what, ...write));
      }
      const told = el("p", "", row.say);
      if (row.shows && amount !== null) {
        told.append(" ", el("b", "", `${row.shows.say}: ${shown(row.shows, amount)}.`));
      }
      last.what.append(told);
    });
    rows.replaceChildren(...made);
    says.replaceChildren(el("p", "", "Times of day, from the values above."));
  }

  const reasons = (lines) => lines.map((line) => el("p", "result__reason", line));

  function work() {
    const keys = Object.keys(data.fields);
    const fields = Object.fromEntries(keys.map((key) => [key, read(key)]));
    say(fields);
    const sound = keys.filter((key) => !fields[key].fault && !fields[key].isLeft);
    const entered = Object.fromEntries(sound.map((key) => [key, fields[key].value]));
    const words = Object.fromEntries(sound.map((key) => [key, said(key)]));
    emit("calc:entered", { entered, said: words, shown, short, unitOf, unitFor });
    const missing = keys.filter((key) => fields[key].fault);
    // What needs no more than is there is said at once: a call must not wait for the last number.
    const values = formula(entered);
    const refused = values.refuse.map((index) => data.refuse[index]);
    if (!missing.length && !values.sound && !refused.length) refused.push(data.words.nothing);
    if (refused.length) {
      unplanned(refused.join(" "));
      const why = [...reasons(refused), ...calls(refused)];
      present("refused", [`No number. ${refused[0]}`], el("p", "result__wait", "No number."), ...why);
      return;
    }
    const readings = values.reads.map((index) => data.reads[index]);
    const warns = values.warn.map((index) => data.warn[index]);
    const suggests = readings.map((line) => el("p", "result__reads", line));
    const warned = [...reasons(warns), ...calls([...warns, ...readings])];
    if (missing.length) {
      unplanned(`Still to fill in or to put right: ${missing.map((key) => data.fields[key].say).join("; ")}.`);
      const list = el("ul", "", ...missing.map((key) => el("li", "", data.fields[key].say)));
      const wait = el("p", "result__wait", "No result yet. Still to fill in or to put right:");
      const told = warns[0] || `No result yet: ${missing.length} to fill in or to put right.`;
      present("waiting", [told], ...warned, ...suggests, wait, list);
      return;
    }
    planned(values, entered);
    const behind = data.outputs.map((step) => step.beside);
    const there = data.outputs.filter(({ id }) => isFinite(values.values[id]) && !behind.includes(id));
    const list = el("dl", "result__list", ...there.flatMap((step) => output(step, values.values)));
    const steps = values.plan?.map(([index]) => data.plan.rows[index].say) || [];
    const later = calls([...steps, ...(data.plan?.stops || [])]);
    const isNew = (call) => !warned.some((one) => one.textContent === call.textContent);
    const firsts = there.slice(0, 2).map((step) => `${shown(step, values.values[step.id])}: ${step.say}`);
    present("worked", [warns[0], ...firsts], ...warned, list, ...suggests, ...later.filter(isNew));
  }

  function output(step, numbers) {
    const name = el("dt", "", step.say);
    if (step.note) name.append(" ", el("span", "quiet", step.note));
    const told = el("dd", "", el("span", { "data-output": step.id }, shown(step, numbers[step.id])));
    const other = data.outputs.find(({ id }) => id === step.beside);
    if (other && isFinite(numbers[other.id])) {
      const then = el("span", { "data-output": other.id }, shown(other, numbers[other.id]));
      told.append(" ", el("span", "result__then", `${other.note} `, then));
    }
    return [name, told];
  }

  // The running clock of a balloon that stands still

  /** A hold begins at this bed, or ends: each page shows the clock while it runs. */
  function runClock() {
    const { after, say } = data.plan.limit;
    const now = Date.now();
    const { clock } = shift.current();
    if (!clocks.rests(clock)) shift.setClock({ kind: "stopped", since: now, at: now, limit: after, say });
    else {
      const length = clocks.isExact(clock) ? `after ${Math.floor((now - clock.since) / 60000)} min at rest` : "resting time not exactly known";
      const ended = { before: { ...clock, ended: undefined }, by: { walk: shift.own(), at: now }, length };
      shift.setClock({ kind: "moved", at: now, ended, limit: after, say });
    }
  }

  function drawClock() {
    const place = host.querySelector("[data-clock]");
    if (!place) return;
    const isResting = clocks.rests(shift.current().clock);
    const press = button("plain", isResting ? "It moves with every beat: end the clock" : "It stands still now: start the clock", runClock);
    const about = el("span", "quiet", "It runs on every page of this device until the balloon is seen to move.");
    if (place.firstChild?.textContent !== press.textContent) place.replaceChildren(press, " ", about);
    place.hidden = false;
  }

  form.addEventListener("submit", (event) => event.preventDefault());
  form.addEventListener("input", work);
  form.addEventListener("change", (event) => {
    if (event.target.matches("select")) followUnit(event.target);
    work();
  });
  if (window.IntersectionObserver) {
    const observer = new IntersectionObserver(([seen]) => bar.classList.toggle("calc__bar--off", seen.isIntersecting));
    observer.observe(result);
  }
  document.addEventListener("shift:changed", drawClock);
  drawClock();
  form.addEventListener("focusout", (event) => {
    const box = event.target.closest("[data-field]");
    // Leaving a group of answers for another one of them is no leaving.
    if (!box || box.contains(event.relatedTarget)) return;
    touched.add(box.dataset.field);
    work();
  });
  work();
})();
