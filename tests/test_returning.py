"""Coming back to a step after a call for a patient who is worse: proved on trees that hold those ways as steps."""

from __future__ import annotations

import os
from dataclasses import replace

import pytest

from alarmtrees.model import Node, Tree
from alarmtrees.proof.analysis import Analysis
from alarmtrees.proof.returning import Return, returns, worse_call
from small_library import shipped_library

SAID = " once more"

# Those in which a rule forbids some return, and one more; all where `EVERY` is set.
SOME = ("timing-suspect", "rhythm-irregular", "pump-stopped", "blood-in-gas-line", "power-low")


def with_ways_back(tree: Tree, back: dict[str, Return]) -> Tree:
    """The tree, and behind a call from each step all of it a second time: who is worse is called for once.

    Whoever left a step that is not to be done twice goes on behind it.
    """
    call = worse_call(tree)
    assert call is not None
    others = tuple(answer for answer in tree.anytime if answer is not call)
    nodes: dict[str, Node] = {}
    for node in tree.nodes.values():
        anytime = tuple(answer for answer in others if answer.to != node.id) if node.kind != "end" else ()
        again = tuple(replace(answer, to=answer.to + SAID) for answer in (*node.answers, *anytime))
        nodes[node.id + SAID] = replace(node, id=node.id + SAID, answers=again, then=node.then and node.then + SAID)
        leave = ()
        if node.kind != "end" and node.id != call.to:
            leave = (replace(call, to=f"call from {node.id}"),)
            way = back.get(node.id)
            on = {None: None, Return.HERE: node.id, Return.ONCE: node.then}[way]
            end = tree.nodes[call.to]
            called = (
                replace(end, id=leave[0].to, kind="do", end=None, then=on + SAID)
                if on
                else replace(end, id=leave[0].to)
            )
            nodes[leave[0].to] = called
        nodes[node.id] = replace(node, answers=(*node.answers, *anytime, *leave))
    return replace(tree, nodes=nodes, anytime=())


def breaches(tree: Tree, back: dict[str, Return]) -> set[str]:
    library = shipped_library()
    # Only this tree's own calls lead back: each return is proved with the others as they are.
    trees = {**library.trees, tree.id: with_ways_back(tree, back)}
    analysis = Analysis(replace(library, trees=trees))
    return {breach.rule for breach in analysis.patterns.breaches(trees[tree.id])}


def back_of(tree: Tree) -> dict[str, Return]:
    library = shipped_library()
    return returns(tree, library.trees, library.safety.values())


@pytest.mark.parametrize("name", sorted(shipped_library().trees) if os.environ.get("EVERY") else SOME)
def test_no_way_back_breaks_a_safety_rule(name: str) -> None:
    tree = shipped_library().trees[name]
    if worse_call(tree) is None:
        pytest.skip("nothing ends this page with a call for a patient who is worse")
    assert breaches(tree, back_of(tree)) == set()


@pytest.mark.parametrize("name", ["timing-suspect", "rhythm-irregular", "pump-stopped"])
def test_a_way_back_that_is_not_offered_would_break_one(name: str) -> None:
    tree = shipped_library().trees[name]
    back = back_of(tree)
    steps = [node for node in tree.nodes.values() if node.kind != "end"]
    assert breaches(tree, {node.id: Return.HERE for node in steps}) != set()
    assert any(back.get(node.id) is not Return.HERE for node in steps)


def test_nearly_every_step_of_the_library_can_be_come_back_to() -> None:
    trees = shipped_library().trees.values()
    back = sum(len(back_of(tree)) for tree in trees)
    steps = sum(node.kind != "end" for tree in trees if worse_call(tree) for node in tree.nodes.values())
    assert back >= 0.95 * steps
