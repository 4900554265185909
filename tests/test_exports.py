"""Exports: every format for any tree, the same every time, with nothing private; hostile texts and broken trees too.

What FHIR and SCXML make of them is tested in tests/outside/.
"""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from collections import Counter
from pathlib import Path
from typing import Any

import pygraphviz
import pytest

from alarmtrees.exports import FORMATS, export, help_text, open_subject
from alarmtrees.terminal.cli import main
from cases.bundle import REPO
from small_library import HOSTILE_AS_READ, spoil

FORMS = sorted(FORMATS)
OWN = """\
hospital: {say: Real Hospital, fictional: "no"}
values:
  resting_warning: {value: 77, unit: min, by: a real person, on: 2026-02-03}
roles:
  specialist-on-call: {say: the real specialist, phone: "0123 456"}
wordings:
  line-open: [SECRET WORDING]
"""


def written(root: Path, form: str, tree: str = "line-open") -> str:
    return export(open_subject(tree, root), form)


def edit(root: Path, old: str, new: str, tree: str = "line-open") -> None:
    path = root / "trees" / f"{tree}.yml"
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8")


# ------------------------------------------------------------------ for every format


@pytest.mark.parametrize("form", FORMS)
def test_the_same_every_time_and_it_says_what_is_lost(small_library: Path, form: str) -> None:
    text = written(small_library, form)
    assert text == written(small_library, form)
    assert text.endswith("\n")
    told = plain(text)
    for sentence in FORMATS[form].lost:
        assert f"Lost in this format: {sentence}." in told
    assert "not a medical device" in told and "invented hospital" in told and "do not use after" in told


def plain(text: str) -> str:
    """A text with the marks of its format around quotes and line ends taken away."""
    return text.replace('\\"', '"').replace("\\n", "\n")


@pytest.mark.parametrize("form", FORMS)
def test_nothing_private_leaves_the_house(small_library: Path, form: str) -> None:
    """The shipped values stand there; a hospital's own change not one sign, and no phone number does."""
    before = written(small_library, form)
    (small_library / "kb" / "settings.local.yml").write_text(OWN, "utf-8")
    assert written(small_library, form) == before
    assert "15 min" in before
    for secret in ("77", "real", "0123", "SECRET", "5 0001", "resting_warning"):
        assert secret not in before


@pytest.mark.parametrize("form", FORMS)
def test_a_review_that_does_not_hold_is_said(small_library: Path, form: str) -> None:
    edit(small_library, "Push the plug home", "Push the plug in")
    assert "not reviewed as it stands; do not use." in written(small_library, form)
    edit(small_library, "status: in-use", "status: draft")
    assert "status draft, not reviewed as it stands; do not use." in written(small_library, form)


@pytest.mark.parametrize("form", FORMS)
def test_a_tree_outside_any_library(tmp_path: Path, form: str) -> None:
    """Settings, roles and other trees stay as they are written."""
    path = tmp_path / "alone.yml"
    path.write_bytes((REPO / "tests" / "small-library" / "trees" / "line-open.yml").read_bytes())
    text = export(open_subject(str(path), tmp_path), form)
    assert re.search(r"\{resting_warning\}|#123;resting#95;warning#125;|\(resting_warning\)", text)
    assert "specialist-on-call" in text and "supply-low" in text


# ------------------------------------------------------------------ what is refused


@pytest.mark.parametrize(
    ("old", "new", "rule"),
    [
        ("to: plug}", "to: plgu}", "unknown-target"),
        ("call: doctor-on-call", "call: doctor-of-call", "unknown-role"),
        ("go: supply-low/look", "go: supply-lo/look", "unknown-tree"),
        ("go: supply-low/look", "go: supply-low/lok", "unknown-target"),
        ("{resting_warning}", "{resting_warnin}", "unknown-setting"),
        ("cautions: [rest-is-short]", "cautions: [rest]", "unknown-caution"),
        ("sources: [doe-2001]", "sources: [doe]", "unknown-source"),
        ("to: broken,", "to: plug,", "cycle"),
        ("    then: holds\n", "", "dead-end"),
        ("title: Line", "titel: Line", "schema"),
    ],
)
def test_a_broken_tree_is_not_exported(
    small_library: Path, old: str, new: str, rule: str, capsys: pytest.CaptureFixture[str]
) -> None:
    edit(small_library, old, new)
    target = small_library / "out.json"
    assert main(["export", "line-open", "--to", "json", "--root", str(small_library), "--output", str(target)]) == 1
    out, err = capsys.readouterr()
    assert out == "" and f"[{rule}]" in err and "line-open.yml:" in err
    assert not target.exists()


