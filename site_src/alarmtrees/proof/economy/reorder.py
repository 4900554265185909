"""Which questions of a tree could change places, what that gains, and whether every safety rule still holds.

Questions in a row, each with an answer that leads on to the next, can be asked in another order. A block is such a
question with all that its other answers lead to; a block may end the search for some causes, and passes all others
on. Blocks of one row are put into every order that pays, and each order is judged by the checks themselves, on a copy
of the tree in which the answers that lead on have been turned round: safety rules on every way, also on ways that
come in from other trees, causes stuck or without a remedy, and how long the balloon rests.

What this assumes, beyond the times (`times.py`): under a cause that a question does not name, the answer that leads
on is what is seen, wherever the question stands. Whoever edits the tree has to judge that, and much else that no share
knows of; so this is advice, and nothing is ever changed by itself.

What stays where it is: a question that finds nothing by itself (it is there for the patient's sake); one that other
trees enter at; and the last of a row, for it has no answer that leads on.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, islice, takewhile
from typing import Any

from ...model import Library, Tree
from ..graph import Graph
from ..pairs import Pairs
from ..patterns import Patterns
from ..resting import Resting, Times, setting_seconds
from ..simulate import Causes
from .rows import Block, looks_of, remedies_of, reordered, rows_of
from .sequence import Looks, gain_range
from .times import Remedies, mean, shares_of

MOST_TRIED = 50
"""So many orders of a row are judged, the quickest first; then it is said that none of them keeps the rules."""

WORTH = 0.5
"""A gain below this, in seconds, is not worth a word."""

Faults = frozenset[tuple[str, str, str]]
"""What the checks find: what is broken, in which tree, and where."""


@dataclass(frozen=True, slots=True)
class NewOrder:
    """Another order of the questions of one row.

    Attributes:
        steps: the questions in the new order.
        gain: how many seconds sooner the remedy is done, on the mean.
        low, high: the same where each share is off by a factor of two, at the worst and at the best.
        faults: the checks that it breaks; none for one that may be used.
    """

    steps: tuple[str, ...]
    gain: float
    low: float
    high: float
    faults: tuple[str, ...] = ()

    @property
    def sure(self) -> bool:
        """Whether it gains time however the shares are off by a factor of two."""
        return self.low > 0


@dataclass(frozen=True, slots=True)
class Swap:
    """Two questions of a row that change places; `order` is what comes of it."""

    first: str
    second: str
    order: NewOrder


@dataclass(frozen=True, slots=True)
class Row:
    """Questions that could change places.

    Attributes:
        steps: as they stand.
        best: the quickest order that keeps all rules; None where that is how they stand.
        bound: no order of them gains more than this, in seconds.
        exact: whether all that is quicker than `best` was judged.
        swaps: exchanges of two that gain time, the best first; also those that break a rule, and which.
    """

    steps: tuple[str, ...]
    best: NewOrder | None
    bound: float
    exact: bool
    swaps: tuple[Swap, ...]


@dataclass(frozen=True, slots=True)
class Advice:
    """What is known of the order of questions in one tree; times in seconds.

    Attributes:
        expected: the mean time to the remedy, causes counted by their shares; None without causes.
        rows: the questions that could change places.
    """

    tree: str
    expected: float | None
    rows: tuple[Row, ...]

    @property
    def gain(self) -> float:
        """What the best orders of all rows gain together."""
        return sum(row.best.gain for row in self.rows if row.best)


@dataclass(frozen=True, slots=True)
class _Proofs:
    """What is decided on one graph; made quickly from that of a graph which differs in few trees."""

    graph: Graph
    patterns: Patterns
    resting: Resting


def advice_of(data: dict[str, Any]) -> Advice:
    """Advice as `asdict` and JSON have left it."""

    def order(found: dict[str, Any]) -> NewOrder:
        return NewOrder(**{**found, "steps": tuple(found["steps"]), "faults": tuple(found["faults"])})

    def row(found: dict[str, Any]) -> Row:
        swaps = tuple(Swap(swap["first"], swap["second"], order(swap["order"])) for swap in found["swaps"])
        best = order(found["best"]) if found["best"] else None
        return Row(**{**found, "steps": tuple(found["steps"]), "best": best, "swaps": swaps})

    return Advice(data["tree"], data["expected"], tuple(map(row, data["rows"])))


class Adviser:
    """Gives advice on the trees of one library.

    Args:
        library: the library; its trees must have no errors.
        graph: those of its trees that have no loops.
    """

    def __init__(self, library: Library, graph: Graph) -> None:
        self.library = library
        self.graph = graph
        self.times = Times.of(library.settings)
        self._limit = setting_seconds(library.settings, "call_by")

    def remedies(self, tree: Tree) -> Remedies:
        """The times to the remedies of a tree as it stands."""
        return remedies_of(tree, self.times)

    def advice(self, tree: Tree) -> Advice:
        """What is known of one tree."""
        if not tree.causes:
            return Advice(tree.id, None, ())
        remedies = self.remedies(tree)
        expected = mean(remedies.usual_times(), shares_of(tree))
        rows = rows_of(tree, self.graph, remedies, self.times)
        return Advice(tree.id, expected, tuple(self._row(tree, remedies, row) for row in rows))

    def _row(self, tree: Tree, remedies: Remedies, row: Sequence[Block]) -> Row:
        looks = looks_of(tree, remedies, row, self.times)
        here = tuple(range(len(row)))
        weight = sum(shares_of(tree)[cause] for cause in remedies.usual_times())
        worth = looks.cost(here) - WORTH * weight
        quicker = takewhile(lambda order: looks.cost(order) < worth, looks.cheapest_first())
        tried: list[NewOrder] = []
        best = None
        for order in islice(quicker, MOST_TRIED):
            tried.append(self._new_order(tree, remedies, row, order))
            if not tried[-1].faults:
                best = tried[-1]
                break
        return Row(
            steps=tuple(block.head for block in row),
            best=best,
            bound=max(0.0, (looks.cost(here) - looks.least) / weight),
            exact=looks.exact and (best is not None or len(tried) < MOST_TRIED),
            swaps=tuple(self._swaps(tree, remedies, row, looks)),
        )

    def _swaps(self, tree: Tree, remedies: Remedies, row: Sequence[Block], looks: Looks) -> Iterator[Swap]:
        here = list(range(len(row)))
        found = []
        for i, j in combinations(here, 2):
            order = list(here)
            order[i], order[j] = order[j], order[i]
            if looks.cost(tuple(order)) < looks.cost(tuple(here)) - 1e-9:
                new = self._new_order(tree, remedies, row, tuple(order))
                if new.gain > WORTH:
                    found.append(Swap(row[i].head, row[j].head, new))
        return iter(sorted(found, key=lambda swap: (bool(swap.order.faults), -swap.order.gain)))

    def _new_order(self, tree: Tree, remedies: Remedies, row: Sequence[Block], order: tuple[int, ...]) -> NewOrder:
        """What an order gains on the whole tree, and what the checks say of it; judged once."""
        key = (tree.id, *(row[i].head for i in order))
        if key not in self._judged:
            self._judged[key] = self._judge(tree, remedies, row, order)
        return self._judged[key]

    @cached_property
    def _judged(self) -> dict[tuple[str, ...], NewOrder]:
        return {}

    def _judge(self, tree: Tree, remedies: Remedies, row: Sequence[Block], order: tuple[int, ...]) -> NewOrder:
        other = reordered(tree, remedies, row, order)
        before, shares = remedies.usual_times(), shares_of(tree)
        after = remedies_of(other, self.times).usual_times()
        gains = {cause: seconds - after[cause] for cause, seconds in before.items() if cause in after}
        low, high = gain_range(gains, shares)
        told = tuple(sorted(self._new_faults(tree, other)))
        return NewOrder(tuple(row[i].head for i in order), mean(gains, shares) or 0.0, low, high, told)

    def _new_faults(self, tree: Tree, other: Tree) -> frozenset[str]:
        """The checks that find something in a changed tree that they did not find in the tree as it was."""
        # One tree alone is quick, and where it finds something there is no need to look further.
        return self._found_by((tree.id,), {tree.id: tree}, other) or self._found_by(*self._around(tree.id), other)

    def _found_by(self, homes: Sequence[str], near: Mapping[str, Tree], other: Tree) -> frozenset[str]:
        key = (*homes, "in", *near)
        if key not in self._known:
            self._known[key] = self._faults_now(homes, Graph(near))
        before, broken, now = self._known[key]
        faults = self._faults(homes, self._proofs(Graph({**near, other.id: other}, before.graph), before), broken)
        return frozenset(what for what, _, _ in faults - now)

    @cached_property
    def _known(self) -> dict[tuple[str, ...], tuple[_Proofs, frozenset[str], Faults]]:
        return {}

    def _around(self, tree_id: str) -> tuple[list[str], dict[str, Tree]]:
        """A tree and all that hand over to it; and these with all that they hand over to."""
        if tree_id not in self._near:
            homes = _entering(tree_id, self.graph)
            self._near[tree_id] = homes, {key: self.graph.trees[key] for key in sorted(self.graph.handed_to(homes))}
        return self._near[tree_id]

    @cached_property
    def _near(self) -> dict[str, tuple[list[str], dict[str, Tree]]]:
        return {}

    def _proofs(self, graph: Graph, near: _Proofs | None = None) -> _Proofs:
        rules = self.library.safety.values()
        return _Proofs(
            graph,
            Patterns(graph, rules, self.times, near.patterns if near else None),
            Resting(graph, self.times, near=near.resting if near else None),
        )

    def _faults_now(self, homes: Sequence[str], graph: Graph) -> tuple[_Proofs, frozenset[str], Faults]:
        """The safety rules that some tree of a graph breaks as it stands, and all that the checks find in some."""
        proofs = self._proofs(graph)
        broken = frozenset(rule for tree in graph.trees.values() for rule in proofs.patterns.broken(tree))
        return proofs, broken, self._faults(homes, proofs, broken)

    def _faults(self, homes: Sequence[str], proofs: _Proofs, broken: frozenset[str]) -> Faults:
        """What the checks of causes, safety and rests find in some trees.

        Args:
            homes: the trees.
            proofs: on these, and on all that they hand over to.
            broken: the safety rules that were broken before anything was changed. Only of these it matters where they
                are broken; of all others it is enough that they are, and no way has to be searched for.
        """
        found: set[tuple[str, str, str]] = set()
        for tree in (proofs.graph.trees[home] for home in homes):
            found.update(_breaches(proofs.patterns, tree, broken))
            length = proofs.resting.longest(tree)
            if self._limit is not None and length > self._limit:
                # Longer than it was is a fault as well as longer than allowed.
                found.add(("resting-limit", tree.id, f"{length:g}"))
            found |= _faults_of_causes(tree, proofs.graph)
        return frozenset(found)


def _breaches(patterns: Patterns, tree: Tree, broken: frozenset[str]) -> Iterator[tuple[str, str, str]]:
    now = patterns.broken(tree)
    yield from ((rule, tree.id, "") for rule in now - broken)
    if now & broken:
        for breach in patterns.breaches(tree):
            answer = breach.answer.say if breach.answer else ""
            yield breach.rule, tree.id, f"{'/'.join(breach.key)} {answer}"


def _faults_of_causes(tree: Tree, graph: Graph) -> Faults:
    causes = Causes(tree, graph)
    pairs = Pairs(tree, causes)
    found = {("cause-unfixed", tree.id, cause) for cause in causes.never_fixed()}
    for root in (tree.start, *graph.entries.get(tree.id, ())):
        run = causes.run(root)
        for rule, met in (("cause-stuck", run.stuck), ("wrong-remedy", run.unfixed_end)):
            found |= {(rule, tree.id, f"{node} {cause}") for node, mask in met.items() for cause in causes.names(mask)}
        for end, mask in pairs.left_at_end(root).items():
            found |= {("two-causes", tree.id, f"{end} {' '.join(pair)}") for pair in pairs.names(mask)}
    return frozenset(found)


def _entering(tree_id: str, graph: Graph) -> list[str]:
    """A tree and all that hand over to it, at once or through others."""
    found = {tree_id}
    ahead = [tree_id]
    while ahead:
        for keys in graph.entries.get(ahead.pop(), {}).values():
            new = {home for home, _ in keys} - found
            found |= new
            ahead += new
    return sorted(found)
