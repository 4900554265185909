"""Looks at the bedside: those with which a page begins, and how long what was seen holds."""

from __future__ import annotations

from collections.abc import Mapping

from ..model import Answer, Mark, Node, Tree

_RESTED = frozenset({"rested-too-long", "rest-unknown"})
_STILL_SHORT = frozenset({"rested-short", "stands-still"})


def first_looks(tree: Tree, marks: Mapping[str, Mark]) -> tuple[str, ...]:
    """The looks with which a page begins, in the order of the tree: they may be answered in any order.

    From the start on, a question that carries a mark with a `look` is followed by the one such question that its
    answers lead to. An answer that leads elsewhere leaves the row.

    Args:
        tree: the tree.
        marks: all marks of its library, by id.

    Returns:
        Ids of steps; empty where the page does not begin with two looks or more. Linear in the answers of the row.
    """
    row: list[str] = []
    here: str | None = tree.start
    while here is not None:
        row.append(here)
        following = {answer.to for answer in tree.nodes[here].answers if answer.to not in row}
        looks = [to for to in following if to in tree.nodes and _is_look(tree.nodes[to], marks)]
        here = looks[0] if len(looks) == 1 else None
    return tuple(row) if len(row) > 1 and _is_look(tree.nodes[tree.start], marks) else ()


def _is_look(node: Node, marks: Mapping[str, Mark]) -> bool:
    return node.kind == "ask" and any(mark in marks and marks[mark].look for mark in node.marks)


def holds(node: Node, answer: Answer, marks: Mapping[str, Mark]) -> float | None:
    """For how many seconds what an answer says still holds; None where it has to be seen anew each time.

    An answer with marks holds for the shortest `keeps` of them, where all have one; one without marks for that of its
    question. A question that asks for more than looks, and an answer that speaks of the pump, hold for no time.

    Args:
        node: the question.
        answer: one of its answers.
        marks: all marks of the library, by id.
    """
    own = answer.marks or node.marks
    times = [marks[mark].keeps if mark in marks else None for mark in own]
    only_looks = all(mark in marks and marks[mark].look for mark in node.marks)
    if answer.anytime or answer.pump or not times or not only_looks:
        return None
    kept = [time for time in times if time is not None]
    return min(kept) if len(kept) == len(times) else None


def told_by_clock(node: Node, marks: Mapping[str, Mark]) -> Answer | None:
    """The answer to a question for the rest that a running clock gives: that it is short. None where it asks for more.

    Its words are the usual ones of the look, and every other answer says that the rest is longer, not known, or over.
    """
    look = marks["rest-check"].look if "rest-check" in marks else None
    if look is None or node.marks != {"rest-check"}:
        return None
    usual = look.answers.get("rested-short", ("",))[0]
    short = [answer for answer in node.answers if answer.say == usual and answer.marks <= _STILL_SHORT]
    others = [answer for answer in node.answers if answer not in short]
    others_differ = all(answer.marks & _RESTED or answer.pump == "moves" for answer in others)
    return short[0] if len(short) == 1 and short[0].pump != "moves" and others_differ else None
