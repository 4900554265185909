"""Safety rules over all ways, in the patterns of Dwyer, Avrunin & Corbett (ICSE 1999).

A way is a row of events: each step's marks together, then its answer's. "Before" and "after" are
strict. Each rule is one bit, and all rules are decided together in one pass backwards over the
graph, in time linear in steps and answers. Only where a rule is broken is a way searched for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass

from .finding import Step
from .graph import Graph, Key, State, search, way_to
from .model import Answer, SafetyRule, Tree

_Hits = list[tuple[State, Answer | None]]
_Moves = Iterator[tuple[Answer | None, State]]
_Follow = Callable[[int, State, _Hits], _Moves]

PLACES = ("first", "then", "of", "by", "after", "until")


@dataclass(frozen=True, slots=True)
class Breach:
    """A rule broken.

    Attributes:
        rule: the id of the safety rule.
        key: the step concerned; where another tree is entered, the `go` step that enters it.
        answer: the answer concerned, None where it is the step.
        way: the shortest way that shows it.
    """

    rule: str
    key: Key
    answer: Answer | None
    way: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class _Bits:
    """For one event the rules in which it plays each part, a bit a rule."""

    first: int
    then: int
    of: int
    by: int
    after: int
    until: int


class Patterns:
    """All safety rules on one graph without loops."""

    def __init__(self, graph: Graph, rules: Iterable[SafetyRule]) -> None:
        self.graph = graph
        self.rules = tuple(rules)
        self._any_then = sum(1 << i for i, rule in enumerate(self.rules) if rule.slots.get("then", ...) is None)
        self._by_mark = self._index()
        self._memo: dict[tuple[frozenset[str], bool], _Bits] = {}
        self._broken_before: dict[Key, int] = {}
        self._meets: dict[Key, int] = {}
        self._avoids: dict[Key, int] = {}
        for key in graph.backwards:
            self._look_ahead(key)
        self._kind = {
            pattern: sum(1 << i for i, rule in enumerate(self.rules) if rule.pattern == pattern)
            for pattern in ("precedence", "absence", "response", "existence")
        }
        self._from_start = sum(
            1 << i for i, rule in enumerate(self.rules) if rule.pattern == "absence" and "after" not in rule.slots
        )
        self._alone: dict[tuple[int, str], frozenset[tuple[Key | None, int]]] = {}

    def _index(self) -> dict[str, dict[str, int]]:
        index: dict[str, dict[str, int]] = {}
        for i, rule in enumerate(self.rules):
            for place, marks in rule.slots.items():
                # What an existence rule asks for is what its ways may not avoid.
                part = "by" if rule.pattern == "existence" else place
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

    def _look_ahead(self, key: Key) -> None:
        """For a step as arrived at: which rules some way from here breaks, by what they remember."""
        before, meets, avoids = 0, 0, 0
        for edge in self.graph.edges[key]:
            a = self._answer_bits(edge.answer)
            before |= a.then | (~a.first & self._broken_before[edge.to])
            meets |= a.of | (~a.until & self._meets[edge.to])
            avoids |= ~a.by & self._avoids[edge.to]
        if self.graph.is_final(key):
            avoids = -1
        n = self._bits(self.graph.nodes[key].marks, True)
        self._broken_before[key] = n.then | (~n.first & before)
        self._meets[key] = n.of | (~n.until & meets)
        self._avoids[key] = ~n.by & avoids

    def breaches(self, tree: Tree) -> Iterator[Breach]:
        """All breaches on ways that begin in a tree, each with its shortest way.

        A breach that another tree, entered on the way, shows alone is left to that tree.
        """
        start = (tree.id, tree.start)
        roots = [start, *((tree.id, node) for node in self.graph.entries.get(tree.id, ()))]
        own = sum(1 << i for i, rule in enumerate(self.rules) if _applies(rule, tree))
        for i in _ones(self._broken_before[start] & self._kind["precedence"] & own):
            yield from self._searched(i, tree, [(start, 1)], self._precedence)
        for i in _ones(self._avoids[start] & self._kind["existence"] & own):
            yield from self._searched(i, tree, [(start, 1)], self._existence)
        late, open_ended = self._places_broken(tree, roots)
        for i in _ones((late | (self._meets[start] & self._from_start)) & own):
            memory = int(bool(self._from_start >> i & 1))
            yield from self._searched(i, tree, [(root, memory) for root in roots], self._absence)
        for i in _ones(open_ended & own):
            yield from self._unanswered(i, tree, roots)

    def _places_broken(self, tree: Tree, roots: list[Key]) -> tuple[int, int]:
        late, open_ended = 0, 0
        for key in self.graph.reachable(roots):
            if key[0] == tree.id:
                for bits, meets, avoids in self._moments(key):
                    late |= bits.after & meets
                    open_ended |= bits.of & avoids
        return late & self._kind["absence"], open_ended & self._kind["response"]

    def _moments(self, key: Key) -> Iterator[tuple[_Bits, int, int]]:
        """The events at a step, each with what ways from just behind it can meet and avoid."""
        meets, avoids = 0, -1 if self.graph.is_final(key) else 0
        for edge in self.graph.edges[key]:
            a = self._answer_bits(edge.answer)
            meets |= a.of | (~a.until & self._meets[edge.to])
            avoids |= ~a.by & self._avoids[edge.to]
            if edge.answer:
                yield a, self._meets[edge.to], self._avoids[edge.to]
        yield self._bits(self.graph.nodes[key].marks, True), meets, avoids

    def _searched(
        self,
        i: int,
        tree: Tree,
        starts: list[State],
        follow: _Follow,
    ) -> Iterator[Breach]:
        hits: _Hits = []
        before = search(starts, lambda state: follow(i, state, hits))
        reported: set[tuple[Key | None, int]] = set()
        for state, answer in hits:
            place = _place(state[0], answer)
            key, at = state[0], answer
            if key[0] != tree.id:
                if place in self._shown_alone(i, key[0], follow):
                    continue
                key, at = self._gate(before, state, tree.id), None
                place = _place(key, None)
            if place not in reported:
                reported.add(place)
                yield Breach(self.rules[i].id, key, at, way_to(before, state, tree.id, answer))

    def _shown_alone(self, i: int, tree_id: str, follow: Callable[..., _Moves]) -> frozenset[tuple[Key | None, int]]:
        if (i, tree_id) not in self._alone:
            hits: _Hits = []
            tree = self.graph.trees[tree_id]
            if _applies(self.rules[i], tree):
                memory = 1 if self.rules[i].pattern != "absence" else int(bool(self._from_start >> i & 1))
                search([((tree_id, tree.start), memory)], lambda state: follow(i, state, hits))
            self._alone[i, tree_id] = frozenset(_place(s[0], a) for s, a in hits)
        return self._alone[i, tree_id]

    @staticmethod
    def _gate(before: Mapping[State, tuple[State, Answer | None] | None], state: State, home: str) -> Key:
        """The last step of the tree `home` on the way to a state elsewhere: the `go` that led out."""
        while state[0][0] != home:
            link = before[state]
            assert link is not None
            state = link[0]
        return state[0]

    def _precedence(self, i: int, state: State, hits: _Hits) -> _Moves:
        key, _ = state
        bits = self._bits(self.graph.nodes[key].marks, True)
        if bits.then >> i & 1:
            hits.append((state, None))
            return
        if bits.first >> i & 1:
            return
        for edge in self.graph.edges[key]:
            a = self._answer_bits(edge.answer)
            if a.then >> i & 1:
                hits.append((state, edge.answer))
            elif not a.first >> i & 1:
                yield edge.answer, (edge.to, 1)

    def _existence(self, i: int, state: State, hits: _Hits) -> _Moves:
        key, _ = state
        if self._bits(self.graph.nodes[key].marks, True).by >> i & 1:
            return
        if self.graph.is_final(key):
            hits.append((state, None))
        for edge in self.graph.edges[key]:
            if not self._answer_bits(edge.answer).by >> i & 1:
                yield edge.answer, (edge.to, 1)

    def _absence(self, i: int, state: State, hits: _Hits) -> _Moves:
        key, active = state
        bits = self._bits(self.graph.nodes[key].marks, True)
        if active and bits.of >> i & 1:
            hits.append((state, None))
        active = _next(bits, i, active)
        for edge in self.graph.edges[key]:
            a = self._answer_bits(edge.answer)
            if active and a.of >> i & 1:
                hits.append((state, edge.answer))
            yield edge.answer, (edge.to, _next(a, i, active))

    def _unanswered(self, i: int, tree: Tree, roots: list[Key]) -> Iterator[Breach]:
        """Places of a response rule from which some way never comes to what must follow."""

        def all_moves(state: State) -> _Moves:
            return ((edge.answer, (edge.to, 0)) for edge in self.graph.edges[state[0]])

        before = search([(root, 0) for root in roots], all_moves)
        told: set[int] = set()  # an answer offered at any time is one place, however many steps show it
        for state in before:
            key = state[0]
            if key[0] != tree.id:
                continue
            if self._bits(self.graph.nodes[key].marks, True).of >> i & 1:
                way = self._avoiding(i, key, None, tree.id)
                if way is not None:
                    yield Breach(self.rules[i].id, key, None, way_to(before, state, tree.id)[:-1] + way)
            for edge in self.graph.edges[key]:
                if edge.answer and self._answer_bits(edge.answer).of >> i & 1 and id(edge.answer) not in told:
                    way = self._avoiding(i, key, edge.answer, tree.id)
                    if way is not None:
                        told.add(id(edge.answer))
                        yield Breach(self.rules[i].id, key, edge.answer, way_to(before, state, tree.id)[:-1] + way)

    def _avoiding(self, i: int, key: Key, taken: Answer | None, home: str) -> tuple[Step, ...] | None:
        """A shortest way from a place to an end, past all that rule `i` demands; None if there is none."""
        hits: _Hits = []

        def moves(state: State) -> _Moves:
            here, begun = state
            if begun:
                yield from self._existence(i, state, hits)
                return
            if self.graph.is_final(here):
                hits.append((state, None))
            for edge in self.graph.edges[here]:
                if (taken is None and not self._answer_bits(edge.answer).by >> i & 1) or (
                    taken is not None and edge.answer is taken
                ):
                    yield edge.answer, (edge.to, 1)

        before = search([(key, 0)], moves)
        return way_to(before, hits[0][0], home) if hits else None


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


def _applies(rule: SafetyRule, tree: Tree) -> bool:
    return not rule.only or tree.id in rule.only or tree.about in rule.only
