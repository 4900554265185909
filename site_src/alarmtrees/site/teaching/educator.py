"""The overview for whoever teaches: files that learners hand over, read in the browser and nowhere else."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ...learning import practised
from ...learning.path import asked_here, page_of, path_of, read_stamp
from ...learning.questions import Question
from ...model import Library
from ...model.addresses import EDUCATOR, LEARN
from ...reading.articles import cited
from ..markup import Page, View, block, script_json, whole
from .learn import ASSETS

TITLE = "For the educator"


def educator_page(library: Library, asked: Sequence[Sequence[Question]] | None = None) -> Page:
    """The page that reads the files; what it needs to know of this site stands in it.

    Args:
        library: without errors.
        asked: what `asked_here` gives, where it is known already.
    """
    view = View(library, EDUCATOR)
    known = _known(library, asked or asked_here(library))
    told = (
        "<p>Learners save their record to a file on the page "
        f'<a href="{view.to(LEARN)}">Learn</a>, under initials or a code of their own, and hand it over. Choose the '
        "files here. They are read in this browser: nothing is sent, and nothing is kept when you leave the page.</p>"
    )
    careful = (
        '<p class="notice">It shows where somebody may want help. It is no exam and no proof: a record can be '
        "incomplete, shared or changed by hand. Signing off competence is the hospital’s.</p>"
    )
    return Page(
        path=EDUCATOR,
        assets=(*ASSETS, "educator.js"),
        title=TITLE,
        description="What learners have read, answered and practised, from the files that they hand over.",
        body=whole(
            [
                f'<h1 id="_top">{TITLE}</h1>',
                told,
                careful,
                '<noscript><p class="notice">Reading files needs JavaScript. Without it, look at the printed '
                "record together.</p></noscript>",
                _files(),
                f'<script type="application/json" id="learning-data">{script_json(known)}</script>',
            ]
        ),
        boost=0,
    )


def _files() -> str:
    return block(
        "div",
        [
            '<p class="buttons"><label class="button" for="files">Choose files</label>'
            '<input id="files" class="unseen" type="file" multiple accept=".json,application/json">'
            '<button type="button" data-clear disabled>Clear all</button>'
            '<button type="button" data-csv disabled>Save as a table (CSV)</button>'
            '<button type="button" data-print disabled>Print</button></p>',
            '<p role="status" data-done></p>',
            '<ul class="warn" data-bad hidden></ul>',
            "<div data-table></div>",
        ],
        **{"class": "educator", "data-educator": "", "hidden": ""},
    )


def _words(view: View, text: str) -> str:
    """A question as plain words, without its sources: here it is only to be known again."""
    for _, begin, end in reversed(list(cited(text))):
        text = text[:begin].rstrip() + text[end:]
    return view.plain(text)


def _known(library: Library, asked: Sequence[Sequence[Question]]) -> dict[str, Any]:
    """What the records are held against: pages with their stamps, questions, causes by alarm, safety rules."""
    view = View(library, EDUCATOR)
    pages = [page for stage in path_of(library) for name, _ in stage.pages if (page := page_of(library, name))]
    return {
        "pages": {page.id: [view.plain(page.title), read_stamp(page)] for page in pages},
        "checks": {one.id: _words(view, one.ask) for stage in asked for one in stage},
        "alarms": {tree.id: [view.plain(tree.title), list(tree.causes)] for tree in practised(library)},
        "rules": {rule.id: view.plain(rule.say) for rule in library.safety.values()},
    }
