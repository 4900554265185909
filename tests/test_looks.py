"""The first looks of a page, and answers that hold: each an answer that its tree has, and a safe one."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace

import pytest

from alarmtrees.model import Answer, Node, Tree
from alarmtrees.proof.looks import first_looks, holds, told_by_clock
from small_library import shipped_library

DANGER = {"patient-worse", "no-pulse", "blood-seen", "blood-unsure", "flow-carried", "rested-too-long", "rest-unknown"}


def answers() -> Iterator[tuple[Tree, Node, Answer]]:
    for tree in shipped_library().trees.values():
        for node in tree.nodes.values():
            for answer in node.answers:
                yield tree, node, answer


def test_first_looks_are_questions_in_a_row_from_the_start_of_a_page() -> None:
    library = shipped_library()
    rows = {tree.id: first_looks(tree, library.marks) for tree in library.trees.values()}
    assert rows["gas-line-disconnected"] == ("look-at-patient", "look-for-blood", "last-moved")
    assert rows["trigger-lost"] == ("patient-look", "when-moved", "blood-look")
    assert rows["cardiac-arrest"] == rows["smoke-or-fluid"] == ()  # what follows the patient there is no look
    for name, row in rows.items():
        nodes = library.trees[name].nodes
        assert not row or row[0] == library.trees[name].start
        for here, to in itertools.pairwise(row):
            assert to in {answer.to for answer in nodes[here].answers}


def test_only_safe_answers_hold_and_only_where_the_same_is_asked_in_the_same_words() -> None:
    marks = shipped_library().marks
    held: dict[tuple[str, str], set[frozenset[str]]] = {}
    for tree, node, answer in answers():
        if holds(node, answer, marks) is None:
            continue
        where = (tree.id, node.id, answer.say)
        assert not answer.marks & DANGER and not answer.pump and not answer.anytime, where
        assert node.marks <= {"patient-check", "blood-check"} and answer.to in tree.nodes, where
        assert [other.say for other in node.answers].count(answer.say) == 1, where
        held.setdefault((node.text, answer.say), set()).add(answer.marks)
    assert len(held) > 10 and all(len(kinds) == 1 for kinds in held.values())  # the same words mean the same


@pytest.mark.parametrize(("mark", "look"), [("blood-clear", "blood-check"), ("patient-check", "patient-check")])
def test_without_keeps_nothing_holds(mark: str, look: str) -> None:
    marks = dict(shipped_library().marks)
    marks[mark] = replace(marks[mark], keeps=None)
    assert all(holds(node, answer, marks) is None for _, node, answer in answers() if look in node.marks)


def test_clock_answers_only_that_the_rest_is_short() -> None:
    marks = shipped_library().marks
    told = [(tree, node, answer) for tree, node, answer in answers() if answer is told_by_clock(node, marks)]
    assert len(told) > 5
    for tree, node, answer in told:
        assert answer.marks <= {"rested-short", "stands-still"} and answer.say == "Less than {resting_warning} ago"
        assert not any("may-be-filled" in other.marks for other in node.answers), tree.id
