"""What changes on the ways of one tree: counted, weighed, each with its shortest witness.

Everything is computed by passing values along the product once, in time linear in its states; ways are
counted as whole numbers, however many they are.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from ..model.finding import Place
from .advice import described
from .along import MOST_SUMS, Along, as_is
from .change import Change, Way
from .passing import Passing, Sight, marks_of
from .product import ENDS_SOONER, GOES_ON, Joint, State
from .stops import Move, Stops

MOST_TRACED = 12
"""Steps that are traced one by one in one tree; those beyond are told in one sentence, without a witness."""

Gain = tuple[bool, bool, float]
"""Whether help has been called before, whether now, and how many seconds later now."""


@dataclass(frozen=True, slots=True)
class _Shown:
    """On how many ways something shows, and the shortest, as either version has it; None where nothing was traced."""

    ways: int | None
    before: Way | None
    now: Way | None


class Judge(Along):
    """The changes on the ways that begin at one pair of steps."""

    def same(self) -> dict[State, int]:
        """For each state how many ways on from there are the same in both versions, word for word but for notes."""
        same: dict[State, int] = {}
        for state in reversed(self.order):
            joints = self.product.edges[state]
            ended = self.product.is_end(state) and self.product.reads_the_same(state)
            same[state] = sum(same[joint.to] for joint in joints if joint.same) if joints else int(ended)
        return same

    def changes(self) -> Iterator[Change]:
        """All that the product shows: other ends, steps and marks gone, new or moved, a longer way to help."""
        yield from self._ends()
        yield from self._steps_and_marks()
        yield from self._longer()

    # ------------------------------------------------------------------ ends

    def _ends(self) -> Iterator[Change]:
        table = self._run(0, lambda joint: as_is)
        for (u, v), numbers in self._parted().items():
            best = min(numbers, key=lambda number: table[number][0].moves)
            before, now = self._told(table, best, 0)
            ways = sum(table[number][0].ways for number in numbers)
            how = self.product.apart.get(self.order[best], "")
            yield self._end(u, v, how, ways, before, now)

    def _parted(self) -> dict[tuple[str, str], list[int]]:
        found: dict[tuple[str, str], list[int]] = {}
        for number, state in enumerate(self.order):
            ended = self.product.is_end(state) and not self.product.same_end(state[0], state[1])
            if ended or state in self.product.apart:
                found.setdefault((state[0], state[1]), []).append(number)
        return found

    def _end(self, u: str, v: str, how: str, ways: int, before: Way, now: Way) -> Change:
        was, is_now = described(self.old.node(u)), described(self.new.node(v))
        if how == ENDS_SOONER:
            message = f"the same answers now end here: {is_now}; before, they went on: {was}"
        elif how == GOES_ON:
            message = f"the same answers now go on: {is_now}; before, they ended: {was}"
        elif how:
            message = f"after the same answers something else is asked: {is_now}; before: {was}"
        else:
            message = f"the same answers have another end: {is_now}; before: {was}"
        return Change(
            "other-question" if how and how not in (ENDS_SOONER, GOES_ON) else "other-end",
            self.tree.id,
            message,
            self._parting(before, now),
            node=v or None,
            before=was,
            after=is_now,
            way_before=before,
            way_now=now,
            ways=ways,
        )

    def _parting(self, before: Way | None, now: Way | None) -> Place:
        """Where in the new version a way parts from what it was."""
        if before is None or now is None:
            return self.tree.at("nodes")
        forth = self.matching.forth
        at = 0
        while at < min(len(before), len(now)) and forth.get(before[at].node) == now[at].node:
            at += 1
        if at == 0 or not now:
            return self.tree.at("start")
        last = now[min(at, len(now)) - 1]
        node = self.tree.nodes[last.node]
        if last.answer is None:
            return node.at("then")
        given = next(answer for answer in self.tree.answers_at(node) if answer.say == last.answer)
        return Place(given.place.file, *given.raw.value_at["to"])

    # ------------------------------------------------------------------ steps and marks

    def _steps_and_marks(self) -> Iterator[Change]:
        passing = Passing(self.product, [self.start, *self._joints()])
        moved: list[tuple[Sight, _Shown]] = []
        found = list(passing.found(self.start, self.order))
        steps = [sight for sight in found if not sight.is_mark]
        for sight in [sight for sight in found if sight.is_mark] + steps[:MOST_TRACED]:
            shown = self._trace(passing, sight)
            if shown is None:
                continue
            if sight.what == "moved":
                moved.append((sight, shown))
            elif sight.is_mark:
                yield self._mark(passing.mark_of(sight.bits), shown)
            else:
                yield self._step(*passing.step_of(sight.bits), sight.what, shown)
        for bit, shown in _fewest(moved):
            yield self._step(*passing.step_of(bit), "moved", shown)
        if steps[MOST_TRACED:]:
            yield self._more_steps(passing, steps[MOST_TRACED:])

    def _more_steps(self, passing: Passing, sights: list[Sight]) -> Change:
        """Where very many steps come, go or change places: their number, and their names."""
        names = {name for sight in sights for bit in _single(sight.bits) for name in passing.step_of(bit) if name}
        message = f"{len(names)} steps more are gone, new or in another order on some way"
        place = self.tree.at("nodes")
        return Change("steps-changed", self.tree.id, message, place, after=", ".join(sorted(names)))

    def _joints(self) -> Iterator[Joint]:
        return (joint for state in self.order for joint in self.product.edges[state])

    def _trace(self, passing: Passing, sight: Sight) -> _Shown | None:
        """On how many ways something shows, and on which shortest; None where on none after all."""
        table = self._run(0, passing.tracing(sight))
        ends = [
            (number, value)
            for number, state in enumerate(self.order)
            if not self._onward[number]
            for value in table[number]
            if passing.shows(state, value, sight)
        ]
        if not ends:
            return None
        best = min(ends, key=lambda end: table[end[0]][end[1]].moves)
        before, now = self._told(table, *best)
        return _Shown(sum(table[number][value].ways for number, value in ends), before, now)

    def _mark(self, mark: str, shown: _Shown) -> Change:
        called = mark.removeprefix("call:")
        is_call = called != mark
        what = f"the call to `{called}` is gone" if is_call else f"the safety step `{mark}` is gone"
        return Change(
            "call-gone" if is_call else "safety-gone",
            self.tree.id,
            f"{what} from this way",
            self._lost_at(mark, shown),
            before=called,
            way_before=shown.before,
            way_now=shown.now,
            ways=shown.ways,
        )

    def _lost_at(self, mark: str, shown: _Shown) -> Place:
        """The step that had a mark, where it is still on the way; else where the way parts from what it was."""
        now = {step.node for step in shown.now or ()}
        for step in shown.before or ():
            v = self.matching.forth.get(step.node)
            if v in now and mark in marks_of(self.old.nodes[step.node]):
                return self.new.nodes[v].place
        return self._parting(shown.before, shown.now)

    def _step(self, u: str | None, v: str | None, what: str, shown: _Shown) -> Change:
        node = self.new.nodes[v] if v is not None else self.old.nodes[u or ""]
        name = "question" if node.kind == "ask" else "step"
        said = {
            "gone": "is gone from this way",
            "added": "is new on this way",
            "moved": "comes in another order on this way",
        }[what]
        is_there = v is not None and what != "gone"
        return Change(
            f"{name}-{what}",
            self.tree.id,
            f"the {name} “{node.lines[0]}” {said}",
            node.place if is_there else self._parting(shown.before, shown.now),
            node=v if v is not None else u,
            before=node.text if what != "added" else None,
            after=node.text if what != "gone" else None,
            way_before=shown.before,
            way_now=shown.now,
            ways=shown.ways,
        )

    # ------------------------------------------------------------------ time

    def _longer(self) -> Iterator[Change]:
        """The way on which help comes later than before by the longest time."""

        table = self._run((False, False, 0.0), self._gaining, lambda value: value[2])
        counted = all(len(values) < MOST_SUMS for values in table)
        later = [
            (value[2], -met.moves, number, value)
            for number, state in enumerate(self.order)
            if self.product.is_end(state) and self.product.same_end(state[0], state[1])
            for value, met in table[number].items()
            if value[2] > 0
        ]
        if not later:
            return
        seconds, _, number, value = max(later, key=lambda entry: entry[:2])
        before, now = self._told(table, number, value)
        ways = sum(table[n][v].ways for _, _, n, v in later) if counted else None
        message = f"help comes up to {seconds:g} s later than before with the same answers"
        yield Change(
            "longer",
            self.tree.id,
            message,
            self._parting(before, now),
            after=f"{seconds:g} s",
            way_before=before,
            way_now=now,
            ways=ways,
        )

    def _gaining(self, joint: Joint) -> Callable[[Gain], Gain]:
        """How much later help comes by a move. After an answer given at any time the time is counted from there."""
        old = self._time(self.old, joint.old, joint.start[0] if joint.start else None)
        new = self._time(self.new, joint.new, joint.start[1] if joint.start else None)
        if joint.anytime:
            fresh = (old[1], new[1], round(new[0] - old[0], 3))
            return lambda value: fresh
        if old == new and not old[1] and not old[0]:
            return as_is

        def gain(value: Gain) -> Gain:
            had, has, before = value
            more = (0.0 if has else new[0]) - (0.0 if had else old[0])
            return had or old[1], has or new[1], round(before + more, 3) if more else before

        return gain

    def _time(self, side: Stops, move: Move | None, stop: str | None) -> tuple[float, bool]:
        """How long a move takes until somebody is called, and whether somebody is called on it."""
        total = 0.0
        if move is None:
            return total, False
        if stop is not None and side.is_ask(stop) and not move.anytime:
            total += self.times.takes(side.nodes[stop])
        for name in move.passed:
            node = side.nodes[name]
            total += self.times.takes(node)
            if node.call:
                return total, True
        return total, False


def _single(bits: int) -> Iterator[int]:
    while bits:
        yield bits & -bits
        bits &= bits - 1


def _fewest(moved: list[tuple[Sight, _Shown]]) -> Iterator[tuple[int, _Shown]]:
    """Of pairs of steps that changed their order the fewest steps that account for all, each with one of its pairs."""
    left = list(moved)
    while left:
        count: dict[int, int] = {}
        for sight, _ in left:
            for bit in _single(sight.bits):
                count[bit] = count.get(bit, 0) + 1
        most = max(count, key=lambda bit: count[bit])
        yield most, next(shown for sight, shown in left if sight.bits & most)
        left = [pair for pair in left if not pair[0].bits & most]
