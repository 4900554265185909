"""The shipped trees: nothing wrong by `check`, and what the project asks of each beyond it.

Apart from the first test the trees are read with PyYAML alone and walked with a few lines written here, so that a
fault of the package cannot hide one of the trees.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import yaml

from alarmtrees.check.run import check_library
from cases.bundle import REPO, rendered

Data = dict[str, Any]

TREES: dict[str, Data] = {
    path.stem: yaml.load(path.read_text("utf-8"), yaml.CBaseLoader) for path in sorted((REPO / "trees").glob("*.yml"))
}
SETTINGS: Data = yaml.load((REPO / "kb" / "settings.yml").read_text("utf-8"), yaml.CBaseLoader)

# Never to be missing: five alarms, and the two that they hand over to.
NAMED = [
    "gas-line-kinked",
    "gas-line-disconnected",
    "gas-supply-low",
    "trigger-lost",
    "augmented-peak-low",
    "blood-in-gas-line",
    "cardiac-arrest",
]
ALWAYS = ["patient-first", "trained-staff-only", "policy-first", "clinician-decides"]
each = pytest.mark.parametrize("name", TREES)


def test_check_finds_nothing_wrong() -> None:
    result = check_library(Path(REPO), date(2026, 11, 25))
    assert rendered(result.findings) == ""


def test_the_trees_that_were_asked_for_are_there() -> None:
    assert set(NAMED) <= set(TREES)


def nodes(name: str) -> Iterator[tuple[str, Data]]:
    yield from TREES[name]["nodes"].items()


def next_steps(tree: Data, node: Data) -> list[str]:
    """Where a step can lead within its tree; what is offered at any time is offered on all but ends."""
    offered = [*node.get("answers", ()), *(tree.get("anytime", ()) if "end" not in node else ())]
    return [*([node["then"]] if "then" in node else ()), *(answer["to"] for answer in offered)]


def reached(tree: Data, start: str, without: frozenset[str] = frozenset()) -> set[str]:
    """The steps that can be reached from one, past those left out."""
    found: set[str] = set()
    ahead = [start]
    while ahead:
        step = ahead.pop()
        if step not in found and step not in without:
            found.add(step)
            ahead += next_steps(tree, tree["nodes"][step])
    return found


def marked(tree: Data, mark: str) -> frozenset[str]:
    return frozenset(key for key, node in tree["nodes"].items() if mark in node.get("marks", ()))


def texts(value: Any, key: str = "") -> Iterator[tuple[str, str]]:
    """Every text for readers with the key that holds it."""
    if isinstance(value, dict):
        for name, item in value.items():
            yield from texts(item, name)
    elif isinstance(value, list):
        for item in value:
            yield from texts(item, key)
    elif key in ("title", "summary", "say", "ask", "why", "meanwhile", "do", "aliases"):
        yield key, value


@each
def test_ten_to_forty_steps(name: str) -> None:
    assert 10 <= len(TREES[name]["nodes"]) <= 40


@each
def test_at_least_eight_other_names(name: str) -> None:
    names = {" ".join(alias.casefold().split()) for alias in TREES[name]["aliases"]}
    assert len(names) >= 8
    assert TREES[name]["title"].casefold() not in names


def test_every_other_name_leads_to_one_tree() -> None:
    taken: dict[str, str] = {}
    for name, tree in TREES.items():
        for alias in [*tree["aliases"], tree["title"]]:
            assert taken.setdefault(" ".join(alias.casefold().split()), name) == name


@each
def test_every_step_says_why(name: str) -> None:
    for key, node in nodes(name):
        sentences = re.split(r"(?<=[.!?])\s+", node.get("why", "").strip())
        assert 1 <= len(sentences) <= 2 and sentences[0], key


@each
def test_every_question_and_step_has_a_time(name: str) -> None:
    defaults = {kind: SETTINGS["values"].get(f"{kind}_takes", {}).get("value") for kind in ("ask", "do")}
    for key, node in nodes(name):
        for kind in ("ask", "do"):
            if kind in node:
                assert re.fullmatch(r"\d+(\.\d+)? (s|min|h)", node.get("takes", "")) or defaults[kind], key


@each
def test_every_step_that_can_be_acted_on_names_a_source(name: str) -> None:
    """the house style: "Every number and rule that a reader could act on carries a source key"."""
    acting = [key for key, node in nodes(name) if node.get("end") not in ("go", "resolved")]
    assert [key for key in acting if "sources" not in TREES[name]["nodes"][key]] == []


@each
def test_every_step_with_a_number_names_a_source(name: str) -> None:
    for key, node in nodes(name):
        words = " ".join(text for _, text in texts(node))
        if re.search(r"\d|\{[a-z_]+\}", words):
            assert node.get("sources"), key


@each
def test_two_to_five_answers(name: str) -> None:
    assert [key for key, node in nodes(name) if "ask" in node and not 2 <= len(node["answers"]) <= 5] == []


@each
def test_the_patient_comes_first_and_can_be_without_a_pulse(name: str) -> None:
    tree = TREES[name]
    start = tree["nodes"][tree["start"]]
    assert "patient-check" in start["marks"] and "ask" in start
    shown = {mark for answer in start["answers"] for mark in answer.get("marks", ())}
    assert {"patient-worse", "no-pulse"} <= shown


@each
def test_at_any_time_the_patient_may_be_worse_or_blood_be_seen(name: str) -> None:
    tree = TREES[name]
    offered = {mark: answer for answer in tree["anytime"] for mark in answer.get("marks", ())}
    worse = tree["nodes"][offered["patient-worse"]["to"]]
    if "go" in worse:
        entered, _, step = worse["go"].partition("/")
        worse = TREES[entered]["nodes"][step or TREES[entered]["start"]]
    assert "call" in worse, "the first thing behind it is a call"
    if name != "blood-in-gas-line":
        ends = [tree["nodes"][key] for key in reached(tree, offered["blood-seen"]["to"]) if "end" in tree["nodes"][key]]
        assert ends and all(end["end"] != "resolved" for end in ends)
        if name != "cardiac-arrest":  # there the compressions go on, and the pump is stopped in that tree itself
            assert any(end.get("go", "").startswith("blood-in-gas-line") for end in ends)
    assert "no-pulse" in offered, "a pulse can be lost at any time"


@each
def test_no_answer_says_what_is_offered_at_any_time(name: str) -> None:
    always = {answer["say"].casefold() for answer in TREES[name]["anytime"]}
    own = [answer["say"].casefold() for _, node in nodes(name) for answer in node.get("answers", ())]
    assert always.isdisjoint(own)


@each
def test_every_resolved_sits_behind_a_second_look_at_the_patient(name: str) -> None:
    """Leave those questions out: then no end `resolved` can be reached."""
    tree = TREES[name]
    looks = marked(tree, "patient-again")
    assert all("ask" in tree["nodes"][key] for key in looks)
    past = reached(tree, tree["start"], looks)
    assert [key for key in past if tree["nodes"][key].get("end") == "resolved"] == []


@each
def test_every_step_is_reached_and_no_reader_goes_in_a_circle(name: str) -> None:
    """Steps that only another tree enters are reached by its `go`."""
    tree = TREES[name]
    entered = {
        go.partition("/")[2]
        for other in TREES.values()
        for node in other["nodes"].values()
        if (go := node.get("go", "")).partition("/")[0] == name and "/" in go
    }
    found = set().union(*(reached(tree, start) for start in {tree["start"], *entered}))
    assert found == set(tree["nodes"])
    for key, node in nodes(name):
        assert all(key not in reached(tree, step) for step in next_steps(tree, node) if step != key), key


@each
def test_whoever_waits_for_help_is_told_what_to_do_meanwhile(name: str) -> None:
    assert [key for key, node in nodes(name) if node.get("end") == "call" and not node.get("meanwhile")] == []


@each
def test_the_cautions_of_every_page_stand_on_it(name: str) -> None:
    assert TREES[name]["cautions"][: len(ALWAYS)] == ALWAYS


@each
def test_shares_of_causes_are_percent(name: str) -> None:
    assert sum(float(cause["share"]) for cause in TREES[name]["causes"].values()) == pytest.approx(100)
    assert len(TREES[name]["causes"]) >= 2


# the house style: "Every guard stands inside the step it guards: a reader may land on any step by link or paper."
GUARDED = {
    "refill": "no blood",
    "reconnect": "no blood",
    "hand-move": "no blood",
    "drain": "no blood",
    "open-line": "clamp",
    "cylinder-closed": "spare",
    "fixed-rate": "no heartbeat",
    "limit-lowered": "no worse",
}


@each
def test_a_dangerous_step_holds_its_own_guard(name: str) -> None:
    for key, node in nodes(name):
        guards = [line.casefold() for line in node.get("do", ()) if line.startswith("Only ")]
        for mark in node.get("marks", ()) if "do" in node else ():
            if mark in GUARDED:
                assert any(GUARDED[mark] in line for line in guards), (key, mark)
        if node.get("pump") == "starts":
            assert any("no blood" in line for line in guards), key
            assert any("{resting_warning}" in line for line in guards), key


@each
def test_steps_are_said_plainly(name: str) -> None:
    """the house style: no "should", no "please", no "ensure"; a question ends as one, a line to do with a full stop."""
    for key, text in texts(TREES[name]):
        assert not re.search(r"\b(should|please|ensure|kindly|simply)\b", text, re.IGNORECASE), text
        assert "  " not in text and text == text.strip()
        if key == "ask":
            assert text.endswith(("?", ".")) and "?" in text, text
        if key in ("do", "why", "summary", "meanwhile"):
            assert text.endswith((".", "?")), text
        if key in ("do", "ask"):
            assert len(text.split()) <= 14, text


@each
def test_the_review_is_by_a_role_and_holds_a_year(name: str) -> None:
    review = TREES[name]["review"]
    on, due = date.fromisoformat(review["on"]), date.fromisoformat(review["next"])
    assert 0 < (due - on).days <= 366
    assert re.fullmatch(r"[0-9a-f]{64}", review["content"]), "not signed: run `alarmtrees sign`"


def test_an_answered_end_sends_back_who_came_from_another_page() -> None:
    """The trouble of the page before may still be there; `resolved` here speaks of this page's alone."""
    entered = {
        node["go"].partition("/")[::2]
        for name, tree in TREES.items()
        for node in tree["nodes"].values()
        if "go" in node and node["go"].partition("/")[0] != name
    }
    for name, tree in TREES.items():
        starts = {step or tree["start"] for target, step in entered if target == name}
        for key in set().union(*(reached(tree, start) for start in starts)):
            node = tree["nodes"][key]
            if node.get("end") == "resolved":
                assert "If another page led you here, go back to it" in node["meanwhile"], f"{name}/{key}"
