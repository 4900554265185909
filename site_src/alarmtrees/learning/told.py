"""The bedsides of `kb/stories/` as cases: the same engine plays them, along the answers that the story gives.

A story may have two causes, none that is named, and lead on through other pages. A step of another page than the one
it opens is named with its page, `page/step`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from ..model import Answer, Library, Tree
from ..model.story import Demand, Story
from ..model.wording import fill
from ..proof.bedside import Played, Stage
from ..proof.graph import Graph, named
from .cases import NOTHING_NEW, looks_of, seen_at
from .draw import seed_of

_DERIVED = {
    "pump-starts": "The pump is started.",
    "pump-stops": "The pump is stopped, or put on hold.",
    "call": "Somebody is called.",
    "end-resolved": "The alarm counts as answered.",
}
"""The words of marks that no file holds, for they are always derived."""

_DIGITS = "0123456789abcdefghijklmnopqrstuvwxyz"


@dataclass(frozen=True, slots=True)
class ToldCase:
    """One bedside as a case.

    Attributes:
        code: what stands for it in an address; it tells nothing of it.
        two: whether two things are the matter at once.
        across: whether its way leads through more than one page.
        data: what the engine needs of it.
    """

    code: str
    two: bool
    across: bool
    data: Mapping[str, Any]


def told_cases(library: Library) -> dict[str, list[ToldCase]]:
    """All bedsides that can be played, by the tree that they open, in the order of their files.

    Left out are those that come out otherwise than they are told, which `check` finds, and those that pass a page which
    is not practised.

    Args:
        library: without errors.
    """
    stage = Stage(Graph(library.trees), library.settings)
    found: dict[str, list[ToldCase]] = {}
    for stories in library.bedsides.values():
        for story in stories:
            played = stage.play(story)
            if played is None or played.faults or not _is_practised(library, played):
                continue
            tree = library.trees[story.opens.partition("/")[0]]
            found.setdefault(tree.id, []).append(_case(library, tree, story, played))
    return found


def _is_practised(library: Library, played: Played) -> bool:
    trees = [library.trees[one.key[0]] for one in played.moments]
    keys = [one.key for one in played.moments]
    return all(tree.causes and tree.in_use for tree in trees) and len(set(keys)) == len(keys)


def _case(library: Library, tree: Tree, story: Story, played: Played) -> ToldCase:
    pages = list(dict.fromkeys(one.key[0] for one in played.moments))
    order = list(tree.causes)
    code = code_of(story)
    data = {
        "id": f"t-{code}",
        "pages": pages,
        "cause": order.index(story.causes[0]) if story.causes else NOTHING_NEW,
        "causes": [fill(tree.causes[cause].say, library.settings) for cause in story.causes],
        "story": [fill(story.say, library.settings)],
        "trace": "",
        "world": {key: [index, index] for key, index in _world(library, tree, story, played, pages) if index >= 0},
        "way": [named(one.key, tree.id) for one in played.moments],
        "solves": story.end == "resolved",
        "still": _is_still(tree, played),
        "must": [_demand(library, demand) for demand in story.must],
        "never": [{"mark": mark, "say": _mark(library, mark)} for mark in story.never],
    }
    return ToldCase(code, len(story.causes) > 1, len(pages) > 1, data)


def code_of(story: Story) -> str:
    """What stands for a story in an address: its name would tell what is the matter.

    >>> _base36(35), _base36(36)
    ('z', '10')
    """
    return _base36(seed_of(f"{story.tree}/{story.id}"))


def _base36(number: int) -> str:
    digits = ""
    while number or not digits:
        number, rest = divmod(number, 36)
        digits = _DIGITS[rest] + digits
    return digits


def _world(library: Library, tree: Tree, story: Story, played: Played, pages: list[str]) -> Iterator[tuple[str, int]]:
    """What the bedside answers to each question of its pages: as told, else what is known of it, else nothing new."""
    given = {one.key: one.answer for one in played.moments if one.answer}
    cause = story.causes[0] if len(story.causes) == 1 else ""
    for page in pages:
        one = library.trees[page]
        told = {key[1]: answer for key, answer in given.items() if key[0] == page}
        own = cause if page == tree.id else ""
        marks = _marks(given.values())
        seen = seen_at(one, library.safety.values(), looks_of(library), told, marks, own, _is_still(tree, played))
        for node in one.nodes.values():
            if node.kind == "ask":
                index = one.answers_at(node).index(told[node.id]) if node.id in told else seen[node.id]
                yield named((page, node.id), tree.id), index


def _marks(given: Any) -> frozenset[str]:
    return frozenset[str]().union(*(answer.marks for answer in given))


def _is_still(tree: Tree, played: Played) -> bool:
    """Whether the balloon stands still at the beginning: as the story first tells, before a step has changed it."""
    if tree.pump != "stopped":
        return False
    for one in played.moments:
        node_answer: Answer | None = one.answer
        if node_answer is not None and node_answer.pump:
            return node_answer.pump == "still"
    return True


def _demand(library: Library, demand: Demand) -> dict[str, Any]:
    """What must be told: a mark in words, or whom to call, and by when, in seconds; 0 without a time."""
    role = library.roles.get(demand.call or "")
    if demand.call is not None:
        return {"call": fill(role.say, library.settings) if role else demand.call, "by": demand.by or 0}
    return {"mark": demand.mark, "say": _mark(library, demand.mark or ""), "by": demand.by or 0}


def _mark(library: Library, mark: str) -> str:
    return library.marks[mark].say if mark in library.marks else _DERIVED.get(mark, mark)
