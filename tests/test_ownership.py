"""Whose the values and numbers are, what the command says of it, and what pages say until all are the hospital's."""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from alarmtrees.check.run import check_library
from alarmtrees.proof import ownership
from alarmtrees.reading.keep import Store
from alarmtrees.reading.open import open_library
from alarmtrees.site.bedside.tree import tree_page
from alarmtrees.site.build import invented_mark
from alarmtrees.site.kept import Kept
from alarmtrees.site.markup import review_line, review_notices
from alarmtrees.terminal.cli import main
from small_library import REPOSITORY

GUIDE = REPOSITORY / "kb" / "make-it-yours.md"
PART = """hospital: {say: Ours, fictional: "no"}
values:
  call_by: {value: 4, by: head of perfusion, on: 2026-10-01}
  ask_takes: {by: head of perfusion}
  do_takes: {value: 25}
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
    who = "{by: head of perfusion, on: 2026-10-01}"
    return f'hospital: {{say: Ours, fictional: "no"}}\ndefaults: {who}\nvalues:\n{values}roles:\n{roles}'


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
    # And a value to which nobody has put role and day is nobody's.
    assert [key for key, state in states.items() if state == "nobody's"] == ["do_takes"]
    told = json.loads(run(capsys, small_library, "--json", "--fictional")[1])
    assert told["invented"] == 5 and told["hospital"] == {"say": "Ours", "fictional": False}
    assert {entry["state"] for entry in told["values"] + told["roles"]} == {"invented", "nobody's"}
    assert told["wordings"] == 1 and "trees/line-open.yml" in told["reviews"]
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


def test_a_house_without_a_name_owns_nothing(small_library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = small_library / "kb" / "settings.yml"
    text = path.read_text("utf-8").replace(" (fictional)", "").replace('fictional: "yes"', 'fictional: "no"')
    path.write_text(re.sub("hospital:\n.*\n.*\n", "", text), "utf-8")
    status, told = run(capsys, small_library, "--strict")
    assert status == 1 and "has no name yet" in told and "All is yours." not in told


def test_when_all_is_set_nothing_is_left(small_library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own(small_library, all_of(small_library))
    status, told = run(capsys, small_library, "--strict", "--fictional")
    assert status == 1 and "All is yours." not in told and "0 of 5 values" in told
    assert "3 of 3 reviews are the invented hospital's" in told and "estimated shares of causes" in told
    assert invented_mark(open_library(small_library)) == "3 not reviewed"
    assert main(["sign", "--all", "--by", "head of perfusion", "--root", str(small_library)]) == 0
    capsys.readouterr()
    status, told = run(capsys, small_library, "--strict", "--fictional")
    assert status == 0 and "All is yours." in told and "0 of 3 reviews" in told
    assert invented_mark(open_library(small_library)) == ""


def test_a_page_that_the_invented_hospital_reviewed_says_so_until_the_house_has(small_library: Path) -> None:
    own(small_library, all_of(small_library))

    def told() -> list[str]:
        library = open_library(small_library)
        return [
            part
            for page in library.trees.values()
            for part in (*review_notices(library, page), review_line(library, page))
        ]

    assert sum("Not reviewed by anybody of this house." in part for part in told()) == 4
    assert sum("of Testfield General, an invented hospital" in part for part in told()) == 2
    assert main(["sign", "line-open", "--by", "head", "--root", str(small_library)]) == 0
    assert sum("Not reviewed by anybody of this house." in part for part in told()) == 2
    own(small_library, all_of(small_library).replace("Ours", "Another"))
    assert sum("Not reviewed by anybody of this house." in part for part in told()) == 4, (
        "another house has not read it"
    )


def test_paper_of_one_alarm_counts_the_reviews_of_all(small_library: Path) -> None:
    """A page that is kept is made without the other trees; what it says of them is that of the whole library."""
    own(small_library, all_of(small_library))
    library = open_library(small_library)
    for tree in library.trees.values():
        page = Kept(library, Store(None)).page(tree, tree_page, None)
        assert page == tree_page(library, tree)


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text,
        lambda text: text.replace('fictional: "yes"', 'fictional: "no"'),
        lambda text: text.replace('fictional: "yes"', 'fictional: "no"').replace(" (fictional)", ""),
        # The hospital's own name above a copy: nobody has set anything.
        lambda text: re.sub("Testfield General", "Ours", text.replace('"yes"', '"no"').replace(" (fictional)", "")),
    ],
)
def test_a_copy_of_the_shipped_file_makes_nothing_ones_own(
    small_library: Path, capsys: pytest.CaptureFixture[str], change: Callable[[str], str]
) -> None:
    own(small_library, change((small_library / "kb" / "settings.yml").read_text("utf-8")))
    assert not [one for one in check_library(small_library).findings if one.severity == "error"]
    told = run(capsys, small_library, "--fictional")[1]
    assert "5 of 5 values" in told and "2 of 2 numbers" in told and "3 of 3 reviews" in told
    library = open_library(small_library)
    assert invented_mark(library) in ("fictional", "7 entries invented")
    assert library.fictional == (library.hospital == "Testfield General")
    assert all(role.fictional for role in library.roles.values()), "no invented number is ever dialled"


def test_a_copy_of_this_librarys_own_settings_is_published_and_stays_invented(tmp_path: Path) -> None:
    """With all that stands in it: the ranges too, and which values are greater."""
    for folder in ("kb", "trees"):
        shutil.copytree(REPOSITORY / folder, tmp_path / folder, ignore=shutil.ignore_patterns("*.local.yml"))
    own(tmp_path, (REPOSITORY / "kb" / "settings.yml").read_text("utf-8").replace(" (fictional)", ""))
    assert not check_library(tmp_path).errors
    library = open_library(tmp_path)
    assert ownership.borrowed(library) == len(library.settings) + len(library.roles) and library.fictional


@pytest.mark.parametrize(
    ("entry", "state"),
    [
        ("{value: 15, by: lead, on: 2026-10-01}", "yours"),  # agreed to, by somebody and on a day
        ("{value: 15, by: head of perfusion, on: 2026-01-02}", "yours"),
        ("{value: 12, by: lead, on: 2026-01-02}", "invented"),  # another number under the old role and day
        ("{value: 15, by: LEAD  (fictional), on: 2026-10-01}", "invented"),
        ("{value: 15, by: lead of Testfield General, on: 2026-10-01}", "invented"),
        ("{value: 15, by: head of perfusion}", "nobody's"),
        ("{value: 15, on: 2026-10-01}", "nobody's"),
        ("{value: 15}", "nobody's"),
        ('{value: "", by: head of perfusion, on: 2026-10-01}', "invented"),
    ],
)
def test_a_value_is_ones_own_once_a_role_and_a_day_stand_with_it(small_library: Path, entry: str, state: str) -> None:
    own(small_library, f"values:\n  resting_warning: {entry}\n")
    assert ownership.state(open_library(small_library).settings["resting_warning"]) == state


def test_role_and_day_may_be_said_once_for_all_values(small_library: Path) -> None:
    values = "  call_by: {value: 4}\n  ask_takes: {value: 20, by: night desk, on: 2026-10-05}\n"
    own(small_library, f"defaults: {{by: head of perfusion, on: 2026-10-01}}\nvalues:\n{values}")
    settings = open_library(small_library).settings
    told = [(one.by, one.on, one.status) for one in (settings["call_by"], settings["ask_takes"])]
    assert told == [
        ("head of perfusion", "2026-10-01", "local policy"),
        ("night desk", "2026-10-05", "local policy"),
    ]
    assert settings["do_takes"].by == "lead (fictional)", "what the file does not set is nobody's of this house"


def test_a_hospital_that_edits_the_shipped_file_owns_what_it_has_signed(small_library: Path) -> None:
    path = small_library / "kb" / "settings.yml"
    text = path.read_text("utf-8").replace('fictional: "yes"', 'fictional: "no"')
    path.write_text(text, "utf-8")
    library = open_library(small_library)
    assert ownership.borrowed(library) == 5 and not ownership.is_own(library), "the roles still say what they are"
    path.write_text(text.replace(" (fictional)", ""), "utf-8")
    library = open_library(small_library)
    assert not ownership.borrowed(library) and not ownership.is_own(library), "the reviews are of another house"
    assert main(["sign", "--all", "--by", "head", "--root", str(small_library)]) == 0
    assert ownership.is_own(open_library(small_library))


# ---------------------------------------------------------------------- the file that is begun


def test_a_file_is_begun_in_which_only_ones_own_is_left_to_write(
    small_library: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = check_library(small_library).findings
    status, told = run(capsys, small_library, "--begin")
    path = small_library / "kb" / "settings.local.yml"
    assert status == 0 and told.count("\n") == 1 and str(path) in told
    assert check_library(small_library).findings == before, "nothing is filled in, so nothing has changed"
    library = open_library(small_library)
    assert ownership.borrowed(library) == 7 and library.hospital == "Testfield General" and library.fictional
    text = path.read_text("utf-8")
    assert text.startswith("# yaml-language-server: $schema=../schema/offered/settings.schema.json\n")
    for key in library.settings:
        text = re.sub(rf'({key}: {{value: ")"', r'\g<1>7"', text)
    text = text.replace('phone: ""', 'phone: "1"').replace('{say: "", fict', "{say: Ours, fict")
    text = text.replace('by: "", on: ""', "by: head of perfusion, on: 2026-10-01")
    path.write_text(re.sub(r"(?m)^# (reviewers|wordings)", r"\1", text.replace("# reviewers", "reviewers")), "utf-8")
    library = open_library(small_library)
    assert (
        not ownership.borrowed(library) and library.hospital == "Ours" and library.reviewers == ("head of perfusion",)
    )


def test_a_file_that_is_there_is_never_written_over(small_library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own(small_library, PART)
    assert main(["settings", "--begin", "--root", str(small_library)]) == 2
    out, err = capsys.readouterr()
    assert out == "" and err.count("\n") == 1 and "stays as it is" in err
    assert (small_library / "kb" / "settings.local.yml").read_text("utf-8") == PART
    assert sorted(path.name for path in (small_library / "kb").glob(".*")) == []


@pytest.mark.parametrize("more", ["--json", "--fictional", "--strict"])
def test_begin_stands_by_itself(small_library: Path, capsys: pytest.CaptureFixture[str], more: str) -> None:
    assert main(["settings", "--begin", more, "--root", str(small_library)]) == 2
    assert capsys.readouterr().err.count("\n") == 1 and not (small_library / "kb" / "settings.local.yml").exists()


def test_every_fault_of_the_own_file_is_told_in_one_round(small_library: Path) -> None:
    own(
        small_library,
        """hospital: {say: Ours, fictional: maybe}
