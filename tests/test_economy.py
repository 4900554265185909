"""Times to the remedy, and advice on the order of questions, on trees small enough to be worked out by hand."""

from __future__ import annotations

import json
from itertools import permutations
from pathlib import Path

import pytest

from alarmtrees.model import Library
from alarmtrees.proof.economy import Adviser, mean, reorder, shares_of
from alarmtrees.proof.economy.rows import looks_of, remedies_of, reordered, rows_of
from alarmtrees.proof.graph import Graph
from alarmtrees.reading.open import open_library
from alarmtrees.terminal.advice import advise, as_json, as_text
from alarmtrees.terminal.cli import main
from cases.bundle import write_library
from small_library import shipped_library

HEAD = """\
id: {id}
title: Alarm {id}
summary: It sounds.
status: in-use
about: gas
aliases: [{id}1, {id}2, {id}3, {id}4, {id}5, {id}6, {id}7, {id}8]
condition: technical
harm: {{severity: minor, onset: delayed}}
pump: running
"""
FOOT = """\
cautions: [patient-first]
sources: [common-practice]
review: {by: lead, on: 2026-09-14, next: 2027-09-14, content: signed}
"""

# Three looks in a row, the cheap and likely one last. Worked out by hand: a 10+5, b 10+20+5, c 10+20+2+5 seconds,
# and 10+20+2+15 for what is left.
ROW = """\
causes:
  a: {say: Cause a, share: 10}
  b: {say: Cause b, share: 20}
  c: {say: Cause c, share: 60}
  d: {say: Cause d, share: 5}
  e: {say: Cause e, share: 5}
start: look
nodes:
  look:
    ask: How is the patient?
    marks: [patient-check]
    takes: 0 s
    answers:
      - {say: Well, to: look-a}
      - {say: Not well, to: call-now}
  look-a:
    ask: Is it a?
    takes: 10 s
    answers:
      - {say: It is a, to: mend-a, when: [a]}
      - {say: It is not a, to: look-b, when: [b, c, d, e]}
  mend-a:
    do:
      - Mend a.
    takes: 5 s
    fixes: [a]
    then: held
  look-b:
    ask: Is it b?
    takes: 20 s
    answers:
      - {say: It is b, to: mend-b, when: [b]}
      - {say: It is not b, to: look-c, when: [c, d, e]}
  mend-b:
    do:
      - Mend b.
    takes: 5 s
    fixes: [b]
    marks: [careful]
    then: held
  look-c:
    ask: Is it c?
    takes: 2 s
    marks: [checked]
    answers:
      - {say: It is c, to: mend-c, when: [c]}
      - {say: It is not c, to: look-last, when: [d, e]}
  mend-c:
    do:
      - Mend c.
    takes: 5 s
    fixes: [c]
    then: held
  look-last:
    ask: Is it d or e?
    takes: 15 s
    answers:
      - {say: It is d, to: call-now, when: [d]}
      - {say: It is e, to: call-e, when: [e]}
  held:
    ask: Did it hold?
    takes: 4 s
    answers:
      - {say: It did, to: done, when: fixed}
      - {say: It did not, to: call-now}
  done: {end: resolved, say: All is well.}
  call-now: {end: call, call: specialist-on-call, say: Help is needed., fixes: [d]}
  call-e: {end: call, call: specialist-on-call, say: Help is needed for e., fixes: [e]}
"""
MARKS = """\
patient-check: {say: The patient is looked at.}
checked: {say: It was checked.}
careful: {say: It needs care.}
"""
RULE = """\
{id}:
  say: The rule {id} holds.
  {pattern}
  reason: It must.
  sources: [common-practice]
"""


def library(root: Path, row: str = ROW, rule: str = "", more: dict[str, str] | None = None) -> Library:
    files = {"trees/t.yml": HEAD.format(id="t") + row + FOOT, "kb/marks.yml": MARKS, **(more or {})}
    if rule:
        files["kb/safety.yml"] = RULE.format(id="some-rule", pattern=rule)
    found = open_library(write_library(root, files))
    assert not [problem for source in found.sources_read for problem in source.problems]
    return found


