"""Which articles and calculators have a sheet to write on, and the way there."""

from __future__ import annotations

from ...calc.formula import Formula
from ...calc.reading import read_formula
from ...model import Article, Calculator, Library
from ...model.addresses import forms_path
from ...reading.articles import ITEM
from ..markup import UNSEARCHED, View

ROUND, HANDOVER = "hourly-round", "handing-over"
"""Articles that have a sheet, as long as they have something to tick."""

WEAN = "wean"
"""The task whose articles lead to the sheets of their plans."""


def has_form(library: Library, page: Article | Calculator) -> bool:
    """Whether an article or calculator has a sheet to write on."""
    if isinstance(page, Calculator):
        return planned(library, page) is not None
    ticked = (ITEM.match(passage.text) for passage in page.passages if passage.kind == "item")
    return page.id in (ROUND, HANDOVER) and any(bullet and bullet.group("box") for bullet in ticked)


def planned(library: Library, one: Calculator) -> Formula | None:
    """The formula of a calculator that works out a plan of steps with looks between; None of any other, and while a
    value is not set."""
    formula = read_formula(one, library.settings)
    is_planned = formula.plan is not None and any(row.look for row in formula.plan.rows)
    return formula if is_planned and not formula.faults and not formula.unset else None


def forms_of(view: View, page: Article | Calculator) -> list[tuple[str, str]]:
    """The sheets of the work that a page tells: the address of each as seen from there, and its title; HTML."""
    plans = view.library.calculators.values() if isinstance(page, Article) and WEAN in page.tasks else ()
    of_plans = [one for one in plans if page.id in one.related]
    named = [one for one in (page, *of_plans) if has_form(view.library, one)]
    return [(view.to(forms_path(one.id)), view.say(one.title)) for one in named]


def form_link(view: View, page: Calculator) -> str:
    """The way from a calculator to its sheet; empty where it has none."""
    links = [f'<a href="{href}">Sheet to write on, one page of A4</a>' for href, _ in forms_of(view, page)]
    return f'<p class="to-form" {UNSEARCHED}>{" · ".join(links)}</p>' if links else ""
