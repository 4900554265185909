"""The product of two versions of a tree: how far a reader is in the old one and in the new, with the same answers.

A state is a stop of each version, and the answers that the reader gave in the old version to questions that
the new one asks only later. Questions that both ask are answered together. One that is asked in one version
only is answered there alone, whatever is said; so is one that the two versions ask in another order. The
states are as many as steps where the versions are alike, and no way is ever listed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import zip_longest

from ..model import Answer
from .matching import Matching
from .stops import Move, Stops

State = tuple[str, str, frozenset[tuple[str, str]]]
"""Stop before, stop now, and for questions still ahead now the answers given before."""

ENDS_SOONER, GOES_ON, OTHER_QUESTION = "ends-sooner", "goes-on", "other-question"
"""How two versions part before both have come to an end."""


@dataclass(frozen=True, slots=True)
class Joint:
    """A move in the product: of both versions, or of one alone.

    `same`: the reader meets the same words on it in both. `anytime`: an answer offered at any time is given.
    """

    old: Move | None
    new: Move | None
    start: State | None
    to: State
    same: bool
    anytime: bool = False


class Product:
    """The product from some pairs of steps on.

    Args:
        old: the stops before.
        new: the stops now.
        matching: which step is which.
        pairs: the steps at which ways begin, before and now.
        same_go: whether two hand-overs lead to the same step of another tree.
        most: how many states are looked at at the most.

    Attributes:
        edges: for each state its moves.
        order: the states, each before all that can follow it.
        apart: the states at which the versions part before both have ended, and how.
        complete: whether all states have been looked at.
    """

    def __init__(
        self,
        old: Stops,
        new: Stops,
        matching: Matching,
        pairs: list[tuple[str, str]],
        same_go: Callable[[str, str], bool],
        most: int,
    ) -> None:
        self.old, self.new = old, new
        self.matching = matching
        self.same_go = same_go
        self.edges: dict[State, tuple[Joint, ...]] = {}
        self.apart: dict[State, str] = {}
        self.complete = True
        self._most = most
        # A question that both versions have is one bit, under its name in the new one.
        asks = [v for u, v in matching.forth.items() if old.is_ask(u) and new.is_ask(v)]
        self._bit = {v: 1 << i for i, v in enumerate(asks)}
        self._ahead_old = _ahead(old, lambda u: self._bit.get(matching.forth.get(u, ""), 0))
        self._ahead_new = _ahead(new, lambda v: self._bit.get(v, 0))
        self._finals_old, self._finals_new = _finals(old), _finals(new)
        self._ends_old = _ahead(old, _bits_of(self._finals_old), False)
        self._ends_new = _ahead(new, _bits_of(self._finals_new), False)
        self.starts = [self._entry(old.entries[u], new.entries[v]) for u, v in pairs]
        self.order = self._sorted()

    def _entry(self, a: Move, b: Move) -> Joint:
        return Joint(a, b, None, (a.to, b.to, frozenset()), self._same_row(a.passed, b.passed))

    def _sorted(self) -> list[State]:
        done: list[State] = []
        finished: set[State] = set()
        ahead = [start.to for start in reversed(self.starts)]
        while ahead:
            state = ahead[-1]
            if state in self.edges:
                ahead.pop()
                if state not in finished:
                    finished.add(state)
                    done.append(state)
                continue
            if len(self.edges) >= self._most:
                self.complete = False
                self.edges[state] = ()
                continue
            self.edges[state] = tuple(self._onward(state))
            ahead += [joint.to for joint in self.edges[state] if joint.to not in self.edges]
        done.reverse()
        return done

    # ------------------------------------------------------------------ moves

    def _onward(self, state: State) -> Iterator[Joint]:
        u, v, given = state
        known = dict(given)
        old_moves, new_moves = self.old.moves[u], self.new.moves[v]
        ask_u, ask_v = self.old.is_ask(u), self.new.is_ask(v)
        if not old_moves and not new_moves:
            return
        how = None if v in known else self._parts(u, v, bool(given))
        if how:
            self.apart[state] = how
            return
        if ask_v and v in known:
            move = self._answering(v).get(known[v])
            if move:
                yield self._alone(state, None, move)
            yield from self._anytime(state)
        elif ask_u and ask_v and self.matching.forth.get(u) == v:
            yield from self._both(state, self._answering(v))
        elif old_moves and new_moves and not ask_u and not ask_v:
            yield from self._both(state, {self._now(letter): move for letter, move in new_moves.items()})
        elif "" in old_moves:
            yield self._alone(state, old_moves[""], None)
            yield from self._anytime(state)
        elif "" in new_moves:
            yield self._alone(state, None, new_moves[""])
            yield from self._anytime(state)
        elif self._old_first(u, v):
            for move in _own(old_moves):
                yield self._alone(state, move, None)
            yield from self._anytime(state)
        else:
            for move in _own(new_moves):
                yield self._alone(state, None, move)
            yield from self._anytime(state)

    def _old_first(self, u: str, v: str) -> bool:
        """Whether the old version's question is answered first where the two ask different ones."""
        if not self.new.moves[v] or not self.old.moves[u]:
            return bool(self.old.moves[u])
        return not self._asked_later(u, v) or bool(self._ahead_old[u] & self._bit.get(v, 0))

    def _parts(self, u: str, v: str, given: bool) -> str | None:
        """How the versions part here for good, None where they may still meet.

        Where answers have been given that the new version asks for only later, not all ends ahead of it count.
        """
        ask_u, ask_v = self.old.is_ask(u), self.new.is_ask(v)
        if ask_u and not self.new.moves[v]:
            ends = _picked(self._finals_old, self._ends_old[u])
            return None if all(self.same_end(end, v) for end in ends) else ENDS_SOONER
        if ask_v and not self.old.moves[u] and not given:
            ends = _picked(self._finals_new, self._ends_new[v])
            return None if all(self.same_end(u, end) for end in ends) else GOES_ON
        if ask_u and ask_v and self.matching.forth.get(u) != v and not self._asked_later(u, v):
            return None if self._ahead_old[u] & self._bit.get(v, 0) else OTHER_QUESTION
        return None

    def _asked_later(self, u: str, v: str) -> bool:
        """Whether the new version may still ask the old one's question."""
        return bool(self._ahead_new[v] & self._bit.get(self.matching.forth.get(u, ""), 0))

    def _now(self, letter: str) -> str:
        """An answer offered at any time, by its name in the old version."""
        return self.matching.anytime.get(letter, letter)

    def _answering(self, v: str) -> dict[str, Move]:
        """The moves from a question of the new version, by the names of their answers in the old one."""
        alias = self.matching.answers(v)
        return {
            (self._now(letter) if move.anytime else alias.get(letter, letter)): move
            for letter, move in self.new.moves[v].items()
        }

    def _both(self, state: State, new_moves: dict[str, Move]) -> Iterator[Joint]:
        u, v, given = state
        same = not self.old.is_ask(u) or not any(d.counts for d in self.matching.step(u, v))
        for letter, a in self.old.moves[u].items():
            b = new_moves.get(letter)
            if b is not None:
                alike = same and self._same_answer(a.answer, b.answer) and self._same_row(a.passed, b.passed)
                to = (a.to, b.to, self._still_ahead(given, b.to))
                yield Joint(a, b, state, to, alike, a.anytime or b.anytime)

    def _anytime(self, state: State) -> Iterator[Joint]:
        """What may be answered at any time is told to both versions at once."""
        u, v, _ = state
        offered = {self._now(letter): move for letter, move in self.new.moves[v].items()}
        for letter, a in self.old.moves[u].items():
            b = offered.get(letter)
            if letter and b is not None and (a.anytime or b.anytime):
                yield Joint(a, b, state, (a.to, b.to, frozenset()), False, True)

    def _alone(self, state: State, old: Move | None, new: Move | None) -> Joint:
        u, v, given = state
        to_old, to_new = old.to if old else u, new.to if new else v
        asked = self.matching.forth.get(u)
        if old and self.old.is_ask(u) and asked and self._asked_later(u, v):
            given |= {(asked, old.letter)}
        move = old or new
        nothing_met = move is not None and not move.letter and not move.passed
        return Joint(old, new, state, (to_old, to_new, self._still_ahead(given, to_new)), nothing_met)

    def _still_ahead(self, given: frozenset[tuple[str, str]], v: str) -> frozenset[tuple[str, str]]:
        if not given:
            return given
        ahead = self._ahead_new[v] | self._bit.get(v, 0)
        return frozenset(pair for pair in given if self._bit[pair[0]] & ahead)

    # ------------------------------------------------------------------ what is the same

    def _same_answer(self, a: Answer | None, b: Answer | None) -> bool:
        if a is None or b is None:
            return a is b
        return not any(d.counts for d in self.matching.answer(a, b))

    def _same_row(self, old: tuple[str, ...], new: tuple[str, ...]) -> bool:
        """Whether two rows of things to do read the same."""
        return all(
            a is not None
            and b is not None
            and self.matching.forth.get(a) == b
            and not any(d.counts for d in self.matching.step(a, b))
            for a, b in zip_longest(old, new)
        )

    def same_end(self, u: str, v: str) -> bool:
        """Whether two stops at which ways end are the same end: its kind, who is called or where it goes, its words."""
        a, b = self.old.node(u), self.new.node(v)
        if a is None or b is None:
            return a is b
        if a.kind != "end" or (a.end, a.call) != (b.end, b.call):
            return a.kind != "end" and u == v
        if a.go is not None and b.go is not None and not self.same_go(a.go, b.go):
            return False
        return u == v or self.matching.forth.get(u) == v or a.text == b.text

    def reads_the_same(self, state: State) -> bool:
        """Whether an end that both versions have come to reads the same in both."""
        u, v, _ = state
        if not self.same_end(u, v):
            return False
        a, b = self.old.node(u), self.new.node(v)
        return a is None or b is None or not any(d.counts for d in self.matching.step(u, v))

    def is_end(self, state: State) -> bool:
        """Whether both versions have ended."""
        return not self.old.moves[state[0]] and not self.new.moves[state[1]]


def _own(moves: dict[str, Move]) -> list[Move]:
    return [move for move in moves.values() if not move.anytime]


def _finals(side: Stops) -> list[str]:
    return [stop for stop in side.order if not side.moves[stop]]


def _bits_of(stops: list[str]) -> Callable[[str], int]:
    bits = {stop: 1 << i for i, stop in enumerate(stops)}
    return lambda stop: bits.get(stop, 0)


def _picked(stops: list[str], bits: int) -> Iterator[str]:
    return (stop for i, stop in enumerate(stops) if bits >> i & 1)


def _ahead(side: Stops, bits: Callable[[str], int], anytime: bool = True) -> dict[str, int]:
    """For each stop the bits of all stops that can follow it, with or without answers offered at any time."""
    found: dict[str, int] = {}
    for stop in reversed(side.order):
        total = 0
        for move in side.moves[stop].values():
            if anytime or not move.anytime:
                total |= found[move.to] | bits(move.to)
        found[stop] = total
    return found
