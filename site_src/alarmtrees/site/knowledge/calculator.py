"""The page of a calculator: fields and result for a browser with scripts; formula, table and plot for all and paper."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import partial
from typing import Any

from ...calc.compute import Value
from ...calc.entry import CLOCK, NUMBER, WORDS, bound, in_all_units, in_unit, read, short
from ...calc.formula import Field, Formula, Step
from ...calc.javascript import function
from ...calc.mathml import units
from ...calc.reading import read_formula
from ...model import Calculator, Library, Setting
from ...model.addresses import CALCULATORS, calculator_path
from ...model.wording import fill
from ...proof.resting import setting_seconds
from ..markup import (
    UNSEARCHED,
    Page,
    View,
    block,
    esc,
    items,
    review_line,
    review_notices,
    script_json,
    strip,
    until,
    whole,
)
from .calculator_calls import call_lines, called, roles_data
from .calculator_shown import cells, formula_part, limits_part, origin, plan_part, plot_part, related_part, table_part
from .form_links import form_link
from .plot import FRAME, POINTS

TITLE = "Calculators"
_ASSETS = ("calc.css", "calc-shown.js", "calc.js")
_OFF = "Without scripts nothing is worked out here. Formula, table and plot stand below."
STANDS = "For trained staff. It decides nothing: what is done, the order, the policy and the maker’s instructions say."


def calculators_pages(library: Library) -> list[Page]:
    """The list of calculators and a page for each; nothing where there are none."""
    formulas = [read_formula(one, library.settings) for one in library.calculators.values()]
    sound = [formula for formula in formulas if not formula.faults]
    if not sound:
        return []
    return [_index(library, sound), *(calculator_page(library, formula) for formula in sound)]


def _index(library: Library, formulas: Sequence[Formula]) -> Page:
    view = View(library, CALCULATORS)
    told = (
        "<p>Numbers behind the advice: each page works from one formula, and shows it with its limits and sources.</p>"
    )
    named = sorted((formula.calculator for formula in formulas), key=lambda one: one.title.casefold())
    entries = items("ul", (calculator_link(view, one) for one in named), "articles")
    return Page(
        path=CALCULATORS,
        assets=_ASSETS,
        title=TITLE,
        description="Gas, holds, pressures, platelets, urine, moves, weaning and alarm limits: numbers with formulas.",
        body=whole([f'<h1 id="_top">{TITLE}</h1>', strip(STANDS), told, entries]),
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
        until(library, one),
        *review_notices(library, one),
        strip(STANDS),
        f"<p>{view.say(one.summary)}</p>",
        form_link(view, one),
        _worked(view, formula),
        *plan_part(view, formula),
        limits_part(view, one),
        formula_part(view, formula),
        *table_part(view, formula),
        *plot_part(view, formula),
        *related_part(view, one),
        block("section", ["<h2>Sources</h2>", f"<p {UNSEARCHED}>{view.sources(one.sources)}.</p>"], class_="part"),
        block("section", ["<h2>Review</h2>", review_line(library, one)], class_="part"),
    ]
    return Page(
        path=view.path,
        title=view.plain(one.title),
        description=view.plain(one.summary),
        body=whole(body),
        source=one.file.removeprefix("kb/"),
        assets=_ASSETS,
        inline=() if formula.unset else (_script(formula),),
    )


# ---------------------------------------------------------------------- fields and result


def _worked(view: View, formula: Formula) -> str:
    """The part that needs a script: fields, what is counted with, the result."""
    if formula.unset:
        missing = "; ".join(view.say(one.say) for one in formula.unset)
        return f'<p class="notice"><b>Nothing is worked out here.</b> Not set at this hospital: {missing}.</p>'
    lines = [
        block("div", [f"<p>{_OFF}</p>", *call_lines(view, _spoken(view, formula))], class_="calc__off"),
        '<form class="calc__form" novalidate autocomplete="off">',
        *_fields(view, formula),
        _counted(view, formula),
        "</form>",
        '<p class="calc__clock" data-clock hidden></p>' if formula.plan and formula.plan.counts else "",
        '<a class="calc__bar" href="#_result" aria-hidden="true" tabindex="-1" data-bar hidden></a>',
        '<div class="result" id="_result" role="status" aria-live="polite" aria-atomic="true" data-result></div>',
        f'<script type="application/json" data-calc-data>{script_json(_data(view, formula))}</script>',
        f"<script>{_script(formula)}</script>",
    ]
    marks = {"data-calc": esc(formula.calculator.id), "data-search-exclude": "yes"}
    return block("section", lines, class_="calc", **marks)


def _fields(view: View, formula: Formula) -> Iterator[str]:
    """All fields; those under a fold from where it is named to the next that must be filled in."""
    folded = False
    for field in formula.fields.values():
        if folded and not field.optional:
            yield "</details>"
            folded = False
        if field.fold:
            yield f'<details class="fold"><summary>{view.say(field.fold)}</summary>'
            folded = True
        yield _field(view, field)
    if folded:
        yield "</details>"


def _script(formula: Formula) -> str:
    return f"window.alarmtrees = {{ formula:\n{function(formula)} }};"


def _field(view: View, field: Field) -> str:
    hints = [view.say(field.hint)] if field.hint else []
    if field.optional:
        hints.append("May stay empty.")
    if field.kind == "number":
        hints.append(f"<span data-range>{_range(field)}</span>")
    if field.setting:
        hints.append(origin(view, field.setting.id, "Filled in from"))
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


def _counted(view: View, formula: Formula) -> str:
    """The hospital's values that nobody fills in here."""
    local = [one for one in formula.fixed.values() if one.setting]
    lines = []
    for one in local:
        assert one.setting is not None
        value = view.say(in_all_units(one.shown, formula, units))
        lines.append(f"<b>{value}</b> {view.say(one.say)}. {origin(view, one.setting.id, 'From')}")
    return f'<div class="calc__local"><p>Counted with:</p>\n{items("ul", lines)}\n</div>' if lines else ""


