"""The page of a calculator: fields and result for a browser with scripts; formula, table and plot for all and paper."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import Any

from ..calc.entry import CLOCK, NUMBER, WORDS, bound, duration, short, shown
from ..calc.formula import Case, Field, Fixed, Formula, Step
from ..calc.javascript import function
from ..calc.mathml import equation, math, sign, units
from ..calc.reading import read_formula
from ..calc.trial import result_of
from ..finder import as_json
from ..model import Calculator, Library, Map
from ..wording import fill
from .markup import (
    UNSEARCHED,
    Page,
    View,
    alarm_link,
    block,
    calculator_path,
    esc,
    items,
    review_line,
    strip,
    until,
    whole,
)
from .plot import plot_block

INDEX = "calculators/index"
TITLE = "Calculators"
STANDS = "For trained staff. It decides nothing: what is done, the order, the policy and the maker’s instructions say."


def calculators_pages(library: Library) -> list[Page]:
    """The list of calculators and a page for each; nothing where there are none."""
    formulas = [read_formula(one, library.settings) for one in library.calculators.values()]
    sound = [formula for formula in formulas if not formula.faults]
    if not sound:
        return []
    return [_index(library, sound), *(calculator_page(library, formula) for formula in sound)]


def _index(library: Library, formulas: Sequence[Formula]) -> Page:
    view = View(library, INDEX)
    told = (
        "<p>Numbers behind the advice: each page works from one formula, and shows it with its limits and sources.</p>"
    )
    entries = items("ul", (calculator_link(view, formula.calculator) for formula in formulas), "articles")
    return Page(
        path=INDEX,
        title=TITLE,
        description="Gas, height, timing, pressures, moves, weaning and alarm limits: numbers with their formulas.",
        body=whole([f'<h1 id="_top">{TITLE}</h1>', strip(), f'<p class="notice">{STANDS}</p>', told, entries]),
    )


def calculator_link(view: View, one: Calculator) -> str:
    """A link to a calculator with what it serves."""
    return (
        f'<a class="article-link" href="{view.to(calculator_path(one.id))}" data-calculator="{esc(one.id)}">'
        f"<b>{view.say(one.title)}</b> <span>{view.say(one.summary)}</span></a>"
    )


def calculator_page(library: Library, formula: Formula) -> Page:
    """One calculator."""
    one = formula.calculator
    view = View(library, calculator_path(one.id))
    body = [
        f'<h1 id="_top">{view.say(one.title)}</h1>',
        until(one),
        strip(),
        f"<p>{view.say(one.summary)}</p>",
        f'<p class="notice">{STANDS}</p>',
        _worked(view, formula),
        *_plan(view, formula),
        _limits(view, one),
        _formula(view, formula),
        *_table(view, formula),
        *_plot(view, formula),
        *_related(view, one),
        block("section", ["<h2>Sources</h2>", f"<p {UNSEARCHED}>{view.sources(one.sources)}.</p>"], class_="part"),
        block("section", ["<h2>Review</h2>", review_line(one)], class_="part"),
    ]
    return Page(
        path=view.path,
        title=view.plain(one.title),
        description=view.plain(one.summary),
        body=whole(body),
        source=one.file.removeprefix("kb/"),
    )


# ---------------------------------------------------------------------- fields and result


def _worked(view: View, formula: Formula) -> str:
    """The part that needs a script: fields, what is counted with, the result."""
    if formula.unset:
        missing = "; ".join(view.say(one.say) for one in formula.unset)
        return f'<p class="notice"><b>Nothing is worked out here.</b> Not set at this hospital: {missing}.</p>'
    lines = [
        '<p class="calc__off">Without scripts nothing is worked out here. Formula, table and plot stand below.</p>',
        '<form class="calc__form" novalidate autocomplete="off">',
        *(_field(view, field) for field in formula.fields.values()),
        _counted(view, formula),
        "</form>",
        '<div class="result" role="status" aria-live="polite" aria-atomic="true" data-result></div>',
        f'<script type="application/json" data-calc-data>{as_json(_data(view, formula))}</script>',
        f'<script>(window.calculators = window.calculators || {{}})["{formula.calculator.id}"] =',
        function(formula) + "</script>",
    ]
    marks = {"data-calc": esc(formula.calculator.id), "data-search-exclude": "yes"}
    return block("section", lines, class_="calc", **marks)


def _field(view: View, field: Field) -> str:
    hints = [view.say(field.hint)] if field.hint else []
    if field.kind == "number":
        hints.append(f"<span data-range>{_range(field)}</span>")
    if field.setting:
        hints.append(_origin(view, field.setting.id, "Filled in from"))
    hint = f'<span class="field__hint" id="hint-{field.id}">{" ".join(hints)}</span>' if hints else ""
    fault = f'<p class="field__fault" id="fault-{field.id}"></p>'
    described = f"hint-{field.id} fault-{field.id}" if hints else f"fault-{field.id}"
    if field.choices:
        radios = (
            f'<label class="pick"><input type="radio" name="{field.id}" value="{key}"'
            f"{' checked' if field.default == key else ''}> <span>{view.say(words)}</span></label>"
            for key, words in field.choices.items()
        )
        legend = f"<legend>{view.say(field.say)} {hint}</legend>"
        inner = [legend, block("div", radios, class_="picks"), fault]
        return block("fieldset", inner, class_="field", **{"data-field": field.id, "aria-describedby": described})
    mode = "text" if field.kind == "clock" else "decimal"
    entry = (
        f'<input id="in-{field.id}" class="field__entry" type="text" inputmode="{mode}" maxlength="30" '
        f'autocomplete="off" aria-describedby="{described}" value="{esc(field.default or "")}">'
    )
    inner = [
        f'<label for="in-{field.id}">{view.say(field.say)}</label>',
        hint,
        block("div", [entry, _unit(field)], class_="field__row"),
        fault,
    ]
    return block("div", inner, class_="field", **{"data-field": field.id})


def _unit(field: Field) -> str:
    if len(field.units) < 2:
        label = units(field.units[0].label) if field.units else ""
        return f'<span class="field__unit">{esc(label)}</span>' if label else ""
    options = "".join(
        f'<option value="{number}">{esc(units(one.label))}</option>' for number, one in enumerate(field.units)
    )
    return f'<select class="field__unit" aria-label="Unit of the number">{options}</select>'


def _range(field: Field) -> str:
    label = esc(units(field.units[0].label))
    return f"From {_number(field.low)} to {_number(field.high)}{f' {label}' if label else ''}."


def _number(value: float) -> str:
    return short(value).replace("-", "\u2212")


def _origin(view: View, key: str, words: str) -> str:
    setting = view.library.settings[key]
    mark = "" if setting.own else " (invented)"
    whose = f"the settings of {view.say(view.library.hospital)}"
    return f'{words} <a href="{view.to("settings/index", key)}">{whose}</a>{mark}.'


def _counted(view: View, formula: Formula) -> str:
    """The hospital's values that nobody fills in here."""
    local = [one for one in formula.fixed.values() if one.setting]
    lines = []
    for one in local:
        assert one.setting is not None
        lines.append(f"<b>{view.say(one.shown)}</b> {view.say(one.say)}. {_origin(view, one.setting.id, 'From')}")
    return f'<div class="calc__local"><p>Counted with:</p>\n{items("ul", lines)}\n</div>' if lines else ""


