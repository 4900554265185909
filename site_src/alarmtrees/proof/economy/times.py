"""How long it takes until the remedy of each cause is done: the usual way, the longest, and the mean over the causes.

The model, all of it:

- One cause at a time, as everywhere in the checks, and the careful reader: where answers name the cause, only such
  are given; otherwise any answer that can be seen under it. Answers offered at any time are not taken.
- On the usual way the reader gives the first answer shown from which the remedy can still be reached: authors put
  the usual answer first.
- A step takes as long as a calm reader needs at the longest (`takes`, or the settings). The time runs from the first
  step until the step that fixes the cause is done; a call that is the remedy, or the hand-over to the tree that is,
  ends it at once.
- The causes count by their shares, which are estimates of the authors; where one has none, all count alike.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from ...model import Answer, Node, Tree
from ...model.finding import Step
from ..resting import Times
from ..simulate import Causes

_Choose = Callable[[Sequence[tuple[Answer | None, str]]], tuple[Answer | None, str]]


@dataclass(frozen=True, slots=True)
class Remedy:
    """A way to the remedy of a cause, and how long it takes, in seconds."""

    cause: str
    seconds: float
    way: tuple[Step, ...]


def shares_of(tree: Tree) -> dict[str, float]:
    """The share of each cause, all together 1; the same for each where one has none."""
    given = {cause.id: cause.share or 0.0 for cause in tree.causes.values()}
    if not all(given.values()):
        given = dict.fromkeys(given, 1.0)
    total = sum(given.values())
    return {cause: share / total for cause, share in given.items()}


class Remedies:
    """The times to the remedies of one tree. The tree must have no loops.

    Attributes:
        arriving: for each step the causes, a bit each, under which the careful reader comes there unaided.
        reach: for each step the causes whose remedy the careful reader can still reach from there.
    """

    def __init__(self, tree: Tree, causes: Causes, times: Times) -> None:
        self.tree = tree
        self.causes = causes
        self.times = times
        self.reach = self.reach_within(tree.nodes)
        self.arriving = self._arriving()

    def reach_within(self, steps: Collection[str], goal: str | None = None, remedies: bool = True) -> dict[str, int]:
        """What the careful reader can reach from each of some steps without leaving them.

        Args:
            steps: the steps that a way may go through.
            goal: a step behind them that a way may lead to as well.
            remedies: whether a way may lead to the remedy.

        Returns:
            For each step the causes under which such a way is there.
        """
        reach = {goal: self.causes.all} if goal else {}
        for node_id in reversed(self.causes.order):
            if node_id in steps:
                node = self.tree.nodes[node_id]
                onward = bits(reach.get(to, 0) & mask for _, to, mask in self.moves(node))
                reach[node_id] = onward | (self.causes.mask(node.fixes) if remedies else 0)
        return reach

    def _arriving(self) -> dict[str, int]:
        arriving = {self.tree.start: self.causes.all}
        for node_id in self.causes.order:
            node = self.tree.nodes[node_id]
            here = arriving.get(node_id, 0) & ~self.causes.mask(node.fixes)
            for _, to, mask in self.moves(node):
                if here & mask:
                    arriving[to] = arriving.get(to, 0) | (here & mask)
        return arriving

    def moves(self, node: Node) -> Iterator[tuple[Answer | None, str, int]]:
        """The careful reader's moves from a step before anything was fixed, each with the causes that allow it."""
        if node.then in self.tree.nodes:
            yield None, node.then or "", self.causes.all
        named = bits(self.causes.mask(answer.when) for answer in node.answers if answer.when)
        for answer in node.answers:
            if answer.to in self.tree.nodes:
                yield answer, answer.to, self.causes.mask(answer.when) if answer.when else self.causes.all & ~named

    def usual(self, cause: str) -> Remedy | None:
        """The usual way to the remedy of a cause; None where the careful reader can reach none."""
        if not self.reach[self.tree.start] & self.causes.bit[cause]:
            return None
        return self._way(cause, self.tree.start, self.reach, lambda open_moves: open_moves[0])

    def within(self, cause: str, start: str, reach: Mapping[str, int], goal: str | None = None) -> Remedy:
        """The usual way from a step to the remedy or to a goal, whichever comes first on it; one must be in reach.

        Args:
            cause: the cause.
            start: the step to begin with.
            reach: what `reach_within` found of the steps that the way may go through.
            goal: the step at which it ends too; it is no step of the way.
        """
        return self._way(cause, start, reach, lambda open_moves: open_moves[0], goal)

    def longest(self, cause: str) -> Remedy | None:
        """A longest way that a careful reader can take to the remedy of a cause."""
        bit = self.causes.bit[cause]
        if not self.reach[self.tree.start] & bit:
            return None
        left: dict[str, float] = {}
        for node_id in reversed(self.causes.order):
            node = self.tree.nodes[node_id]
            ahead = (left[to] for _, to, mask in self.moves(node) if mask & bit and self.reach[to] & bit)
            left[node_id] = self.times.takes(node) + (0.0 if cause in node.fixes else max(ahead, default=0.0))
        return self._way(
            cause, self.tree.start, self.reach, lambda open_moves: max(open_moves, key=lambda move: left[move[1]])
        )

    def help_after(self, cause: str) -> Remedy:
        """A longest way of the careful reader to the first help for a cause: the step that removes it begins, somebody
        is called, or the page ends. Answers at any time are not taken: the patient is as before.

        O(steps + answers).
        """
        bit = self.causes.bit[cause]
        left: dict[str, float] = {}
        onward: dict[str, tuple[Answer | None, str]] = {}
        for node_id in reversed(self.causes.order):
            node = self.tree.nodes[node_id]
            left[node_id] = 0.0
            moves = [(answer, to) for answer, to, mask in self.moves(node) if mask & bit]
            if moves and cause not in node.fixes and not node.call:
                onward[node_id] = max(moves, key=lambda move: left[move[1]])
                left[node_id] = self.times.takes(node) + left[onward[node_id][1]]
        here, steps = self.tree.start, []
        while here in onward:
            answer, to = onward[here]
            steps.append(Step(here, answer.say if answer else None))
            here = to
        return Remedy(cause, left[self.tree.start], (*steps, Step(here, None)))

    def _way(
        self, cause: str, start: str, reach: Mapping[str, int], choose: _Choose, goal: str | None = None
    ) -> Remedy:
        bit = self.causes.bit[cause]
        here, seconds, steps = start, 0.0, []
        while here != goal:
            node = self.tree.nodes[here]
            seconds += self.times.takes(node)
            if cause in node.fixes:
                steps.append(Step(here, None))
                break
            possible = [(a, to) for a, to, mask in self.moves(node) if mask & bit and reach.get(to, 0) & bit]
            answer, to = choose(possible)
            steps.append(Step(here, answer.say if answer else None))
            here = to
        return Remedy(cause, seconds, tuple(steps))

    def usual_times(self) -> dict[str, float]:
        """For each cause the seconds of its usual way; causes without a remedy in reach are left out."""
        found = ((cause, self.usual(cause)) for cause in self.causes.ids)
        return {cause: remedy.seconds for cause, remedy in found if remedy}

    def longest_of_all(self) -> Remedy | None:
        """The longest way to a remedy over all causes; of two as long, that of the cause named first."""
        found = [remedy for cause in self.causes.ids if (remedy := self.longest(cause))]
        return max(found, key=lambda remedy: remedy.seconds, default=None)


def mean(times: Mapping[str, float], shares: Mapping[str, float]) -> float | None:
    """The mean of the times, each counted by its cause's share; None where there are no times.

    >>> mean({"a": 10.0, "b": 40.0}, {"a": 0.75, "b": 0.25})
    17.5
    """
    weight = sum(shares[cause] for cause in times)
    return sum(shares[cause] * time for cause, time in times.items()) / weight if weight else None


def bits(masks: Iterable[int]) -> int:
    """All bits of some masks."""
    total = 0
    for mask in masks:
        total |= mask
    return total
