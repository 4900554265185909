"""The ways of two versions of a tree, put side by side: what changes on them, how they are told, how many they are."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property

from ..model import Answer
from ..model.finding import Step
from ..proof.resting import Times
from .change import Change, Counts, Way
from .judge import Judge
from .matching import Matching
from .product import Joint, Product, State
from .stops import Stops, halts_of

STATES_A_STEP = 60
STATES_AT_LEAST = 1000
"""States of the product that are looked at for each step, and besides; two versions that need more are rewritten."""


class Ways:
    """The ways of both versions.

    Args:
        matching: the two versions, side by side.
        pairs: the steps at which ways begin, before and now; the tree's start first.
        same_go: whether two hand-overs lead to the same step of another tree.
        times: how long steps take where the tree says nothing.

    Attributes:
        changes: what changes on ways.
        counts: how many ways there are, and how many stay the same.

    Raises:
        NotComparableError: the ways of a version cannot be told.
    """

    def __init__(
        self,
        matching: Matching,
        pairs: list[tuple[str, str]],
        same_go: Callable[[str, str], bool],
        times: Times,
    ) -> None:
        old, new = matching.old, matching.new
        halts_now = frozenset(matching.forth[u] for u in halts_of(old, True) if u in matching.forth)
        halts_before = frozenset(matching.back[v] for v in halts_of(new, True) if v in matching.back)
        roots_before, roots_now = [u for u, _ in pairs], [v for _, v in pairs]
        self.before, self.now = Stops(old, roots_before, halts_before), Stops(new, roots_now, halts_now)
        self._guides = self.before.guide(roots_before), self.now.guide(roots_now)
        self._through = self.before.through(roots_before[:1]), self.now.through(roots_now[:1])
        most = STATES_A_STEP * (len(old.nodes) + len(new.nodes)) + STATES_AT_LEAST
        self.product = Product(self.before, self.now, matching, pairs, same_go, most)
        seen: dict[tuple[str, str | None, str | None, str | None], Change] = {}
        self._same: dict[State, int] = {}
        for start in self.product.starts:
            judge = Judge(self.product, start, times)
            for change in judge.changes():
                seen.setdefault((change.kind, change.node, change.before, change.after), change)
            self._same.update(judge.same())
        self.changes = tuple(seen.values())
        first = self.product.starts[0]
        self.counts = Counts(
            new.id,
            self.before.ways[self.before.entries[old.start].to],
            self.now.ways[self.now.entries[new.start].to],
            self._same[first.to] if first.same else 0,
            self.product.complete,
        )

    # ------------------------------------------------------------------ how a way is told

    def to_old(self, node: str) -> Way | None:
        """A shortest way to a step of the old version; None where none reaches it."""
        return self._guides[0].way_to(node)

    def to_new(self, node: str) -> Way | None:
        """A shortest way to a step of the new version; None where none reaches it."""
        return self._guides[1].way_to(node)

    def through_old(self, node: str) -> int | None:
        """How many ways of the old version lead through a step."""
        return self._through[0].get(node)

    def by_old(self, node: str, answer: Answer) -> int | None:
        """How many ways of the old version lead through a question, and on by one of its answers."""
        return _share(self.before, node, answer, self._through[0].get(node, 0))

    def by_new(self, node: str, answer: Answer) -> int | None:
        """The same in the new version."""
        return _share(self.now, node, answer, self._through[1].get(node, 0))

    # ------------------------------------------------------------------ where ways differ

    def all_same(self, node: str | None) -> bool:
        """Whether all ways from a step of the new version on are the same in both; None is where the tree begins."""
        if not self.product.complete:
            return False
        if node is None:
            return self.counts.before == self.counts.now == self.counts.same
        return self.product.matching.back.get(node) not in self._differing[0] and node not in self._differing[1]

    @cached_property
    def _differing(self) -> tuple[set[str], set[str]]:
        """The steps of either version from which on not all ways are the same."""
        found: tuple[set[str], set[str]] = (set(), set())
        for joint in (*self.product.starts, *(j for joints in self.product.edges.values() for j in joints)):
            if not self._is_same(joint):
                for side, move in zip(found, (joint.old, joint.new), strict=True):
                    side.update(move.passed if move else ())
                if joint.start:
                    found[0].add(joint.start[0])
                    found[1].add(joint.start[1])
        for u, v, _ in self.product.apart:
            found[0].add(u)
            found[1].add(v)
        return found

    def _is_same(self, joint: Joint) -> bool:
        same = self._same.get(joint.to)
        return joint.same and same == self.before.ways[joint.to[0]] == self.now.ways[joint.to[1]]


def _share(side: Stops, stop: str, answer: Answer, through: int) -> int | None:
    if stop not in side.moves or not side.ways[stop]:
        return None
    move = next((m for m in side.moves[stop].values() if m.answer is answer), None)
    return through // side.ways[stop] * side.ways[move.to] if move else None


def given(way: Way | None, answer: Answer) -> Way | None:
    """A way to a question, with the answer given there."""
    return None if way is None else (*way[:-1], Step(way[-1].node, answer.say))
