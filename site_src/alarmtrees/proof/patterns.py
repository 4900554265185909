"""Safety rules over all ways, in the patterns of Dwyer, Avrunin & Corbett (ICSE 1999).

A way is a row of events: each step's marks together, then its answer's. "Before" and "after" are
strict. Each rule is one bit, and all rules are decided together in one pass backwards over the
graph, in time linear in steps and answers. Only where a rule is broken is a way searched for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from math import inf
from typing import NamedTuple

from ..model import PLACES, Answer, Pattern, SafetyRule, Tree
from ..model.finding import Step
from .graph import Edge, Graph, Key, State, named, search, way_to
from .resting import Times

_Before = dict[State, tuple[State, Answer | None] | None]
_Moves = Iterator[tuple[Answer | None, State]]


@dataclass(frozen=True, slots=True)
class Breach:
    """A rule broken.

    Attributes:
        rule: the id of the safety rule.
        key: the step concerned; where another tree is entered, the `go` step that enters it.
        answer: the answer concerned, None where it is the step.
        leads_out: whether what shows it lies beyond the step, in another tree.
        way: finds the shortest way that shows it: O(steps) for each place where it is met.
        seconds: where what is asked for comes too late on it, after how long; None where it does not come.
    """

    rule: str
    key: Key
    answer: Answer | None
    leads_out: bool
    way: Callable[[], tuple[Step, ...]]
    seconds: float | None = None


class _Hit(NamedTuple):
    """A state and the answer given there that break a rule; what finds what must follow, and when that comes."""

    state: State
    answer: Answer | None
    tail: Callable[[], tuple[Step, ...]] | None = None
    seconds: float | None = None


_Hits = list[_Hit]


@dataclass(frozen=True, slots=True)
class _Bits:
    """For one event the rules in which it plays each part, a bit a rule."""

    first: int
    then: int
    of: int
    by: int
    after: int
    until: int


class _Ahead(NamedTuple):
    """What some way from a step as arrived at breaks or meets, a bit a rule.

    Attributes:
        broken_before: a `then` comes without its `first`.
        meets: an `of` comes before an `until`.
        avoids: an end comes without any `by`.
        late: an `of` comes after an `after`.
        open_ended: an `of` comes, and then an end without any `by`.
        late_reply: an `of` comes, and its `by` comes too late.
        wait: for each rule with a time how long it can take until its `by` comes, in seconds.
    """

    broken_before: int
    meets: int
    avoids: int
    late: int
    open_ended: int
    late_reply: int
    wait: tuple[float, ...]


class Patterns:
    """All safety rules on one graph without loops.

    A response with `within` is counted from the answer, or from the end of the step, that asks for it, until the
    step that is asked for begins, or the answer that is asked for is given.

    Args:
        graph: the trees.
        rules: the safety rules.
        times: how long steps take that do not say so themselves; nothing unless given.
        near: the same rules and times on a graph that differs in few trees: what lies ahead alike is taken from there.
    """

    def __init__(
        self,
        graph: Graph,
        rules: Iterable[SafetyRule],
        times: Times | None = None,
        near: Patterns | None = None,
    ) -> None:
        self.graph = graph
        self.rules = tuple(rules)
        self._times = times or Times(0.0, 0.0, 0.0)
        self._within = {i: rule.within for i, rule in enumerate(self.rules) if rule.within is not None}
        self._timed = {i: place for place, i in enumerate(self._within)}
        self._any_then = sum(1 << i for i, rule in enumerate(self.rules) if rule.for_any)
        self._by_mark = self._index()
        self._memo: dict[tuple[frozenset[str], bool], _Bits] = near._memo if near else {}
        self._ahead: dict[Key, _Ahead] = {}
        self._look_ahead(near)
        self._kind = {
            pattern: sum(1 << i for i, rule in enumerate(self.rules) if rule.pattern is pattern) for pattern in Pattern
        }
        self._from_start = sum(
            1 << i for i, rule in enumerate(self.rules) if rule.pattern is Pattern.ABSENCE and "after" not in rule.slots
        )
        self._alone: dict[tuple[int, str], frozenset[tuple[Key | None, int]]] = {}

    def _index(self) -> dict[str, dict[str, int]]:
        index: dict[str, dict[str, int]] = {}
        for i, rule in enumerate(self.rules):
            for place, marks in rule.slots.items():
                # What an existence rule asks for is what its ways may not avoid.
                part = "by" if rule.pattern is Pattern.EXISTENCE else place
                for mark in marks or ():
                    parts = index.setdefault(mark, dict.fromkeys(PLACES, 0))
                    parts[part] |= 1 << i
        return index

    def _bits(self, marks: frozenset[str], is_step: bool) -> _Bits:
        known = self._memo.get((marks, is_step))
        if known is None:
            total = dict.fromkeys(PLACES, 0)
            for mark in marks:
                for place, bits in self._by_mark.get(mark, {}).items():
                    total[place] |= bits
            if is_step:
                total["then"] |= self._any_then & ~total["first"]
            known = self._memo[marks, is_step] = _Bits(**total)
        return known

    def _answer_bits(self, answer: Answer | None) -> _Bits:
        return self._bits(answer.marks if answer else frozenset(), False)

    def _look_ahead(self, near: Patterns | None) -> None:
        """Look ahead from each step, the last ones first; from none twice where all behind it is as it was near by."""
        known = near._ahead if near else {}
        same = {name for name, tree in self.graph.trees.items() if near and near.graph.trees.get(name) is tree}
        other: set[Key] = set()
        for key in self.graph.backwards:
            if key[0] in same and other.isdisjoint(edge.to for edge in self.graph.edges[key]):
                self._ahead[key] = known[key]
                continue
            self._ahead[key] = found = self._from(key)
            if found != known.get(key):
                other.add(key)

    def _from(self, key: Key) -> _Ahead:
        """For a step as arrived at: which rules some way from here breaks, by what they remember."""
        edges = [(self._answer_bits(edge.answer), self._ahead[edge.to]) for edge in self.graph.edges[key]]
        before, meets, avoids, late, open_ended = 0, 0, -1 if self.graph.is_final(key) else 0, 0, 0
        for a, to in edges:
            before |= a.then | (~a.first & to.broken_before)
            meets |= a.of | (~a.until & to.meets)
            avoids |= ~a.by & to.avoids
            late |= to.late | (a.after & to.meets)
            open_ended |= to.open_ended | (a.of & to.avoids)
        n = self._bits(self.graph.nodes[key].marks, True)
        late_reply, wait = self._replies(key, n, edges)
        return _Ahead(
            n.then | (~n.first & before),
            n.of | (~n.until & meets),
            ~n.by & avoids,
            late | (n.after & meets),
            open_ended | (n.of & avoids),
            late_reply,
            wait,
        )

    def _replies(self, key: Key, n: _Bits, edges: list[tuple[_Bits, _Ahead]]) -> tuple[int, tuple[float, ...]]:
        """The rules whose answer comes too late on some way that asks for it here or later.

        And for each rule with a time how long it can take from here, in seconds, until the answer comes.
        """
        takes = self._times.takes(self.graph.nodes[key])
        late = 0
        for _, to in edges:
            late |= to.late_reply
        waits = []
        for place, (i, limit) in enumerate(self._within.items()):
            # What never comes is another fault, told as such: no time is counted to it.
            ahead = asked = -inf
            for a, to in edges:
                after = to.wait[place]
                if a.of >> i & 1 and after > asked:
                    asked = after
                if a.by >> i & 1:
                    after = 0.0
                if after > ahead:
                    ahead = after
            waits.append(0.0 if n.by >> i & 1 else takes + ahead)
            if asked > limit or (n.of >> i & 1 and ahead > limit):
                late |= 1 << i
        return late, tuple(waits)

    def _wait_after(self, i: int, edge: Edge) -> float:
        return 0.0 if self._answer_bits(edge.answer).by >> i & 1 else self._ahead[edge.to].wait[self._timed[i]]

    def breaches(self, tree: Tree) -> Iterator[Breach]:
        """All breaches on ways that begin in a tree, each with its shortest way.

        A breach that another tree, entered on the way, shows alone is left to that tree.
        """
        for i in _ones(self._broken(tree)):
            yield from self._told(i, tree)

    def broken(self, tree: Tree) -> frozenset[str]:
        """The rules that ways from a tree break, also where another tree shows it alone; no way is searched for."""
        return frozenset(self.rules[i].id for i in _ones(self._broken(tree)))

    def _broken(self, tree: Tree) -> int:
        own = sum(1 << i for i, rule in enumerate(self.rules) if rule.holds_for(tree))
        start, *entries = self._roots(tree.id)
        broken = self._ahead[start].broken_before & self._kind[Pattern.PRECEDENCE]
        broken |= self._ahead[start].avoids & self._kind[Pattern.EXISTENCE]
        for ahead in map(self._ahead.__getitem__, (start, *entries)):
            broken |= (ahead.meets & self._from_start) | (ahead.late & self._kind[Pattern.ABSENCE])
            broken |= (ahead.open_ended | ahead.late_reply) & self._kind[Pattern.RESPONSE]
        return broken & own

    def _roots(self, tree_id: str) -> list[Key]:
        start = self.graph.trees[tree_id].start
        return [(tree_id, node) for node in dict.fromkeys([start, *self.graph.entries.get(tree_id, ())])]

    def _told(self, i: int, tree: Tree) -> Iterator[Breach]:
        """The breaches of one rule, each once: at its place, or at the `go` that leads out to it."""
        elsewhere = [self._shown_alone(i, other) for other in self._left_to(tree.id)]
        met: dict[tuple[Key | None, int], tuple[Key, Answer | None, _Hits]] = {}
        hits, before, gates = self._search(i, tree.id)
        for hit in hits:
            key, at = hit.state[0], hit.answer
            if key[0] != tree.id:
                if any(_place(key, at) in shown for shown in elsewhere):
                    continue
                key, at = gates[hit.state[1] >> 1], None
            met.setdefault(_place(key, at), (key, at, []))[2].append(hit)
        for key, at, here in met.values():
            if len({hit.seconds for hit in here}) > 1:  # the time told is that of the way shown
                here = [min(here, key=lambda hit: len(_way(tree.id, before, hit)))]
            first = here[0]
            leads_out = key != first.state[0] or (first.tail is not None and not self.graph.is_final(key))
            way = partial(_shortest, tree.id, before, here)
            yield Breach(self.rules[i].id, key, at, leads_out, way, first.seconds)

    def _left_to(self, tree_id: str) -> list[str]:
        """The trees to which this one leaves what they show alone: those it hands over to.

        Of trees that hand over to each other, only to those that come earlier in the library: else each would leave
        it to the other, and nobody would tell it.
        """
        place = {name: number for number, name in enumerate(self.graph.trees)}
        return [
            other
            for other in self.graph.handed_to([tree_id]) - {tree_id}
            if tree_id not in self.graph.handed_to([other]) or place[other] < place[tree_id]
        ]

    def _shown_alone(self, i: int, tree_id: str) -> frozenset[tuple[Key | None, int]]:
        if (i, tree_id) not in self._alone:
            hits = self._search(i, tree_id)[0] if self._broken(self.graph.trees[tree_id]) >> i & 1 else []
            self._alone[i, tree_id] = frozenset(_place(hit.state[0], hit.answer) for hit in hits)
        return self._alone[i, tree_id]

    def _search(self, i: int, home: str) -> tuple[_Hits, _Before, list[Key]]:
        """All that breaks a rule on ways from a tree, the search that found it, and the steps that led out.

        What must not come, and what must follow, is judged from where others enter the tree as well.
        A state remembers, beside what the rule needs, which `go` led out of the tree: two are two faults.
        """
        pattern = self.rules[i].pattern
        follow = getattr(self, f"_{pattern}")
        hits: _Hits = []
        gates: list[Key] = [("", "")]  # index 0: still at home

        def moves(state: State) -> _Moves:
            key, memory = state
            found: _Hits = []
            for answer, (to, remembered) in follow(i, (key, memory & 1), found):
                gate = memory >> 1
                if to[0] == home:
                    gate = 0
                elif key[0] == home:
                    gates.append(key)
                    gate = len(gates) - 1
                yield answer, (to, gate << 1 | remembered)
            hits.extend(hit._replace(state=state) for hit in found)

        memory = int(pattern is not Pattern.ABSENCE or bool(self._from_start >> i & 1))
        roots = self._roots(home)
        starts = roots if pattern in (Pattern.ABSENCE, Pattern.RESPONSE) else roots[:1]
        before = search([(root, memory) for root in starts], moves)
        return hits, before, gates

    def _precedence(self, i: int, state: State, hits: _Hits) -> _Moves:
        key, _ = state
        bits = self._bits(self.graph.nodes[key].marks, True)
        if bits.then >> i & 1:
            hits.append(_Hit(state, None))
            return
        if bits.first >> i & 1:
            return
        for edge in self.graph.edges[key]:
            a = self._answer_bits(edge.answer)
            if a.then >> i & 1:
                hits.append(_Hit(state, edge.answer))
            elif not a.first >> i & 1:
                yield edge.answer, (edge.to, 1)

    def _existence(self, i: int, state: State, hits: _Hits) -> _Moves:
        key, _ = state
        if self._bits(self.graph.nodes[key].marks, True).by >> i & 1:
            return
        if self.graph.is_final(key):
            hits.append(_Hit(state, None))
        for edge in self.graph.edges[key]:
            if not self._answer_bits(edge.answer).by >> i & 1:
                yield edge.answer, (edge.to, 1)

    def _absence(self, i: int, state: State, hits: _Hits) -> _Moves:
        key, active = state
        bits = self._bits(self.graph.nodes[key].marks, True)
        if active and bits.of >> i & 1:
            hits.append(_Hit(state, None))
        active = _next(bits, i, active)
        for edge in self.graph.edges[key]:
            a = self._answer_bits(edge.answer)
            if active and a.of >> i & 1:
                hits.append(_Hit(state, edge.answer))
            yield edge.answer, (edge.to, _next(a, i, active))

    def _response(self, i: int, state: State, hits: _Hits) -> _Moves:
        key, memory = state
        if self._bits(self.graph.nodes[key].marks, True).of >> i & 1:
            self._unanswered(i, state, None, hits)
        for edge in self.graph.edges[key]:
            if edge.answer and self._answer_bits(edge.answer).of >> i & 1:
                self._unanswered(i, state, edge.answer, hits)
            yield edge.answer, (edge.to, memory)

    def _unanswered(self, i: int, state: State, taken: Answer | None, hits: _Hits) -> None:
        """Add a hit where some way from a place leads to an end, past all that rule `i` demands."""
        key = state[0]
        unasked = (self._ahead[edge.to] for edge in self._unasked(i, key, taken))
        if self.graph.is_final(key) or any(ahead.avoids >> i & 1 for ahead in unasked):
            hits.append(_Hit(state, taken, partial(self._without, i, key, taken)))
        elif i in self._within:
            self._too_late(i, state, taken, hits)

    def _unasked(self, i: int, key: Key, taken: Answer | None) -> Iterator[Edge]:
        """The edges by which a way can go on from a place without what rule `i` demands."""
        for edge in self.graph.edges[key]:
            if edge.answer is taken if taken else not self._answer_bits(edge.answer).by >> i & 1:
                yield edge

    def _without(self, i: int, key: Key, taken: Answer | None) -> tuple[Step, ...]:
        """The shortest way from a place to an end, past all that rule `i` demands."""
        ends: _Hits = []

        def moves(ahead: State) -> _Moves:
            here, begun = ahead
            if begun:
                yield from self._existence(i, ahead, ends)
                return
            if self.graph.is_final(here):
                ends.append(_Hit(ahead, None))
            for edge in self._unasked(i, here, taken):
                yield edge.answer, (edge.to, 1)

        before = search([(key, 0)], moves)
        return way_to(before, ends[0].state, "")

    def _too_late(self, i: int, state: State, taken: Answer | None, hits: _Hits) -> None:
        """Add a hit where what rule `i` demands comes too late on the longest way from a place."""
        edges = self.graph.edges[state[0]]
        edge: Edge | None = next((e for e in edges if e.answer is taken), None) if taken else self._slowest(i, edges)
        if edge is None:
            return
        seconds = self._ahead[edge.to].wait[self._timed[i]] if taken else self._wait_after(i, edge)
        if seconds > self._within[i]:
            hits.append(_Hit(state, taken, partial(self._latest, i, state[0], edge), seconds))

    def _latest(self, i: int, key: Key, edge: Edge) -> tuple[Step, ...]:
        """The way from a place, by an edge, on which what rule `i` demands comes last."""
        tail = [Step(named(key, ""), edge.answer.say if edge.answer else None)]
        while not self._bits(self.graph.nodes[edge.to].marks, True).by >> i & 1:
            here, slowest = edge.to, self._slowest(i, self.graph.edges[edge.to])
            if slowest is None:  # cannot be: it comes on every way
                break
            edge = slowest
            tail.append(Step(named(here, ""), edge.answer.say if edge.answer else None))
            if self._answer_bits(edge.answer).by >> i & 1:
                break
        else:
            tail.append(Step(named(edge.to, ""), None))
        return tuple(tail)

    def _slowest(self, i: int, edges: Iterable[Edge]) -> Edge | None:
        return max(edges, key=lambda edge: self._wait_after(i, edge), default=None)


def _way(home: str, before: _Before, hit: _Hit) -> tuple[Step, ...]:
    """The way to a hit, and on to what shows it."""
    way = way_to(before, hit.state, home, hit.answer)
    return (*way[:-1], *_seen_from(home, hit.tail())) if hit.tail else way


def _shortest(home: str, before: _Before, hits: _Hits) -> tuple[Step, ...]:
    return min((_way(home, before, hit) for hit in hits), key=len)


def _seen_from(home: str, way: tuple[Step, ...]) -> tuple[Step, ...]:
    """A way whose steps all name their tree, as it is told in a finding about the tree `home`."""
    return tuple(Step(step.node.removeprefix(f"{home}/"), step.answer) for step in way)


def _place(key: Key, answer: Answer | None) -> tuple[Key | None, int]:
    """What tells one place in the source from another; an answer offered at any time stands there once."""
    if answer is None:
        return key, 0
    return (None if answer.anytime else key), id(answer)


def _next(bits: _Bits, i: int, active: int) -> int:
    if bits.after >> i & 1:
        return 1
    return 0 if bits.until >> i & 1 else active


def _ones(bits: int) -> Iterator[int]:
    while bits:
        low = bits & -bits
        yield low.bit_length() - 1
        bits ^= low
