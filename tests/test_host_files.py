"""The contributor's path on code hosts: forms, workflow, hook and guide hold what they promise.

Schemas: those that SchemaStore publishes for workflows and issue forms, as check-jsonschema (Apache 2.0) ships them.
"""

from __future__ import annotations

import json
import os
import re
import shlex
import subprocess
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
import yaml
from jsonschema import Draft7Validator

from alarmtrees.terminal.cli import _parser
from cases.bundle import REPO
from played import first_edit
from played.pull_request import _BLOCK, filled

GITHUB = REPO / ".github"
WORKFLOW = GITHUB / "workflows" / "trees.yml"
FORMS = sorted(path for path in (GITHUB / "ISSUE_TEMPLATE").glob("*.yml") if path.stem != "config")


def read(path: Path) -> Any:
    document = yaml.load(path.read_text("utf-8"), yaml.CSafeLoader)
    if isinstance(document, dict) and True in document:
        document["on"] = document.pop(True)  # to this reader `on` is a boolean; to code hosts it is a word
    return document


def faults(document: Any, schema: str) -> list[str]:
    text = files("check_jsonschema").joinpath(f"builtin_schemas/vendor/{schema}.json").read_text("utf-8")
    return [
        f"{list(fault.absolute_path)}: {fault.message}"
        for fault in Draft7Validator(json.loads(text)).iter_errors(document)
    ]


# ------------------------------------------------------------------ forms


@pytest.mark.parametrize("path", FORMS, ids=lambda path: path.stem)
def test_forms(path: Path) -> None:
    form = read(path)
    assert faults(form, "github-issue-forms") == []
    ids = [part["id"] for part in form["body"] if "id" in part]
    assert len(set(ids)) == len(ids)
    warning = form["body"][0]["attributes"]["value"]
    assert form["body"][0]["type"] == "markdown"
    assert "Nothing about a patient" in warning and "Nothing copied from a console" in warning
    (promise,) = [part for part in form["body"] if part["type"] == "checkboxes"]
    assert all(option["required"] for option in promise["attributes"]["options"])


def test_both_forms_are_there_and_the_guide_names_them() -> None:
    names = {read(path)["name"] for path in FORMS}
    assert names == {"An alarm is missing", "This advice is wrong"}
    guide = first_edit.PAGE.read_text("utf-8")
    assert all(f"“{name}”" in guide for name in names)


def test_the_configuration_of_forms() -> None:
    assert faults(read(GITHUB / "ISSUE_TEMPLATE" / "config.yml"), "github-issue-config") == []


def test_the_schemas_find_faults() -> None:
    form = read(FORMS[0])
    form["body"][1]["type"] = "textfield"
    assert faults(form, "github-issue-forms")
    workflow = read(WORKFLOW)
    workflow["jobs"]["trees"]["steps"][0]["run"] = ["x"]
    assert faults(workflow, "github-workflows")


# ------------------------------------------------------------------ workflow


def steps() -> list[dict[str, Any]]:
    listed: list[dict[str, Any]] = read(WORKFLOW)["jobs"]["trees"]["steps"]
    return listed


def test_workflow() -> None:
    """It fits the published schema; it may read, and write nothing but comments."""
    workflow = read(WORKFLOW)
    assert faults(workflow, "github-workflows") == []
    assert workflow["permissions"] == {"contents": "read", "pull-requests": "write"}
    assert set(workflow["on"]) == {"pull_request", "push"}  # never pull_request_target: it would lend its rights


def test_no_words_of_a_stranger_become_a_command() -> None:
    """What a proposal brings along reaches a shell through the environment only."""
    assert [step["run"] for step in steps() if "${{" in step.get("run", "")] == []


