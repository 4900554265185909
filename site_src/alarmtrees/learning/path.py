"""The path of new colleagues: which pages it leads through, and which questions stand under each stage."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterable, Sequence

from ..model import ABOUT, Article, Library, Stage, Tree
from ..model.stamp import content_stamp
from ..proof.order import by_part
from ..reading.articles import PARTS
from .questions import Question, questions

A_TREE = 1
"""How many questions about an alarm are asked here: practice cases ask for all of its steps."""


_DIGITS = 12


def path_of(library: Library) -> tuple[Stage, ...]:
    """The stages that the library sets; where it sets none, all articles by part, then all alarms by subject."""
    if library.path:
        return library.path
    groups: list[tuple[str, str, Sequence[Article | Tree]]] = [
        (part, PARTS[part], articles) for part, articles in by_part(library).items()
    ]
    groups += [
        (f"about-{about}", word, [tree for tree in library.in_use.values() if tree.about == about])
        for about, word in ABOUT.items()
    ]
    return tuple(
        Stage(key, title, "", "", tuple((one.id, "") for one in pages)) for key, title, pages in groups if pages
    )


def page_of(library: Library, name: str) -> Tree | Article | None:
    """The tree or article of the path under an id; None for a tree that is not in use, and for what is not there."""
    tree = library.trees.get(name)
    if tree and not tree.in_use:
        return None
    return tree or library.articles.get(name)


def read_stamp(page: Tree | Article) -> str:
    """A stamp of what a page says: it changes when somebody who has read it should read it again."""
    if isinstance(page, Tree):
        return content_stamp(page)[:_DIGITS]
    told = "\n".join((page.title, page.description, *page.cautions, page.text[page.body_at :]))
    return hashlib.sha256(told.encode()).hexdigest()[:_DIGITS]


def asked_here(library: Library, known: Iterable[Question] | None = None) -> list[list[Question]]:
    """The questions that stand under each stage: all about its articles, and some about each of its alarms.

    Of an alarm's questions those stand here whose reasons came up least before, so that the page asks for many rules.

    Args:
        library: what the path leads through.
        known: all questions of the library, where they are made already.
    """
    asked: dict[tuple[str, str], list[Question]] = {}
    for question in questions(library) if known is None else known:
        asked.setdefault((question.about_kind, question.about), []).append(question)
    told: Counter[str] = Counter()
    found = []
    for stage in path_of(library):
        here = list[Question]()
        for page in (page_of(library, name) for name, _ in stage.pages):
            if isinstance(page, Tree):
                here += _least_told(asked.get(("tree", page.id), []), told)
            elif page:
                here += asked.get(("article", page.id), [])
        found.append(here)
    return found


def _least_told(about: Sequence[Question], told: Counter[str]) -> list[Question]:
    """The questions about one alarm that stand here; counts their reasons in."""
    left, chosen = list(about), list[Question]()
    while left and len(chosen) < A_TREE:
        chosen.append(min(left, key=lambda one: sum(told[choice.why] for choice in one.choices)))
        left.remove(chosen[-1])
        told.update({choice.why for choice in chosen[-1].choices})
    return chosen


def stage_anchor(stage: Stage) -> str:
    """The place of a stage on the page."""
    return f"stage-{stage.id}"


def place_of(library: Library, name: str) -> str:
    """The place of the stage in which an article or tree is read; none where the path leaves it out."""
    return next((stage_anchor(stage) for stage in path_of(library) if name in dict(stage.pages)), "")
