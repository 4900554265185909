"""Where somebody may go on who called because the patient is worse: the step that was left, unless a rule forbids it.

A way that comes back has seen that the patient is worse, and has called. It is sound where no safety rule forbids,
after that, what lies ahead of the step; and where the step itself forbids its own repetition, as a restart does, it is
asked whether it was done. `tests/test_returning.py` proves all rules on trees that hold these ways.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import StrEnum

from ..model import Answer, Node, Pattern, SafetyRule, Tree
from .graph import Key


class Return(StrEnum):
    """How a reader may come back to a step."""

    HERE = "here"
    ONCE = "once"
    """The step must not be done twice: who did it goes on behind it."""


def returns(tree: Tree, trees: Mapping[str, Tree], rules: Iterable[SafetyRule]) -> dict[str, Return]:
    """The steps to which a call because the patient is worse may lead back.

    Args:
        tree: the tree.
        trees: all that it hands over to, whole or as shapes.
        rules: the safety rules.

    Returns:
        How to come back, by step; empty where no answer at any time calls for a patient who is worse. Linear in all
        steps and moves, for each rule that speaks of such a call.
    """
    worse = worse_call(tree)
    if worse is None:
        return {}
    told = worse.marks | tree.nodes[worse.to].marks
    absences = [rule for rule in rules if rule.pattern is Pattern.ABSENCE and "after" in rule.slots]
    moves = _Moves({**trees, tree.id: tree})
    forbidden = [moves.meeting(rule) for rule in absences if rule.marks("after") & told]
    found: dict[str, Return] = {}
    for node in tree.nodes.values():
        key = (tree.id, node.id)
        if node.kind == "end" or node.id == worse.to or any(key in keys for keys in forbidden):
            continue
        once = any(node.marks & rule.marks("after") and node.marks & rule.marks("of") for rule in absences)
        found[node.id] = Return.ONCE if once else Return.HERE
    return found


def worse_call(tree: Tree) -> Answer | None:
    """The answer at any time by which a patient who is worse ends the page with a call."""
    for answer in tree.anytime:
        if "patient-worse" in answer.marks and answer.to in tree.nodes and tree.nodes[answer.to].end == "call":
            return answer
    return None


class _Moves:
    """All moves between steps, backwards. What is offered at any time leads from every step: it is held once."""

    def __init__(self, trees: Mapping[str, Tree]) -> None:
        self.nodes: dict[Key, Node] = {}
        self.before: dict[Key, list[tuple[Key, frozenset[str]]]] = {}
        self.anytime: dict[Key, frozenset[str]] = {}
        self.steps: dict[str, list[Key]] = {}
        for tree in trees.values():
            self.steps[tree.id] = [(tree.id, node.id) for node in tree.nodes.values() if node.kind != "end"]
            for answer in tree.anytime:
                self.anytime[tree.id, answer.to] = answer.marks
            for node in tree.nodes.values():
                self._add(trees, tree, node)

    def _add(self, trees: Mapping[str, Tree], tree: Tree, node: Node) -> None:
        key = (tree.id, node.id)
        self.nodes[key] = node
        for answer in node.answers:
            self.before.setdefault((tree.id, answer.to), []).append((key, answer.marks))
        if node.then:
            self.before.setdefault((tree.id, node.then), []).append((key, frozenset()))
        if node.go:
            target, _, step = node.go.partition("/")
            if target in trees:
                self.before.setdefault((target, step or trees[target].start), []).append((key, frozenset()))

    def meeting(self, rule: SafetyRule) -> set[Key]:
        """The steps from which some way meets what a rule forbids, before anything that lifts the ban."""
        of, until = rule.marks("of"), rule.marks("until")
        found = {key for key, node in self.nodes.items() if not node.marks.isdisjoint(of)}
        for links in self.before.values():
            found.update(key for key, marks in links if not marks.isdisjoint(of))
        for (tree, _), marks in self.anytime.items():
            if not marks.isdisjoint(of):
                found.update(self.steps[tree])
        ahead = list(found)
        while ahead:
            to = ahead.pop()
            links = list(self.before.get(to, ()))
            if to in self.anytime:
                links += [(key, self.anytime[to]) for key in self.steps[to[0]]]
            for key, marks in links:
                if key not in found and marks.isdisjoint(until) and self.nodes[key].marks.isdisjoint(until):
                    found.add(key)
                    ahead.append(key)
        return found
