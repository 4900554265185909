"""Trees as graphs: which step follows which, within a tree and on through `go` into others.

A step is named by its key, the pair (tree, node). Targets that do not exist are no edges: references
are checked before any graph is asked.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import networkx as nx

from ..model import Answer, Node, Tree
from ..model.finding import Step

Key = tuple[str, str]
"""Tree id and node id."""


@dataclass(frozen=True, slots=True)
class Edge:
    """A move from one step to the next: by an answer, or (None) by itself."""

    answer: Answer | None
    to: Key


class Graph:
    """The steps of some trees and the moves between them.

    Attributes:
        trees: the trees, by id.
        edges: for each step its moves, in the order shown: its own answers, then those at any time.
        entries: for each tree the steps at which other trees enter it, each with the `go` steps that do.
    """

    def __init__(self, trees: Mapping[str, Tree], near: Graph | None = None) -> None:
        """Join the trees.

        Args:
            trees: the trees, by id.
            near: a graph that differs in few trees; the moves of all others are taken from there.
        """
        self.trees = trees
        known = near.trees if near else {}
        self._other = {name for name, tree in trees.items() if known.get(name) is not tree} | (known.keys() - trees)
        self._near = near.edges if near else {}
        self.edges: dict[Key, tuple[Edge, ...]] = {}
        self.nodes: dict[Key, Node] = {}
        self.entries: dict[str, dict[str, list[Key]]] = {}
        for tree in trees.values():
            self._add(tree)

    def _add(self, tree: Tree) -> None:
        for node in tree.nodes.values():
            key = (tree.id, node.id)
            self.nodes[key] = node
            is_same = tree.id not in self._other and (not node.go or node.go.partition("/")[0] not in self._other)
            self.edges[key] = self._near[key] if is_same else tuple(self._moves(tree, node))
            if node.go and (target := self.entry(node.go)):
                self.entries.setdefault(target[0], {}).setdefault(target[1], []).append(key)

    def _moves(self, tree: Tree, node: Node) -> Iterator[Edge]:
        if node.then is not None and node.then in tree.nodes:
            yield Edge(None, (tree.id, node.then))
        if node.go and (target := self.entry(node.go)):
            yield Edge(None, target)
        for answer in tree.answers_at(node):
            if answer.to in tree.nodes:
                yield Edge(answer, (tree.id, answer.to))

    def entry(self, go: str) -> Key | None:
        """The step that a `go` leads to; None where it is not among these trees."""
        tree_id, _, node_id = go.partition("/")
        tree = self.trees.get(tree_id)
        if tree is None:
            return None
        node_id = node_id or tree.start
        return (tree_id, node_id) if node_id in tree.nodes else None

    def is_final(self, key: Key) -> bool:
        """Whether a way ends here: no move leads on. A `go` out of these trees is no such end."""
        node = self.nodes[key]
        return not self.edges[key] and node.go is None

    @cached_property
    def knots(self) -> list[frozenset[Key]]:
        """Groups of steps that lead to each other, each a loop or several: O(steps + moves)."""
        graph = self.digraph
        return [
            frozenset(group)
            for group in nx.strongly_connected_components(graph)
            if len(group) > 1 or any(graph.has_edge(key, key) for key in group)
        ]

    @cached_property
    def looping(self) -> frozenset[str]:
        """The trees with a step on a loop."""
        return frozenset(tree for knot in self.knots for tree, _ in knot)

    @cached_property
    def flow(self) -> Graph:
        """The graph without the trees that loop: what is proved on all ways is proved here."""
        if not self.looping:
            return self
        return Graph({key: tree for key, tree in self.trees.items() if key not in self.looping})

    @cached_property
    def digraph(self) -> nx.DiGraph[Key]:
        """The same as a networkx graph."""
        graph: nx.DiGraph[Key] = nx.DiGraph()
        graph.add_nodes_from(self.edges)
        graph.add_edges_from((key, edge.to) for key, edges in self.edges.items() for edge in edges)
        return graph

    @cached_property
    def backwards(self) -> list[Key]:
        """All steps, each after all that can follow it. The graph must have no loops."""
        order = list(nx.topological_sort(self.digraph))
        order.reverse()
        return order

    def told(self, keys: list[Key]) -> Iterator[tuple[Key, str | None]]:
        """Steps that follow each other, each with the answer that leads on."""
        for key, to in zip(keys, [*keys[1:], None], strict=True):
            answer = next((edge.answer for edge in self.edges[key] if edge.to == to), None)
            yield key, answer.say if answer else None

    @cached_property
    def forwards(self) -> dict[str, list[str]]:
        """For each tree its steps, each before all that can follow it. The graph must have no loops."""
        order: dict[str, list[str]] = {tree: [] for tree in self.trees}
        for tree, node in reversed(self.backwards):
            order[tree].append(node)
        return order

    def reachable(self, starts: Iterable[Key]) -> set[Key]:
        """The steps that can be reached from some steps, these included: O(steps + moves)."""
        found = set(starts)
        ahead = list(found)
        while ahead:
            for edge in self.edges[ahead.pop()]:
                if edge.to not in found:
                    found.add(edge.to)
                    ahead.append(edge.to)
        return found

    def handed_to(self, trees: Iterable[str]) -> set[str]:
        """Some trees and all that they hand over to, at once or through others: O(steps)."""
        found = set(trees)
        ahead = list(found)
        while ahead:
            for node in self.trees[ahead.pop()].nodes.values():
                target = self.entry(node.go) if node.go else None
                if target and target[0] not in found:
                    found.add(target[0])
                    ahead.append(target[0])
        return found

    def ways(self, key: Key) -> int:
        """How many different ways lead from a step to an end, by dynamic programming: O(steps + moves).

        Two ways differ where another answer is given. The graph must have no loops.
        """
        return self._ways[key]

    @cached_property
    def _ways(self) -> dict[Key, int]:
        counted: dict[Key, int] = {}
        for key in self.backwards:
            counted[key] = sum(counted[edge.to] for edge in self.edges[key]) or 1
        return counted


def loop_in(graph: Graph, knot: frozenset[Key], first: Key) -> list[Key]:
    """A shortest loop through `first` within a knot."""
    before: dict[Key, Key] = {}
    ahead = deque([first])
    while ahead:
        here = ahead.popleft()
        for edge in graph.edges[here]:
            if edge.to == first:
                loop = [here]
                while loop[-1] != first:
                    loop.append(before[loop[-1]])
                return loop[::-1]
            if edge.to in knot and edge.to not in before:
                before[edge.to] = here
                ahead.append(edge.to)
    raise ValueError(f"{first} is on no loop")


State = tuple[Key, int]
"""A step as arrived at, and what a rule remembers there."""


def search(
    starts: Iterable[State],
    moves: Callable[[State], Iterable[tuple[Answer | None, State]]],
) -> dict[State, tuple[State, Answer | None] | None]:
    """Breadth-first search over steps with a memory.

    Args:
        starts: where ways begin.
        moves: for a state the answers that can be given and the states they lead to.

    Returns:
        For each state that can be reached the state before it and the answer given there, on a
        shortest way; None for a start. Ordered by length. O(states + moves).
    """
    before: dict[State, tuple[State, Answer | None] | None] = dict.fromkeys(starts)
    ahead = deque(before)
    while ahead:
        here = ahead.popleft()
        for answer, to in moves(here):
            if to not in before:
                before[to] = (here, answer)
                ahead.append(to)
    return before


def way_to(
    before: Mapping[State, tuple[State, Answer | None] | None],
    state: State,
    home: str,
    last: Answer | None = None,
) -> tuple[Step, ...]:
    """The way that a search took to a state, as steps for a finding.

    Args:
        before: what `search` returned.
        state: the state to end at.
        home: the tree that the finding is about; steps of others are named `tree/node`.
        last: the answer given at the end of the way.
    """
    steps = [Step(named(state[0], home), last.say if last else None)]
    link = before[state]
    while link is not None:
        state, answer = link
        steps.append(Step(named(state[0], home), answer.say if answer else None))
        link = before[state]
    return tuple(reversed(steps))


def named(key: Key, home: str) -> str:
    """A step's name in a finding about the tree `home`."""
    return key[1] if key[0] == home else f"{key[0]}/{key[1]}"
