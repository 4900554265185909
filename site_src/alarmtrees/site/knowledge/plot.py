"""The plots of calculators: plain SVG in the colours of the theme, and the same said in words.

Lines differ by their dashes as well, so that none is known by its colour alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ...calc.compute import compute
from ...calc.entry import read, short, shown
from ...calc.formula import Formula, Step
from ...calc.mathml import units
from ...calc.trial import result_of
from ..markup import View, block, esc

FRAME = WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 340, 260, 52, 20, 30, 40
"""The drawing and what stands around its lines; calc-shown.js draws by the same measures."""

POINTS = 96

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a plot: its points, what it is, and its values told in words."""

    points: tuple[Point, ...]
    say: str
    told: str


def plot_block(view: View, formula: Formula) -> str:
    """The drawing with its words; nothing where the formula cannot be worked out."""
    plot = formula.plot
    if plot is None or formula.unset:
        return ""
    if plot.levels:
        drawing, words = _levels(view, formula)
    elif plot.curves:
        drawing, words = _curves(view, formula)
    else:
        drawing, words = _stairs(view, formula)
    if not drawing:
        return ""
    return block("figure", [drawing, block("figcaption", words)], class_="plot")


def _curves(view: View, formula: Formula) -> tuple[str, list[str]]:
    plot = formula.plot
    assert plot is not None
    field = formula.fields[plot.across]
    lines = []
    for curve in plot.curves:
        step = formula.steps[curve.show]
        points = []
        held = {key: read(text, formula.fields[key]) for key, text in {**formula.examples, **curve.given}.items()}
        for number in range(POINTS + 1):
            x = plot.low + (plot.high - plot.low) * number / POINTS
            result = compute(formula, {**held, field.id: field.units[0].to_si(x)})
            if result.sound and not result.refuse and math.isfinite(result.values[step.id]):
                points.append((x, step.unit.from_si(result.values[step.id])))
        if points:
            lines.append(Line(tuple(points), curve.say, _told(points, step, field.units[0].label)))
    step = formula.steps[plot.curves[0].show]
    down = f"Up: {step.say}, in {_unit(step)}. Along: {field.say}, in {units(field.units[0].label) or 'numbers'}."
    drawing = _drawing(lines, plot.say, units(step.unit.label), units(field.units[0].label))
    return drawing, [f"<p>{view.say(down)}</p>", _legend(view, lines)]


def _stairs(view: View, formula: Formula) -> tuple[str, list[str]]:
    """What the rows of a plan show, held from one to the next; time in hours."""
    plan, plot = formula.plan, formula.plot
    assert plan is not None and plot is not None
    result = result_of(formula, {})
    steps = [
        (at / 3600, plan.rows[index].shows, number)
        for index, at, number in result.plan
        if plan.rows[index].shows is not None and number is not None
    ]
    if not steps:
        return "", []
    step = steps[0][1]
    assert step is not None
    points: list[Point] = []
    for at, one, number in steps:
        assert one is not None
        level = one.unit.from_si(number)
        points += [(at, points[-1][1])] if points else []
        points.append((at, level))
    points.append((points[-1][0] * 1.08, points[-1][1]))
    told = "; ".join(
        f"at {short(at)} h {shown(one, number)}" for at, one, number in steps if one is not None and number is not None
    )
    line = Line(tuple(points), step.say, f"{told}.")
    drawing = _drawing([line], plot.say, units(step.unit.label), "h")
    down = f"Up: {step.say}, in {_unit(step)}. Along: hours from the first step."
    return drawing, [f"<p>{view.say(down)}</p>", _legend(view, [line])]


def _levels(view: View, formula: Formula) -> tuple[str, list[str]]:
    """Some inputs side by side, each as a point above its number."""
    plot = formula.plot
    assert plot is not None
    fields = [formula.fields[key] for key in plot.levels]
    values = [float(field.example) for field in fields]
    low, high, ticks = _scale(min(values), max(values))
    parts = _frame(ticks, low, high, units(fields[0].units[0].label))
    wide = (WIDTH - LEFT - RIGHT) / len(fields)
    for number, value in enumerate(values):
        x, y = LEFT + wide * (number + 0.5), _up(value, low, high)
        parts.append(f'<path class="plot__stem" d="M{x:.1f} {HEIGHT - BOTTOM}V{y:.1f}"/>')
        parts.append(f'<circle class="plot__ring" cx="{x:.1f}" cy="{y:.1f}" r="5"/>')
        parts.append(f'<text x="{x:.1f}" y="{y - 10:.1f}" text-anchor="middle">{short(value)}</text>')
        parts.append(f'<text x="{x:.1f}" y="{HEIGHT - BOTTOM + 19}" text-anchor="middle">{number + 1}</text>')
    label = units(fields[0].units[0].label)
    told = [
        f"<li>{view.say(one.say)}: {short(value)} {esc(label)}</li>" for one, value in zip(fields, values, strict=True)
    ]
    return _svg(parts, plot.say), [block("ol", told)]


