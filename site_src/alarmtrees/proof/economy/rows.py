"""Questions of a tree that stand in a row: which they are, what each costs, and the tree with them in another order."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import networkx as nx

from ...model import FIXED, Answer, Node, Tree
from ..graph import Graph
from ..resting import Times
from ..simulate import Causes
from .sequence import Look, Looks
from .times import Remedies, bits, shares_of


@dataclass(frozen=True, slots=True)
class Block:
    """A question that leads on to the next one, with all that its answers lead to before that, ends and all.

    `leading_on` holds the steps from which the next question can be reached, `found` the causes, a bit each, whose
    remedy is reached before it.
    """

    head: str
    then: str
    region: frozenset[str]
    leading_on: frozenset[str]
    found: int


# ------------------------------------------------------------------ which questions stand in a row


def rows_of(tree: Tree, graph: Graph, remedies: Remedies, times: Times) -> Iterator[list[Block]]:
    """Runs of two and more blocks that could change places, in the order of the tree."""
    entered = set(graph.entries.get(tree.id, ())) - {tree.start}
    runs: list[list[Block]] = []
    for block in _blocks(tree, entered, remedies):
        if runs and runs[-1][-1].then == block.head:
            runs[-1].append(block)
        else:
            runs.append([block])
    while runs:
        run = runs.pop(0)
        stays = _first_to_stay(tree, remedies, run, times)
        if stays is not None:
            runs[:0] = [part for part in (run[:stays], run[stays + 1 :]) if part]
        elif len(run) > 1:
            yield run


def _first_to_stay(tree: Tree, remedies: Remedies, run: Sequence[Block], times: Times) -> int | None:
    """The first block of a run at which some cause that comes to the run would be lost, were it asked earlier."""
    opened = remedies_of(reordered(tree, remedies, run, range(len(run))), times)
    coming = remedies.arriving[run[0].head] & remedies.reach[tree.start]
    for index, block in enumerate(run):
        passing = opened.reach_within(block.region, block.then, remedies=False)[block.head]
        if coming & ~(passing | opened.reach_within(block.region)[block.head]):
            return index
    return None


def _blocks(tree: Tree, entered: set[str], remedies: Remedies) -> Iterator[Block]:
    """The blocks that could be moved, each before those that it leads on to."""
    below = _next_heads(tree, entered, remedies)
    for head in remedies.causes.order:
        if head in entered or len(below.get(head, ())) != 1:
            continue
        then = below[head][0]
        region = frozenset(_reached(tree, head, then))
        found = remedies.reach_within(region)[head]
        block = Block(head, then, region, frozenset(_leading_on(tree, region, then)), found)
        if remedies.arriving.get(head, 0) & found and any(
            _passes(a, block, remedies) for a in tree.nodes[head].answers
        ):
            yield block


def _leading_on(tree: Tree, region: Collection[str], then: str) -> set[str]:
    """The steps of a block from which the next question can be reached."""
    return {node for node in region if then in _reached(tree, node)}


def _passes(answer: Answer, block: Block, remedies: Remedies) -> bool:
    """Whether an answer to a block's question is the one that leads on: seen where the block finds nothing."""
    if answer.to != block.then and answer.to not in block.leading_on:
        return False
    seen = remedies.causes.mask(answer.when) & remedies.arriving.get(block.head, 0)
    return bool(seen & ~block.found)


def _next_heads(tree: Tree, entered: set[str], remedies: Remedies) -> dict[str, list[str]]:
    """For each question that tells causes apart the next such questions that all ways reach through it only."""
    causes = remedies.causes
    heads = {key for key, here in remedies.arriving.items() if here and _tells(tree.nodes[key], causes)}
    graph: nx.DiGraph[str] = nx.DiGraph()
    root = ""  # no step has an empty name
    graph.add_edges_from((root, node) for node in (tree.start, *entered))
    graph.add_edges_from((node.id, to) for node in tree.nodes.values() for to in _targets(tree, node))
    dominator = nx.immediate_dominators(graph, root)
    below: dict[str, list[str]] = {}
    for head in causes.order:
        above = dominator.get(head, root) if head in heads else root
        while above not in heads and above != root:
            above = dominator[above]
        if above != root:
            below.setdefault(above, []).append(head)
    return below


def _tells(node: Node, causes: Causes) -> bool:
    """Whether a question tells causes apart by what is seen, and not by whether a remedy has held."""
    named = [answer.when for answer in node.answers if answer.when is not None]
    return bool(named) and not any(FIXED in when for when in named) and any(causes.mask(when) for when in named)


