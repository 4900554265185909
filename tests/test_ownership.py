"""Whose the values and numbers are, what the command says of it, and what pages say until all are the hospital's."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path

import pytest

from alarmtrees.check.run import check_library
from alarmtrees.proof import ownership
from alarmtrees.reading.open import open_library
from alarmtrees.site.build import invented_mark
from alarmtrees.terminal.cli import main
from small_library import REPOSITORY

GUIDE = REPOSITORY / "kb" / "make-it-yours.md"
PART = """hospital: {say: Ours, fictional: "no"}
values:
  call_by: {value: 4, by: head of perfusion, on: 2026-10-01}
  ask_takes: {by: head of perfusion}
roles:
  doctor-on-call: {phone: "1234"}
wordings:
  line-open: [some words]
"""


def own(root: Path, text: str) -> None:
    (root / "kb" / "settings.local.yml").write_text(text, encoding="utf-8")


def all_of(root: Path) -> str:
    library = open_library(root)
    values = "".join(f"  {key}: {{value: 7, unit: {entry.unit}}}\n" for key, entry in library.settings.items())
    roles = "".join(f'  {key}: {{phone: "1"}}\n' for key in library.roles)
    return f'hospital: {{say: Ours, fictional: "no"}}\nvalues:\n{values}roles:\n{roles}'


def run(capsys: pytest.CaptureFixture[str], root: Path, *arguments: str) -> tuple[int, str]:
    status = main(["settings", "--root", str(root), *arguments])
    return status, capsys.readouterr().out


def test_everything_shipped_is_invented_and_strict_says_so(
    small_library: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    status, told = run(capsys, small_library)
    assert status == 0 and told.count("  invented  ") == 7 and "5 of 5 values" in told
    assert run(capsys, small_library, "--strict")[0] == 1


def test_what_the_own_file_sets_is_the_hospitals_and_nothing_else(
    small_library: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    own(small_library, PART)
    library = open_library(small_library)
    states = {key: ownership.state(entry) for key, entry in (library.settings | library.roles).items()}
    # A value that only got another name behind it is still the shipped one.
    assert [key for key, state in states.items() if state == "yours"] == ["call_by", "doctor-on-call"]
    told = json.loads(run(capsys, small_library, "--json", "--fictional")[1])
    assert told["invented"] == 5 and told["hospital"] == {"say": "Ours", "fictional": False}
    assert {entry["state"] for entry in told["values"] + told["roles"]} == {"invented"} and told["wordings"] == 1
    assert "some words" not in json.dumps(told), "what a console prints is private"
    assert re.search(
        r"yours +call_by +4 min .*\(set by head of perfusion on 2026-10-01\)", run(capsys, small_library)[1]
    )


def test_all_but_the_name_is_not_all(small_library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every value and number is the hospital's own; above them stands the invented hospital's name."""
    own(small_library, all_of(small_library).partition("\n")[2])
    status, told = run(capsys, small_library, "--strict")
    assert status == 1 and "All is yours." not in told and "0 of 5 values" in told
    assert "and it is invented" in told


def test_when_all_is_set_nothing_is_left(small_library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own(small_library, all_of(small_library))
    status, told = run(capsys, small_library, "--strict", "--fictional")
    assert status == 0 and "All is yours." in told and "0 of 5 values" in told
    assert invented_mark(open_library(small_library)) == ""


def test_a_hospital_that_edits_the_shipped_file_owns_it(small_library: Path) -> None:
    path = small_library / "kb" / "settings.yml"
    path.write_text(path.read_text("utf-8").replace('fictional: "yes"', 'fictional: "no"'), "utf-8")
    assert ownership.is_own(open_library(small_library))


def test_a_number_that_the_own_file_calls_fictional_stays_so(small_library: Path) -> None:
    own(small_library, 'roles:\n  doctor-on-call: {phone: "1234", fictional: "yes"}\n')
    assert ownership.state(open_library(small_library).roles["doctor-on-call"]) == "invented"


def test_value_that_is_not_set_is_neither(small_library: Path) -> None:
    path = small_library / "kb" / "settings.yml"
    path.write_text(path.read_text("utf-8").replace("    value: 15\n", ""), "utf-8")
    library = open_library(small_library)
    assert ownership.state(library.settings["resting_warning"]) == "not set" and ownership.borrowed(library) == 6


@pytest.mark.parametrize("text", ["values: [", "values: {call_by: {valeu: 3}}"])
def test_faulty_settings_are_said_in_one_line(
    small_library: Path, capsys: pytest.CaptureFixture[str], text: str
) -> None:
    own(small_library, text)
    assert main(["settings", "--root", str(small_library)]) == 2
    out, err = capsys.readouterr()
    assert out == "" and err.count("\n") == 1 and "settings.local.yml" in err
    assert main(["settings", "--root", str(small_library / "gone")]) == 2


def test_header_says_how_much_is_left(small_library: Path) -> None:
    assert invented_mark(open_library(small_library)) == "fictional"
    own(small_library, PART)
    assert invented_mark(open_library(small_library)) == "5 entries invented"


# ---------------------------------------------------------------------- who may sign


def test_only_reviewers_may_sign_where_some_are_named(small_library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own(small_library, "reviewers: [lead, head nurse]\n")
    tree = small_library / "trees" / "line-open.yml"
    before = tree.read_bytes()
    assert main(["sign", "line-open", "--by", "somebody", "--root", str(small_library)]) == 2
    assert "the somebody may not sign" in capsys.readouterr().err and tree.read_bytes() == before
    assert main(["sign", "line-open", "--by", "head nurse", "--root", str(small_library)]) == 0
    (found,) = [f for f in check_library(small_library).findings if f.rule == "foreign-review"]
    assert "1 page is signed" in found.message and "trees/supply-low.yml" in found.message  # by the lead specialist
    own(small_library, "reviewers: [lead, head nurse, lead specialist]\n")
    assert not [f for f in check_library(small_library).findings if f.rule == "foreign-review"]


# ---------------------------------------------------------------------- the guide


def test_guide_shows_what_the_command_answers(small_library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own(small_library, PART)
    told = run(capsys, small_library, "--fictional")[1]
    shown = f"```text\n{told}```"
    text = GUIDE.read_text("utf-8")
    if os.environ.get("WRITE_GOLDEN"):
        GUIDE.write_text(re.sub(r"```text\n.*?```", lambda _: shown, text, count=1, flags=re.DOTALL), "utf-8")
    assert shown in GUIDE.read_text("utf-8"), "look at the change; WRITE_GOLDEN=1 accepts it"


def test_file_that_the_guide_shows_fits_the_shipped_settings(tmp_path: Path) -> None:
    shown = re.search(r"```yaml\n(.*?)```", GUIDE.read_text("utf-8"), re.DOTALL)
    assert shown
    (tmp_path / "trees").mkdir()
    for name in ("trees/gas-line-disconnected.yml", "kb/settings.yml"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text((REPOSITORY / name).read_text("utf-8"), "utf-8")
    (tmp_path / "kb" / "settings.local.yml").write_text(shown[1], "utf-8")
    findings = check_library(tmp_path).findings
    (told,) = [finding for finding in findings if finding.place.file.endswith("local.yml")]
    assert told.rule == "foreign-review" and told.severity == "warning"  # its reviewers have reviewed nothing yet
    assert open_library(tmp_path).hospital == "Our hospital"