def _told(points: Sequence[Point], step: Step, label: str) -> str:
    """A line in words: where it begins, how it goes, where it ends."""

    def at(point: Point) -> str:
        value = shown(step, step.unit.to_si(point[1]))
        return f"{value} at {short(round(point[0], 6))} {label}".strip()

    begin, end = points[0], points[-1]
    top, low = (turn(points, key=lambda point: point[1]) for turn in (max, min))
    ends = (begin[1], end[1])
    if top[1] > max(ends):
        return f"from {at(begin)} it rises to {at(top)}, then falls to {at(end)}."
    if low[1] < min(ends):
        return f"from {at(begin)} it falls to {at(low)}, then rises to {at(end)}."
    way = "rises" if end[1] > begin[1] else "falls" if end[1] < begin[1] else "stays"
    return f"from {at(begin)} it {way} to {at(end)}."


def _unit(step: Step) -> str:
    return units(step.unit.label) or "numbers"


def _legend(view: View, lines: Sequence[Line]) -> str:
    told = []
    for number, line in enumerate(lines):
        sample = (
            f'<svg class="plot__sample" viewBox="0 0 40 10" width="40" height="10" aria-hidden="true">'
            f'<path class="plot__line plot__line--{number + 1}" d="M0 5H40"/></svg>'
        )
        told.append(f"<li>{sample} <b>{view.say(line.say)}:</b> {view.say(line.told)}</li>")
    return block("ul", told, class_="plot__legend")


def _drawing(lines: Sequence[Line], say: str, up: str, along: str) -> str:
    xs = [x for line in lines for x, _ in line.points]
    ys = [y for line in lines for _, y in line.points]
    if not xs:
        return ""
    low, high, ticks = _scale(min(ys), max(ys))
    first, last = min(xs), max(xs)
    parts = _frame(ticks, low, high, up)
    for tick in _ticks(first, last, 6):
        x = _right(tick, first, last)
        parts.append(f'<path class="plot__tick" d="M{x:.1f} {HEIGHT - BOTTOM}v4"/>')
        parts.append(f'<text x="{x:.1f}" y="{HEIGHT - BOTTOM + 19}" text-anchor="middle">{short(tick)}</text>')
    parts.append(f'<text class="plot__unit" x="{WIDTH - 2}" y="{HEIGHT - 3}" text-anchor="end">{esc(along)}</text>')
    for number, line in enumerate(lines):
        path = "L".join(f"{_right(x, first, last):.1f} {_up(y, low, high):.1f}" for x, y in line.points)
        parts.append(f'<path class="plot__line plot__line--{number + 1}" d="M{path}"/>')
    return _svg(parts, say)


def _svg(parts: Sequence[str], say: str) -> str:
    title = f"<title>{esc(say)}. The same stands in words below.</title>"
    return block("svg", [title, *parts], viewBox=f"0 0 {WIDTH} {HEIGHT}", role="img")


def _frame(ticks: Sequence[float], low: float, high: float, unit: str) -> list[str]:
    """The lines across with their numbers, and the unit above them."""
    parts = []
    for tick in ticks:
        y = _up(tick, low, high)
        style = "plot__zero" if tick == 0 or tick == ticks[0] else "plot__across"
        parts.append(f'<path class="{style}" d="M{LEFT} {y:.1f}H{WIDTH - RIGHT}"/>')
        parts.append(f'<text x="{LEFT - 6}" y="{y + 5:.1f}" text-anchor="end">{_minus(short(tick))}</text>')
    parts.append(f'<text class="plot__unit" x="2" y="14">{esc(unit)}</text>')
    return parts


def _minus(text: str) -> str:
    return text.replace("-", "\u2212")


def _scale(low: float, high: float) -> tuple[float, float, list[float]]:
    """Where the scale begins and ends, and its round numbers; from zero unless that would waste half of it."""
    if 0 < low < high * 0.6:
        low = 0.0
    if low == high:
        low, high = low - 1, high + 1
    gap = _gap(low, high, 5)
    first, last = math.floor(low / gap + 1e-9), math.ceil(high / gap - 1e-9)
    return first * gap, last * gap, [round(number * gap, 9) for number in range(first, last + 1)]


def _ticks(low: float, high: float, most: int) -> list[float]:
    gap = _gap(low, high, most)
    first = math.ceil(low / gap - 1e-9)
    return [round(number * gap, 9) for number in range(first, math.floor(high / gap + 1e-9) + 1)]


def _gap(low: float, high: float, most: int) -> float:
    """A round distance: 1, 2 or 5 with zeros."""
    rough = (high - low) / most
    power = 10.0 ** math.floor(math.log10(rough))
    return next(power * part for part in (1, 2, 5, 10) if power * part >= rough * 0.999)


def _up(value: float, low: float, high: float) -> float:
    return HEIGHT - BOTTOM - (value - low) / (high - low) * (HEIGHT - TOP - BOTTOM)


def _right(value: float, low: float, high: float) -> float:
    return LEFT + (value - low) / (high - low) * (WIDTH - LEFT - RIGHT)