def test_its_commands_exist() -> None:
    """Each `alarmtrees` line is understood by the program as it is now."""
    found = [
        line for step in steps() for line in step.get("run", "").splitlines() if line.strip().startswith("alarmtrees ")
    ]
    assert len(found) == 3
    for line in found:
        words = shlex.split(line.replace('"${approved[@]}"', "--approved approved.txt"))
        words = words[: next((at for at, word in enumerate(words) if word in (">", "||")), len(words))]
        _parser(words).parse_args(words[1:])


@pytest.mark.parametrize(("status", "ends", "told"), [(0, 0, "0"), (1, 0, "1"), (2, 2, None)])
@pytest.mark.parametrize("approved", [False, True])
def test_the_step_that_compares(tmp_path: Path, status: int, ends: int, told: str | None, approved: bool) -> None:
    """Run as it stands, with a program that only tells how it was called."""
    script = next(step["run"] for step in steps() if step.get("id") == "compare")
    program = tmp_path / "alarmtrees"
    program.write_text(f'#!/bin/sh\necho "$@"\nexit {status}\n', "utf-8")
    program.chmod(0o755)
    if approved:
        (tmp_path / "approved.txt").touch()
    around = {
        "PATH": f"{tmp_path}{os.pathsep}{os.environ['PATH']}",
        "BASE": "a b; exit 7",
        "GITHUB_OUTPUT": str(tmp_path / "output"),
        "GITHUB_STEP_SUMMARY": str(tmp_path / "summary"),
    }
    done = subprocess.run(
        ["bash", "-e", "-o", "pipefail", "-c", script], cwd=tmp_path, env=around, timeout=20, check=False
    )
    assert done.returncode == ends
    wanted = f"compare a b; exit 7 {'--approved approved.txt ' if approved else ''}--format markdown\n"
    assert (tmp_path / "comparison.md").read_text("utf-8") == wanted
    if told is not None:
        assert (tmp_path / "output").read_text("utf-8") == f"status={told}\n"
        assert (tmp_path / "summary").read_text("utf-8") == wanted


# ------------------------------------------------------------------ hook


def test_hooks() -> None:
    """The keys that pre-commit demands, the same commands in both files, and the files they are for."""
    hooks = read(REPO / ".pre-commit-hooks.yaml")
    (place,) = read(REPO / ".pre-commit-config.yaml")["repos"]
    assert [hook["id"] for hook in hooks] == ["alarmtrees-check", "alarmtrees-schema"] and place["repo"] == "local"
    for hook, own in zip(hooks, place["hooks"], strict=True):
        assert {"id", "name", "entry", "language"} <= set(hook)
        assert own["id"] == hook["id"] and own["entry"] == f".venv/bin/{hook['entry']}"
        for entry in (hook, own):
            assert entry["pass_filenames"] is False
            assert re.search(entry["files"], "trees/pump-idle.yml") and re.search(entry["files"], "kb/marks.yml")
            assert not re.search(entry["files"], "README.md")
            words = entry["entry"].split()[1:]
            _parser(words).parse_args(words)


# ------------------------------------------------------------------ guide


def test_the_guide_holds_what_is_really_printed_and_drawn(tmp_path: Path) -> None:
    page = first_edit.PAGE.read_text("utf-8")
    played, pictures = first_edit.play(tmp_path)
    anew = "write them anew: cd tests; python -m played.first_edit"
    assert sorted(found.group(2) for found in _BLOCK.finditer(page)) == sorted(played.blocks)
    assert filled(page, played) == page, anew
    assert {path.name for path in first_edit.PICTURES.iterdir()} == {*pictures, first_edit.READER}
    for name, text in pictures.items():
        assert (first_edit.PICTURES / name).read_text("utf-8") == text, anew
        assert f"first-edit/{name})" in page
    assert f"first-edit/{first_edit.READER})" in page


def test_every_picture_is_told_in_words() -> None:
    told = re.findall(r"!\[([^\]]*)\]\(first-edit/", first_edit.PAGE.read_text("utf-8"))
    assert len(told) == 6 and all(len(words.split()) >= 7 for words in told)
