"""Questions for learners: written ones as they stand, those of the trees held against the rules by definition."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from alarmtrees.learning.questions import WRONG, Question, questions
from alarmtrees.model import Node, Tree
from alarmtrees.model.quantities import quantities
from alarmtrees.reading.articles import cited
from alarmtrees.reading.open import open_library
from cases.bundle import tree_of, write_library
from defined import DEFINED, Event
from small_library import shipped_library

RULES = """\
look-first:
  {say: The patient first., precedence: {first: patient-check, then: any}, reason: Danger., sources: [common-practice]}
clear-first:
  {say: No blood first., precedence: {first: blood-clear, then: refill}, reason: It tears., sources: [common-practice]}
blood-still:
  {say: "After blood, still.", absence: {of: refill, after: blood-seen}, reason: Gas., sources: [common-practice]}
worse-call:
  {say: Worse means a call., response: {of: patient-worse, by: call}, reason: Help., sources: [common-practice]}
"""

TREE = """
start: look
nodes:
  look:
    ask: How is the patient?
    marks: [patient-check]
    answers:
      - {say: As before, to: blood}
      - {say: Worse, to: call-now, marks: [patient-worse]}
  blood:
    ask: Blood in the line?
    marks: [blood-check]
    answers:
      - {say: None, to: refill, marks: [blood-clear]}
      - {say: Some, to: still, marks: [blood-seen]}
      - {say: Can't tell, to: again}
  refill:
    do:
      - Refill once.
    marks: [refill]
    then: done
  still:
    do:
      - Put the pump on hold.
    why: It may be torn.
    then: call-now
  again: {ask: "With a light: blood?", answers: [{say: None, to: refill, marks: [blood-clear]}, {say: Some, to: still}]}
  done: {end: resolved, say: All is well.}
  call-now: {end: call, call: specialist-on-call, say: Help is needed.}
"""


def asked(root: Path, tree: str, rules: str) -> dict[str, Question]:
    """The questions of one small tree, by their ids."""
    head, _, rest = tree_of("unknown-source/bad/article").partition("start: look\n")
    tail = rest[rest.index("cautions:") :]
    files = {"trees/a.yml": f"{head}{tree.strip()}\n{tail}"}
    library = open_library(write_library(root, {**files, "kb/safety.yml": rules}))
    assert "a" in library.trees, [source.problems for source in library.sources_read]
    return {one.id: one for one in questions(library)}


@pytest.fixture
def made(tmp_path: Path) -> dict[str, Question]:
    return asked(tmp_path, TREE, RULES)


def test_a_branch_becomes_a_question_where_a_wrong_turn_breaks_a_rule(made: dict[str, Question]) -> None:
    # To refill breaks a rule after blood and where one cannot tell; after "None" nothing is broken.
    assert set(made) == {"a/look/2", "a/blood/2", "a/blood/3", "a/again/2"}
    worse = made["a/look/2"]
    assert (worse.about_kind, worse.about) == ("tree", "a")
    assert worse.ask == "Alarm a: you ask “How is the patient?” and see “Worse”. What next?"
    right, *wrong = worse.choices
    assert right.right and right.say.startswith("Call: ") and right.say.endswith("Help is needed.")
    assert right.why == "Worse means a call. Help."
    assert [(one.say, one.why) for one in wrong] == [("Blood in the line?", "Worse means a call. Help.")]
    right, *wrong = made["a/blood/2"].choices
    assert (right.say, right.why) == ("Put the pump on hold.", "It may be torn.")
    assert {one.say: one.why for one in wrong} == {
        "Refill once.": "No blood first. It tears.",
        "With a light: blood?": "That follows where you see “Can't tell”.",
    }


ALLOWED = """
start: look
nodes:
  look:
    ask: Blood in the line?
    marks: [blood-check]
    answers:
      - {say: None, to: still, marks: [blood-clear]}
      - {say: Can't tell, to: refill}
      - {say: Worse, to: call-now, marks: [patient-worse]}
      - {say: No pulse, to: arrest}
  refill:
    do:
      - Refill once.
    marks: [refill]
    then: call-now
  still:
    do:
      - Put the pump on hold.
    then: call-now
  arrest: {end: go, go: b, say: Another page goes on.}
  call-now: {end: call, call: specialist-on-call, say: Help is needed.}
"""


@pytest.mark.parametrize(
    ("rule", "blamed"),
    [
        # From the look at the line till it is seen to be clear: where "None" is seen, a refill is no fault any more.
        ("absence: {of: refill, after: blood-check, until: blood-clear}", {3: ["Refill once."], 4: ["Refill once."]}),
        # After "Worse" a call must follow; whether the other page calls is not known here.
        ("response: {of: patient-worse, by: call}", {3: ["Put the pump on hold.", "Refill once."]}),
    ],
    ids=["lifted by the answer", "paid on another page"],
)
def test_no_answer_is_blamed_with_a_rule_that_it_may_well_keep(
    tmp_path: Path, rule: str, blamed: dict[int, list[str]]
) -> None:
    rules = f"one:\n  {{say: The rule., {rule}, reason: Harm., sources: [common-practice]}}\n"
    found = asked(tmp_path, ALLOWED, rules)
    told = {
        int(name.rpartition("/")[2]): sorted(
            choice.say for choice in one.choices if not choice.right and choice.why.startswith("The rule.")
        )
        for name, one in found.items()
    }
    assert told == blamed


def test_written_questions_stand_as_written_with_the_right_answer_first() -> None:
    library = shipped_library()
    asked = [one for one in questions(library) if one.about_kind == "article"]
    written = [(article.id, raw) for article in library.articles.values() for raw in article.raw.get("questions", ())]
    assert len(asked) == len(written) >= 68
    for one, (article, raw) in zip(asked, written, strict=True):
        assert one.about == article and one.ask == raw["ask"]
        assert one.choices[0] == (raw["right"]["say"], True, raw["right"]["why"])
        assert list(one.choices[1:]) == [(wrong["say"], False, wrong["why"]) for wrong in raw["wrong"]]


def test_every_question_has_one_right_answer_and_no_call_is_ever_wrong() -> None:
    library = shipped_library()
    asked = questions(library)
    assert len({one.id for one in asked}) == len(asked)
    assert all(any(one.about == article for one in asked) for article in library.articles)
    for one in asked:
        assert [choice.right for choice in one.choices] == [True, *[False] * (len(one.choices) - 1)], one.id
        assert 2 <= len(one.choices) <= WRONG + 1
        assert len({choice.say for choice in one.choices}) == len(one.choices), one.id
        assert all(choice.say and choice.why for choice in one.choices)
        if one.about_kind == "tree":
            assert not any("Call: " in choice.say for choice in one.choices[1:]), one.id


@pytest.mark.parametrize("place", range(4))
def test_what_is_called_wrong_by_a_rule_breaks_it_on_every_way(place: int) -> None:
    """The definition of the safety rules judges some ways to each question."""
    library = shipped_library()
    draw = random.Random(place)
    judged = 0
    for tree in list(library.trees.values())[place::4]:
        said = {f"{rule.say} {rule.reason}": rule for rule in library.safety.values()}
        for one in questions(library):
            if one.about != tree.id or one.about_kind != "tree":
                continue
            _, node, number = one.id.split("/")
            for _ in range(5):
                happened = way_to(tree, node, int(number) - 1, draw)
                for choice in one.choices[1:]:
                    if rule := said.get(choice.why.partition(" [@")[0]):
                        wrong = Event(wrong_step(tree, node, choice.say).marks, True)
                        # What is asked for is left waiting: as if it ended there.
                        assert getattr(DEFINED, rule.pattern)(rule, [*happened, wrong], True, False), (
                            one.id,
                            choice.say,
                        )
                        judged += 1
    assert judged > 50


def wrong_step(tree: Tree, asked: str, say: str) -> Node:
    steps = [tree.nodes[one.to] for one in tree.nodes[asked].answers]
    return next(step for step in steps if step.text.replace("\n", " ") in say)


def way_to(tree: Tree, asked: str, answer: int, draw: random.Random) -> list[Event]:
    """What has happened on some way from the start to a question, with its answer given."""
    leads: dict[str, list[tuple[frozenset[str], str]]] = {
        key: [(given.marks, given.to) for given in (tree.answers_at(node) if node.kind == "ask" else ())]
        or [(frozenset(), node.then or "")]
        for key, node in tree.nodes.items()
    }
    reaches = {asked}
    while more := {key for key, ways in leads.items() if any(to in reaches for _, to in ways)} - reaches:
        reaches |= more
    here, happened = tree.start, list[Event]()
    while here != asked:
        marks, to = draw.choice([(marks, to) for marks, to in leads[here] if to in reaches])
        happened += [Event(tree.nodes[here].marks, True), Event(marks, False)]
        here = to
    return [
        *happened,
        Event(tree.nodes[asked].marks, True),
        Event(tree.answers_at(tree.nodes[asked])[answer].marks, False),
    ]


def test_a_number_in_a_question_stands_with_its_source() -> None:
    library = shipped_library()
    for one in questions(library):
        if one.about_kind == "article":
            continue  # `check` holds these: bare-number
        right, *wrong = one.choices
        for texts in ((one.ask, right.say, right.why), *((choice.say, choice.why) for choice in wrong)):
            if any(next(quantities(text), None) for text in texts):
                keys = [key for key, _, _ in cited(texts[-1])]
                assert keys and set(keys) <= set(library.sources), one.id


def test_a_withdrawn_tree_asks_nothing_and_a_broken_one_asks_what_it_can(small_library: Path) -> None:
    path = small_library / "trees" / "line-open.yml"
    text = path.read_text("utf-8")
    path.write_text(text.replace("to: plug}", "to: plog}", 1), "utf-8")
    assert isinstance(questions(open_library(small_library)), list)
    withdrawn = text.replace("status: in-use", "status: withdrawn\nwithdrawn: {on: 2026-10-02, why: Wrong.}")
    path.write_text(withdrawn, "utf-8")
    assert [one for one in questions(open_library(small_library)) if one.about == "line-open"] == []
