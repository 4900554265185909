"""The contributor's path on code hosts: forms, hooks and guide hold what they promise (the workflow: test_workflow.py).

Schemas: those that SchemaStore publishes for workflows and issue forms, as check-jsonschema (Apache 2.0) ships them.
"""

from __future__ import annotations

import json
import re
import tomllib
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
import yaml
from jsonschema import Draft7Validator
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

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
    workflow["jobs"]["judge"]["steps"][0]["run"] = ["x"]
    assert faults(workflow, "github-workflows")


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


# ------------------------------------------------------------------ versions


def test_what_is_built_with_is_what_was_tested() -> None:
    """Every package that is asked for has its version in constraints.txt, and one that pyproject.toml allows."""
    lines = (REPO / "constraints.txt").read_text("utf-8").splitlines()
    pins = {canonicalize_name(pin.name): pin for pin in map(Requirement, lines)}
    assert all(re.fullmatch(r"==[\w.]+", str(pin.specifier)) and pin.marker and not pin.url for pin in pins.values())
    project = tomllib.loads((REPO / "pyproject.toml").read_text("utf-8"))["project"]
    asked = [Requirement(line) for line in (*project["dependencies"], *project["optional-dependencies"]["test"])]
    lacking = [one.name for one in asked if canonicalize_name(one.name) not in pins]
    assert lacking == [], "run `make versions`"
    for one in asked:
        (version,) = pins[canonicalize_name(one.name)].specifier
        assert one.specifier.contains(version.version), f"{one}: run `make versions`"
    assert "--constraint constraints.txt" in (REPO / "Makefile").read_text("utf-8")