def _told(view: View, formula: Formula, lines: Iterable[Any]) -> list[str]:
    return [in_all_units(fill(line.say, view.library.settings), formula, units) for line in lines]


def _spoken(view: View, formula: Formula) -> list[str]:
    """All that a result may say."""
    rows = formula.plan.rows if formula.plan else ()
    return [*_told(view, formula, [*formula.refuse, *formula.warn, *formula.reads, *rows]), *_stops(view, formula)]


def _stops(view: View, formula: Formula) -> list[str]:
    """What ends a plan."""
    return [fill(text, view.library.settings) for text in (formula.plan.stops if formula.plan else ())]


def _data(view: View, formula: Formula) -> dict[str, Any]:
    """What calc.js needs beside the function: shapes, units, words. No formula stands here."""
    told = partial(_told, view, formula)
    plan = formula.plan
    spoken = _spoken(view, formula)
    return {
        "number": NUMBER,
        "clock": CLOCK,
        "words": WORDS,
        "fields": {key: _field_data(view, field) for key, field in formula.fields.items()},
        "outputs": [_step_data(view, step) for step in formula.outputs],
        "refuse": told(formula.refuse),
        "warn": told(formula.warn),
        "reads": told(formula.reads),
        "roles": roles_data(view.library, spoken),
        "calls": {text: roles for text in spoken if (roles := called(view.library, text))},
        "plan": {
            "start": plan.start,
            "write": len(plan.write),
            "limit": _limit(plan.counts),
            "stops": _stops(view, formula),
            "rows": [
                {"say": told([row])[0], "look": row.look, "shows": row.shows and _step_data(view, row.shows)}
                for row in plan.rows
            ],
        }
        if plan
        else None,
        "examples": _entered(formula, formula.examples),
        "table": _table_data(view, formula),
        "plot": _plot_data(view, formula),
    }


def _limit(setting: Setting | None) -> dict[str, Any] | None:
    """After how long a rest is too long, in milliseconds and in words."""
    if setting is None:
        return None
    seconds = setting_seconds({setting.id: setting}, setting.id)
    return {"after": seconds and seconds * 1000, "say": setting.shown}


def _entered(formula: Formula, given: Mapping[str, str]) -> dict[str, Value]:
    return {key: read(text, formula.fields[key]) for key, text in given.items()}


def _table_data(view: View, formula: Formula) -> dict[str, Any] | None:
    """For each row its inputs, and for each of its cells the step and what that is worked out with besides; `of` is the
    input that the rows are values of, empty where each row is a case."""
    table = formula.table
    if table is None:
        return None
    lines = zip(table.rows, cells(formula, table), strict=True)
    rows = [
        {
            "given": _entered(formula, row.given),
            "cells": [{"step": step.id, "given": _entered(formula, given)} for step, given in line],
        }
        for row, line in lines
    ]
    return {
        "of": table.of[0],
        "isCrossed": bool(table.columns),
        "rows": rows,
        "steps": {key: _step_data(view, formula.steps[key]) for key in table.show},
    }


def _plot_data(view: View, formula: Formula) -> dict[str, Any] | None:
    """What the plot is drawn from; the sizes are those of the drawing that is on the page already."""
    plot = formula.plot
    if plot is None:
        return None
    curves = [
        {"step": _step_data(view, formula.steps[one.show]), "given": _entered(formula, one.given)}
        for one in plot.curves
    ]
    drawn = {"across": plot.across, "low": plot.low, "high": plot.high, "curves": curves}
    drawn |= {"levels": list(plot.levels), "beside": list(plot.beside)}
    return {"frame": list(FRAME), "points": POINTS, **drawn}


def _field_data(view: View, field: Field) -> dict[str, Any]:
    return {
        "say": view.plain(field.say),
        "kind": field.kind,
        "optional": field.optional,
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
        "units": [
            {"label": units(one.label), "factor": one.factor, "offset": one.offset, "digits": in_unit(step, one).digits}
            for one in step.units
        ],
        "like": step.like,
        "beside": step.beside,
        "down": step.down,
    }
