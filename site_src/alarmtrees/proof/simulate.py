"""How a tree answers each of its causes, one at a time.

All causes go through the tree at once, each as one bit. At a step a cause is in one of three states:
not fixed; fixed by a step that nobody has looked at yet; fixed, and seen to be.
The hurried reader may give any answer that is possible under the cause. Answers offered at any time
are always possible and tell nothing of the cause.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from ..model import FIXED, Answer, Node, Tree
from .graph import Graph, State, search

OPEN, DONE, SEEN = 0, 1, 2
"""States of a cause: not fixed; fixed and not looked at; fixed and seen to be."""

Masks = tuple[int, int, int]
"""For each of the three states the causes in it, a bit each."""


@dataclass(slots=True)
class Simulation:
    """What the hurried reader can meet, from some steps on.

    Attributes:
        stuck: for a question the causes under which no answer is possible.
        unfixed_end: for an end `resolved` the causes that were not fixed.
        met: the steps reached under some cause, each with the causes that come to it, fixed or not.
        given: the answers (step, index among its own) that some cause allows.
    """

    stuck: dict[str, int] = field(default_factory=dict)
    unfixed_end: dict[str, int] = field(default_factory=dict)
    met: dict[str, int] = field(default_factory=dict)
    given: set[tuple[str, int]] = field(default_factory=set)


class Causes:
    """The causes of one tree as bits, and the moves that each allows. The tree must have no loops."""

    def __init__(self, tree: Tree, graph: Graph) -> None:
        self.tree = tree
        self.ids = tuple(tree.causes)
        self.bit = {cause: 1 << i for i, cause in enumerate(self.ids)}
        self.all = (1 << len(self.ids)) - 1
        self.order = graph.forwards[tree.id]
        self._ran: dict[str, Simulation] = {}

    def names(self, mask: int) -> list[str]:
        """The causes of a mask, in the order of the file."""
        return [cause for cause in self.ids if self.bit[cause] & mask]

    def mask(self, causes: tuple[str, ...] | None) -> int:
        """The causes of an answer's `when` or a step's `fixes`, as bits; None means all."""
        return self.all if causes is None else sum(self.bit[c] for c in causes if c in self.bit)

    def after_step(self, node: Node, masks: Masks) -> Masks:
        """The states once a step has been done."""
        if not node.fixes:
            return masks
        fixed = self.mask(node.fixes)
        opened, done, seen = masks
        return opened & ~fixed, done | ((opened | seen) & fixed), seen & ~fixed

    def after_answer(self, node: Node, answer: Answer, masks: Masks) -> Masks:
        """The states in which an answer is possible, as they are once it has been given.

        At a question with an answer `when: fixed` that answer is possible where a step since the
        last such question fixed the cause; every other answer means that it did not.
        """
        if answer.anytime:
            return masks
        opened, done, seen = masks
        allowed = self.mask(answer.when)
        if answer.when is not None and FIXED in answer.when:
            return opened & allowed, 0, done | (seen & allowed)
        if _asks_whether_fixed(node):
            return (opened | done | seen) & allowed, 0, 0
        return opened & allowed, done & allowed, seen & allowed

    def run(self, start: str) -> Simulation:
        """Let all causes go through the tree from a step, none of them fixed: O(steps + answers), once a step."""
        if start not in self._ran:
            self._ran[start] = self._run(start)
        return self._ran[start]

    def _run(self, start: str) -> Simulation:
        result = Simulation()
        arriving: dict[str, Masks] = {start: (self.all, 0, 0)}
        for node_id in self.order:
            masks = arriving.get(node_id)
            if masks is None or not any(masks):
                continue
            result.met[node_id] = masks[OPEN] | masks[DONE] | masks[SEEN]
            for to, leaving in self._leave(self.tree.nodes[node_id], masks, result):
                old = arriving.get(to, (0, 0, 0))
                arriving[to] = (old[0] | leaving[0], old[1] | leaving[1], old[2] | leaving[2])
        return result

    def _leave(self, node: Node, masks: Masks, result: Simulation) -> Iterator[tuple[str, Masks]]:
        if node.end == "resolved" and masks[OPEN]:
            result.unfixed_end[node.id] = masks[OPEN]
        masks = self.after_step(node, masks)
        if node.then:
            yield node.then, masks
        for state in (OPEN, DONE, SEEN):
            if masks[state]:
                yield from self._answer(node, single(masks[state], state), result)
        for answer in self.tree.answers_at(node)[len(node.answers) :]:
            yield answer.to, masks

    def _answer(self, node: Node, masks: Masks, result: Simulation) -> Iterator[tuple[str, Masks]]:
        possible = 0
        for index, answer in enumerate(node.answers):
            leaving = self.after_answer(node, answer, masks)
            allowed = leaving[0] | leaving[1] | leaving[2]
            if allowed:
                result.given.add((node.id, index))
                possible |= allowed
                yield answer.to, leaving
        stuck = (masks[0] | masks[1] | masks[2]) & ~possible
        if node.kind == "ask" and stuck:
            result.stuck[node.id] = result.stuck.get(node.id, 0) | stuck

    def reach(self, start: str, cause: str) -> dict[State, tuple[State, Answer | None] | None]:
        """Search all the ways that the hurried reader can go under one cause."""
        bit = self.bit[cause]

        def moves(state: State) -> Iterator[tuple[Answer | None, State]]:
            (tree_id, node_id), memory = state
            node = self.tree.nodes[node_id]
            masks = self.after_step(node, single(bit, memory))
            if node.then:
                yield None, ((tree_id, node.then), state_of(masks))
            for answer in self.tree.answers_at(node):
                leaving = self.after_answer(node, answer, masks)
                if any(leaving):
                    yield answer, ((tree_id, answer.to), state_of(leaving))

        return search([((self.tree.id, start), OPEN)], moves)

    def possible(self, state: State, cause: str) -> Iterator[Answer]:
        """The own answers that are possible at a step as arrived at, under a cause."""
        (_, node_id), memory = state
        node = self.tree.nodes[node_id]
        masks = self.after_step(node, single(self.bit[cause], memory))
        return (answer for answer in node.answers if any(self.after_answer(node, answer, masks)))

    def never_fixed(self) -> list[str]:
        """Causes for which the careful reader can reach no step or end that fixes them.

        Where answers name the cause, the careful reader gives only such. Answers offered at any time
        are left out: they speak of the patient. O(steps + answers).
        """
        arriving = {self.tree.start: self.all}
        fixed = 0
        for node_id in self.order:
            here = arriving.get(node_id, 0)
            if not here:
                continue
            node = self.tree.nodes[node_id]
            fixed |= here & self.mask(node.fixes)
            named = 0
            for answer in node.answers:
                named |= self.mask(answer.when) if answer.when else 0
            leaving = [(node.then, here)] if node.then else []
            for answer in node.answers:
                leaving.append((answer.to, here & (self.mask(answer.when) if answer.when else ~named)))
            for to, mask in leaving:
                arriving[to] = arriving.get(to, 0) | mask
        return self.names(self.all & ~fixed)


def _asks_whether_fixed(node: Node) -> bool:
    return any(answer.when is not None and FIXED in answer.when for answer in node.answers)


def single(causes: int, state: int) -> Masks:
    """Causes that are all in one state."""
    return (causes * (state == OPEN), causes * (state == DONE), causes * (state == SEEN))


def state_of(masks: Masks) -> int:
    """The first state that any cause is in."""
    return next(state for state in (OPEN, DONE, SEEN) if masks[state])