def adviser(found: Library) -> Adviser:
    return Adviser(found, Graph(found.trees))


def test_times_are_those_worked_out_by_hand(tmp_path: Path) -> None:
    found = library(tmp_path)
    remedies = adviser(found).remedies(found.trees["t"])
    assert remedies.usual_times() == {"a": 15, "b": 35, "c": 37, "d": 47, "e": 47}
    assert mean(remedies.usual_times(), shares_of(found.trees["t"])) == pytest.approx(1.5 + 7 + 22.2 + 2.35 + 2.35)
    longest = remedies.longest_of_all()
    assert longest is not None and longest.seconds == 47
    assert [step.node for step in longest.way] == ["look", "look-a", "look-b", "look-c", "look-last", "call-now"]


def test_usual_way_is_the_first_shown_and_the_longest_is_not(tmp_path: Path) -> None:
    """Two answers that name no cause lead to the remedy: a short way first, a long one behind it."""
    row = ROW.replace("      - {say: Not well, to: call-now}\n", "      - {say: Not well, to: breathe}\n").replace(
        "  look-a:\n",
        "  breathe:\n    do:\n      - Breathe.\n    takes: 1 s\n    then: wait\n"
        "  wait:\n    do:\n      - Wait.\n    takes: 100 s\n    then: look-a\n  look-a:\n",
    )
    found = library(tmp_path, row)
    remedies = adviser(found).remedies(found.trees["t"])
    usual, longest = remedies.usual("a"), remedies.longest("a")
    assert usual is not None and longest is not None
    assert (usual.seconds, longest.seconds) == (15, 116)
    assert [step.node for step in longest.way] == ["look", "breathe", "wait", "look-a", "mend-a"]
    assert longest.way[0].answer == "Not well" and longest.way[-1].answer is None


def test_cause_without_a_remedy_in_reach_has_no_time(tmp_path: Path) -> None:
    found = library(tmp_path, ROW.replace("    fixes: [c]\n", ""))
    remedies = adviser(found).remedies(found.trees["t"])
    assert remedies.usual("c") is None and remedies.longest("c") is None
    assert set(remedies.usual_times()) == {"a", "b", "d", "e"}


def test_causes_count_alike_where_one_has_no_share(tmp_path: Path) -> None:
    found = library(tmp_path, ROW.replace("{say: Cause a, share: 10}", "{say: Cause a}"))
    assert shares_of(found.trees["t"]) == dict.fromkeys("abcde", 0.2)


def test_best_order_asks_the_cheap_and_likely_first(tmp_path: Path) -> None:
    found = library(tmp_path)
    (row,) = adviser(found).advice(found.trees["t"]).rows
    assert row.steps == ("look-a", "look-b", "look-c")  # the last one stays: it has no answer that leads on
    assert row.best is not None and row.best.steps == ("look-c", "look-a", "look-b")
    # c comes 30 s sooner, a and b 2 s later each.
    assert row.best.gain == pytest.approx(0.6 * 30 - 0.3 * 2)
    assert row.best.gain == pytest.approx(row.bound)
    assert row.best.low == pytest.approx((0.3 * 30 - 0.6 * 2) / (0.3 + 0.6 + 0.2)) and row.best.sure
    assert [(swap.first, swap.second) for swap in row.swaps] == [("look-a", "look-c"), ("look-b", "look-c")]


