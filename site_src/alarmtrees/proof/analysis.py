"""What is proved on the trees of a library, each part worked out once, when it is first asked for."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property

from ..model import Answer, Library, Tree
from ..model.finding import Step
from .graph import Graph, Key, State, search, way_to
from .pairs import Pair, Pairs
from .patterns import Patterns
from .resting import Resting, Times
from .simulate import Causes, Simulation


class Analysis:
    """The trees of one library as graphs, with their safety rules, rests and causes.

    Attributes:
        library: all that was read.
        graph: the trees whose references hold.
    """

    def __init__(self, library: Library, graph: Graph | None = None) -> None:
        """Begin with nothing worked out; `graph` is that of all trees unless given."""
        self.library = library
        self.graph = graph or Graph(library.trees)

    @property
    def flow(self) -> Graph:
        """The graph without the trees that loop."""
        return self.graph.flow

    @cached_property
    def patterns(self) -> Patterns:
        """The safety rules on all ways."""
        return Patterns(self.flow, self.library.safety.values(), Times.of(self.library.settings))

    @cached_property
    def resting(self) -> Resting:
        """The longest rests until somebody is called or the balloon moves."""
        return Resting(self.flow, Times.of(self.library.settings))

    @cached_property
    def _causes(self) -> dict[str, Causes]:
        return {}

    def causes(self, tree: Tree) -> Causes:
        """The causes of a tree, ready to be simulated."""
        if tree.id not in self._causes:
            self._causes[tree.id] = Causes(tree, self.flow)
        return self._causes[tree.id]

    def runs(self, tree: Tree) -> list[Simulation]:
        """What the causes of a tree meet: from its start, and from each step at which other trees enter it."""
        return [self.causes(tree).run(start) for start in self.starts(tree)]

    def starts(self, tree: Tree) -> list[str]:
        """Where the causes of a tree are met from: its start, and each step at which other trees enter it."""
        return list(dict.fromkeys([tree.start, *(entry for entry, _ in self.gates(tree))]))

    def pairs(self, tree: Tree) -> Pairs:
        """The pairs of causes of a tree, ready to be led through it."""
        if tree.id not in self._pairs:
            self._pairs[tree.id] = Pairs(tree, self.causes(tree))
        return self._pairs[tree.id]

    @cached_property
    def _pairs(self) -> dict[str, Pairs]:
        return {}

    def left_behind(self, gate: Key) -> list[Pair]:
        """The pairs of causes of which one may be left where a tree hands over to another, in the order of the file."""
        tree = self.flow.trees[gate[0]]
        if tree.id not in self._left:
            pairs, found = self.pairs(tree), dict[str, int]()
            for start in self.starts(tree):
                for node, mask in pairs.left_at_end(start, "go").items():
                    found[node] = found.get(node, 0) | mask
            self._left[tree.id] = {node: pairs.names(mask) for node, mask in found.items()}
        return self._left[tree.id].get(gate[1], [])

    @cached_property
    def _left(self) -> dict[str, dict[str, list[Pair]]]:
        return {}

    def gates(self, tree: Tree) -> list[tuple[str, Key]]:
        """Where other trees enter this one elsewhere than at its start: the step, and the `go` that leads there."""
        entries = self.flow.entries.get(tree.id, {})
        return [(node, key) for node, keys in entries.items() if node != tree.start for key in keys]

    def entered(self, gate: Key, tree: Tree, way: tuple[Step, ...]) -> tuple[Step, ...]:
        """A way through a tree as seen from the tree that enters it at a gate, from that one's start on."""
        home = self.flow.trees[gate[0]]

        def moves(state: State) -> Iterator[tuple[Answer | None, State]]:
            return ((edge.answer, (edge.to, 0)) for edge in self.flow.edges[state[0]] if edge.to[0] == home.id)

        before = search([(root, 0) for root in self.roots(home)], moves)
        ahead = tuple(Step(f"{tree.id}/{step.node}", step.answer) for step in way)
        return (way_to(before, (gate, 0), home.id) if (gate, 0) in before else ()) + ahead

    def roots(self, tree: Tree) -> list[Key]:
        """Where ways enter a tree: its start, and the steps that others `go` to."""
        return [(tree.id, tree.start), *((tree.id, node) for node in self.graph.entries.get(tree.id, ()))]
