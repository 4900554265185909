"""The steps of a tree as a nested list: the drawing's stand-in where there is no room for it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ...model import Node, Tree
from ..markup import View, esc

SHORT_ENDS = {"resolved": "Answered", "call": "Call now", "go": "Other page"}
"""How a way ends, where there is room for two words only."""


def nested_list(view: View, tree: Tree, numbers: Mapping[str, int]) -> str:
    """Every step once, as HTML; all further ways to it say its number.

    The longest of a step's branches goes on at the step's own level, and the others are nested under their
    answers. So a tree of n steps is nested log2(n) levels deep at most, and fits on a phone.

    Args:
        view: the page it stands on.
        tree: a tree all of whose references hold.
        numbers: the number of each step; on every way they rise, where the tree has no loop.
    """
    branches = _branches(tree, numbers)
    writer = _Writer(view, tree, numbers, branches, _weights(numbers, branches))
    listed = {child for children in branches.values() for child in children}
    return "".join(writer.level(node_id) for node_id in numbers if node_id not in listed)


def _branches(tree: Tree, numbers: Mapping[str, int]) -> dict[str, list[str]]:
    """The steps listed under each step: every one under the last step that leads to it.

    What is listed under a step has a higher number, so that nothing is listed below itself or lost.
    """
    parent: dict[str, str] = {}
    for node_id, number in numbers.items():
        parent |= {to: node_id for to in targets(tree.nodes[node_id]) if numbers.get(to, 0) > number}
    branches: dict[str, list[str]] = {node_id: [] for node_id in numbers}
    for child in numbers:
        if child in parent:
            branches[parent[child]].append(child)
    return branches


def _weights(numbers: Mapping[str, int], branches: Mapping[str, list[str]]) -> dict[str, int]:
    """How many steps are listed under each step, itself included."""
    weights: dict[str, int] = {}
    for node_id in reversed(list(numbers)):
        weights[node_id] = 1 + sum(weights[child] for child in branches[node_id])
    return weights


def targets(node: Node) -> list[str]:
    """Where a step leads, without the answers of any time; each step once."""
    return list(dict.fromkeys([answer.to for answer in node.answers] + ([node.then] if node.then else [])))


@dataclass(frozen=True, slots=True)
class _Writer:
    view: View
    tree: Tree
    numbers: Mapping[str, int]
    branches: Mapping[str, list[str]]
    weights: Mapping[str, int]

    def level(self, first: str) -> str:
        """A step, and what goes on at its level."""
        return f'<ul class="nest">{"".join(self._trunk(first))}</ul>'

    def _trunk(self, first: str) -> Iterator[str]:
        here: str | None = first
        while here is not None:
            children = self.branches[here]
            on = max(children, key=lambda child: self.weights[child], default=None)
            yield self._step(self.tree.nodes[here], on)
            here = on

    def _step(self, node: Node, on: str | None) -> str:
        words = SHORT_ENDS[node.end or ""] if node.kind == "end" else self.view.plain(node.lines[0])
        link = f'<a href="#{esc(node.id)}"><b>{self.numbers[node.id]}</b> {esc(words)}</a>'
        below = "".join(self._answers(node, on))
        return f"<li>{link}{f'<ul>{below}</ul>' if below else ''}</li>"

    def _answers(self, node: Node, on: str | None) -> Iterator[str]:
        for to in targets(node):
            says = [self.view.say(answer.say) for answer in node.answers if answer.to == to]
            nested = to in self.branches[node.id] and to != on
            goes = self.level(to) if nested else f" → {self.numbers.get(to, '?')}"
            if says or nested or to != on:
                yield f"<li>{' / '.join(says) or 'Then'}{goes}</li>"
