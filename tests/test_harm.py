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
from shipped import compared, edited
from small_library import shipped_library

Pairs = tuple[tuple[str, str], ...]

INSIDE = """\
      - Take away what drips; touch the console with dry hands only.
      - Call the specialist, and have the spare console brought.
      - Leave a running pump running; switch nothing off and on.
      - Ask on the phone whether the mains plug is to be pulled.
"""
PLUG = """\
      - Touch neither plug, socket, cable nor the water.
      - Keep everybody off the wet floor.
      - Call the engineer; ask for this socket's power to be cut.
      - Have the specialist called and the spare console brought.
"""

HARMFUL: list[tuple[str, str, str, Pairs]] = [
    # tree, step, kind, what is edited
    ("timing-suspect", "late-emptying", "direction-turned", (("emptying earlier, in", "emptying later, in"),)),
    ("timing-suspect", "early-emptying", "direction-turned", (("emptying later, in", "emptying earlier, in"),)),
    ("timing-suspect", "late-filling", "direction-turned", (("filling earlier, in", "filling later, in"),)),
    ("cardiac-arrest", "fixed-rate", "guard-gone", (("Only on the team leader's order, with no heartbeat: choose", "Choose"),)),  # noqa: E501
    ("pump-idle", "restart", "guard-gone", (("Only if no blood, and still under {resting_warning}: end the hold, once.", "Restart the pump at once."),)),  # noqa: E501
    ("gas-supply-low", "restart", "guard-changed", (("for under {resting_warning}: restart", "for under 30 min: restart"),)),  # noqa: E501
    ("pump-stopped", "restart", "limit-changed", (("start the pump once", "start the pump twice"),)),
    ("smoke-or-fluid", "wet-inside", "exchanged", ((INSIDE, "#\n"), (PLUG, INSIDE), ("#\n", PLUG))),
    ("smoke-or-fluid", "wet-inside", "call", ((INSIDE + "    call: specialist-on-call", INSIDE + "    call: doctor-on-call"),)),  # noqa: E501
    ("smoke-or-fluid", "wet-inside", "negation-turned", (("switch nothing off", "switch it off"),)),
    ("trigger-lost", "pressure-trigger", "direction-turned", (("choose the pressure trigger", "choose the ECG trigger"),)),  # noqa: E501
    ("gas-embolism-suspected", "part-lines", "guard-changed", (("Only with that tap closed, or a clamp on", "Only with that tap open"),)),  # noqa: E501
]  # fmt: skip


@pytest.mark.parametrize("case", HARMFUL, ids=lambda case: f"{case[0]}-{case[1]}-{case[2]}")
def test_an_edit_that_could_do_harm_is_an_error_with_tree_and_step(case: tuple[str, str, str, Pairs]) -> None:
    tree, node, kind, pairs = case
    heads = [change for change in compared(edited(tree, *pairs)).changes if change.follows is None]
    assert [(c.kind, c.tree, c.node, c.weight) for c in heads] == [(kind, tree, node, Weight.ERROR)]


