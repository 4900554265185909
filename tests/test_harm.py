"""Edits that could do harm, made to the shipped trees: each is an error that names tree and step, and one headline."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from alarmtrees.compare.change import Change, Comparison, Counts
from alarmtrees.compare.harm import harm
from alarmtrees.compare.kinds import Weight
from alarmtrees.compare.matching import Matching
from alarmtrees.compare.net import unexplained
from alarmtrees.compare.trees import Compared
from alarmtrees.model import Tree
from shipped import compared
from small_library import shipped_library
from tree_edits import GONE, Edit

HARMFUL = [
    # tree, step, kind, the key that is edited, what is replaced there, by what
    ("timing-suspect", "late-emptying", "direction-turned", "do", "earlier, in", "later, in"),
    ("timing-suspect", "early-emptying", "direction-turned", "do", "later, in", "earlier, in"),
    ("timing-suspect", "late-filling", "direction-turned", "do", "earlier, in", "later, in"),
    ("cardiac-arrest", "fixed-rate", "guard-gone", "do", "Only [^:]*: choose", "Choose"),
    ("pump-idle", "restart", "guard-gone", "do", "Only if [^:]*: .*", "Restart the pump at once."),
    ("gas-supply-low", "restart", "guard-changed", "do", r"under \{resting_warning\}", "under 30 min"),
    ("pump-stopped", "restart", "limit-changed", "do", " once", " twice"),
    ("smoke-or-fluid", "wet-inside", "call", "call", ".+", "doctor-on-call"),
    ("smoke-or-fluid", "wet-inside", "negation-turned", "do", "switch nothing", "switch it"),
    ("trigger-lost", "pressure-trigger", "direction-turned", "do", "the pressure trigger", "the ECG trigger"),
    ("gas-embolism-suspected", "part-lines", "guard-changed", "do", "Only with [^:]*", "Only with that tap open"),
]
"""By the names of steps and a few of their words, so that authors may reword the rest."""

Harmful = tuple[str, str, str, str, str, str]


def _harmed(case: Harmful) -> Tree:
    """The shipped tree with one edit of one step."""
    name, node, _, key, pattern, instead = case
    tree = shipped_library().trees[name]
    value = tree.raw["nodes"][node][key]
    lines = value if key == "do" else [value]
    made = [re.sub(pattern, instead, line) for line in lines]
    assert made != list(lines), f"{name}/{node} has other words now: choose another edit of this sort"
    for i, line in enumerate(made):
        path = ("nodes", node, key, i) if key == "do" else ("nodes", node, key)
        tree = Edit(key, node, path, line).made(tree)
    return tree


def _swapped() -> Tree:
    """Fluid in the console, and at the plug: what is to be done there has changed places."""
    tree = shipped_library().trees["smoke-or-fluid"]
    inside, plug = (tree.raw["nodes"][name]["do"] for name in ("wet-inside", "wet-plug"))
    tree = Edit("do", "wet-inside", ("nodes", "wet-inside", "do"), plug).made(tree)
    return Edit("do", "wet-plug", ("nodes", "wet-plug", "do"), inside).made(tree)


@pytest.mark.parametrize("case", HARMFUL, ids=lambda case: f"{case[0]}-{case[1]}-{case[2]}")
def test_an_edit_that_could_do_harm_is_an_error_with_tree_and_step(case: Harmful) -> None:
    tree, node, kind = case[:3]
    heads = [change for change in compared(_harmed(case)).changes if change.follows is None]
    assert [(c.kind, c.tree, c.node, c.weight) for c in heads] == [(kind, tree, node, Weight.ERROR)]


def test_two_remedies_that_have_changed_places_are_one_error() -> None:
    changes = compared(_swapped()).changes
    assert {(c.kind, c.node, c.weight) for c in changes if c.part == "do"} == {
        ("exchanged", "wet-inside", Weight.ERROR),
        ("exchanged", "wet-plug", Weight.ERROR),
    }
    assert len([change for change in changes if change.follows is None]) == 1


@pytest.mark.parametrize("case", HARMFUL, ids=lambda case: f"{case[0]}-{case[1]}-{case[2]}")
def test_the_second_net_holds_it_where_the_first_is_torn(case: Harmful, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing that compares step by step speaks; what shows on the ways may."""
    monkeypatch.setattr("alarmtrees.compare.trees.edits", lambda matching, ways: ())
    told = [c for c in compared(_harmed(case)).changes if c.kind == "unexplained"]
    assert (case[0], case[1], Weight.ERROR) in [(c.tree, c.node, c.weight) for c in told]


def test_ways_that_changed_with_no_word_said_are_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    """Both nets torn that look at steps: the numbers of ways still speak."""
    monkeypatch.setattr("alarmtrees.compare.trees.edits", lambda matching, ways: ())
    monkeypatch.setattr("alarmtrees.compare.net._differing", lambda matching: ())
    result = compared(_harmed(next(case for case in HARMFUL if case[0] == "pump-idle")))
    told, counts = result.changes, result.counts
    assert [(c.kind, c.tree, c.node, c.weight) for c in told] == [("unexplained", "pump-idle", None, Weight.ERROR)]
    assert counts is not None and counts.before > counts.same
    gone = f"{counts.before - counts.same} ways are gone and {counts.now - counts.same} are new"
    assert told[0].message == f"{gone}, and nothing above says why; read both versions"


