"""The walk against published rules, all rows of their truth tables, and against scikit-learn's decision tree.

Sources: START triage (Super G et al., triage plan, 1983/1994; read in teaching slides); CURB-65 (Lim WS et al.,
Thorax 2003;58:377-82, doi:10.1136/thorax.58.5.377; read in secondaries); their numbers of rows by combinatorics.
Iris data: Fisher RA, Ann Eugen 1936;7:179-88, and DecisionTreeClassifier, as scikit-learn ships them (Pedregosa F
et al., JMLR 2011;12:2825-30).
"""

from __future__ import annotations

import json
import re
from collections import Counter
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from sklearn.datasets import load_iris
from sklearn.tree import DecisionTreeClassifier

from alarmtrees.terminal.cli import main
from alarmtrees.terminal.walk import begin, give

TREES = Path(__file__).parent / "trees"
Row = dict[str, bool]


def _walked(path: Path, answers: dict[str, bool], capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    """The walk that the program prints, each question answered from the row by a word in it."""
    walk = begin(str(path), path.parent)
    given = []
    while walk.node.kind == "ask":
        key = next(key for key in answers if key in walk.node.text)
        given.append("Yes" if answers[key] else "No")
        walk = give(walk, given[-1])
    arguments = [part for answer in given for part in ("--answer", answer)]
    assert main(["walk", str(path), "--json", *arguments]) == 0
    told: dict[str, Any] = json.loads(capsys.readouterr().out)
    assert told["end"]["node"] == walk.node.id
    assert [step["answer"] for step in told["steps"] if step["kind"] == "ask"] == given
    return told


# ------------------------------------------------------------------ START triage


def _start(row: Row) -> str:
    """The rule as published, in its own order."""
    if row["walk"]:
        return "MINOR"
    if not row["breathe?"]:
        return "IMMEDIATE" if row["breathe now"] else "DECEASED"
    if row["over 30"] or row["refill"]:
        return "IMMEDIATE"
    return "DELAYED" if row["command"] else "IMMEDIATE"


def test_start_triage(capsys: pytest.CaptureFixture[str]) -> None:
    """All 64 rows of six signs: 32 minor, 22 immediate, 8 deceased, 2 delayed; all 7 ends met."""
    groups: Counter[str] = Counter()
    ends = set()
    for values in product((True, False), repeat=6):
        row = dict(zip(("walk", "breathe?", "breathe now", "over 30", "refill", "command"), values, strict=True))
        told = _walked(TREES / "start.yml", row, capsys)
        assert told["end"]["say"] == _start(row), row
        done = [step["text"] for step in told["steps"] if step["kind"] == "do"]
        airway = not row["walk"] and not row["breathe?"]
        bleeding = not row["walk"] and row["breathe?"] and not row["over 30"] and row["refill"]
        assert done == ["Open the airway."] * airway + ["Control bleeding."] * bleeding
        groups[told["end"]["say"]] += 1
        ends.add(told["end"]["node"])
    assert groups == {"MINOR": 32, "IMMEDIATE": 22, "DECEASED": 8, "DELAYED": 2}
    assert len(ends) == 7


# ------------------------------------------------------------------ CURB-65


def test_curb_65(capsys: pytest.CaptureFixture[str]) -> None:
    """All 32 rows of five signs: 1, 5, 10, 10, 5, 1 rows a score; groups of 6, 10 and 16 rows."""
    scores: Counter[int] = Counter()
    groups: Counter[str] = Counter()
    for values in product((True, False), repeat=5):
        row = dict(zip(("confusion", "urea", "breathing rate", "pressure", "age"), values, strict=True))
        told = _walked(TREES / "curb-65.yml", row, capsys)
        match = re.fullmatch(r"Score (\d), group (\w+)", told["end"]["say"])
        assert match
        score = sum(values)
        assert int(match.group(1)) == score, row
        assert match.group(2) == ("low" if score <= 1 else "middle" if score == 2 else "severe")
        scores[score] += 1
        groups[match.group(2)] += 1
    assert [scores[score] for score in range(6)] == [1, 5, 10, 10, 5, 1]
    assert groups == {"low": 6, "middle": 10, "severe": 16}


def test_curb_65_has_the_published_limits() -> None:
    """Several calculators write under 60 and over 30; the original says 60 or less, and 30 or more."""
    text = (TREES / "curb-65.yml").read_text(encoding="utf-8")
    assert "rate 30 a minute or more" in text
    assert "under 90, or diastolic 60 mmHg or less" in text
    assert "over 7 mmol/L" in text and "65 years or more" in text


# ------------------------------------------------------------------ iris


def _as_yaml(model: DecisionTreeClassifier, names: list[str], classes: list[str]) -> str:
    tree = model.tree_
    lines = [
        "id: iris",
        "title: Iris",
        "summary: Which iris is it?",
        "about: patient",
        "aliases: [flower]",
        "condition: technical",
        "harm: {severity: minor, onset: delayed}",
        "pump: running",
        "start: n0",
        "nodes:",
    ]
    for node in range(tree.node_count):
        if tree.children_left[node] == -1:
            lines.append(f"  n{node}: {{end: resolved, say: {classes[int(np.argmax(tree.value[node]))]}}}")
            continue
        lines += [
            f"  n{node}:",
            f'    ask: "{names[tree.feature[node]]} <= {tree.threshold[node]!s}"',
            "    answers:",
            f"      - {{say: Yes, to: n{tree.children_left[node]}}}",
            f"      - {{say: No, to: n{tree.children_right[node]}}}",
        ]
    return "\n".join(lines) + "\n"


def test_iris_by_scikit_learn(tmp_path: Path) -> None:
    """The classifier's tree written as YAML and walked for all 150 rows gives the class that it predicts."""
    iris = load_iris()
    model = DecisionTreeClassifier(random_state=0).fit(iris.data, iris.target)
    path = tmp_path / "iris.yml"
    classes = list(iris.target_names)
    path.write_text(_as_yaml(model, list(iris.feature_names), classes), encoding="utf-8")
    first = begin(str(path), tmp_path)
    ends = set()
    for row, predicted in zip(iris.data, model.predict(iris.data), strict=True):
        walk = first
        while walk.node.kind == "ask":
            name, _, threshold = walk.node.text.partition(" <= ")
            # The classifier compares in single precision.
            value = np.float32(row[iris.feature_names.index(name)])
            walk = give(walk, "Yes" if value <= float(threshold) else "No")
        assert walk.node.text == classes[predicted]
        ends.add(walk.node.id)
    assert len(iris.data) == 150
    assert len(ends) == model.get_n_leaves()
