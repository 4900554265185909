"""The one door to all that editors and reviewers need, and nobody at the bedside."""

from __future__ import annotations

from ...model import Library
from ...model.addresses import (
    CHANGES,
    CHECKS,
    EDITORS,
    FOOT,
    HAZARDS,
    NUMBERS,
    PICTURES,
    REVIEW,
    RULES,
    SAFETY,
    SETTINGS,
    SOURCES,
)
from ..markup import Page, View, block, items, whole

_WRITTEN = {
    "first-edit": ("Your first change", "How to put a page right, for somebody who has never seen such a file."),
    "review": ("How a change is reviewed", "From an edit to the site, with what the programs print."),
    "make-it-yours": ("Make it yours", "A hospital’s own copy: its values, its numbers, its reviews."),
}
"""Pages written by hand; a library need not have them."""

_PARTS = {
    "How to change a page": _WRITTEN,
    "Reviews and changes": {
        REVIEW: ("Reviews", "Who signed which page, what is due, what is withdrawn."),
        CHANGES: ("Kinds of change", "What weighs how much where a change is proposed."),
    },
    "What is checked": {
        CHECKS: ("Checked on every way", "Each alarm: its ways, its causes, the longest rest, the first help."),
        SAFETY: ("Safety rules", "What no way through any alarm may do, and why."),
        HAZARDS: ("Hazards", "What can go wrong with each act, and which rule holds it."),
        RULES: ("All rules", "Each rule of the check, with a good and a bad example."),
    },
    "Values and sources": {
        SETTINGS: ("Settings", "Values and phone numbers of this hospital: who set them, and when."),
        NUMBERS: ("Numbers", "Each number that a reader could act on, its source, and where it is used."),
        SOURCES: ("Sources", "What the pages rest on, and how far each was read."),
        PICTURES: ("Pictures", "Each drawing, what it shows, and the steps and articles where it stands."),
    },
}


def editors_page(library: Library) -> Page:
    """The list of the pages about the pages."""
    view = View(library, EDITORS)
    missing = {*(_WRITTEN.keys() - library.written)}
    missing |= {page for page, there in ((HAZARDS, library.hazards), (PICTURES, library.pictures)) if not there}
    groups = [
        block("section", [f"<h2>{part}</h2>", items("ul", links, "articles")], class_="group")
        for part, pages in _PARTS.items()
        if (links := _links(view, pages, missing))
    ]
    told = (
        "<p>How the pages are made, proved and reviewed. At the bedside nothing of this is needed. "
        "With ?editor behind the address of the home page, the box makes of words that it did not find a line for the "
        "hospital’s own settings.</p>"
    )
    return Page(
        path=EDITORS,
        title=FOOT[EDITORS],
        description="Reviews, checks, safety rules, settings, numbers and sources.",
        body=whole([f'<h1 id="_top">{FOOT[EDITORS]}</h1>', told, *groups]),
        boost=0,
    )


def _links(view: View, pages: dict[str, tuple[str, str]], missing: set[str]) -> list[str]:
    return [
        f'<a class="article-link" href="{view.to(path)}"><b>{name}</b> <span>{told}</span></a>'
        for path, (name, told) in pages.items()
        if path not in missing
    ]