def test_a_note_explains_no_changed_way() -> None:
    tree = shipped_library().trees["pump-idle"]
    matching = Matching(tree, tree, None, {})  # type: ignore[arg-type]
    note = Change("why-reworded", tree.id, "words", tree.at("nodes"))
    assert [c.kind for c in unexplained(matching, [note], Counts(tree.id, 9, 9, 8))] == ["unexplained"]
    assert not list(unexplained(matching, [note], Counts(tree.id, 9, 9, 9)))
    elsewhere = Change("title-changed", tree.id, "words", tree.at("title"), part="title")
    assert [c.kind for c in unexplained(matching, [elsewhere], Counts(tree.id, 9, 9, 8))] == ["unexplained"]
    heavy = Change("step-reworded", tree.id, "words", tree.at("nodes"), node="restart", part="do")
    assert not list(unexplained(matching, [heavy], Counts(tree.id, 9, 9, 8)))


# ---------------------------------------------------------------------- one slip, one headline


def _headlines(result: Compared) -> list[tuple[str, str | None, int]]:
    comparison = Comparison("a", "b", result.changes, ())
    return [(head.change.kind, head.change.node, len(head.followed_by)) for head in comparison.headlines]


def _led(tree: Tree, node: str, before: str, now: str) -> Tree:
    """A tree in which a step leads elsewhere, by all answers that led to one step."""
    raw = tree.raw["nodes"][node]
    if raw.get("then") == before:
        return Edit("then", node, ("nodes", node, "then"), now).made(tree)
    leading = [i for i, answer in enumerate(raw["answers"]) if answer["to"] == before]
    assert leading, f"{tree.id}/{node} no longer leads to {before}: choose another edit of this sort"
    for i in leading:
        tree = Edit("to", node, ("nodes", node, "answers", i, "to"), now).made(tree)
    return tree


def test_questions_in_another_order_are_one_headline() -> None:
    """Blood before rest, in a tree where both are asked on nearly all ways."""
    tree = shipped_library().trees["trigger-lost"]
    for node, before, now in (
        ("patient-look", "when-moved", "blood-look"),
        ("call-doctor", "when-moved", "blood-look"),
        ("when-moved", "blood-look", "ecg-look"),
        ("blood-look", "ecg-look", "when-moved"),
    ):
        tree = _led(tree, node, before, now)
    result = compared(tree)
    heads = [change for change in result.changes if change.follows is None]
    assert [change.kind for change in heads] == ["question-moved"] and heads[0].node in ("when-moved", "blood-look")
    assert len(result.changes) > 15


def test_answers_that_have_changed_places_are_one_headline() -> None:
    tree = shipped_library().trees["smoke-or-fluid"]
    one, other = (answer["say"] for answer in tree.raw["nodes"]["where-smell"]["answers"][:2])
    for i, say in ((0, other), (1, one)):
        tree = Edit("answer", "where-smell", ("nodes", "where-smell", "answers", i, "say"), say).made(tree)
    result = compared(tree)
    assert _headlines(result) == [("leads-elsewhere", "where-smell", len(result.changes) - 1)]
    told = " ".join(change.message for change in result.changes)
    assert f"“{other}” and “{one}” have changed places" in told
    assert len(result.changes) > 10


def _renamed(tree: Tree, old: str, new: str) -> Tree:
    """A tree in which a step has another name."""
    raw = tree.raw["nodes"]
    leading = [name for name, node in tree.nodes.items() if old in (node.then, *(a.to for a in node.answers))]
    tree = Edit("nodes", new, ("nodes", new), raw[old]).made(tree)
    for name in leading:
        tree = _led(tree, name, old, new)
    return Edit("nodes", old, ("nodes", old), GONE).made(tree)


def test_a_remedy_under_another_name_is_the_same_where_it_says_much_of_the_same() -> None:
    harmed = _harmed(next(case for case in HARMFUL if case[:2] == ("pump-stopped", "restart")))
    assert [(c.kind, c.node) for c in compared(_renamed(harmed, "restart", "go-on")).changes] == [
        ("limit-changed", "go-on")
    ]


def test_another_remedy_under_another_name_is_one_headline() -> None:
    tree = _renamed(shipped_library().trees["pump-idle"], "restart", "go-on")
    words = ["Ring for the engineer."] * len(tree.nodes["go-on"].lines)
    for i, line in enumerate(words):
        tree = Edit("do", "go-on", ("nodes", "go-on", "do", i), line).made(tree)
    heads = [change for change in compared(tree).changes if change.follows is None]
    assert [(c.kind, c.weight) for c in heads] == [("leads-elsewhere", Weight.ERROR)]


