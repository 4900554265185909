"""Values passed along the product of two versions: which are met where, on how many ways, after how few moves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, TypeVar

from ..proof.resting import Times
from .change import Way
from .product import Joint, Product, State

MOST_SUMS = 64
"""Different gains of time that are kept for a state; beyond, ways are no longer counted by them."""

V = TypeVar("V")


@dataclass(slots=True)
class Met(Generic[V]):
    """A value met at a state: on how many ways, after how few moves at the least, and from where."""

    ways: int
    moves: int
    before: tuple[int, V] | None
    joint: Joint


class Along:
    """The ways that begin at one pair of steps, ready to have values passed along them.

    Args:
        product: the product of the two versions.
        start: one of its starts.
        times: how long steps take where the tree says nothing; the head's, for both.
    """

    def __init__(self, product: Product, start: Joint, times: Times) -> None:
        self.product = product
        self.start = start
        self.times = times
        self.tree = product.new.tree
        self.old, self.new, self.matching = product.old, product.new, product.matching
        reached = {start.to}
        self.order: list[State] = []
        for state in product.order:
            if state in reached:
                self.order.append(state)
                reached.update(joint.to for joint in product.edges[state])
        index = {state: i for i, state in enumerate(self.order)}
        self._onward = [[(index[joint.to], joint) for joint in product.edges[state]] for state in self.order]

    def _run(
        self, first: V, after: Callable[[Joint], Callable[[V], V]], size: Callable[[V], float] | None = None
    ) -> list[dict[V, Met[V]]]:
        """The values met at each state.

        Args:
            first: what is met before a way begins.
            after: for a move how a value changes on it.
            size: where the values could become many, the largest by this are kept.
        """
        table: list[dict[V, Met[V]]] = [{} for _ in self.order]
        table[0][after(self.start)(first)] = Met(1, 0, None, self.start)
        for number, onward in enumerate(self._onward):
            here = table[number]
            for target, joint in onward if here else ():
                change, values = after(joint), table[target]
                for value, met in here.items():
                    new = change(value)
                    there = values.get(new)
                    if there is None:
                        values[new] = Met(met.ways, met.moves + 1, (number, value), joint)
                        if size and len(values) > MOST_SUMS:
                            del values[min(values, key=size)]
                        continue
                    there.ways += met.ways
                    if met.moves + 1 < there.moves:
                        there.moves, there.before, there.joint = met.moves + 1, (number, value), joint
        return table

    def _told(self, table: list[dict[V, Met[V]]], number: int, value: V) -> tuple[Way, Way]:
        """The way to a state on which a value is met, as the old version has it and as the new one."""
        state = self.order[number]
        joints: list[Joint] = []
        at: tuple[int, V] | None = (number, value)
        while at is not None:
            met = table[at[0]][at[1]]
            if met.before is not None:
                joints.append(met.joint)
            at = met.before
        joints.reverse()
        assert self.start.old and self.start.new
        old = [(j.start[0], j.old) for j in joints if j.start and j.old]
        new = [(j.start[1], j.new) for j in joints if j.start and j.new]
        return self.old.told(self.start.old, old, state[0]), self.new.told(self.start.new, new, state[1])


def as_is(value: V) -> V:
    """A value that a move does not change."""
    return value
