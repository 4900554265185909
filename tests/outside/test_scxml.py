"""The SCXML exports run by an interpreter that is not ours.

Interpreter: python-statemachine (MIT), its reader and engine of W3C SCXML. Standard: State Chart XML (SCXML): State
Machine Notation for Control Abstraction, W3C Recommendation, 1 September 2015; section numbers are those of it.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from contextlib import redirect_stdout
from io import StringIO
from typing import Any

import pytest
from exported import SHARE, TREES, Told, Way, exported, told
from statemachine.io.scxml.processor import SCXMLProcessor

NAMESPACE = "{http://www.w3.org/2005/07/scxml}"


class Machine:
    """One run of a document, and what its interpreter logged."""

    def __init__(self, processor: SCXMLProcessor) -> None:
        self.log = StringIO()
        with redirect_stdout(self.log):
            self.machine: Any = processor.start()

    def send(self, event: str) -> None:
        with redirect_stdout(self.log):
            self.machine.send(event)

    @property
    def at(self) -> str:
        (state,) = self.machine.configuration
        return str(state.id).removeprefix("step-")

    @property
    def has_ended(self) -> bool:
        return bool(self.machine.is_terminated)

    def told(self) -> list[str]:
        """What was logged since the last time."""
        lines = self.log.getvalue().splitlines()
        self.log.seek(0)
        self.log.truncate()
        return lines


def read(text: str) -> SCXMLProcessor:
    """A document as its interpreter reads it."""
    processor = SCXMLProcessor()
    processor.parse_scxml("exported", text)
    return processor


def events(text: str) -> dict[str, list[str]]:
    """For each state the events of its transitions, in the order of the document."""
    root = ET.fromstring(text)
    return {
        state.attrib["id"].removeprefix("step-"): [
            move.attrib["event"] for move in state.findall(f"{NAMESPACE}transition")
        ]
        for state in root
    }


def run(processor: SCXMLProcessor, tree: Told, way: Way, offered: dict[str, list[str]]) -> None:
    """One way: at each step the interpreter stands where the tree does and says the same."""
    machine = Machine(processor)
    step, lines = tree.start, machine.told()
    for number in way:
        assert (machine.at, machine.has_ended) == (step, False)
        assert [line.partition(": ")[2] for line in lines if line.startswith(("Ask: ", "Do: "))] == tree.texts[step]
        say, step = tree.moves[step][number]
        machine.send(offered[machine.at][number])
        answer, *lines = machine.told()
        assert answer == say
    assert (machine.at, machine.has_ended) == (step, True)
    assert lines[0] == f"End ({tree.ends[step]}): {tree.texts[step][0]}"


@pytest.mark.parametrize("stem", SHARE)
def test_an_interpreter_ends_where_the_tree_ends(stem: str) -> None:
    """Ways that together give every answer at every step, and 5 more at random."""
    text, tree = exported(stem, "scxml"), told(stem)
    offered = events(text)
    assert {step: len(moves) for step, moves in tree.moves.items()} == {s: len(e) for s, e in offered.items()}
    processor = read(text)
    for way in tree.covering(seed=11, more=5):
        run(processor, tree, way, offered)


@pytest.mark.parametrize("stem", SHARE)
def test_the_document(stem: str) -> None:
    """What the standard asks of a document; with it every way is decided by the single moves, which are all run."""
    root = ET.fromstring(exported(stem, "scxml"))
    states = {state.attrib["id"]: state for state in root}
    allowed = {"state", "final", "onentry", "log", "transition", "scxml"}
    assert {element.tag for element in root.iter()} <= {NAMESPACE + name for name in allowed}
    assert root.attrib["version"] == "1.0" and root.attrib["initial"] in states  # 3.2.1
    assert len(states) == len(list(root))  # 3.14: ids are unique
    for state in root:
        moves = state.findall(f"{NAMESPACE}transition")
        names = [move.attrib["event"] for move in moves]
        assert {move.attrib["target"] for move in moves} <= set(states)  # 3.5.1
        assert len(set(names)) == len(names)
        assert not any(a != b and b.startswith(f"{a}.") for a in names for b in names)  # 3.12.1: begins another
        assert (state.tag == f"{NAMESPACE}final") == (not moves)  # 3.7.1


def test_a_wrong_turn_is_found() -> None:
    """One transition bent to another state is seen."""
    text, tree = exported(TREES[0], "scxml"), told(TREES[0])
    ends = list(tree.ends)
    to = next(to for _, to in tree.moves[tree.start] if to in ends)
    bent = text.replace(f'target="step-{to}"', f'target="step-{next(e for e in ends if e != to)}"', 1)
    with pytest.raises(AssertionError):
        for way in tree.covering(seed=11, more=0):
            run(read(bent), tree, way, events(bent))


def test_an_event_that_is_not_offered_changes_nothing() -> None:
    text, tree = exported(TREES[0], "scxml"), told(TREES[0])
    machine = Machine(read(text))
    machine.send("answer.never-offered")
    assert (machine.at, machine.has_ended) == (tree.start, False)
