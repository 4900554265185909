"""The kinds of change that a comparison of two versions tells, and how much each weighs."""

from __future__ import annotations

from collections.abc import Iterator

from ...compare.kinds import KINDS, Kind, Weight
from ...model import Library
from ...model.addresses import CHANGES, REVIEW, RULES
from ..markup import NOT_SAFE, Page, View, esc, items, whole

TITLE = "Kinds of change"

_PARTS = {
    Weight.ERROR: (
        "Errors: somebody approves each by name",
        "A proposal with one of these waits until somebody who may sign a review has approved it, for this one "
        "version, with role, day and reason. Nobody approves what they propose themselves.",
    ),
    Weight.WARNING: ("Warnings: somebody reads each", "They need a name only where they say that they are an error."),
    Weight.NOTE: ("Notes", "To glance over."),
}


def kinds_page(library: Library) -> Page:
    """All kinds of change with their weights, from the table that the program itself uses."""
    view = View(library, CHANGES)
    body = [
        f'<h1 id="_top">{TITLE}</h1>',
        "<p>Before a change of a tree, an article or a shared file is taken in, <code>alarmtrees compare</code> puts "
        "all ways of both versions side by side, and all texts beside each other. What it finds is of one of these "
        "kinds. The weight says what it may do to a reader, not how likely that is.</p>",
        f'<p class="strip">{NOT_SAFE} {_beside(view)}</p>',
        *_all(),
    ]
    description = "What a comparison of two versions finds, how much each kind of change weighs, and which need a name."
    return Page(CHANGES, TITLE, whole(body), description, boost=0)


def _beside(view: View) -> str:
    played = f' One played through: <a href="{view.to("review")}">how a change is reviewed</a>.'
    return (
        f'What each version is checked by: <a href="{view.to(RULES)}">what is checked</a>. '
        f'Who signed what: <a href="{view.to(REVIEW)}">review</a>.{played if "review" in view.library.written else ""}'
    )


def _all() -> Iterator[str]:
    for weight, (title, about) in _PARTS.items():
        yield f'<h2 class="part">{title}</h2>'
        yield f"<p>{about}</p>"
        yield items("ul", (_line(kind) for kind in KINDS.values() if kind.weight is weight), "entries")


def _line(kind: Kind) -> str:
    also = f' <span class="quiet">({_an(kind.also[0])} {esc(kind.also[1])})</span>' if kind.also else ""
    return f'{esc(kind.say)}{also} <code class="quiet">{esc(kind.id)}</code>'


def _an(weight: Weight) -> str:
    return f"{'an' if weight is Weight.ERROR else 'a'} {weight}"