@pytest.mark.parametrize("case", HARMFUL, ids=lambda case: f"{case[0]}-{case[1]}-{case[2]}")
def test_the_second_net_holds_it_where_the_first_is_torn(
    case: tuple[str, str, str, Pairs], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing that compares step by step speaks; what shows on the ways may."""
    tree, node, _, pairs = case
    monkeypatch.setattr("alarmtrees.compare.trees.edits", lambda matching, ways: ())
    told = [c for c in compared(edited(tree, *pairs)).changes if c.kind == "unexplained"]
    assert (tree, node, Weight.ERROR) in [(c.tree, c.node, c.weight) for c in told]


def test_ways_that_changed_with_no_word_said_are_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    """Both nets torn that look at steps: the numbers of ways still speak."""
    monkeypatch.setattr("alarmtrees.compare.trees.edits", lambda matching, ways: ())
    monkeypatch.setattr("alarmtrees.compare.net._differing", lambda matching: ())
    result = compared(edited(*_of(HARMFUL[4])))
    told, counts = result.changes, result.counts
    assert [(c.kind, c.tree, c.node, c.weight) for c in told] == [("unexplained", "pump-idle", None, Weight.ERROR)]
    assert counts is not None and counts.before > counts.same
    gone = f"{counts.before - counts.same} ways are gone and {counts.now - counts.same} are new"
    assert told[0].message == f"{gone}, and nothing above says why; read both versions"


def _of(case: tuple[str, str, str, Pairs]) -> Iterator[str | tuple[str, str]]:
    return iter((case[0], *case[3]))


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


def test_questions_in_another_order_are_one_headline() -> None:
    """Blood before rest, in a tree where both are asked on nearly all ways."""
    new = edited(
        "trigger-lost",
        ('"Pulse felt, as before", to: when-moved', '"Pulse felt, as before", to: blood-look'),
        ("then: when-moved", "then: blood-look"),
        ('"It moves now, but misses beats", to: blood-look', '"It moves now, but misses beats", to: ecg-look'),
        ('"Within {resting_warning}", to: blood-look', '"Within {resting_warning}", to: ecg-look'),
        ('no brown spots", to: ecg-look', 'no brown spots", to: when-moved'),
    )
    result = compared(new)
    assert _headlines(result) == [("question-moved", "when-moved", len(result.changes) - 1)]
    assert len(result.changes) > 15


def test_answers_that_have_changed_places_are_one_headline() -> None:
    new = edited(
        "smoke-or-fluid",
        ('The console, or not sure", to: smell', '#", to: smell'),
        ('Somewhere else", to: else-smells', 'The console, or not sure", to: else-smells'),
        ('"#"', '"Somewhere else"'),
    )
    result = compared(new)
    assert _headlines(result) == [("leads-elsewhere", "where-smell", len(result.changes) - 1)]
    assert "“Somewhere else” and “The console, or not sure” have changed places" in " ".join(
        change.message for change in result.changes
    )
    assert len(result.changes) > 10


def test_a_remedy_under_another_name_is_the_same_where_it_says_much_of_the_same() -> None:
    new = edited("pump-idle", ("  restart:\n", "  go-on:\n"), ("to: restart", "to: go-on"), ("hold, once.", "hold."))
    assert [(c.kind, c.node) for c in compared(new).changes] == [("limit-changed", "go-on")]


def test_another_remedy_under_another_name_is_one_headline() -> None:
    new = edited(
        "pump-idle",
        ("  restart:\n", "  go-on:\n"),
        ("to: restart", "to: go-on"),
        ("Only if no blood, and still under {resting_warning}: end the hold, once.", "Ring for the engineer."),
        ("Say aloud: the pump runs again.", "Wait for an answer."),
    )
    result = compared(new)
    assert _headlines(result) == [("leads-elsewhere", "rest-again", 2)]
    assert result.changes[-1].weight is Weight.ERROR


def test_answers_in_another_order_are_a_note() -> None:
    no_pulse = '  - {say: "No pulse", to: go-arrest, marks: [no-pulse]}\n'
    worse = '  - {say: "Patient worse", to: worse-call, marks: [patient-worse]}\n'
    told = compared(edited("timing-suspect", (no_pulse + worse, worse + no_pulse))).changes
    assert [(c.kind, c.node, c.part, c.weight) for c in told] == [("answers-reordered", None, "anytime", Weight.NOTE)]


def test_two_edits_apart_are_two_headlines() -> None:
    new = edited(
        "trigger-lost",
        ("Electrodes and plugs are the most", "Electrodes are the most"),
        ('"Pulse felt, but worse", to: call-doctor', '"Pulse felt, but worse", to: when-moved'),
    )
    assert {(kind, node) for kind, node, _ in _headlines(compared(new))} == {
        ("leads-elsewhere", "patient-look"),
        ("why-reworded", "wires-look"),
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
