"""Which change is the author's slip, and which only follow from it.

Only what shows on the ways, what leads elsewhere, and steps and answers that come or go are put together: one
slip of that sort shows in many places. An edit of a text or a mark stands for itself, and is never folded under
another one; only a second finding about the same text follows the first.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from ..model import Node
from .change import Change
from .edits import NODES, START, THEN, TO
from .kinds import Weight
from .matching import Matching

_MOVED = ("question-moved", "step-moved")
_LEADS = ("leads-elsewhere", "rewired")
_RANKS = (
    ("exchanged",),
    _MOVED,
    ("answer-gone", "answer-added"),
    ("question-gone", "question-added", "step-gone", "step-added"),
    _LEADS,
    ("end-added", "end-gone"),
)
"""What is told first of those that belong together."""

_Key = tuple[str | None, str]


def together(changes: Iterable[Change], matching: Matching) -> tuple[Change, ...]:
    """The changes of a tree, each with the headline that it follows.

    Args:
        changes: all that was found in one tree.
        matching: its two versions.

    Returns:
        The same changes in the same order. Linear in their number and in the length of their ways.
    """
    return _Grouping(list(changes), matching).told()


class _Grouping:
    def __init__(self, changes: list[Change], matching: Matching) -> None:
        self.changes = changes
        self.matching = matching
        self._above = list(range(len(changes)))
        self._edits: dict[_Key, list[int]] = {}
        for number, change in enumerate(changes):
            if change.part is not None:
                self._edits.setdefault((change.node, change.part), []).append(number)

    def told(self) -> tuple[Change, ...]:
        for links in (
            self._of_the_same_part,
            self._of_exchanged,
            self._of_steps,
            self._of_answers,
            self._of_moves,
            self._of_ways,
        ):
            for one, other in links():
                self._join(one, other)
        groups: dict[int, list[int]] = {}
        for number in range(len(self.changes)):
            groups.setdefault(self._top(number), []).append(number)
        follows: dict[int, str] = {}
        for members in groups.values():
            first = min(members, key=self._rank)
            follows.update({number: self.changes[first].fingerprint for number in members if number != first})
        return tuple(
            replace(change, follows=follows[n]) if n in follows else change for n, change in enumerate(self.changes)
        )

    def _rank(self, number: int) -> tuple[int, int, int]:
        change = self.changes[number]
        rank = next((i for i, kinds in enumerate(_RANKS) if change.kind in kinds), len(_RANKS))
        if change.kind in _LEADS and change.weight is Weight.ERROR:
            rank = 0  # one thing to do stands for another: that says it better than that one goes and one comes
        # What shows on the ways alone is never what the author did, but a move is told best by what has moved.
        return (int(change.part is None and change.kind not in _MOVED), rank, number)

    def _top(self, number: int) -> int:
        while self._above[number] != number:
            self._above[number] = self._above[self._above[number]]
            number = self._above[number]
        return number

    def _join(self, one: int, other: int) -> None:
        one, other = self._top(one), self._top(other)
        self._above[max(one, other)] = min(one, other)

    def _at(self, node: str | None, *parts: str) -> Iterator[int]:
        for part in parts:
            yield from self._edits.get((node, part), ())

    def _leading(self) -> Iterator[tuple[int, Change]]:
        """The changes by which something leads elsewhere."""
        return ((number, change) for number, change in enumerate(self.changes) if change.kind in _LEADS)

    # ------------------------------------------------------------------ what belongs together

    def _of_the_same_part(self) -> Iterator[tuple[int, int]]:
        """Two findings about one text."""
        for (_, part), numbers in self._edits.items():
            if part in ("ask", "do", "say"):
                yield from ((numbers[0], number) for number in numbers[1:])

    def _of_exchanged(self) -> Iterator[tuple[int, int]]:
        """Two steps that say what the other one said."""
        said = {c.before: number for number, c in enumerate(self.changes) if c.kind == "exchanged"}
        for before, number in said.items():
            other = said.get(self.changes[number].after)
            if other is not None and self.changes[other].after == before:
                yield number, other

    def _of_steps(self) -> Iterator[tuple[int, int]]:
        """A step that comes or goes, and what leads to it."""
        for how, nodes in (("gone", self.matching.old.nodes), ("added", self.matching.new.nodes)):
            single = {
                change.node: number
                for number, change in enumerate(self.changes)
                if change.part == NODES and change.kind.endswith(how)
            }
            for name, number in single.items():
                yield from ((number, single[to]) for to in _targets(nodes.get(name or "")) if to in single)
            for number, change in enumerate(self.changes) if single else ():
                if change.kind in (*_LEADS, f"answer-{how}"):
                    yield from ((number, single[to]) for to in self._led_to(change, how == "added") if to in single)

    def _led_to(self, change: Change, is_now: bool) -> list[str]:
        """Where the step of an edit leads in one of the versions."""
        tree = self.matching.new if is_now else self.matching.old
        if change.node is not None:
            return _targets(tree.nodes[change.node if is_now else self.matching.back[change.node]])
        return [tree.start] if change.part == START else [answer.to for answer in tree.anytime]

    def _of_answers(self) -> Iterator[tuple[int, int]]:
        """What else changed in answers that lead elsewhere: two that changed their words have changed all else."""
        for number, change in self._leading():
            if change.part != TO or change.node is None:
                continue
            for answer in self.matching.new.nodes[change.node].answers:
                if f"“{answer.say}”" in change.message:
                    parts = (f"answers/{answer.say}", "answers")
                    yield from ((number, other) for other in self._at(change.node, *parts))

    def _of_moves(self) -> Iterator[tuple[int, int]]:
        """A step that comes in another order, and what leads elsewhere there."""
        moved = {change.node: number for number, change in enumerate(self.changes) if change.kind in _MOVED}
        if not moved:
            return
        for number, change in self._leading():
            before = [self.matching.forth.get(name) for name in self._led_to(change, False)]
            near = [change.node, *before, *self._led_to(change, True)]
            yield from ((moved[node], number) for node in near if node in moved)

    def _of_ways(self) -> Iterator[tuple[int, int]]:
        """What shows on a way, and the edit at which the way parts from what it was, or that stands on it."""
        last: int | None = None
        for number, change in enumerate(self.changes):
            if change.kind == "steps-changed" and last is not None:
                yield last, number
            if change.way_before is None or change.way_now is None or self._is_edit(change):
                continue
            edit = self._edit_of(change)
            if edit is not None:
                last = edit
                yield edit, number

    def _is_edit(self, change: Change) -> bool:
        return change.part is not None and change.part != NODES

    def _edit_of(self, change: Change) -> int | None:
        before, now = change.way_before or (), change.way_now or ()
        at = 0
        while at < min(len(before), len(now)) and self.matching.forth.get(before[at].node) == now[at].node:
            at += 1
        if at < max(len(before), len(now)):
            if not at:
                return next(self._at(None, START), None)
            found = [*self._at(now[at - 1].node, TO, THEN), *self._at(None, f"anytime/{now[at - 1].answer}")]
            return next(iter(found), None)
        wanted = {
            "call-gone": ("call", "end"),
            "safety-gone": ("marks", "pump"),
            "other-end": ("call", "end"),
            "longer": ("takes", "call", "do", "end"),
        }.get(change.kind, ())
        for part in wanted:
            for step in reversed(now):
                for number in self._at(step.node, part):
                    lost = self.changes[number]
                    if change.kind != "safety-gone" or lost.part == "pump" or lost.before == change.before:
                        return number
        return None


def _targets(node: Node | None) -> list[str]:
    if node is None:
        return []
    return [answer.to for answer in node.answers] or ([node.then] if node.then else [])