@pytest.mark.parametrize(
    ("rule", "best"),
    [
        ("precedence: {first: patient-check, then: any}", ("look-c", "look-a", "look-b")),
        ("absence: {of: careful, after: checked}", ("look-b", "look-c", "look-a")),
        ("response: {of: careful, by: checked}", ("look-c", "look-a", "look-b")),  # broken already, and no worse for it
    ],
)
def test_best_order_keeps_every_safety_rule(tmp_path: Path, rule: str, best: tuple[str, ...]) -> None:
    """`careful` stands on the remedy of b, `checked` on the question for c."""
    found = library(tmp_path, rule=rule)
    (row,) = adviser(found).advice(found.trees["t"]).rows
    assert row.exact and row.best is not None and row.best.steps == best
    lawful = [swap.order for swap in row.swaps if not swap.order.faults]
    assert {order.faults for order in (swap.order for swap in row.swaps) if order not in lawful} <= {("some-rule",)}
    assert bool(lawful) == (best[0] == "look-c")


def test_order_keeps_the_rules_of_trees_that_hand_over_to_this_one(tmp_path: Path) -> None:
    """The rule is for the tree that hands over alone; on its ways, this tree's order matters."""
    start = "start: begin\nnodes:\n  begin: {ask: 'Well?', answers: [{say: 'Yes', to: on}, {say: 'No', to: on}]}\n"
    other = HEAD.format(id="u") + start + "  on: {end: go, go: t, say: Go on there.}\n" + FOOT
    rule = "absence: {of: careful, after: checked}\n  only: [u]"
    found = library(tmp_path, rule=rule, more={"trees/u.yml": other})
    (row,) = adviser(found).advice(found.trees["t"]).rows
    assert row.best is not None and row.best.steps == ("look-b", "look-c", "look-a")
    alone = library(tmp_path / "alone", rule=rule.replace("[u]", "[gas]").replace("gas", "power"))
    (row,) = adviser(alone).advice(alone.trees["t"]).rows
    assert row.best is not None and row.best.steps == ("look-c", "look-a", "look-b")


def test_no_rest_gets_longer_than_somebody_may_be_left_alone(tmp_path: Path) -> None:
    """The balloon stands still until it is seen to move, at the question for a: with both others before it, 20 s."""
    row = ROW.replace("takes: 20 s", "takes: 8 s")
    row = row.replace("to: mend-a, when: [a]", "to: mend-a, when: [a], pump: moves")
    row = row.replace("when: [b, c, d, e]", "when: [b, c, d, e], pump: moves")
    text = HEAD.format(id="t").replace("pump: running", "pump: stopped") + row + FOOT
    best = {}
    for limit in (15, 25):
        values = f"values:\n  call_by: {{say: The limit, value: {limit}, unit: s}}\n"
        files = {"trees/t.yml": text, "kb/marks.yml": MARKS, "kb/settings.yml": values}
        found = open_library(write_library(tmp_path / str(limit), files))
        (judged,) = adviser(found).advice(found.trees["t"]).rows
        assert judged.best is not None
        best[limit] = judged.best.steps
        assert any("resting-limit" in swap.order.faults for swap in judged.swaps) == (limit == 15)
    assert best == {15: ("look-c", "look-a", "look-b"), 25: ("look-c", "look-b", "look-a")}


def test_what_stays_where_it_is(tmp_path: Path) -> None:
    """A question that finds nothing by itself, and one at which another tree enters, part a row."""
    finds_nothing = (
        ROW.replace("    fixes: [b]\n", "")
        .replace("fixes: [d]", "fixes: [d, b]")
        .replace("{say: It is b, to: mend-b, when: [b]}", "{say: It is b, to: look-c, when: [b]}")
        .replace("when: [c, d, e]}\n  mend-b", "when: [c, d, e]}\n  mend-b")
        .replace(
            "{say: It is not c, to: look-last, when: [d, e]}", "{say: It is not c, to: look-last, when: [b, d, e]}"
        )
        .replace("{say: It is d, to: call-now, when: [d]}", "{say: It is d, to: call-now, when: [d, b]}")
    )
    found = library(tmp_path / "nothing", finds_nothing)
    assert adviser(found).advice(found.trees["t"]).rows == ()
    start = "start: begin\nnodes:\n  begin: {ask: 'Well?', answers: [{say: 'Yes', to: on}, {say: 'No', to: on}]}\n"
    other = HEAD.format(id="u") + start + "  on: {end: go, go: t/look-b, say: Go on there.}\n" + FOOT
    found = library(tmp_path / "entered", more={"trees/u.yml": other})
    assert adviser(found).advice(found.trees["t"]).rows == ()


