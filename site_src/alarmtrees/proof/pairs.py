"""How a tree answers two of its causes at once.

All pairs of causes go through the tree together, each pair as one bit, with the state of either cause as in
`simulate`. The reader is hurried and meets two troubles: an answer that is seen under one of them may be given, also
where the other would show something else. That all is well again (`when: fixed`) can be seen only where no trouble
is left that does not itself allow that answer; any other answer there means that one is left, or that a remedy failed.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, product

from ..model import FIXED, Answer, Node, Tree
from ..model.finding import Step
from .graph import State, search, way_to
from .simulate import DONE, OPEN, SEEN, Causes

Pair = tuple[str, str]
_Both = tuple[int, int]
"""The states of the first and of the second cause of a pair."""
_Masks = dict[_Both, int]
"""For each state that a pair can be in the pairs in it, a bit each."""


class Pairs:
    """The pairs of causes of one tree as bits, and what they meet. The tree must have no loops.

    Args:
        tree: the tree.
        causes: its causes, one at a time.
    """

    def __init__(self, tree: Tree, causes: Causes) -> None:
        self.tree = tree
        self.causes = causes
        self.ids: tuple[Pair, ...] = tuple(combinations(causes.ids, 2))
        self.all = (1 << len(self.ids)) - 1
        # For each cause the pairs in which it is the first, and those in which it is the second.
        self._of = {
            cause: tuple(sum(1 << i for i, pair in enumerate(self.ids) if pair[at] == cause) for at in (0, 1))
            for cause in causes.ids
        }

    def names(self, mask: int) -> list[Pair]:
        """The pairs of a mask, in the order of the file."""
        return [pair for i, pair in enumerate(self.ids) if mask >> i & 1]

    def named(self, causes: tuple[str, ...] | None, at: int) -> int:
        """The pairs whose cause at a place (0, 1) is among some; None means all causes."""
        if causes is None:
            return self.all
        total = 0
        for cause in causes:
            total |= self._of[cause][at] if cause in self._of else 0
        return total

    def left_at_end(self, start: str, end: str = "resolved") -> dict[str, int]:
        """For each end of a kind the pairs of which one cause is left there, from a step on.

        O((steps + answers) x pairs / word length).
        """
        found: dict[str, int] = {}
        arriving: dict[str, _Masks] = {start: {(OPEN, OPEN): self.all}}
        for node_id in self.causes.order:
            here = arriving.get(node_id)
            if not here:
                continue
            node = self.tree.nodes[node_id]
            if node.end == end:
                for both, pairs in self._done(node, here).items():
                    if OPEN in both:
                        found[node_id] = found.get(node_id, 0) | pairs
            for _, to, leaving in self._moves(node, here):
                there = arriving.setdefault(to, {})
                for both, pairs in leaving.items():
                    there[both] = there.get(both, 0) | pairs
        return found

    def _moves(self, node: Node, arriving: _Masks) -> Iterator[tuple[Answer | None, str, _Masks]]:
        here = self._done(node, arriving)
        if node.then:
            yield None, node.then, here
        asks = any(answer.when is not None and FIXED in answer.when for answer in node.answers)
        for answer in self.tree.answers_at(node):
            leaving = here if answer.anytime else self._given(answer, here, asks)
            if leaving:
                yield answer, answer.to, leaving

    def _done(self, node: Node, arriving: _Masks) -> _Masks:
        """The states once a step has been done."""
        if not node.fixes:
            return arriving
        fixed = (self.named(node.fixes, 0), self.named(node.fixes, 1))
        done: _Masks = {}
        for both, pairs in arriving.items():
            for first, second in product((0, 1), repeat=2):
                part = pairs & (fixed[0] if first else ~fixed[0]) & (fixed[1] if second else ~fixed[1])
                if part:
                    state = (DONE if first else both[0], DONE if second else both[1])
                    done[state] = done.get(state, 0) | part
        return done

    def _given(self, answer: Answer, here: _Masks, asks: bool) -> _Masks:
        """The states in which an answer is possible, as they are once it has been given."""
        allowed = (self.named(answer.when, 0), self.named(answer.when, 1))
        well = answer.when is not None and FIXED in answer.when
        given: _Masks = {}
        for both, pairs in here.items():
            part = self._all_well(both, pairs, allowed) if well else pairs & (allowed[0] | allowed[1])
            if part:
                after = _seen(both) if well else _failed(both) if asks else both
                given[after] = given.get(after, 0) | part
        return given

    def _all_well(self, both: _Both, pairs: int, allowed: tuple[int, int]) -> int:
        """The pairs under which all can be seen to be well: what is left must allow it, and something was done."""
        part = pairs
        for at in (0, 1):
            if both[at] == OPEN:
                part &= allowed[at]
        if DONE not in both:
            part &= allowed[0] | allowed[1]
        return part

    def witness(self, start: str, end: str, pair: Pair) -> tuple[Step, ...]:
        """A shortest way from a step to an end `resolved` or a `go`, on which one cause of a pair is left."""
        bit = 1 << self.ids.index(pair)

        def moves(state: State) -> Iterator[tuple[Answer | None, State]]:
            (tree_id, node_id), memory = state
            for answer, to, leaving in self._moves(self.tree.nodes[node_id], {divmod(memory, 3): bit}):
                for both in leaving:
                    yield answer, ((tree_id, to), both[0] * 3 + both[1])

        before = search([((self.tree.id, start), 0)], moves)
        for state in before:
            if state[0] == (self.tree.id, end) and OPEN in divmod(state[1], 3):
                return way_to(before, state, self.tree.id)
        return ()


def _seen(both: _Both) -> _Both:
    """All is well: what was done is seen to hold."""
    first, second = (SEEN if state == DONE else state for state in both)
    return first, second


def _failed(both: _Both) -> _Both:
    """All is not well: a cause that is left explains it; where none is, the last remedies have failed."""
    if OPEN in both:
        return both
    first, second = (OPEN if state == DONE or DONE not in both else state for state in both)
    return first, second