def _data(view: View, formula: Formula) -> dict[str, Any]:
    """What calc.js needs beside the function: shapes, units, words. No formula stands here."""
    fill_ = view.library.settings

    def told(lines: Iterable[Any]) -> list[str]:
        return [fill(line.say, fill_) for line in lines]

    plan = formula.plan
    return {
        "number": NUMBER,
        "clock": CLOCK,
        "words": WORDS,
        "fields": {key: _field_data(view, field) for key, field in formula.fields.items()},
        "outputs": [_step_data(view, step) for step in formula.outputs],
        "refuse": told(formula.refuse),
        "warn": told(formula.warn),
        "reads": told(formula.reads),
        "plan": {
            "start": plan.start,
            "rows": [
                {"say": fill(row.say, fill_), "look": row.look, "shows": row.shows and _step_data(view, row.shows)}
                for row in plan.rows
            ],
        }
        if plan
        else None,
        "stands": STANDS,
    }


def _field_data(view: View, field: Field) -> dict[str, Any]:
    return {
        "say": view.plain(field.say),
        "kind": field.kind,
        "units": [
            {
                "label": units(one.label),
                "factor": one.factor,
                "offset": one.offset,
                "low": bound(field, one, field.low),
                "high": bound(field, one, field.high),
            }
            for one in field.units
        ],
    }


