"""What the pages of learning need to know of this site, as data that their scripts read."""

from __future__ import annotations

from typing import Any

from ...learning import practised
from ...learning.course import Course
from ...learning.minutes import PAUSE, SPEED, SPEED_SOURCE, WORK
from ...learning.path import page_of, read_stamp
from ...learning.soonest import soonest
from ...model import SafetyRule, Tree
from ...model.addresses import LEARN, PRACTICE, tree_path
from ...model.wording import lasting
from ...reading.articles import cited
from ..markup import View, esc, script_json

CHOSEN = f"{PAUSE} min of pause after {WORK} min of work: chosen, without a source"


def known_script(view: View, course: Course) -> str:
    """The data in an element of its own, as it is seen from a page."""
    return f'<script type="application/json" id="learning-data">{script_json(known(view, course))}</script>'


def known(view: View, course: Course) -> dict[str, Any]:
    """Pages with their stamps, questions, causes by alarm, safety rules, stages, words, and what harms soonest."""
    library = view.library
    pages = [page for stage in course.stages for name, _ in stage.pages if (page := page_of(library, name))]
    ids = {page.id for page in pages}
    soon = soonest(library)
    return {
        "pages": {page.id: [view.plain(page.title), read_stamp(page)] for page in pages},
        "checks": {one.id: _words(view, one.ask) for one in course.questions},
        "alarms": {tree.id: [view.plain(tree.title), list(tree.causes)] for tree in practised(library)},
        "rules": {rule.id: view.plain(rule.say) for rule in library.safety.values()},
        "stages": [
            {
                "id": stage.id,
                "title": view.plain(stage.title),
                "days": stage.days,
                "pages": [name for name, _ in stage.pages if name in ids],
                "checks": [one.id for one in questions],
            }
            for stage, questions in zip(course.stages, course.asked, strict=True)
        ],
        "at": {page.id: view.to(tree_path(page.id) if isinstance(page, Tree) else page.id) for page in pages},
        "learn": view.to(LEARN),
        "practice": view.to(PRACTICE),
        "words": {key: [one.page, one.asked, one.case] for key, one in course.words.items()},
        "soon": list(soon),
        "soonest": {key: _soon(view, library.trees[key], rule) for key, rule in soon.items()},
        "speed": SPEED,
        "work": WORK,
        "pause": PAUSE,
    }


def counted(view: View) -> str:
    """How minutes are counted, in one sentence, as HTML."""
    entry = view.library.sources.get(SPEED_SOURCE)
    name = view.source(SPEED_SOURCE) if entry else esc("Brysbaert 2019")
    return (
        f"Minutes are words, read once at {SPEED} words a minute, which is the mean of adults who read English "
        f"({name}); most read 175 to 300, and who reads English as a second language is slower. A case is its story, "
        "the right step and three others at each turn, what is found, and the way told at its end, in the mean of "
        f"the causes. Thinking, talking and hands are not counted. {CHOSEN}."
    )


_ONSET = {"immediate": "at once", "prompt": "soon", "delayed": "later"}


def _soon(view: View, tree: Tree, rule: SafetyRule | None) -> str:
    told = f"Harms soonest: {_ONSET[tree.harm.onset]}, {tree.harm.severity}"
    if rule is None or rule.within is None:
        return f"{told}."
    return f"{told}; {lasting(rule.within)} at most for: {view.plain(rule.say)}"


def _words(view: View, text: str) -> str:
    """A question as plain words, without its sources: here it is only to be known again."""
    for _, begin, end in reversed(list(cited(text))):
        text = text[:begin].rstrip() + text[end:]
    return view.plain(text)