def test_cut_search_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reorder, "MOST_TRIED", 1)
    found = library(tmp_path, rule="absence: {of: careful, after: checked}")
    advice = adviser(found).advice(found.trees["t"])
    assert not advice.rows[0].exact
    assert "No quicker order that keeps every safety rule was found; none gains more than" in as_text(advice)


def test_tree_without_causes_gets_no_advice(tmp_path: Path) -> None:
    row = "start: a\nnodes:\n  a: {ask: 'Well?', answers: [{say: 'Yes', to: b}, {say: 'No', to: c}]}\n"
    row += "  b: {end: resolved, say: Well.}\n  c: {end: call, call: specialist-on-call, say: Call.}\n"
    found = library(tmp_path, row)
    advice = adviser(found).advice(found.trees["t"])
    assert (advice.expected, advice.rows, advice.gain) == (None, (), 0)
    assert "names no causes" in as_text(advice)


def test_what_a_row_costs_is_what_the_changed_tree_costs() -> None:
    """On every shipped tree: times added up question by question are those of the tree in that order, walked."""
    found = shipped_library()
    graph = Graph(found.trees)
    advising = adviser(found)
    rows = 0
    for tree in found.trees.values():
        remedies = advising.remedies(tree)
        before, shares = remedies.usual_times(), shares_of(tree)
        for row in rows_of(tree, graph, remedies, advising.times):
            looks = looks_of(tree, remedies, row, advising.times)
            here = tuple(range(len(row)))
            for order in list(permutations(here))[:24]:
                after = remedies_of(reordered(tree, remedies, row, order), advising.times).usual_times()
                gain = sum(shares[cause] * (before[cause] - after[cause]) for cause in before)
                assert looks.cost(here) - looks.cost(order) == pytest.approx(gain), (tree.id, order)
            rows += 1
    assert rows > 5


# The command


def test_command_prints_advice_as_text_and_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    library(tmp_path)
    assert main(["order", "t", "--root", str(tmp_path)]) == 0
    text = capsys.readouterr().out
    assert text.startswith("t: 35 s to the remedy, on the mean over the causes\n")
    assert "    look-c, look-a, look-b\n    17 s sooner; sure: from 7 s sooner to 26 s sooner" in text
    assert "Advice to the editor; nothing is changed." in text
    assert main(["order", "t", "--root", str(tmp_path), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["tree"], told["expected_s"], told["gain_s"]) == ("t", 35.4, 17.4)
    assert told["rows"][0]["best"]["steps"] == ["look-c", "look-a", "look-b"]
    assert told == as_json(advise("t", tmp_path))


@pytest.mark.parametrize(("tree", "status"), [("u", 2), ("../t", 2), ("t", 1)])
def test_command_says_what_is_wrong(tmp_path: Path, capsys: pytest.CaptureFixture[str], tree: str, status: int) -> None:
    library(tmp_path, ROW.replace("to: mend-a", "to: nowhere"))
    assert main(["order", tree, "--root", str(tmp_path)]) == status
    said = capsys.readouterr()
    assert said.out == "" and len(said.err.splitlines()) == 1
    assert ("mend them first" if status == 1 else "there is no tree") in said.err


def test_loop_is_told_and_not_followed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    library(tmp_path, ROW.replace("then: held\n  look-b", "then: look-a\n  look-b"))
    assert main(["order", "t", "--root", str(tmp_path)]) == 1
    assert "has errors" in capsys.readouterr().err
