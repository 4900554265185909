"""Sheets of A4 to write on: the round, the handover, and each plan of steps. Made from the articles and calculators.

A sheet invents no number: it prints the hospital's settings, and leaves boxes for the patient's own from the order.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import groupby

from ...calc.formula import Formula, Row
from ...calc.trial import result_of
from ...model import Article, Calculator, Library
from ...model.addresses import forms_path
from ...reading.articles import ITEM, heading
from ..knowledge.form_links import ROUND, has_form, planned
from ..markup import SAID, STRIP, Page, View, block, esc, first_call, until_said, whole
from ..teaching.passages import inline
from .paper import PREAMBLE
from .sheet import Imprint, code, margins, numbers_to_call, site_base

_LINK = re.compile(r'</?a\b[^>]*>|(?<!\s)\s*<span class="quiet">[^<]*</span>')

HOURS = 12
MOST_LOOKS = 24
"""No more looks have their times printed: a plan with more has blank rows, and goes on on another sheet."""

WRITE = "Write down"
_VALUES = ("Pulse", "Mean pressure", "Augmented peak", "Cardiac index, if measured", "Urine of this hour", "Oxygen")
_ORDERED = ("Mean below", "Peak limit", "Pulse below", "Pulse above", "Index below", "Urine below", "Oxygen below")
_STOPS = (
    *("Mean below", "Index below", "Index fallen by", "Pulse above"),
    *("Filling pressure above", "Lactate above", "Urine below"),
)
_LOOK = ("Pulse", "Mean", "Index", "Filling", "Urine", "Drugs, lactate", "Patient as before", "No blood in line")
_FIVE = (
    *("Unassisted systolic", "Augmented peak", "Assisted end-diastolic"),
    *("Assisted systolic", "Unassisted end-diastolic"),
)
_AT_EACH_BEAT = ("Augmented peak", "Assisted systolic", "Assisted end-diastolic")


def forms_pages(library: Library, imprint: Imprint) -> Iterator[Page]:
    """All sheets to write on, a page each."""
    for article in library.articles.values():
        if has_form(library, article):
            view = View(library, forms_path(article.id))
            rows = _listed(view, article)
            grid = _round(view, rows) if article.id == ROUND else _handover(rows)
            first = _boxes("Call at, by this patient’s order", _ORDERED) if article.id == ROUND else _how(view, article)
            yield _page(view, article, f"{article.id}.html", imprint, [first, *grid])
    for one in library.calculators.values():
        if formula := planned(library, one):
            view = View(library, forms_path(one.id))
            yield _page(view, one, f"calculators/{one.id}/", imprint, _plan(view, formula))


# ---------------------------------------------------------------------- what all have


def _page(view: View, about: Article | Calculator, found_at: str, imprint: Imprint, parts: Sequence[str]) -> Page:
    library, title = view.library, view.say(about.title)
    base = site_base(library, imprint.site_url)
    told = [
        f'<p class="form__title">{title}</p>',
        f"<p><b>Look at the patient first.</b> {STRIP}</p>",
        *numbers_to_call(view, [first_call(library)]),
        f"<p><b>{esc(until_said(library, about))}</b>{f' · {esc(base)}{esc(found_at)}' if base else ''}</p>",
    ]
    label = '<p class="form__label">Patient’s label</p>'
    cautions = [f"<b>!</b> {view.caution(key)}" for key in about.cautions if key not in SAID]
    form = [
        block(
            "div",
            [block("div", told, class_="form__told"), label, code(f"{base}{found_at}" if base else "")],
            class_="form__head",
        ),
        f'<p class="form__small">{" ".join([*cautions, PREAMBLE])}</p>',
        *parts,
    ]
    body = [
        f'<h1 id="_top">{title}: sheet to write on</h1>',
        f"<style>@media print{{{margins(view, about)}}}</style>",
        '<p class="form__print">One page of A4, to print and to write on.</p>',
        '<p class="buttons" data-scripted hidden><button type="button" data-print>Print this sheet</button></p>',
        block(
            "div",
            [block("div", form, class_="form")],
            class_="grid",
            tabindex="0",
            role="region",
            **{"aria-label": title},
        ),
    ]
    return Page(
        path=view.path,
        title=f"{view.plain(about.title)}: sheet to write on",
        description="One page of A4, to print and to write on.",
        body=whole(body),
        boost=0,
        assets=("learn.css", "form.css", "learn.js"),
    )


def _boxes(say: str, names: Sequence[str]) -> str:
    """Room for the patient's own numbers."""
    boxes = "".join(f"<span>{name}<i></i></span>" for name in (*names, ""))
    return f'<div class="form__boxes"><b>{say}:</b>{boxes}</div>'


