"""Calls and orders on the pages of the shipped library: a call stands, each number is there, no words contradict."""

from __future__ import annotations

import re
from functools import cache

import networkx as nx
import pytest

from alarmtrees.model import Node, Tree
from alarmtrees.model.addresses import tree_path
from alarmtrees.proof.returning import returns
from small_library import shipped_library

Place = tuple[str, str]

# Written here a second time, and more narrowly: whoever is sent for in so many words.
SENT_FOR = {
    "arrest-team": r"\barrest team\b",
    "fire-line": r"\bfire line\b",
    "doctor-on-call": r"\b(?:call|tell|have|send for) (?:the )?doctor\b",
    "specialist-on-call": r"\b(?:call|tell|have|send somebody for) the specialist\b",
    "equipment-on-call": r"\bcall the equipment engineer\b",
}


@pytest.fixture(scope="module")
def sections(shipped_site) -> dict[Place, str]:
    """Each step as its page has it."""
    bodies = {page.path: page.body for page in shipped_site[0]}
    found = {}
    for tree in shipped_library().in_use.values():
        for part in re.split(r'<section id="(?!_)', bodies[tree_path(tree.id)])[1:]:
            found[tree.id, part.partition('"')[0]] = part.partition("</section>")[0]
    return found


def nodes() -> list[tuple[Tree, Node]]:
    return [(tree, node) for tree in shipped_library().in_use.values() for node in tree.nodes.values()]


@cache
def after_worse() -> frozenset[Place]:
    """The steps to which a walk may lead after somebody was called for a patient who is worse, on all its pages."""
    library = shipped_library()
    begins = [(tree.id, one.to) for tree, node in nodes() for one in node.answers if "patient-worse" in one.marks]
    for tree in library.in_use.values():
        begins += [(tree.id, node) for node in returns(tree, library.trees, library.safety.values())]
    ways: nx.DiGraph[Place] = nx.DiGraph()
    for tree, node in nodes():
        here = (tree.id, node.id)
        ways.add_edges_from((here, (tree.id, to)) for to in (*(one.to for one in node.answers), node.then) if to)
        if node.go:
            target, _, step = node.go.partition("/")
            ways.add_edge(here, (target, step or library.trees[target].start))
    return frozenset(begins).union(*(nx.descendants(ways, one) for one in begins))


def test_an_end_at_which_all_is_well_says_that_a_call_for_the_patient_stands(sections: dict[Place, str]) -> None:
    ends = {(tree.id, node.id) for tree, node in nodes() if node.end == "resolved"} & after_worse()
    assert ("rhythm-irregular", "followed") in ends and len(ends) > 20
    assert [place for place in ends if "That call stands" not in sections[place]] == []


def test_whoever_a_step_sends_for_has_a_number_there(sections: dict[Place, str]) -> None:
    roles = shipped_library().roles
    missed, seen = [], 0
    for tree, node in nodes():
        text = " ".join((*node.lines, node.text or "", node.meanwhile or "")) if node.kind != "ask" else ""
        for role, words in SENT_FOR.items():
            if re.search(words, text, re.IGNORECASE):
                seen += 1
                told = re.sub(r"<details.*", "", sections[tree.id, node.id], flags=re.DOTALL)
                if (roles[role].phone or "") not in told.replace(chr(160), " "):
                    missed.append((tree.id, node.id, role))
    assert missed == [] and seen > 400


def test_each_call_is_known_to_the_walk(sections: dict[Place, str]) -> None:
    roles = shipped_library().roles
    calls = {(tree.id, node.id): roles[node.call].say for tree, node in nodes() if node.call}
    assert [place for place, whom in calls.items() if f'">Call: <b>{whom}</b>' not in sections[place]] == []


def test_no_caution_leaves_to_a_clinician_what_its_step_orders() -> None:
    cautions = shipped_library().cautions
    ordered = [node for _, node in nodes() if node.pump in ("stops", "starts") or "told-to-hold" in node.marks]
    told = {cautions[key].say for node in ordered for key in node.cautions if "clinician" in cautions[key].say}
    assert len(ordered) > 100 and told
    assert [say for say in told if "what a step stops or starts is policy" not in say] == []


def unseen_before(tree: Tree) -> set[str]:
    """The steps to which some way leads on which nobody has said that the balloon moves."""
    ways: nx.DiGraph[str] = nx.DiGraph()
    for node in tree.nodes.values():
        ways.add_node(node.id)
        ways.add_edges_from((node.id, one.to) for one in node.answers if one.pump != "moves")
        if node.then:
            ways.add_edge(node.id, node.then)
    begins = {tree.start, *(one.to for one in tree.anytime)}
    return begins.union(*(nx.descendants(ways, one) for one in begins))


def test_steps_that_stop_a_pump_nobody_saw_move_are_told_to_the_clock(sections: dict[Place, str]) -> None:
    stops = {(tree.id, node.id) for tree, node in nodes() if node.pump == "stops"}
    unseen = {(tree.id, node) for tree in shipped_library().in_use.values() for node in unseen_before(tree)} & stops
    # Each of these may find a pump that stood still before: `stopped` in clock.js counts from its step on “or more”.
    assert ("blood-in-gas-line", "stop") in unseen and len(unseen) > 20
    assert [place for place in stops if 'data-pump="stops"' not in sections[place]] == []
