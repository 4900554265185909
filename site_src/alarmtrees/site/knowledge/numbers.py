"""Each number that a reader could act on: its value, where it comes from, and where it stands."""

from __future__ import annotations

from itertools import groupby

from ...model import Library
from ...model.addresses import NUMBERS
from ...proof.provenance import Cited, cited_numbers, uses_of_settings
from ...proof.provenance import Uses as UsesByKey
from ..markup import Page, View, block, esc, items, whole
from .settings import setting_entry, whose
from .uses import Uses


def numbers_page(library: Library) -> Page:
    """Every local value with its uses, then every number that a text cites."""
    view = View(library, NUMBERS)
    writer, used = Uses(view), uses_of_settings(library)
    values = [_value(view, writer, key, used) for key in library.settings]
    cited = cited_numbers(library)
    body = [
        '<h1 id="_top">Numbers</h1>',
        "<p>Every number with a unit that a reader could act on, where it comes from, and where it stands. "
        "Change a value in one place, and it changes everywhere.</p>",
        whose(view),
        "<h2>Set by the hospital</h2>",
        block("ul", values, class_="entries"),
        "<h2>Cited in the text</h2>",
        "<p>Published figures and common practice, with the sentence that each stands in.</p>",
        *(_page(view, writer, list(found)) for _, found in groupby(cited, key=lambda one: (one.use.kind, one.use.id))),
        "" if cited else "<p>There are none.</p>",
    ]
    return Page(
        path=NUMBERS,
        title="Numbers",
        body=whole(body),
        description="Each number a reader could act on: value, unit, source, who set it, where it is used.",
        source="settings.yml",
        boost=0,  # each stands on a page of its own, and that is where a search should lead
    )


def _value(view: View, writer: Uses, key: str, used: UsesByKey) -> str:
    none = "no text; the checks or the sheets count with it"
    return setting_entry(view, view.library.settings[key], writer.line(used.get(key, ()), "Used in", none))


def _page(view: View, writer: Uses, found: list[Cited]) -> str:
    title = writer.steps_of([one.use for one in found])
    return block("section", [f"<h3>{title}</h3>", items("ul", (_cited(view, one) for one in found), "entries")])


def _cited(view: View, one: Cited) -> str:
    rests = view.rests_on(one.sources) or '<span class="quiet">No source is named.</span>'
    return f'<b class="value">{esc(one.number)}</b> {esc(one.sentence)} {rests}'