def _step_data(view: View, step: Step) -> dict[str, Any]:
    return {
        "id": step.id,
        "say": view.plain(step.say),
        "note": view.plain(step.note),
        "unit": units(step.unit.label),
        "factor": step.unit.factor,
        "offset": step.unit.offset,
        "digits": step.digits,
        "down": step.down,
    }


# ---------------------------------------------------------------------- what stands for all readers


def _plan(view: View, formula: Formula) -> list[str]:
    """The plan as a table, for the example: with scripts its rows get their times of day."""
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
        rows.append(f"<tr><td>{duration(at)}</td><td>{''.join(cells)}</td><td></td></tr>")
    head = "<thead><tr><th>Time</th><th>What</th><th>Done, by whom</th></tr></thead>"
    stops = items("ul", map(view.say, plan.stops)) if plan.stops else ""
    intro = f"<div data-plan-says>{_held(view, formula, ())}<p>Times are counted from the first step.</p></div>"
    return [
        block(
            "section",
            [
                f"<h2>{view.say(plan.say)}</h2>",
                f'<div class="stops"><p><b>Leave the plan when:</b></p>\n{stops}\n</div>' if stops else "",
                intro,
                _boxed(f"<table>{head}<tbody data-plan>{''.join(rows)}</tbody></table>", view.say(plan.say)),
            ],
            class_="part plan",
        )
    ]


def _limits(view: View, one: Calculator) -> str:
    lines = ["<h2>When it holds, and what breaks it</h2>", _notes(view, one.raw["valid"])]
    lines += ["<p><b>It breaks with:</b></p>", _notes(view, one.raw["breaks"])]
    if one.cautions:
        lines += ["<p><b>Always:</b></p>", items("ul", map(view.caution, one.cautions), found=False)]
    return block("section", lines, class_="cautions", id="_limits")


def _notes(view: View, notes: Sequence[Map]) -> str:
    return items("ul", (f"{view.say(note['say'])} {view.rests_on(note.get('sources', ()))}" for note in notes))