defaults: {by: head, on: soon}
values:
  resting_warning: {valeu: 12}
  call_by: {value: 20}
  do_takes: {value: 25, range: [1, 99], unit: s, range_from: ours}
  leek_watch: {value: 3}
roles:
  doctor: {phone: "1"}
  doctor-on-call: {phone: [1]}
wordings:
  line-opened: [some words]
""",
    )
    settings = small_library / "kb" / "settings.yml"
    ranged = "unit: min, range: [2, 10], range_from: common practice, "
    settings.write_text(settings.read_text("utf-8").replace("value: 5, unit: min, ", f"value: 5, {ranged}"), "utf-8")
    found = [one for one in check_library(small_library).findings if one.place.file.endswith("local.yml")]
    assert [(one.place.line, one.rule) for one in found if one.severity == "error"] == [
        (1, "schema"),
        (2, "schema"),
        (4, "schema"),
        (5, "setting-range"),
        (6, "schema"),
        (6, "schema"),
        (7, "unknown-setting"),
        (9, "unknown-role"),
        (10, "schema"),
        (12, "schema"),
    ]


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
    assert "trees/supply-low.yml" in found.message and "line-open" not in found.message
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
    found = [one for one in check_library(tmp_path).findings if one.place.file.endswith("local.yml")]
    assert [one.rule for one in found] == ["foreign-review"], "the tree is not reviewed in that house, and says so"
    library = open_library(tmp_path)
    assert library.hospital == "Our hospital" and library.settings["resting_warning"].own
    (reviewer,) = library.reviewers
    assert main(["sign", "--all", "--by", reviewer, "--root", str(tmp_path)]) == 0
    assert not [one for one in check_library(tmp_path).findings if one.rule == "foreign-review"]


def test_readme_and_guide_give_the_same_commands_in_the_same_order() -> None:
    """And these commands are there: each is tried with its own help."""
    wanted = ["settings --begin", "settings --fictional", "check", "sign --all"]
    readme = (REPOSITORY / "README.md").read_text("utf-8").partition("## Make it your hospital's")[2]
    guide = GUIDE.read_text("utf-8").partition("## Steps")[2].partition("## What right looks like")[0]
    for text in (readme, guide):
        told: list[str] = re.findall(r"`(?:\.venv/bin/)?alarmtrees ([^`]*)`", text)
        begun = [next(place for place, one in enumerate(told) if one.startswith(want)) for want in wanted]
        assert begun == sorted(begun), told
        assert "Copy `kb/settings.yml`" not in text and "make build" in text
    for command in wanted:
        with pytest.raises(SystemExit, match="0"):
            main([*command.split(), "--help"])