def _blank(count: int) -> str:
    return "<td></td>" * count


# ---------------------------------------------------------------------- the round and the handover


def _listed(view: View, article: Article) -> list[tuple[str, list[str]]]:
    """What an article's steps have ticked, under the words that stand above each list; HTML."""
    found: list[tuple[str, list[str]]] = []
    above, inside = "", False
    for passage in article.passages:
        if passage.kind == "heading":
            level, words = heading(passage)
            inside = words == "Steps" if level == 2 else inside
            above = inline(view, words)
        elif passage.kind == "paragraph":
            above = inline(view, passage.text).rstrip(":")
        elif inside and (bullet := ITEM.match(passage.text)) and bullet.group("box"):
            if not found or found[-1][0] != above:
                found.append((above, []))
            found[-1][1].append(_unlinked(inline(view, passage.text[bullet.end() :])))
    return found


def _unlinked(html: str) -> str:
    """On paper a link leads nowhere, and sources stay with the article."""
    return _LINK.sub("", html)


def _how(view: View, article: Article) -> str:
    steps: list[str] = []
    for passage in article.passages:
        if passage.kind == "heading" and heading(passage)[0] == 2 and heading(passage)[1] != "Steps" and steps:
            break
        bullet = ITEM.match(passage.text) if passage.kind == "item" else None
        if bullet and bullet.group("number"):
            steps.append(
                f"<b>{bullet.group('number')}</b>\u00a0{_unlinked(inline(view, passage.text[bullet.end() :]))}"
            )
    return f'<p class="form__small">{" ".join(steps)}</p>' if steps else ""


def _round(view: View, listed: Sequence[tuple[str, list[str]]]) -> list[str]:
    groups = [(WRITE, list(_VALUES)), *listed, ("", ["Initials"])]
    rows = [f'<tr class="form__write"><th scope="row">Time</th>{_blank(HOURS)}</tr>']
    for above, points in groups:
        if above:
            rows.append(f'<tr class="form__group"><th colspan="{HOURS + 1}" scope="rowgroup">{above}</th></tr>')
        css = "" if above and above != WRITE else ' class="form__write"'
        rows += [f'<tr{css}><th scope="row">{point}</th>{_blank(HOURS)}</tr>' for point in points]
    return [f'<table class="form__round"><tbody>{"".join(rows)}</tbody></table>']


def _handover(listed: Sequence[tuple[str, list[str]]]) -> list[str]:
    columns = ("Told and looked at together", "Write", "Both")
    heads = "".join(f'<th scope="col">{name}</th>' for name in columns)
    rows = []
    for above, points in listed:
        rows.append(f'<tr class="form__group"><th colspan="3" scope="rowgroup">{above}</th></tr>')
        rows += [f'<tr><th scope="row">{point}</th>{_blank(2)}</tr>' for point in points]
    signed = ("Open point 1", "Open point 2", "Open point 3", "“I have the pump”, time", "Hands over", "Takes over")
    lines = "".join(f"<span>{one}<i></i></span>" for one in signed)
    return [
        f'<table class="form__handover"><thead><tr>{heads}</tr></thead><tbody>{"".join(rows)}</tbody></table>',
        f'<div class="form__boxes form__signed">{lines}</div>',
    ]