def _formula(view: View, formula: Formula) -> str:
    """Each step and result as it is worked out, then what each sign stands for."""
    words: dict[str, str] = {}
    for field in formula.fields.values():
        words |= {key: f"<mtext>{view.say(say)}</mtext>" for key, say in field.choices.items()}
        words[field.id] = sign(field.sign) if field.kind == "number" else f"<mtext>“{view.say(field.say)}”</mtext>"
    words |= {one.id: sign(one.sign) for one in formula.fixed.values()}
    words |= {step.id: sign(step.sign) for step in formula.steps.values()}
    lines = []
    for step in formula.steps.values():
        shape = math(equation(words[step.id], step.node, words), block=True)
        lines.append(f"<dt>{view.say(step.say)}</dt><dd>{shape}</dd>")
    meanings = [
        f"{math(sign(one.sign))} {view.say(one.say)}{_in(one.units[0].label)}"
        for one in formula.fields.values()
        if one.kind == "number"
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
        return f"{value}. {_origin(view, one.setting.id, 'From')}"
    return f"{value}. {view.rests_on(one.sources)}"


def _shown(step: Step, value: float) -> str:
    return esc(units(shown(step, value)))


def _table(view: View, formula: Formula) -> list[str]:
    table = formula.table
    if table is None or formula.unset:
        return []
    steps = [formula.steps[key] for key in table.show]
    if table.columns:
        first, second = (formula.fields[key] for key in table.of)
        head = [f"{view.say(first.say)}{_in(first.units[0].label)}", *(_value(second, one) for one in table.columns)]
        body = [
            [_value(first, row), *(_cell(formula, steps[0], {**row.given, **column.given}) for column in table.columns)]
            for row in table.rows
        ]
        told = f"<p>In the columns: {view.say(second.say)}.</p>"
    else:
        field = formula.fields.get(table.of[0])
        label = f"{view.say(field.say)}{_in(field.units[0].label) if field.units else ''}" if field else "Reading"
        head = [label, *(view.say(step.say) for step in steps)]
        body = [
            [
                _value(field, row) if field else _reading(view, formula, row),
                *(_cell(formula, step, row.given) for step in steps),
            ]
            for row in table.rows
        ]
        told = ""
    heads = "".join(f'<th scope="col">{cell}</th>' for cell in head)
    rows = "".join(
        f'<tr><th scope="row">{row[0]}</th>{"".join(f"<td>{cell}</td>" for cell in row[1:])}</tr>' for row in body
    )
    grid = _boxed(f"<table><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>", view.say(table.say))
    inner = [
        "<h2>Table</h2>",
        f"<p>{view.say(table.say)}.</p>",
        told,
        grid,
        _held(view, formula, table.of),
    ]
    return [block("section", inner, class_="part")]


def _value(field: Field, case: Case) -> str:
    text = case.given[field.id]
    if field.choices:
        return esc(field.choices[text])
    return f"{esc(text)}\u00a0{esc(units(field.units[0].label))}".rstrip("\u00a0")


def _reading(view: View, formula: Formula, case: Case) -> str:
    """The words of a made-up case, and the numbers that it was made of."""
    given = " / ".join(esc(text) for text in case.given.values())
    label = next((one.units[0].label for one in formula.fields.values() if one.units), "")
    return f'{view.say(case.say)}<br><span class="quiet">{given} {esc(units(label))}</span>'


def _cell(formula: Formula, step: Step, given: dict[str, str] | Any) -> str:
    result = result_of(formula, given)
    if result.refuse or not result.sound:
        return '<span aria-hidden="true">–</span><span class="unseen">no number</span>'
    return _shown(step, result.values[step.id])


def _boxed(table: str, name: str) -> str:
    """A table that scrolls by itself where a screen is too narrow."""
    return f'<div class="grid" tabindex="0" role="region" aria-label="{name}">{table}</div>'


def _held(view: View, formula: Formula, varied: Sequence[str]) -> str:
    """What else a table or plot counts with."""
    told = []
    for key, field in formula.fields.items():
        if key in varied or (not varied and field.kind == "clock") or (varied == ("",) and field.kind == "number"):
            continue
        value = view.say(field.choices[field.example]) if field.choices else esc(field.example)
        label = f"\u00a0{esc(units(field.units[0].label))}" if field.units and field.units[0].label else ""
        told.append(f"{view.say(field.say)}: {value}{label}")
    told += [f"{view.say(one.say)}: {view.say(one.shown)}" for one in formula.fixed.values() if one.setting]
    return f'<p class="quiet">Worked out with these values. {"; ".join(told)}.</p>' if told else ""


def _plot(view: View, formula: Formula) -> list[str]:
    plot = plot_block(view, formula)
    if not plot or formula.plot is None:
        return []
    across = (formula.plot.across, *formula.plot.levels)
    held = "" if formula.plot.levels else _held(view, formula, across)
    inner = ["<h2>Plot</h2>", f"<p>{view.say(formula.plot.say)}.</p>", plot, held]
    return [block("section", inner, class_="part")]


def _related(view: View, one: Calculator) -> list[str]:
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