def test_a_fault_elsewhere_is_none_here(small_library: Path) -> None:
    edit(small_library, "end: call", "end: cal", "supply-low")
    with pytest.raises(Exception, match="cal"):
        written(small_library, "dot", "supply-low")
    assert "Push the plug home" in written(small_library, "dot")


def test_wrong_use(small_library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    root = ["--root", str(small_library)]
    assert main(["export", "no-such-tree", "--to", "json", *root]) == 2
    assert "there is no tree “no-such-tree”" in capsys.readouterr().err
    assert main(["export", "line-open", "--to", "json", "--output", str(small_library / "no" / "x.json"), *root]) == 2
    with pytest.raises(SystemExit) as stop:
        main(["export", "line-open", "--to", "pdf", *root])
    assert stop.value.code == 2


def test_a_withdrawn_tree_is_not_exported(small_library: Path) -> None:
    edit(small_library, "status: in-use", "status: withdrawn")
    with pytest.raises(ValueError, match="withdrawn"):
        written(small_library, "json")


def test_to_a_file_whole_or_not_at_all(
    small_library: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    target = small_library / "out" / "tree.dot"
    target.parent.mkdir()
    command = ["export", "line-open", "--to", "dot", "--root", str(small_library)]
    assert main([*command, "--output", str(target)]) == 0
    assert main(command) == 0
    whole = capsys.readouterr().out
    assert target.read_text("utf-8") == whole
    monkeypatch.setattr(Path, "replace", lambda *_: (_ for _ in ()).throw(OSError("no space left")))
    assert main([*command, "--output", str(target)]) == 2
    assert [path.name for path in target.parent.iterdir()] == ["tree.dot"]
    assert target.read_text("utf-8") == whole


def test_the_help_tells_every_loss(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["export", "--help"])
    assert help_text() in capsys.readouterr().out
    for form in FORMATS.values():
        assert all(sentence in help_text() for sentence in form.lost)


def test_the_developers_guide_names_every_format() -> None:
    guide = (REPO / "DEVELOPERS.md").read_text("utf-8")
    assert [name for name in FORMATS if f"`{name}`" not in guide] == []


# ------------------------------------------------------------------ the steps in each format

Moves = dict[str, Counter[str]]
"""For each step of JSON's numbering the steps that its answers lead to."""


def moves_of_json(text: str) -> Moves:
    tree = json.loads(text)
    number = {step["id"]: str(step["number"]) for step in tree["steps"]}
    return {number[step["id"]]: Counter(number[move["to"]] for move in step.get("moves", [])) for step in tree["steps"]}


def moves_of_dot(text: str) -> Moves:
    """As Graphviz itself reads it."""
    graph = pygraphviz.AGraph(string=text)
    number = {node: str(node.attr["label"]).partition(".")[0] for node in graph.nodes()}
    moves: Moves = {key: Counter() for key in number.values()}
    for source, target in graph.edges():
        moves[number[source]][number[target]] += 1
    return moves


def moves_of_mermaid(text: str) -> Moves:
    """By the lines of the flow chart: a box, or an arrow between two."""
    moves: Moves = {}
    first, *lines = text.splitlines()
    assert first == "flowchart TD"
    for line in lines:
        if line.startswith("%%"):
            assert "{" not in line
        elif box := re.fullmatch(r'  s(\d+)(?:\{\{"(.*)"\}\}|\["(.*)"\]|\(\["(.*)"\]\))', line):
            moves[box.group(1)] = Counter()
            assert not re.search(r'["{}`]|<(?!br/>)', box.group(2) or box.group(3) or box.group(4))
        else:
            arrow = re.fullmatch(r'  s(\d+) (?:-->|-\.->)\|"([^"<>`{}\[\]|]*)"\| s(\d+)', line)
            assert arrow, line
            moves[arrow.group(1)][arrow.group(3)] += 1
    return moves


@pytest.mark.parametrize("tree", ["gas-line-kinked", "cardiac-arrest", "pump-stopped"])
def test_json_dot_and_mermaid_hold_the_same_moves(tree: str) -> None:
    """As many as the tree has; the numbers are those of the page."""
    subject = open_subject(tree, REPO)
    moves = moves_of_json(export(subject, "json"))
    assert moves == moves_of_dot(export(subject, "dot")) == moves_of_mermaid(export(subject, "mermaid"))
    nodes = subject.tree.nodes.values()
    assert len(moves) == len(nodes)
    assert sum(count.total() for count in moves.values()) == sum(
        (node.then is not None) + len(subject.tree.answers_at(node)) for node in nodes
    )
    assert all(int(to) > int(step) for step, count in moves.items() for to in count)


def test_keys_come_from_words_and_are_unique(small_library: Path) -> None:
    """Answers that begin alike, or hold no letters, have keys of their own; another order changes none."""
    edit(small_library, "{say: It moves,", "{say: “…”,")
    edit(small_library, "{say: It stands still,", "{say: Patient worse!,")
    steps = {step["id"]: step for step in json.loads(written(small_library, "json"))["steps"]}
    keys = [move["key"] for move in steps["holds"]["moves"]]
    assert keys == ["answer", "patient-worse", "patient-worse-2"]
    assert [move["key"] for move in steps["plug"]["moves"]] == ["done", "patient-worse"]


def test_a_step_that_nobody_reaches_is_left_out(small_library: Path) -> None:
    edit(small_library, "nodes:\n", "nodes:\n  lost: {end: resolved, say: Nobody comes here.}\n")
    for form in FORMS:
        assert "Nobody comes here" not in written(small_library, form)


def test_hostile_texts(small_library: Path) -> None:
    """Whatever stands in a text comes out as that text."""
    spoil(small_library)
    subject = open_subject("line-open", small_library)
    title = f"{HOSTILE_AS_READ} Line is open"
    for form in ("json", "fhir-questionnaire", "fhir-plan"):
        assert json.loads(export(subject, form))["title"] == title
    root = ET.fromstring(export(subject, "scxml"))
    labels = [log.attrib["label"] for log in root.iter("{http://www.w3.org/2005/07/scxml}log")]
    assert f"Ask: {HOSTILE_AS_READ} How is the patient?" in labels
    graph = pygraphviz.AGraph(string=export(subject, "dot"))
    label = str(graph.get_node("look").attr["label"]).replace('\\"', '"').replace("\\n", " ")
    assert label == f"1. {HOSTILE_AS_READ} How is the patient?"
    mermaid = export(subject, "mermaid")
    assert moves_of_mermaid(mermaid) == moves_of_json(export(subject, "json"))
    shown = re.sub(r"#(\d+);", lambda sign: chr(int(sign.group(1))), mermaid)
    assert f"1 – {HOSTILE_AS_READ} How is the patient?" in shown


@pytest.mark.parametrize("name", ["2-lines", "end", "node_a_b", "x" * 80])
def test_ids_that_formats_do_not_like(small_library: Path, name: str) -> None:
    """Ids that begin with a digit, are words of a language, hold an underscore, or are long."""
    path = small_library / "trees" / "line-open.yml"
    path.write_text(re.sub(r"\bplug(?=[:,}]|\n)", name, path.read_text("utf-8")), "utf-8")
    subject = open_subject("line-open", small_library)
    plan: dict[str, Any] = json.loads(export(subject, "fhir-plan"))
    ids = [action["id"] for action in plan["action"]]
    assert all(re.fullmatch(r"[A-Za-z0-9.-]{1,64}", key) for key in ids) and len(set(ids)) == len(ids)
    named = {entry["actionId"] for action in plan["action"] for entry in action.get("relatedAction", [])}
    assert named < set(ids)
    root = ET.fromstring(export(subject, "scxml"))
    assert all(re.fullmatch(r"[a-z][a-z0-9_.-]*", state.attrib["id"]) for state in root)
    assert moves_of_mermaid(export(subject, "mermaid")) == moves_of_dot(export(subject, "dot"))