def _targets(tree: Tree, node: Node) -> list[str]:
    ways = [node.then] if node.then else []
    return [to for to in (*ways, *(answer.to for answer in tree.answers_at(node))) if to in tree.nodes]


def _reached(tree: Tree, start: str, stop: str | None = None) -> set[str]:
    found = {start}
    ahead = [start]
    while ahead:
        for to in _targets(tree, tree.nodes[ahead.pop()]):
            if to not in found and to != stop:
                found.add(to)
                ahead.append(to)
    return found


# ------------------------------------------------------------------ another order


def reordered(tree: Tree, remedies: Remedies, row: Sequence[Block], order: Sequence[int]) -> Tree:
    """A copy of the tree in which the blocks of a row stand in another order.

    What led to the next block leads to the one that is next now. The answers of each question that lead on
    hold, beside what they name, for all causes that come to the row and that no answer of the question names.
    """
    heads = [row[i].head for i in order]
    turned: dict[str, dict[str, str]] = {}
    for i, next_head in zip(order, [*heads[1:], row[-1].then], strict=True):
        turned |= {key: {row[i].then: next_head} for key in row[i].leading_on}
    into = {row[0].head: heads[0]}
    nodes = {key: _turned(node, turned.get(key, into)) for key, node in tree.nodes.items()}
    for block in row:
        nodes[block.head] = _opened(nodes[block.head], tree, block, remedies, remedies.arriving[row[0].head])
    anytime = tuple(replace(answer, to=into.get(answer.to, answer.to)) for answer in tree.anytime)
    return replace(tree, nodes=nodes, start=into.get(tree.start, tree.start), anytime=anytime)


def _turned(node: Node, turned: Mapping[str, str]) -> Node:
    answers = tuple(replace(answer, to=turned.get(answer.to, answer.to)) for answer in node.answers)
    return replace(node, answers=answers, then=turned.get(node.then, node.then) if node.then else None)


def _opened(node: Node, tree: Tree, block: Block, remedies: Remedies, coming: int) -> Node:
    """A question whose answers that lead on hold for the causes too that it neither names nor finds otherwise."""
    named = bits(remedies.causes.mask(answer.when) for answer in node.answers if answer.when)
    more = tuple(remedies.causes.names(coming & ~named & ~block.found))
    answers = [
        replace(answer, when=(*answer.when, *more)) if answer.when and _passes(was, block, remedies) else answer
        for answer, was in zip(node.answers, tree.nodes[node.id].answers, strict=True)
    ]
    return replace(node, answers=tuple(answers))


def looks_of(tree: Tree, remedies: Remedies, row: Sequence[Block], times: Times) -> Looks:
    """The blocks as looks: what each costs under each cause that comes to the row and has a remedy."""
    opened = remedies_of(reordered(tree, remedies, row, range(len(row))), times)
    coming = [c for c in remedies.causes.names(remedies.arriving[row[0].head]) if _comes_by(remedies, c, row[0].head)]
    looks = [_look(opened, block, coming) for block in row]
    shares = shares_of(tree)
    behind = opened.causes.names(opened.reach[row[-1].then])
    return Looks(looks, {cause: shares[cause] for cause in coming}, frozenset(behind))


def _comes_by(remedies: Remedies, cause: str, node: str) -> bool:
    """Whether the usual way to the remedy of a cause goes through a step: an earlier answer may have led aside."""
    usual = remedies.usual(cause)
    return usual is not None and any(step.node == node for step in usual.way)


def _look(opened: Remedies, block: Block, coming: Sequence[str]) -> Look:
    """A block as a look. Where the usual way passes a question on that could find the cause, it does both."""
    finding = opened.reach_within(block.region)
    passing = opened.reach_within(block.region, block.then, remedies=False)
    either = {node: finding.get(node, 0) | mask for node, mask in passing.items()}
    found, passed = {}, {}
    for cause in coming:
        bit = opened.causes.bit[cause]
        if finding[block.head] & bit:
            found[cause] = opened.within(cause, block.head, finding).seconds
            usual = opened.within(cause, block.head, either, block.then)
            if cause not in opened.tree.nodes[usual.way[-1].node].fixes:
                passed[cause] = usual.seconds
        else:
            passed[cause] = opened.within(cause, block.head, passing, block.then).seconds
    return Look(block.head, found, passed)


def remedies_of(tree: Tree, times: Times) -> Remedies:
    """The times to the remedies of a tree by itself."""
    return Remedies(tree, Causes(tree, Graph({tree.id: tree})), times)
