// Table and plot of a calculator follow what is entered; what is not, stands at its example. Without a script they stay
// as the page brings them: plot.py draws the same.
(() => {
  "use strict";
  const host = document.querySelector("[data-calc]");
  const store = host?.querySelector("[data-calc-data]");
  const { all, el, formula, put } = window.alarmtrees;
  if (!store || !formula) return;

  const data = JSON.parse(store.textContent);
  const grid = document.querySelector("table:has(td[data-cell]) > tbody");
  const lines = grid ? Array.from(grid.rows) : [];
  const names = lines.map((line) => line.cells[0].textContent);
  const held = all("[data-held]");
  const before = new Map(held.map((one) => [one, one.textContent]));
  const plot = data.plot;
  const figure = document.querySelector(".plot");
  const svg = figure?.querySelector("svg");
  const axes = figure?.querySelector("figcaption p");
  const marked = el("p", { "data-marked": "" });
  const [WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM] = plot ? plot.frame : [];

  const worked = (given) => {
    const found = formula(given);
    return found.sound && !found.refuse.length ? found : null;
  };
  const inUnit = (unit, value) => (value - unit.offset) / unit.factor;
  const minus = (text) => text.replace("-", "\u2212");
  const alike = (one, other) => Math.abs(one - other) <= 1e-9 * Math.max(Math.abs(one), Math.abs(other));

  // The table

  function written(cell, step, given, shown) {
    const found = worked(given);
    // The unit stands at the head.
    if (found && isFinite(found.values[step])) put(cell, shown(data.table.steps[step], found.values[step]).split("\u00a0")[0]);
    else cell.replaceChildren(el("span", { "aria-hidden": "true" }, "–"), el("span", "unseen", "no number"));
  }

  /** The heads, with the units that were chosen. */
  function headed({ unitFor }) {
    const steps = data.table.isCrossed ? [] : data.table.rows[0].cells.map(({ step }) => data.table.steps[step]);
    const says = steps.map((step) => `${step.say}${unitFor(step).label ? `, in ${unitFor(step).label}` : ""}`);
    says.forEach((say, at) => {
      put(grid.parentElement.tHead.rows[0].cells[at + 1], say);
      lines.forEach((line) => { line.cells[at + 1].dataset.say = say; });
    });
  }

  /** A row in the unit that was chosen; as it was written in the first one. Says whether it is the one entered. */
  function named(line, at, { entered, short, unitOf }) {
    const { of, rows } = data.table;
    if (!of) return false;
    const field = data.fields[of];
    const value = rows[at].given[of];
    const unit = field.kind === "number" ? unitOf(of) : null;
    const isFirst = !unit || unit === field.units[0];
    const name = isFirst ? names[at] : `${minus(short(inUnit(unit, value)))}\u00a0${unit.label}`;
    const isEntered = of in entered && (unit ? alike(value, entered[of]) : value === entered[of]);
    put(line.cells[0], isEntered ? `${name} (entered)` : name);
    line.classList.toggle("grid__entered", isEntered);
    return isEntered;
  }

  /** A value between two rows has a row of its own, in its place. */
  function added(base, { entered, said, shown }) {
    const { of, rows } = data.table;
    const isNumber = (key) => key in rows[0].given && data.fields[key].kind === "number";
    const keys = of ? [of] : Object.keys(data.fields).filter(isNumber);
    if (!keys.every((key) => key in entered)) return;
    const own = Object.fromEntries(keys.map((key) => [key, entered[key]]));
    const mine = el("tr", { class: "grid__entered", "data-entered": "" });
    mine.append(el("th", { scope: "row" }, of ? `${said[of]} (entered)` : "As entered"));
    rows[0].cells.forEach(({ step, given }, at) => {
      const cell = el("td", { "data-say": lines[0].cells[at + 1].dataset.say });
      written(cell, step, { ...base, ...(of ? given : {}), ...own }, shown);
      mine.append(cell);
    });
    const behind = of ? lines.filter((_, at) => rows[at].given[of] < entered[of]) : [];
    if (behind.length) behind[behind.length - 1].after(mine);
    else grid.prepend(mine);
  }

  function tabled(base, told) {
    grid.querySelector("[data-entered]")?.remove();
    headed(told);
    const found = lines.map((line, at) => {
      data.table.rows[at].cells.forEach(({ step, given }, cell) => (
        written(line.cells[cell + 1], step, { ...base, ...given }, told.shown)
      ));
      return named(line, at, told);
    });
    if (!found.includes(true)) added(base, told);
  }

  // The drawing

  function part(name, given, text = "") {
    const made = document.createElementNS("http://www.w3.org/2000/svg", name);
    Object.entries(given).forEach(([key, value]) => made.setAttribute(key, value));
    made.textContent = text;
    return made;
  }

  /** A round distance: 1, 2 or 5 with zeros. */
  function gapOf(low, high, most) {
    const rough = (high - low) / most;
    const power = 10 ** Math.floor(Math.log10(rough));
    return [1, 2, 5, 10].map((one) => power * one).find((one) => one >= rough * 0.999);
  }

  function ticksOf(low, high, most) {
    const gap = gapOf(low, high, most);
    const first = Math.ceil(low / gap - 1e-9);
    const count = Math.floor(high / gap + 1e-9) - first + 1;
    return Array.from({ length: Math.max(0, count) }, (_, at) => Number(((first + at) * gap).toFixed(9)));
  }

  /** Where the scale begins and ends, and how far apart its numbers stand; from zero unless that would waste half. */
  function scaleOf(values) {
    let low = Math.min(...values);
    let high = Math.max(...values);
    if (low > 0 && low < high * 0.6) low = 0;
    if (low === high) [low, high] = [low - 1, high + 1];
    const gap = gapOf(low, high, 5);
    return [Math.floor(low / gap + 1e-9) * gap, Math.ceil(high / gap - 1e-9) * gap, gap];
  }

  const upIn = ([low, high]) => (value) => HEIGHT - BOTTOM - ((value - low) / (high - low)) * (HEIGHT - TOP - BOTTOM);
  const rightIn = ([low, high]) => (value) => LEFT + ((value - low) / (high - low)) * (WIDTH - LEFT - RIGHT);

  function frame(scale, unit, short) {
    const up = upIn(scale);
    const [low, high, gap] = scale;
    const count = Math.round((high - low) / gap) + 1;
    const ticks = Array.from({ length: count }, (_, at) => Number((low + at * gap).toFixed(9)));
    const parts = ticks.flatMap((tick) => {
      const line = `M${LEFT} ${up(tick).toFixed(1)}H${WIDTH - RIGHT}`;
      const named = { x: LEFT - 6, y: (up(tick) + 5).toFixed(1), "text-anchor": "end" };
      const style = tick === 0 || tick === ticks[0] ? "plot__zero" : "plot__across";
      return [part("path", { class: style, d: line }), part("text", named, minus(short(tick)))];
    });
    return [...parts, part("text", { class: "plot__unit", x: 2, y: 14 }, unit)];
  }

  function along(ends, unit, short) {
    const right = rightIn(ends);
    const parts = ticksOf(ends[0], ends[1], 6).flatMap((tick) => {
      const named = { x: right(tick).toFixed(1), y: HEIGHT - BOTTOM + 19, "text-anchor": "middle" };
      return [
        part("path", { class: "plot__tick", d: `M${right(tick).toFixed(1)} ${HEIGHT - BOTTOM}v4` }),
        part("text", named, minus(short(tick))),
      ];
    });
    const named = { class: "plot__unit", x: WIDTH - 2, y: HEIGHT - 3, "text-anchor": "end" };
    return [...parts, part("text", named, unit)];
  }

  /** The points of a curve, each where it can be worked out. */
  function pointsOf(curve, base, unit, own) {
    const first = data.fields[plot.across].units[0];
    const places = Array.from({ length: plot.points + 1 }, (_, at) => (
      plot.low + ((plot.high - plot.low) * at) / plot.points
    ));
    return places.flatMap((x) => {
      const at = x * first.factor + first.offset;
      const y = worked({ ...base, ...curve.given, [plot.across]: at })?.values[curve.step.id];
      return isFinite(y) ? [[unit === first ? x : inUnit(unit, at), inUnit(own, y)]] : [];
    });
  }

  /** A line in words: where it begins, how it goes, where it ends. */
  function toldOf(points, step, label, { shown, short, unitFor }) {
    const { factor, offset } = unitFor(step);
    const at = ([x, y]) => {
      const value = shown(step, y * factor + offset);
      return `${value} at ${short(Number(x.toFixed(6)))} ${label}`.trim();
    };
    const heights = points.map((point) => point[1]);
    const [begin, end] = [points[0], points[points.length - 1]];
    const top = points[heights.indexOf(Math.max(...heights))];
    const low = points[heights.indexOf(Math.min(...heights))];
    if (top[1] > Math.max(begin[1], end[1])) {
      return `from ${at(begin)} it rises to ${at(top)}, then falls to ${at(end)}.`;
    }
    if (low[1] < Math.min(begin[1], end[1])) {
      return `from ${at(begin)} it falls to ${at(low)}, then rises to ${at(end)}.`;
    }
    const way = end[1] > begin[1] ? "rises" : end[1] < begin[1] ? "falls" : "stays";
    return `from ${at(begin)} it ${way} to ${at(end)}.`;
  }

  /** A choice that a curve holds and the reader made otherwise: then that curve is not the reader's. */
  const isOther = (curve, entered) => Object.entries(curve.given).some(([key, value]) => (
    typeof value !== "number" && key in entered && entered[key] !== value
  ));

  /** Where the entered value lies, on each curve that is the reader's. */
  function markOf(base, told, unit, right, up) {
    const { entered, said, unitFor } = told;
    if (!(plot.across in entered)) return [[], ""];
    const first = inUnit(data.fields[plot.across].units[0], entered[plot.across]);
    const x = inUnit(unit, entered[plot.across]);
    const name = `${data.fields[plot.across].say}: ${said[plot.across]}`;
    if (first < plot.low || first > plot.high) return [[], `${name} lies outside this plot.`];
    const at = right(x).toFixed(1);
    const spots = plot.curves.filter((curve) => !isOther(curve, entered)).flatMap((curve) => {
      const y = worked({ ...base, ...curve.given, [plot.across]: entered[plot.across] })?.values[curve.step.id];
      const height = isFinite(y) && up(inUnit(unitFor(curve.step), y)).toFixed(1);
      return height ? [part("circle", { class: "plot__here", cx: at, cy: height, r: 5 })] : [];
    });
    const line = part("path", { class: "plot__mark", d: `M${at} ${TOP}V${HEIGHT - BOTTOM}` });
    const anchor = first > (plot.low + plot.high) / 2 ? "end" : "start";
    const label = { class: "plot__entered", x: at, y: TOP - 8, "text-anchor": anchor };
    return [[line, ...spots, part("text", label, said[plot.across])], `The upright line: ${name}.`];
  }

  /** Draws lines, and tells them in words; `mark` gives what stands over them, and its words. */
  function draw(lines, units, told, ways, mark) {
    const points = lines.flat();
    svg.toggleAttribute("hidden", !points.length);
    if (!points.length) {
      put(marked, "With these entries there is nothing to draw.");
      return;
    }
    const scale = scaleOf(points.map((point) => point[1]));
    const xs = points.map((point) => point[0]);
    const ends = [Math.min(...xs), Math.max(...xs)];
    const [up, right] = [upIn(scale), rightIn(ends)];
    const drawn = lines.map((line, number) => part("path", {
      class: `plot__line plot__line--${number + 1}`,
      d: line.length ? `M${line.map(([x, y]) => `${right(x).toFixed(1)} ${up(y).toFixed(1)}`).join("L")}` : "M0 0",
    }));
    const [over, words] = mark(right, up);
    const around = [...frame(scale, units[0], told.short), ...along(ends, units[1], told.short)];
    svg.replaceChildren(svg.querySelector("title"), ...around, ...drawn, ...over);
    put(marked, words);
    all(".plot__legend li", figure).forEach((entry, number) => {
      const way = lines[number].length ? ways[number] : "no number.";
      entry.replaceChildren(entry.querySelector("svg"), " ", entry.querySelector("b"), ` ${way}`);
    });
  }

  function curved(base, told) {
    const unit = told.unitOf(plot.across);
    const lines = plot.curves.map((curve) => pointsOf(curve, base, unit, told.unitFor(curve.step)));
    const ways = lines.map((line, number) => line.length && toldOf(line, plot.curves[number].step, unit.label, told));
    const units = [told.unitFor(plot.curves[0].step).label, unit.label];
    const [up, right] = units.map((label) => label || "numbers");
    put(axes, `Up: ${plot.curves[0].step.say}, in ${up}. Along: ${data.fields[plot.across].say}, in ${right}.`);
    draw(lines, units, told, ways, (right, up) => markOf(base, told, unit, right, up));
  }

  /** What the rows of a plan show, held from one to the next; time in hours. */
  function stepped(base, told) {
    const rows = (worked(base)?.plan || []).flatMap(([index, at, value]) => {
      const step = data.plan.rows[index].shows;
      return step && value !== null ? [{ hour: at / 3600, step, value }] : [];
    });
    const line = rows.flatMap(({ hour, step, value }, at) => {
      const level = inUnit(step.units[0], value);
      return at ? [[hour, inUnit(rows[at - 1].step.units[0], rows[at - 1].value)], [hour, level]] : [[hour, level]];
    });
    if (line.length) line.push([line[line.length - 1][0] * 1.08, line[line.length - 1][1]]);
    const way = rows.map(({ hour, step, value }) => `at ${told.short(hour)} h ${told.shown(step, value)}`).join("; ");
    draw([line], [rows[0]?.step.units[0].label, "h"], told, [`${way}.`], () => [[], ""]);
  }

  /** Some inputs side by side, each as a point above its number: full where it was entered, a ring where it is made up,
   * a square beside it for what was entered of another time. */
  function levelled(base, told) {
    const fields = plot.levels.map((key) => data.fields[key]);
    const values = plot.levels.map((key, at) => inUnit(fields[at].units[0], base[key]));
    const others = plot.beside.map((key, at) => (
      key in told.entered ? inUnit(fields[at].units[0], told.entered[key]) : null
    ));
    const scale = scaleOf([...values, ...others.filter((one) => one !== null)]);
    const isMadeUp = plot.levels.map((key) => !(key in told.entered));
    const wide = (WIDTH - LEFT - RIGHT) / values.length;
    const points = values.flatMap((value, at) => {
      const [x, y] = [LEFT + wide * (at + 0.5), upIn(scale)(value)];
      const middle = { x: x.toFixed(1), "text-anchor": "middle" };
      return [
        part("path", { class: "plot__stem", d: `M${x.toFixed(1)} ${HEIGHT - BOTTOM}V${y.toFixed(1)}` }),
        ...square(others[at] ?? null, x - 22, scale),
        part("circle", { class: isMadeUp[at] ? "plot__ring" : "plot__point", cx: x.toFixed(1), cy: y.toFixed(1), r: 5 }),
        part("text", { ...middle, y: (y - 10).toFixed(1) }, told.short(value)),
        part("text", { ...middle, y: HEIGHT - BOTTOM + 19 }, String(at + 1)),
      ];
    });
    const label = fields[0].units[0].label;
    svg.replaceChildren(svg.querySelector("title"), ...frame(scale, label, told.short), ...points);
    all("figcaption li", figure).forEach((entry, at) => {
      const then = (others[at] ?? null) === null ? "" : `; last reading ${told.short(others[at])} ${label}`;
      const how = isMadeUp[at] && isMadeUp.includes(false) ? " (made up: not entered)" : "";
      put(entry, `${fields[at].say}: ${told.short(values[at])} ${label}${how}${then}`);
    });
    put(marked, others.some((one) => one !== null) ? "Square, to the left: the last reading." : "");
  }

  function square(value, x, scale) {
    if (value === null) return [];
    const corner = { x: (x - 4).toFixed(1), y: (upIn(scale)(value) - 4).toFixed(1) };
    return [part("rect", { class: "plot__then", ...corner, width: 8, height: 8 })];
  }

  function follow(event) {
    const told = event.detail;
    const base = { ...data.examples, ...told.entered };
    if (grid) tabled(base, told);
    held.forEach((one) => put(one, told.said[one.dataset.held] || before.get(one)));
    if (svg && plot.levels.length) levelled(base, told);
    else if (svg && plot.curves.length) curved(base, told);
    else if (svg) stepped(base, told);
  }

  // What is wider than the screen

  function seeWide() {
    all(".wide").forEach((one) => {
      const more = one.scrollWidth > one.clientWidth + 1;
      one.parentElement.querySelector("[data-hint]")?.toggleAttribute("hidden", !more);
      if (!one.dataset.wide) return;
      const given = { tabindex: "0", role: "region", "aria-label": one.dataset.wide };
      Object.entries(given).forEach(([key, value]) => (more ? one.setAttribute(key, value) : one.removeAttribute(key)));
    });
  }

  if (svg) figure.querySelector("figcaption").prepend(marked);
  document.addEventListener("calc:entered", follow);
  addEventListener("resize", seeWide);
  seeWide();
})();
