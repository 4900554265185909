"""How many steps usually lie ahead: a guess, so these tests hold it to what a reader would count."""

from __future__ import annotations

from pathlib import Path

import pytest

from alarmtrees.model import Tree
from alarmtrees.proof.ahead import steps_ahead
from lone import open_tree

HEAD = """id: made
title: A
summary: B
about: gas
aliases: [c]
condition: technical
harm: {severity: minor, onset: delayed}
pump: running
start: a
"""
NODES = """nodes:
  a: {ask: Q, answers: [{say: X, to: b}, {say: Y, to: e}]}
  b:
    do:
      - D
    then: c
    fixes: [one]
  c: {ask: Q, answers: [{say: X, to: d, when: fixed}, {say: Y, to: e}]}
  d: {ask: Q, answers: [{say: X, to: f}, {say: Y, to: e}]}
  e: {end: call, call: somebody, say: E}
  f: {end: resolved, say: F}
"""


def made(tmp_path: Path, text: str) -> Tree:
    path = tmp_path / "made.yml"
    path.write_text(HEAD + text, encoding="utf-8")
    _, tree = open_tree(path)
    assert tree is not None
    return tree


def test_a_cause_takes_the_first_answer_that_it_allows(tmp_path: Path) -> None:
    one = made(tmp_path, "causes: {one: {say: S, share: 100}}\n" + NODES)
    assert steps_ahead(one) == {"a": 4, "b": 3, "c": 2, "d": 1, "e": 0, "f": 0}


@pytest.mark.parametrize(("share", "ahead"), [(10, 2), (90, 4)])
def test_causes_count_by_their_shares(tmp_path: Path, share: int, ahead: int) -> None:
    causes = f"causes: {{one: {{say: S, share: {share}}}, two: {{say: T, share: {100 - share}}}}}\n"
    nodes = NODES.replace("{say: X, to: b}, {say: Y, to: e}", "{say: X, to: b, when: [one]}, {say: Y, to: g}")
    tree = made(tmp_path, causes + nodes + "  g:\n    do:\n      - D\n    then: e\n")
    assert steps_ahead(tree)["a"] == ahead  # 4 steps under the one, 2 under the other


def test_without_causes_all_answers_count_the_same(tmp_path: Path) -> None:
    ahead = steps_ahead(made(tmp_path, NODES.replace("    fixes: [one]\n", "").replace(", when: fixed", "")))
    assert ahead == {"a": 2, "b": 2, "c": 2, "d": 1, "e": 0, "f": 0}


def test_tree_with_a_loop_has_no_guess(tmp_path: Path) -> None:
    assert steps_ahead(made(tmp_path, NODES.replace("to: b}", "to: c}").replace("to: d,", "to: a,"))) == {}