def test_answers_in_another_order_are_a_note() -> None:
    tree = shipped_library().trees["timing-suspect"]
    one, other = tree.raw["anytime"][:2]
    new = Edit("anytime", None, ("anytime", 0), other).made(Edit("anytime", None, ("anytime", 1), one).made(tree))
    told = compared(new).changes
    assert [(c.kind, c.node, c.part, c.weight) for c in told] == [("answers-reordered", None, "anytime", Weight.NOTE)]


def test_two_edits_apart_are_two_headlines() -> None:
    tree = _led(shipped_library().trees["trigger-lost"], "patient-look", "call-doctor", "when-moved")
    new = Edit("why", "wires-look", ("nodes", "wires-look", "why"), "So it is.").made(tree)
    assert {("leads-elsewhere", "patient-look"), ("why-reworded", "wires-look")} == {
        (kind, node) for kind, node, _ in _headlines(compared(new))
    }


# ---------------------------------------------------------------------- words


@pytest.mark.parametrize(
    ("before", "after", "kind"),
    [
        ("Only if dry: restart.", "Restart.", "guard-gone"),
        ("Restart, unless it is wet.", "Restart.", "guard-gone"),
        ("Restart.\nOnly if dry: go on.", "Restart.\nGo on.", "guard-gone"),
        ("Only if dry: restart.", "Only if wet: restart.", "guard-changed"),
        ("Restart only as ordered.", "Restart only if dry.", "guard-changed"),
        ("Restart.", "Only if dry: restart.", None),
        ("Do not touch it.", "Touch it.", "negation-turned"),
        ("Touch it.", "Don't touch it.", "negation-turned"),
        ("Touch no plug.", "Touch the plug.", "negation-turned"),
        ("Do not touch it, wipe it.", "Touch it, do not wipe it.", "negation-turned"),
        ("Leave it.", "Leave it. Do not touch it.", None),
        ("Move it earlier.", "Move it later.", "direction-turned"),
        ("Open the tap.", "Close the tap.", "direction-turned"),
        ("Switch it on.", "Switch it off.", "direction-turned"),
        ("Give more.", "Give less.", "direction-turned"),
        ("Raise the limit.", "Lower the limit.", "direction-turned"),
        ("Push it in.", "Pull it out.", "direction-turned"),
        ("Clamp the line.", "Unclamp the line.", "direction-turned"),
        ("Look before the shock.", "Look after the shock.", "direction-turned"),
        ("Start the pump.", "Stop the pump.", "direction-turned"),
        ("Turn one on and the other off.", "Turn one off and the other on.", "direction-turned"),
        ("Blood or brown spots.", "Blood and brown spots.", "direction-turned"),
        ("Close it towards the patient.", "Close it towards the console.", "direction-turned"),
        ("For 15 min.", "For 20 min.", "limit-changed"),
        ("Within {a}.", "Within {b}.", "limit-changed"),
        ("Renew the gas once.", "Renew the gas.", "limit-changed"),
        ("At < five.", "At > five.", "limit-changed"),
        ("Wipe the floor dry.", "Ring for the engineer.", "exchanged"),
        ("Push the plug home.", "Press the plug home.", None),
        ("Look at the line.", "Look along the line.", None),
    ],
)
def test_what_may_do_harm_is_told_from_other_words(before: str, after: str, kind: str | None) -> None:
    found = harm(before, after, is_act=True)
    assert (found and found[0]) == kind


# ---------------------------------------------------------------------- all texts of the library


def _told_to_readers() -> Iterator[tuple[str, bool]]:
    """What steps and ends tell a reader, and whether it is something to do."""
    for tree in shipped_library().trees.values():
        for node in tree.nodes.values():
            yield node.text, node.kind == "do"
            yield from [(node.meanwhile, False)] if node.meanwhile else []


def _without_each(pattern: str, instead: str = "") -> Iterator[tuple[str, str, bool]]:
    for text, is_act in _told_to_readers():
        for found in re.finditer(pattern, text, re.IGNORECASE):
            yield text, text[: found.start()] + instead + text[found.end() :], is_act


@pytest.mark.parametrize(
    ("pattern", "instead", "least"),
    [
        (r"\bonly [^:\n]*: ?", "", 100),
        (r"\b(?:not|no|never|nothing|nobody|without|neither|nor|cannot|none)\b ?", "", 500),
        (r"\{\w+\}|\d+", "77", 90),
        (r"\bonce\b", "", 90),
        (r"\blater\b", "earlier", 5),
        (r"\bopen\b", "close", 20),
        (r"\bon\b", "off", 200),
        (r"\bbefore\b", "after", 50),
    ],
)
def test_each_turn_of_each_shipped_text_may_do_harm(pattern: str, instead: str, least: int) -> None:
    turned = list(_without_each(pattern, instead))
    assert len(turned) >= least
    assert not [(before, after) for before, after, is_act in turned if harm(before, after, is_act) is None]
