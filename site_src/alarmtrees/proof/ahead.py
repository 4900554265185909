"""How many steps usually still lie ahead of a reader: the "about 7" of "3 of about 7"."""

from __future__ import annotations

from collections.abc import Iterator

from ..model import Node, Tree
from .graph import Graph
from .simulate import Causes, Masks, single, state_of

Remaining = dict[tuple[str, int], float]
"""Steps still to come from a step as arrived at, by step and state of the cause."""


def steps_ahead(tree: Tree) -> dict[str, int]:
    """For each step how many usually follow it, its end included.

    For each cause that can bring a reader to a step, the way on is the one of the first answers that the cause
    allows: authors put the usual answer first. The causes count by their shares. Without causes every answer
    counts the same. A guess for the reader's patience; no check and no clock rests on it.

    Returns:
        Whole numbers of steps; empty for a tree with loops.
    """
    graph = Graph({tree.id: tree})
    if graph.knots:
        return {}
    evenly = _evenly(tree, graph)
    if not tree.causes:
        return {node_id: round(steps) for node_id, steps in evenly.items()}
    return {node_id: round(steps) for node_id, steps in (evenly | _by_cause(tree, Causes(tree, graph))).items()}


def _evenly(tree: Tree, graph: Graph) -> dict[str, float]:
    """The mean over a step's own answers, each as likely: O(steps + answers)."""
    ahead: dict[str, float] = {}
    for node_id in reversed(graph.forwards[tree.id]):
        node = tree.nodes[node_id]
        ways = [node.then] if node.then else [answer.to for answer in node.answers]
        ahead[node_id] = sum(1 + ahead[to] for to in ways) / len(ways) if ways else 0.0
    return ahead


def _by_cause(tree: Tree, causes: Causes) -> dict[str, float]:
    """The mean over the causes that can be met at a step: O(causes x (steps + answers))."""
    sums: dict[str, list[float]] = {}
    for cause in tree.causes.values():
        share = cause.share or 1.0
        remaining: Remaining = {}
        for (_, node_id), state in causes.reach(tree.start, cause.id):
            total = sums.setdefault(node_id, [0.0, 0.0])
            total[0] += share * _remaining(tree, causes, cause.id, (node_id, state), remaining)
            total[1] += share
    return {node_id: steps / weight for node_id, (steps, weight) in sums.items()}


def _remaining(tree: Tree, causes: Causes, cause: str, here: tuple[str, int], known: Remaining) -> float:
    """How long the usual way under a cause still is; what is found on the way is kept in `known`."""
    way: list[tuple[str, int]] = []
    follow: tuple[str, int] | None = here
    while follow is not None and follow not in known:
        way.append(follow)
        node_id, state = follow
        follow = next(_moves(causes, tree.nodes[node_id], single(causes.bit[cause], state)), None)
    steps = -1.0 if follow is None else known[follow]
    for place in reversed(way):
        steps += 1
        known[place] = steps
    return known[here]


def _moves(causes: Causes, node: Node, masks: Masks) -> Iterator[tuple[str, int]]:
    """Where the cause allows to go from a step, in the order shown."""
    masks = causes.after_step(node, masks)
    if node.then:
        yield node.then, state_of(masks)
    for answer in node.answers:
        leaving = causes.after_answer(node, answer, masks)
        if any(leaving):
            yield answer.to, state_of(leaving)