# ---------------------------------------------------------------------- a plan


def _plan(view: View, formula: Formula) -> list[str]:
    plan = formula.plan
    assert plan is not None
    worked = [(plan.rows[index], at, number) for index, at, number in result_of(formula, {}).plan]
    looks = sum(row.look for row, _, _ in worked)
    volumes = [number for row, _, number in worked if _by_volume(row) and number]
    whole_volume = max(volumes, default=0.0)
    what = "Volume set" if volumes else "Ratio set"
    columns = ("Time", "From start", what, *_LOOK, "Initials")
    boxes = _pressures(_AT_EACH_BEAT if volumes else _FIVE)
    changes = len({at for row, at, _ in worked if not row.look})
    blank = max(1, MOST_LOOKS // changes) if looks > MOST_LOOKS else 0
    rows: list[str] = []
    for at, group in groupby(worked, key=lambda one: one[1]):
        now = list(group)
        steps: list[tuple[Row, float | None]] = [(row, number) for row, _, number in now if not row.look]
        if any(row.look for row, _, _ in now) and looks <= MOST_LOOKS:
            rows.append(_look_row(_clock(at), len(columns)))
        # The values before anything is changed stand in a row of their own, behind the words that ask for them alone.
        asked = 1 if at == 0 and len(steps) > 1 else 0
        first, then = steps[:asked], steps[asked:]
        rows += [_step_row(view, first, len(columns), at, whole_volume, boxes)] if first else []
        rows += [_look_row(_clock(at), len(columns))] if at == 0 and steps else []
        rows += [_step_row(view, then, len(columns), at, whole_volume, "" if first else boxes)] if then else []
        rows += [_look_row("", len(columns))] * blank if steps else []
    rows = rows or [_look_row("", len(columns))] * MOST_LOOKS  # a plan so long that nothing is worked out
    named = {fixed.id: fixed for fixed in formula.fixed.values() if fixed.setting}
    told = " · ".join(f"{view.say(one.say)}: {view.say(one.shown)}" for one in named.values())
    heads = "".join(f'<th scope="col">{name}</th>' for name in columns)
    further = " <b>When this sheet is full, take another.</b>" if looks > MOST_LOOKS or not worked else ""
    return [
        _boxes("Leave the plan at, by this patient’s order", _STOPS),
        f'<p class="form__small"><b>Leave the plan when:</b> {" ".join(map(view.say, plan.stops))}</p>'
        if plan.stops
        else "",
        f'<p class="form__small"><b>The order comes first.</b> Else: {told}.{further}</p>',
        f'<table class="form__plan"><thead><tr>{heads}</tr></thead><tbody>{"".join(rows)}</tbody></table>',
    ]


def _by_volume(row: Row) -> bool:
    return row.shows is not None and row.shows.unit.label == "mL"


def _look_row(at: str, columns: int) -> str:
    return f"<tr><td></td><td>{at}</td>{_blank(columns - 2)}</tr>"


def _clock(seconds: float) -> str:
    """Hours and minutes in little room."""
    hours, minutes = divmod(round(seconds / 60), 60)
    return f"{hours}:{minutes:02}"


def _step_row(
    view: View, steps: Sequence[tuple[Row, float | None]], columns: int, at: float, whole_volume: float, boxes: str
) -> str:
    said = " ".join(view.say(row.say) for row, _ in steps)
    shares = [number / whole_volume for row, number in steps if _by_volume(row) and number and whole_volume]
    volume = "".join(f" <span><b>Volume, {share:.0%} of the full:</b><i></i>mL</span>" for share in shares)
    return (
        f'<tr class="form__step"><th colspan="{columns}" scope="rowgroup">'
        f"<b>{_clock(at)} {said}</b>{boxes}{volume}</th></tr>"
    )


def _pressures(names: Sequence[str]) -> str:
    return "".join(f" <span>{name}<i></i></span>" for name in names)
