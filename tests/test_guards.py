"""Every safety rule watches: with its guard taken out of a shipped tree it speaks.

A guard is the mark that keeps a rule, on all steps and answers of one tree. Where a rule forbids for good, nothing
keeps it but that the act is not there; then the act is put in behind what forbids it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

import pytest

from alarmtrees.check.rules import two_causes
from alarmtrees.check.rules.base import View
from alarmtrees.model import PLACES, Answer, Node, Pattern, SafetyRule, Tree
from alarmtrees.proof.graph import Graph
from alarmtrees.proof.patterns import Patterns
from small_library import shipped_library

LIBRARY = shipped_library()
GRAPH = Graph(LIBRARY.trees)


def without(tree: Tree, marks: frozenset[str]) -> Tree:
    """A tree that carries some marks nowhere."""

    def bare(answer: Answer) -> Answer:
        return replace(answer, marks=answer.marks - marks)

    nodes = {
        key: replace(node, marks=node.marks - marks, answers=tuple(map(bare, node.answers)))
        for key, node in tree.nodes.items()
    }
    return replace(tree, nodes=nodes, anytime=tuple(map(bare, tree.anytime)))


def acting(tree: Tree, rule: SafetyRule) -> Iterator[Tree]:
    """A tree with a forbidden act put in: where an answer or a step forbids it, at the step that follows."""
    after = rule.marks("after")
    act = frozenset(sorted(rule.marks("of"))[:1])
    follow = {
        to
        for node in tree.nodes.values()
        for marks, to in [(node.marks, node.then), *((a.marks | node.marks, a.to) for a in tree.answers_at(node))]
        if to and (not after or marks & after)
    }
    for key in sorted(follow):
        node: Node = tree.nodes[key]
        yield replace(tree, nodes={**tree.nodes, key: replace(node, marks=node.marks | act)})


def broken_in(rule: SafetyRule, tree: Tree) -> bool:
    """Whether a changed tree breaks a rule, alone or with all that it hands over to."""
    alone = Graph({tree.id: tree})
    if not alone.looping and rule.id in Patterns(alone, [rule]).broken(tree):
        return True
    around = {key: GRAPH.trees[key] for key in GRAPH.handed_to([tree.id])} | {tree.id: tree}
    graph = Graph(around)
    return not graph.looping and rule.id in Patterns(graph, [rule]).broken(tree)


def breaks(rule: SafetyRule) -> Iterator[Tree]:
    """Shipped trees with the rule's guard taken out, those first that have one."""
    guards = rule.marks({Pattern.EXISTENCE: "of"}.get(rule.pattern, rule.pattern.guard))
    trees = [tree for tree in LIBRARY.trees.values() if rule.holds_for(tree)]
    if guards:
        yield from (without(tree, guards) for tree in trees if guards & tree.carried)
    if rule.pattern is Pattern.ABSENCE:
        cue = rule.marks("after")
        for tree in trees:
            if not cue or cue & tree.carried:
                yield from acting(tree, rule)


@pytest.mark.parametrize("rule", LIBRARY.safety.values(), ids=lambda rule: rule.id)
def test_a_rule_speaks_once_its_guard_is_gone(rule: SafetyRule) -> None:
    assert any(broken_in(rule, tree) for tree in breaks(rule))


def test_as_shipped_no_rule_speaks() -> None:
    """Else the test above would find what was there before."""
    patterns = Patterns(GRAPH.flow, LIBRARY.safety.values())
    assert not any(patterns.broken(tree) for tree in GRAPH.flow.trees.values())


def test_what_is_said_to_hold_an_act_done_when_it_must_not_be_speaks_of_that_act() -> None:
    """Of the rules that a cell names one at least has the act's mark; else it could not see the act."""
    table = LIBRARY.hazards
    assert table
    named = {
        (row.mark, hazard.id): [LIBRARY.safety[rule] for rule in hazard.held_by if rule in LIBRARY.safety]
        for row in table.values()
        for hazard in row.cells["given"].hazards
        if hazard.held_by
    }
    assert len(named) > 50
    blind = {key for key, rules in named.items() if not any(key[0] in rule.marks(p) for rule in rules for p in PLACES)}
    # "Patient first" speaks of every step: `then: any`.
    assert {key for key in blind if not any(rule.for_any for rule in named[key])} == set()


def test_every_shipped_end_that_others_lead_to_sends_back() -> None:
    """The mark taken from one end after the other: each that a reader with a second trouble can come to is told."""
    library = LIBRARY
    view = View(library, GRAPH, date(2026, 11, 30))
    entered = 0
    for tree in library.trees.values():
        for node in tree.nodes.values():
            if "sends-back" not in node.marks:
                continue
            bare = replace(node, marks=node.marks - {"sends-back"})
            told = list(two_causes.check.check(view, replace(tree, nodes={**tree.nodes, node.id: bare})))
            entered += [flaw.node for flaw in told] == [node.id]
            assert all("send the reader back there" in flaw.message and flaw.way for flaw in told)
    assert entered >= 20
