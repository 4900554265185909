"""Which steps and marks a reader has met in either version, followed along the product, a bit each.

A step or mark is not met yet; met in one version and still awaited in the other; or met in both. A mark counts
as met once any step on the way carries it. An answer offered at any time breaks a way off: what is awaited then
is judged on the ways that go on, not on this one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from ..model import Node
from .product import Joint, Product, State
from .stops import Move, Stops

Masks = tuple[int, int, int, int]
"""What is not met, met in the old version only, in the new one only, in both; a bit each. Of some ways one may be
so and of others otherwise: then a bit stands in several."""

NONE, OLD, NEW, BOTH = range(4)  # as bits: met in the old version, met in the new one


@dataclass(frozen=True, slots=True)
class _Row:
    """What is passed on a move of the product."""

    old: int
    new: int
    old_marks: int
    new_marks: int


@dataclass(frozen=True, slots=True)
class Sight:
    """Something to follow along the product: steps or a mark, and when a way shows it.

    `bits` are met, or not, as `what` says: a step or mark is "gone" or "added"; two steps, "moved", are met in
    both versions, and in another order.
    """

    what: str
    bits: int
    is_mark: bool = False


class Passing:
    """The steps and marks of both versions as bits; no step has one where all ways are the same.

    Args:
        product: the product of the two versions.
        joints: the moves that count.
    """

    def __init__(self, product: Product, joints: Iterable[Joint]) -> None:
        self.product = product
        self.old, self.new = product.old, product.new
        self._steps: dict[tuple[str | None, str | None], int] = {}
        self._rows: dict[int, _Row] = {}
        nodes = [*self.old.nodes.values(), *self.new.nodes.values()]
        self._marks = {mark: 1 << i for i, mark in enumerate(sorted({m for node in nodes for m in marks_of(node)}))}
        self._joints = list(joints)
        if not all(joint.same for joint in self._joints):
            forth = product.matching.forth
            for name in self.old.nodes:
                self._steps[name, forth.get(name)] = 1 << len(self._steps)
            for name in self.new.nodes:
                if name not in product.matching.back:
                    self._steps[None, name] = 1 << len(self._steps)
        self._old_bit = {u: bit for (u, _), bit in self._steps.items() if u is not None}
        self._new_bit = {v: bit for (_, v), bit in self._steps.items() if v is not None}
        self._named = {bit: key for key, bit in self._steps.items()}
        self._mark_named = {bit: mark for mark, bit in self._marks.items()}
        self._old_ahead = self._ahead(self.old, self._old_bit)
        self._new_ahead = self._ahead(self.new, self._new_bit)

    def step_of(self, bit: int) -> tuple[str | None, str | None]:
        """The step of a bit, by its names before and now."""
        return self._named[bit]

    def mark_of(self, bit: int) -> str:
        """The mark of a bit; `call:` and the role for a call."""
        return self._mark_named[bit]

    # ------------------------------------------------------------------ rows

    @staticmethod
    def _row(side: Stops, move: Move | None, stop: str | None) -> tuple[str, ...]:
        """The question answered on a move and the things done. A question left for another answer was not met."""
        if move is None:
            return ()
        asked = (stop,) if stop is not None and side.is_ask(stop) and not move.anytime else ()
        return (*asked, *move.passed)

    def _passed(self, joint: Joint) -> _Row:
        known = self._rows.get(id(joint))
        if known is None:
            old = self._row(self.old, joint.old, joint.start and joint.start[0])
            new = self._row(self.new, joint.new, joint.start and joint.start[1])
            known = self._rows[id(joint)] = _Row(
                _any(self._old_bit.get(name, 0) for name in old),
                _any(self._new_bit.get(name, 0) for name in new),
                self._marks_on(self.old, old),
                self._marks_on(self.new, new),
            )
        return known

    def _marks_on(self, side: Stops, row: tuple[str, ...]) -> int:
        return _any(self._marks[mark] for name in row for mark in marks_of(side.nodes[name]))

    def _ahead(self, side: Stops, bits: dict[str, int]) -> dict[str, tuple[int, int]]:
        """For each stop the steps and the marks that some way from there meets."""
        found: dict[str, tuple[int, int]] = {}
        for stop in reversed(side.order):
            steps, marks = 0, 0
            for move in side.moves[stop].values():
                row = self._row(side, move, stop)
                after = found[move.to]
                steps |= after[0] | _any(bits.get(name, 0) for name in row)
                marks |= after[1] | self._marks_on(side, row) | self._end_marks(side, move.to)
            found[stop] = (steps, marks)
        return found

    def _end_marks(self, side: Stops, stop: str) -> int:
        return self._marks_on(side, (stop,)) if stop and not side.moves[stop] else 0

    # ------------------------------------------------------------------ following

    def _after(self, masks: Masks, joint: Joint, is_mark: bool) -> Masks:
        row = self._passed(joint)
        o, w = (row.old_marks, row.new_marks) if is_mark else (row.old, row.new)
        none, old, new, both = masks
        if joint.anytime:
            none, old, new = none | old | new, 0, 0
        return (
            none & ~(o | w),
            (old & ~w) | (none & o & ~w),
            (new & ~o) | (none & w & ~o),
            both | (none & o & w) | (old & w) | (new & o),
        )

    def found(self, start: Joint, order: list[State]) -> Iterator[Sight]:
        """What some way may show: steps gone, added or moved, marks gone."""
        steps = {start.to: self._after((_any(self._named), 0, 0, 0), start, False)}
        marks = {start.to: self._after((_any(self._mark_named), 0, 0, 0), start, True)}
        gone = added = lost = both = 0
        for state in order:
            if self._ends_at(state):
                gone |= self._gone(state, steps[state])
                added |= self._added(state, steps[state])
                lost |= self._lost(state, marks[state])
                both |= steps[state][BOTH]
            for joint in self.product.edges[state]:
                steps[joint.to] = _or(steps.get(joint.to), self._after(steps[state], joint, False))
                marks[joint.to] = _or(marks.get(joint.to), self._after(marks[state], joint, True))
        yield from (Sight("gone", bit, True) for bit in self._mark_named if bit & lost)
        yield from (Sight("gone", bit) for bit in self._named if bit & gone)
        yield from (Sight("added", bit) for bit in self._named if bit & added)
        yield from (Sight("moved", bits) for bits in self._turned(both))

    def _turned(self, both: int) -> Iterator[int]:
        """Pairs of steps of which the old version has one first and the new version the other."""
        if not both:
            return
        behind, before = self._behind(), self._before()
        for bit in self._named:
            if bit & both:
                turned = both & behind.get(bit, 0) & before.get(bit, 0)
                while turned:
                    yield bit | (turned & -turned)
                    turned &= turned - 1

    def _behind(self) -> dict[int, int]:
        """For each step, by its bit, the steps that the old version has behind it on some way."""
        found: dict[int, int] = {}
        side = self.old
        moves = [(stop, move) for stop in side.order for move in side.moves[stop].values()]
        for stop, move in [(None, entry) for entry in side.entries.values()] + moves:
            after = self._old_ahead[move.to][0]
            for name in reversed(self._row(side, move, stop)):
                bit = self._old_bit.get(name, 0)
                found[bit] = found.get(bit, 0) | after
                after |= bit
        return found

    def _before(self) -> dict[int, int]:
        """For each step, by its bit, the steps that the new version has before it on some way."""
        found: dict[int, int] = {}
        side = self.new
        met = dict.fromkeys(side.order, 0)
        moves = [(stop, move) for stop in side.order for move in side.moves[stop].values()]
        for stop, move in [(None, entry) for entry in side.entries.values()] + moves:
            passed = met[stop] if stop is not None else 0
            for name in self._row(side, move, stop):
                bit = self._new_bit.get(name, 0)
                found[bit] = found.get(bit, 0) | passed
                passed |= bit
            met[move.to] |= passed
        return found

    def _ends_at(self, state: State) -> bool:
        return state in self.product.apart or self.product.is_end(state)

    def _gone(self, state: State, masks: Masks) -> int:
        return masks[OLD] & ~self._new_ahead[state[1]][0]

    def _added(self, state: State, masks: Masks) -> int:
        return masks[NEW] & ~self._old_ahead[state[0]][0]

    def _lost(self, state: State, masks: Masks) -> int:
        lost = masks[OLD]
        if self.product.is_end(state) and self.product.same_end(state[0], state[1]):
            # Marks of the end itself: one that was met nowhere before, and that the end no longer has.
            lost |= masks[NONE] & self._end_marks(self.old, state[0])
        return lost & ~self._end_marks(self.new, state[1]) & ~self._new_ahead[state[1]][1]

    # ------------------------------------------------------------------ one at a time

    def tracing(self, sight: Sight) -> Callable[[Joint], Callable[[int], int]]:
        """For a move how what is known of a sight changes: two bits a step or mark, 0 before a way begins."""
        bits = sight.bits
        low = bits & -bits
        high = bits & ~low
        rows, passed, is_mark = self._rows, self._passed, sight.is_mark

        def after(joint: Joint) -> Callable[[int], int]:
            row = rows.get(id(joint)) or passed(joint)
            o, w = (row.old_marks, row.new_marks) if is_mark else (row.old, row.new)
            if not (o | w) & bits and not joint.anytime:
                return _as_it_is
            first = _AFTER[joint.anytime, bool(o & low), bool(w & low)]
            second = _AFTER[joint.anytime, bool(o & high), bool(w & high)]
            return _PAIRED[first, second].__getitem__

        return after

    def shows(self, state: State, value: int, sight: Sight) -> bool:
        """Whether a way that ends so shows it."""
        if not self._ends_at(state):
            return False
        if sight.what == "moved":
            return value == BOTH | BOTH << 2
        masks = tuple(sight.bits if value == status else 0 for status in (NONE, OLD, NEW, BOTH))
        if sight.is_mark:
            return bool(self._lost(state, masks))  # type: ignore[arg-type]
        return bool((self._gone if sight.what == "gone" else self._added)(state, masks))  # type: ignore[arg-type]


def _changes(anytime: bool, old: bool, new: bool) -> tuple[int, ...]:
    """What becomes of not met, met in old, in new, in both."""
    changed = [status | (OLD if old else 0) | (NEW if new else 0) for status in (NONE, OLD, NEW, BOTH)]
    if anytime:  # what was awaited is not, any longer
        changed[OLD] = changed[NEW] = changed[NONE]
    return tuple(changed)


_as_it_is = tuple(range(16)).__getitem__
_AFTER = {(x, o, w): _changes(x, o, w) for x in (False, True) for o in (False, True) for w in (False, True)}
_PAIRED = {
    (first, second): tuple(first[value & 3] | second[value >> 2] << 2 for value in range(16))
    for first in _AFTER.values()
    for second in _AFTER.values()
}


def marks_of(node: Node) -> list[str]:
    """The marks that a step stands for, the call by its role."""
    marks = sorted(node.marks - {"call", "end-resolved", "resolved"})
    return [*marks, f"call:{node.call}"] if node.call else marks


def _any(bits: Iterable[int]) -> int:
    total = 0
    for bit in bits:
        total |= bit
    return total


def _or(a: Masks | None, b: Masks) -> Masks:
    return b if a is None else (a[0] | b[0], a[1] | b[1], a[2] | b[2], a[3] | b[3])
