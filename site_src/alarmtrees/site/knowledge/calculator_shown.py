"""What stands on a calculator's page without scripts and on paper: plan, limits, formula, table, plot."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import groupby
from math import isfinite
from typing import Any

from ...calc.entry import duration, shown
from ...calc.formula import Case, Field, Fixed, Formula, Step, Table
from ...calc.mathml import equation, math, sign, units
from ...calc.trial import result_of
from ...model import Calculator, Map
from ...model.addresses import SETTINGS
from ...proof.ownership import is_left, state
from ..markup import SAID, View, alarm_link, block, esc, items
from .plot import plot_block

MOST_COLUMNS = 3
"""So many columns fit side by side on a phone."""

EXAMPLE = "<p><b>EXAMPLE, for learners. No patient’s plan: its values are made up.</b></p>"


def plan_part(view: View, formula: Formula) -> list[str]:
    """The plan: nothing but what is missing, until all is filled in.

    Without scripts its table is shown for an example, marked as one, and stays off paper: a volume or a time that
    nobody ordered must not reach a bedside as a plan.
    """
    plan = formula.plan
    if plan is None or formula.unset:
        return []
    result = result_of(formula, {})
    rows = []
    for at, group in groupby(result.plan, key=lambda row: row[1]):
        cells = []
        for index, _, number in group:
            row = plan.rows[index]
            beside = (
                f" <b>{view.say(row.shows.say)}: {_shown(row.shows, number)}.</b>"
                if row.shows and number is not None
                else ""
            )
            cells.append(f"<p>{view.say(row.say)}{beside}</p>")
        write = "<td></td>" * (len(plan.write) + 1)
        rows.append(f"<tr><td>{duration(at)}</td><td>{''.join(cells)}</td>{write}</tr>")
    columns = "".join(f"<th>{view.say(name)}</th>" for name in (*plan.write, "Done, by whom"))
    head = f"<thead><tr><th>Time</th><th>What</th>{columns}</tr></thead>"
    stops = items("ul", map(view.say, plan.stops)) if plan.stops else ""
    needed = "; ".join(view.say(formula.fields[key].say) for key in formula.asked)
    example = f"{EXAMPLE}{_held(view, formula, ())}<p>Times are counted from the first step.</p>"
    table = _boxed(f"<table>{head}<tbody data-plan>{''.join(rows)}</tbody></table>", view.say(plan.say))
    return [
        block(
            "section",
            [
                f"<h2>{view.say(plan.say)}</h2>",
                f'<div class="stops"><p><b>Leave the plan when:</b></p>\n{stops}\n</div>' if stops else "",
                f'<p class="plan__wait" data-plan-wait>No plan here yet. It needs: {needed}.</p>',
                f'<div class="plan__made"><div class="plan__example">{example}</div>',
                f"<div data-plan-says></div>{table}</div>",
            ],
            class_="part plan",
        )
    ]


def limits_part(view: View, one: Calculator) -> str:
    """When it holds, what breaks it, and its cautions: always in sight."""
    lines = ["<h2>When it holds, and what breaks it</h2>", _notes(view, one.raw["valid"])]
    lines += ["<p><b>It breaks with:</b></p>", _notes(view, one.raw["breaks"])]
    if own := [key for key in one.cautions if key not in SAID]:
        lines += ["<p><b>Always:</b></p>", items("ul", map(view.caution, own), found=False)]
    return block("section", lines, class_="cautions", id="_limits")


def _notes(view: View, notes: Sequence[Map]) -> str:
    return items("ul", (f"{view.say(note['say'])} {view.rests_on(note.get('sources', ()))}" for note in notes))


def formula_part(view: View, formula: Formula) -> str:
    """Each step and result as it is worked out, then what each sign stands for."""
    words: dict[str, str] = {}
    for field in formula.fields.values():
        words |= {key: f"<mtext>{view.say(say)}</mtext>" for key, say in field.choices.items()}
        is_short = field.kind == "number" or field.sign != field.id
        words[field.id] = sign(field.sign) if is_short else f"<mtext>“{view.say(field.say)}”</mtext>"
    words |= {one.id: sign(one.sign) for one in formula.fixed.values()}
    words |= {step.id: sign(step.sign) for step in formula.steps.values()}
    lines = []
    for step in formula.steps.values():
        shape = math(equation(words[step.id], step.node, words, step.when), block=True)
        lines.append(f'<dt>{view.say(step.say)}</dt><dd><div class="wide" data-wide="Formula">{shape}</div></dd>')
    meanings = [
        f"{math(sign(one.sign))} {view.say(one.say)}{_in(one.units[0].label) if one.units else ''}"
        for one in formula.fields.values()
        if one.kind == "number" or one.sign != one.id
    ]
    meanings += [_meaning(view, one) for one in formula.fixed.values()]
    inner = [
        "<h2>Formula</h2>",
        "<p>All is worked out in SI units; each number is turned into its unit at the end.</p>",
        block("dl", lines, class_="formula"),
        "<h3>Where</h3>",
        items("ul", meanings, "meanings"),
    ]
    return block("section", inner, class_="part")


def _in(label: str) -> str:
    return f", in {esc(units(label))}" if label not in ("", "none") else ""


def _meaning(view: View, one: Fixed) -> str:
    value = f"{math(sign(one.sign))} = {view.say(units(one.shown))}: {view.say(one.say)}"
    if one.setting:
        return f"{value}. {origin(view, one.setting.id, 'From')}"
    return f"{value}. {view.rests_on(one.sources)}"


def _shown(step: Step, value: float) -> str:
    return esc(units(shown(step, value)))


def table_part(view: View, formula: Formula) -> list[str]:
    """The table, for paper and for whoever has no scripts; nothing where there is none."""
    table = formula.table
    if table is None or formula.unset:
        return []
    if table.columns:
        first, second = (formula.fields[key] for key in table.of)
        head = [view.say(first.say), *(_value(second, one) for one in table.columns)]
        names = [_value(first, row) for row in table.rows]
        within = _in(formula.steps[table.show[0]].unit.label).removeprefix(", in ")
        told = f"<p>In the columns: {view.say(second.say)}.{f' In the cells: {within}.' if within else ''}</p>"
    else:
        field = formula.fields.get(table.of[0])
        label = view.say(field.say) if field else "Reading"
        shows = (formula.steps[key] for key in table.show)
        head = [label, *(f"{view.say(step.say)}{_in(step.unit.label)}" for step in shows)]
        names = [_value(field, row) if field else _reading(view, formula, row) for row in table.rows]
        told = ""
    rows_of = zip(names, cells(formula, table), strict=True)
    body = [[name, *(_cell(formula, step, given) for step, given in row)] for name, row in rows_of]
    heads = "".join(f'<th scope="col">{cell}</th>' for cell in head)
    rows = "".join(
        f'<tr><th scope="row">{row[0]}</th>{"".join(_td(*one) for one in zip(head[1:], row[1:], strict=True))}</tr>'
        for row in body
    )
    more = '<p class="wide__hint" data-hint hidden>The table goes on to the right: swipe, or use the arrow keys.</p>'
    # Many columns stand under each other on a phone.
    many = ' class="grid__many"' if len(head) > MOST_COLUMNS else ""
    many = ' class="grid__crossed"' if table.columns else many
    grid = more + _boxed(
        f"<table{many}><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>", view.say(table.say)
    )
    inner = [
        "<h2>Table</h2>",
        f"<p>{view.say(table.say)}.</p>",
        told,
        grid,
        _held(view, formula, table.of),
    ]
    return [block("section", inner, class_="part")]


def cells(formula: Formula, table: Table) -> list[list[tuple[Step, Mapping[str, str]]]]:
    """The cells of a table, row by row: what each shows, and the inputs that it is worked out with."""
    steps = [formula.steps[key] for key in table.show]
    if table.columns:
        return [[(steps[0], {**row.given, **column.given}) for column in table.columns] for row in table.rows]
    return [[(step, row.given) for step in steps] for row in table.rows]


def _value(field: Field, case: Case) -> str:
    text = case.given[field.id]
    if field.choices:
        return esc(field.choices[text])
    return f"{esc(text)}\u00a0{esc(units(field.units[0].label))}".rstrip("\u00a0")


def _reading(view: View, formula: Formula, case: Case) -> str:
    """The words of a made-up case, and the numbers that it was made of."""
    given = " / ".join(esc(text) for key, text in case.given.items() if formula.fields[key].kind == "number")
    label = next((one.units[0].label for one in formula.fields.values() if one.units), "")
    return f'{view.say(case.say)}<br><span class="quiet">{given} {esc(units(label))}</span>'


def _cell(formula: Formula, step: Step, given: dict[str, str] | Any) -> str:
    result = result_of(formula, given)
    if result.refuse or not result.sound or not isfinite(result.values[step.id]):
        return '<span aria-hidden="true">–</span><span class="unseen">no number</span>'
    return _shown(step, result.values[step.id]).partition("\u00a0")[0]


def _td(say: str, cell: str) -> str:
    """A cell that knows what stands above it."""
    return f'<td data-cell data-say="{say}">{cell}</td>'


def _boxed(table: str, name: str) -> str:
    """A table that scrolls by itself where a screen is too narrow."""
    return f'<div class="grid wide" tabindex="0" role="region" aria-label="{name}">{table}</div>'


def _held(view: View, formula: Formula, varied: Sequence[str]) -> str:
    """What else a table or plot counts with."""
    told = []
    for key, field in formula.fields.items():
        if key in varied or field.kind == "clock" or (varied == ("",) and field.kind == "number") or not field.example:
            continue
        value = view.say(field.choices[field.example]) if field.choices else esc(field.example)
        label = f"\u00a0{esc(units(field.units[0].label))}" if field.units and field.units[0].label else ""
        told.append(f'{view.say(field.say)}: <span data-held="{key}">{value}{label}</span>')
    told += [f"{view.say(one.say)}: {view.say(one.shown)}" for one in formula.fixed.values() if one.setting]
    return f'<p class="quiet">Worked out with these values. {"; ".join(told)}.</p>' if told else ""


def plot_part(view: View, formula: Formula) -> list[str]:
    """The plot; nothing where there is none."""
    plot = plot_block(view, formula)
    if not plot or formula.plot is None:
        return []
    across = (formula.plot.across, *formula.plot.levels)
    held = "" if formula.plot.levels else _held(view, formula, across)
    inner = ["<h2>Plot</h2>", f"<p>{view.say(formula.plot.say)}.</p>", plot, held]
    if formula.plot.curves or formula.plot.levels:
        return [block("section", inner, class_="part")]
    # The steps of a plan are the plan once more.
    inner[1:1] = [f'<div class="plan__example">{EXAMPLE}</div>']
    return [block("section", inner, class_="part plan__made")]


def related_part(view: View, one: Calculator) -> list[str]:
    """The alarms and articles that go with it; nothing where there are none."""
    trees = [tree for key in one.trees if (tree := view.library.trees.get(key))]
    parts = []
    if trees:
        links = items("ul", (alarm_link(view, tree) for tree in trees), "alarms")
        parts.append(block("section", ["<h2>Alarms this serves</h2>", links], class_="part linked"))
    articles = [article for key in one.related if (article := view.library.articles.get(key))]
    if articles:
        named = (
            f'<a class="article-link" href="{view.to(one.id)}"><b>{view.say(one.title)}</b></a>' for one in articles
        )
        parts.append(block("section", ["<h2>Read about it</h2>", items("ul", named, "articles")], class_="part linked"))
    return parts


def origin(view: View, key: str, words: str) -> str:
    """Whose a setting's value is, behind some words, with a link to it."""
    setting = view.library.settings[key]
    mark = f" ({state(setting)})" if is_left(setting) else ""
    whose = f"the settings of {view.say(view.library.hospital)}"
    return f'{words} <a href="{view.to(SETTINGS, key)}">{whose}</a>{mark}.'
