"""The command line as people and machines meet it: exit status, what is said where, never a traceback."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from datetime import date, timedelta
from pathlib import Path

import pytest

from alarmtrees import __version__
from alarmtrees.terminal.cli import _COMMANDS, main
from cases.bundle import CASES, files_of, tree_of, write_library

CLEAN = "yaml/good/quoted-and-plain"
ERROR = "unknown-tree/bad/with-a-step"
WARNING = "too-few-aliases/bad/seven"


def library(root: Path, case: str) -> Path:
    files = files_of((CASES / f"{case}.txt").read_text("utf-8"))
    files.pop("findings")
    return write_library(root, files)


def program(*arguments: str, cwd: Path | None = None, **environment: str) -> subprocess.CompletedProcess[bytes]:
    """The program in a process of its own, with nothing on its standard input."""
    return subprocess.run(
        [sys.executable, "-c", "import sys; from alarmtrees.terminal.cli import main; sys.exit(main())", *arguments],
        cwd=cwd,
        env={**os.environ, **environment},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        timeout=60,
    )


def wrong_use(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    """What stands on standard error where the program refuses, with status 2 and nothing on standard output."""
    try:
        status = main(arguments)
    except SystemExit as stop:  # argparse
        status = stop.code
    out, err = capsys.readouterr()
    assert (status, out) == (2, "")
    assert "Traceback" not in err
    return err


# ---------------------------------------------------------------------- start

HEAVY = {"jsonschema", "mkdocs", "numpy", "pint", "pygraphviz", "scipy", "segno", "circulation"}
ABOVE = {f"alarmtrees.{room}" for room in ("compare", "exports", "learning", "site")}
LOADED = """
import sys
from alarmtrees.terminal.cli import main
try:
    status = main(sys.argv[1:])
except SystemExit as stop:
    status = stop.code
print(*sys.modules, file=sys.stderr)
sys.exit(status)
"""


def loaded(*arguments: str) -> set[str]:
    """The modules that a command has imported when it is done."""
    done = subprocess.run([sys.executable, "-c", LOADED, *arguments], capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    return set(done.stderr.split())


def test_help_starts_without_what_commands_need() -> None:
    modules = loaded("--help")
    assert {name for name in modules if name.startswith("alarmtrees.")} == {
        "alarmtrees.terminal",
        "alarmtrees.terminal.cli",
    }
    assert modules & {*HEAVY, "jsonschema_rs", "networkx", "yaml"} == set()


def test_check_starts_without_what_others_need(small_library: Path) -> None:
    modules = loaded("check", "--root", str(small_library))
    assert "alarmtrees.check.run" in modules
    assert modules & (HEAVY | ABOVE) == set()


@pytest.mark.parametrize("command", list(_COMMANDS))
def test_every_command_tells_its_arguments(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stop:
        main([command, "--help"])
    assert stop.value.code == 0
    told = capsys.readouterr().out
    assert told.startswith(f"usage: alarmtrees {command} ")
    shown = set(re.findall(r"--[a-z]+", told)) - {"--help", "--root"}
    assert "--root DIR" in told and (shown or "positional arguments:" in told)


# ---------------------------------------------------------------------- check


@pytest.mark.parametrize(
    ("case", "strict", "status"),
    [(CLEAN, False, 0), (CLEAN, True, 0), (WARNING, False, 0), (WARNING, True, 1), (ERROR, False, 1), (ERROR, True, 1)],
)
@pytest.mark.parametrize("form", ["text", "json", "sarif", "github"])
def test_exit_status_in_every_format(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], case: str, strict: bool, status: int, form: str
) -> None:
    root = library(tmp_path, case)
    arguments = ["check", "--root", str(root), "--today", "2026-11-25", "--format", form, *["--strict"][: int(strict)]]
    assert main(arguments) == status
    out, err = capsys.readouterr()
    assert err == ""
    if form in ("json", "sarif"):
        assert json.loads(out)
    if form == "github":
        assert out.count("\n") == (0 if case == CLEAN else 1)


def test_text_is_the_default_and_here_is_the_library(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(library(tmp_path, ERROR))
    assert main(["check", "--today", "2026-11-25"]) == 1
    assert capsys.readouterr().out.startswith("trees/a.yml:18:27: error: there is no tree `zz` [unknown-tree]\n")


def test_today_is_the_day_reviews_are_judged_by(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    root = str(library(tmp_path, CLEAN))  # its next review is due on 2027-09-14
    assert main(["check", "--root", root, "--strict", "--today", "2027-09-14"]) == 0
    assert main(["check", "--root", root, "--strict", "--today", "2027-09-15"]) == 1
    assert "the next review was due on 2027-09-14" in capsys.readouterr().out


def test_without_today_the_machines_date_counts(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    tree = tree_of(CLEAN)
    for days, status in ((1, 0), (-2, 1)):
        due = (date.today() + timedelta(days=days)).isoformat()
        root = write_library(tmp_path / due, {"trees/a.yml": tree.replace("next: 2027-09-14", f"next: {due}")})
        assert main(["check", "--root", str(root), "--strict"]) == status, capsys.readouterr().out


@pytest.mark.parametrize("day", ["tomorrow", "14.9.2026", "2026-02-30", "", "20260914T00"])
def test_a_today_that_is_no_day(tmp_path: Path, capsys: pytest.CaptureFixture[str], day: str) -> None:
    err = wrong_use(["check", "--root", str(library(tmp_path, CLEAN)), "--today", day], capsys)
    assert f"argument --today: “{day}” is no day; write it as 2026-09-14" in err


def test_a_root_that_is_no_library(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "file").write_text("x", "utf-8")
    for root in (tmp_path, tmp_path / "gone", tmp_path / "file"):
        err = wrong_use(["check", "--root", str(root)], capsys)
        assert err == f"alarmtrees: {root}: no folder trees/ here; name the library with --root\n"


def test_wrong_words(capsys: pytest.CaptureFixture[str]) -> None:
    for arguments in ([], ["chek"], ["check", "--format", "xml"], ["check", "more"], ["check", "--strct"]):
        err = wrong_use(arguments, capsys)
        assert err.startswith("usage: alarmtrees") and err.rstrip().count("\n") <= 3


def test_version_and_help(capsys: pytest.CaptureFixture[str]) -> None:
    for arguments, words in ((["--version"], __version__), (["--help"], "check"), (["check", "--help"], "--today")):
        with pytest.raises(SystemExit) as stop:
            main(arguments)
        assert stop.value.code == 0
        assert words in capsys.readouterr().out


def test_the_program_itself(tmp_path: Path) -> None:
    done = program("check", "--today", "2026-11-25", cwd=library(tmp_path, ERROR))
    assert (done.returncode, done.stderr) == (1, b"")
    assert done.stdout.decode("utf-8").endswith("1 trees, 1 errors, 0 warnings\n")


@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_findings_are_told_on_a_terminal_that_lacks_some_letters(tmp_path: Path, encoding: str) -> None:
    """Old ward computers write cp1252: arrows are missing there, and findings must be told all the same."""
    root = library(tmp_path, "wrong-remedy/bad/not-asked")
    done = program("check", "--today", "2026-11-25", cwd=root, PYTHONIOENCODING=encoding, PYTHONUTF8="0")
    assert (done.returncode, done.stderr) == (1, b"")
    assert b"trees/a.yml:25:3: error:" in done.stdout


def test_the_same_findings_whatever_the_place_it_is_called_from(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    root = library(tmp_path / "lib", ERROR)
    told = []
    for folder, argument in ((tmp_path, "lib"), (root, "."), (root / "kb", ".."), (tmp_path, str(root) + "/")):
        monkeypatch.chdir(folder)
        assert main(["check", "--root", argument, "--today", "2026-11-25"]) == 1
        told.append(capsys.readouterr().out)
    assert len(set(told)) == 1


# ---------------------------------------------------------------------- walk


def walked(root: Path, capsys: pytest.CaptureFixture[str], *answers: str, tree: str = "a") -> dict:
    arguments = ["walk", tree, "--root", str(root), "--json"]
    for answer in answers:
        arguments += ["--answer", answer]
    assert main(arguments) == 0
    out, err = capsys.readouterr()
    assert err == ""
    return json.loads(out)


def test_walk_prints_what_programs_rely_on(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The object word by word; the times by hand: 15 s to ask, 20 s a line, of _kb/settings.yml."""
    root = library(tmp_path, "unknown-cause/good/all-there")
    assert walked(root, capsys, "it  is LOOSE", "It is on") == {
        "tree": "a",
        "steps": [
            {"node": "look", "kind": "ask", "text": "What is seen?", "answer": "It is loose"},
            {"node": "push", "kind": "do", "text": "Push it in.", "answer": None},
            {"node": "again", "kind": "ask", "text": "Is the lamp on now?", "answer": "It is on"},
        ],
        "end": {"node": "done", "end": "resolved", "say": "All is well.", "call": None, "go": None},
        "elapsed_s": 50,
        "resting_s": 0,
    }


def test_walk_counts_the_rest(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By hand: 60 s before the page, 175 s to look, two lines of 20 s, 25 s to look again."""
    root = library(tmp_path, "resting-limit/good/just-in-time")
    told = walked(root, capsys, "It is loose", "It moves")
    assert (told["elapsed_s"], told["resting_s"]) == (240, 300)
    assert told["steps"][1]["text"] == "Push it in.\nStart the pump."


def test_walk_stops_at_go(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = walked(library(tmp_path, "unknown-tree/good/there"), capsys, "It is off")
    assert told["end"] == {"node": "call-now", "end": "go", "say": "See there.", "call": None, "go": "b"}


def test_walk_shows_the_hospitals_values_and_takes_answers_as_shown(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    root = library(tmp_path, "unknown-setting/good/all-there")
    told = walked(root, capsys, "On for 10 min, { and }")
    assert told["steps"][0]["text"] == "Is the lamp on for 10\u00a0min?"
    assert told["end"]["say"] == "At 15\u00a0min call."


def test_walk_of_a_file_outside_any_library_leaves_roles_and_settings_as_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "some.yml"
    path.write_text(tree_of("unknown-setting/good/all-there"), "utf-8")
    told = walked(tmp_path, capsys, "On for {leak_watch}, { and }", tree=str(path))
    assert told["end"]["say"] == "At {resting_warning} call."
    assert (told["elapsed_s"], told["resting_s"]) == (0, 0)
    assert walked(tmp_path, capsys, "It is off", tree=str(path))["end"]["call"] == "specialist-on-call"


@pytest.mark.parametrize(
    ("answers", "words"),
    [
        ([], ["Is the lamp on?", "It is on", "It is off"]),
        (["It is"], ["It is on", "It is off"]),
        (["It glows"], ["It glows", "It is on", "It is off"]),
        (["It is on", "More"], ["More"]),
    ],
)
@pytest.mark.parametrize("form", [["--json"], []])
def test_walk_with_a_wrong_answer_names_the_possible_ones(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], answers: list[str], words: list[str], form: list[str]
) -> None:
    root = library(tmp_path, "unreachable/bad/wrong-answer")
    given = [part for answer in answers for part in ("--answer", answer)]
    err = wrong_use(["walk", "a", "--root", str(root), *form, *given], capsys)
    assert err.startswith("alarmtrees: ") and all(word in err for word in words)


def test_walk_of_no_tree(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    root = library(tmp_path, CLEAN)
    for name in ("zz", str(tmp_path / "gone.yml"), str(tmp_path)):
        err = wrong_use(["walk", name, "--root", str(root), "--json"], capsys)
        assert err.count("\n") == 1 and name in err


@pytest.mark.parametrize(
    "case",
    [
        "yaml/bad/anchor",
        "schema/bad/no-steps",
        "unknown-target/bad/start-to-then",
        "cycle/bad/itself",
        "dead-end/bad/no-then",
    ],
)
def test_walk_of_a_broken_tree_is_findings_not_a_traceback(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], case: str
) -> None:
    root = library(tmp_path, case)
    assert main(["walk", "a", "--root", str(root), "--json", "--answer", "It is on"]) in (1, 2)
    out, err = capsys.readouterr()
    assert out == "" and f"[{case.split('/')[0]}]" in err and "a.yml:" in err


def test_walk_goes_on_into_the_next_tree_where_it_is_asked_to(
    small_library: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without the option the end is where the tree ends; what is left over says how to go on."""
    words = ["walk", "line-open", "--root", str(small_library), "--answer", "Has a new alarm"]
    assert main(words) == 0
    assert capsys.readouterr().out.splitlines()[3:5] == [
        "End (go): That alarm has a page of its own.",
        "Go on with: supply-low/look",
    ]
    err = wrong_use([*words, "--answer", "As before"], capsys)
    assert err.endswith("left over: As before; it goes on in supply-low/look with --through\n")
    err = wrong_use([*words, "--through"], capsys)
    assert err.splitlines()[:5] == [
        "alarmtrees: the way so far:",
        "1. How is the patient?",
        "   → Has a new alarm",
        "That alarm has a page of its own. Goes on with: Supply is low",
        "“How is the patient?” needs an answer; possible answers:",
    ]
    assert main([*words, "--through", "--answer", "As before", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [told["tree"], told["end"]["node"]] == ["line-open", "supply-low/call-now"]
    assert [step["node"] for step in told["steps"]] == ["look", "elsewhere", "supply-low/look"]


def test_walk_through_trees_that_hand_over_for_ever_ends(
    small_library: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name, other in (("line-open", "supply-low"), ("supply-low", "line-open")):
        path = small_library / "trees" / f"{name}.yml"
        head = re.split("\n(?:causes|anytime|start):", path.read_text("utf-8"))[0] + "\n"
        path.write_text(f"{head}start: x\nnodes:\n  x: {{end: go, go: {other}, say: See there.}}\n", "utf-8")
    assert main(["walk", "line-open", "--through", "--root", str(small_library)]) == 1
    assert "hand over to each other again and again" in capsys.readouterr().err


# ---------------------------------------------------------------------- sign


def test_sign_stamps_and_leaves_all_else_as_it_was(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Comments and layout of the file stay: only what stands in the review differs."""
    text = (
        tree_of("review-stale/bad/another-stamp")
        .replace("id: a\n", "# a comment\nid:   a   # odd\n")
        .replace("\n", "\r\n")
    )
    root = write_library(tmp_path, {"trees/a.yml": text})
    assert main(["check", "--root", str(root), "--strict", "--today", "2026-11-25"]) == 1
    assert main(["sign", "a", "--by", "head nurse", "--on", "2026-11-25", "--root", str(root)]) == 0
    assert main(["check", "--root", str(root), "--strict", "--today", "2026-11-25"]) == 0
    signed = (root / "trees" / "a.yml").read_bytes().decode("utf-8")
    before, after = text.split("\r\n"), signed.split("\r\n")
    assert len(before) == len(after)
    differ = [new for old, new in zip(before, after, strict=True) if old != new]
    assert (
        len(differ) == 1 and differ[0].startswith("review:") and "head nurse" in differ[0] and "2026-11-25" in differ[0]
    )
    capsys.readouterr()


def test_first_review_holds_for_a_year(tmp_path: Path) -> None:
    text = tree_of("review-stale/bad/another-stamp")
    (review,) = [line for line in text.splitlines() if line.startswith("review:")]
    root = write_library(tmp_path, {"trees/a.yml": text.replace(f"{review}\n", "")})
    assert main(["sign", "a", "--by", "lead", "--on", "2026-10-01", "--root", str(root)]) == 0
    assert "next: 2027-10-01" in (root / "trees" / "a.yml").read_text("utf-8")


@pytest.mark.parametrize("arguments", [["zz", "--by", "lead"], ["a"], ["a", "--by", "lead", "--on", "soon"]])
def test_sign_used_wrongly(tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str]) -> None:
    root = library(tmp_path, CLEAN)
    before = (root / "trees" / "a.yml").read_bytes()
    wrong_use(["sign", *arguments, "--root", str(root)], capsys)
    assert (root / "trees" / "a.yml").read_bytes() == before


@pytest.mark.parametrize(
    "role", ["", "a: b, c", "O'Neill #2", 'with "quotes"', "two\nlines", "{curly}", "&x *y", "Älteste"]
)
def test_sign_by_any_role_leaves_a_file_that_can_be_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], role: str
) -> None:
    root = library(tmp_path, CLEAN)
    before = (root / "trees" / "a.yml").read_bytes()
    status = main(["sign", "a", "--by", role, "--on", "2026-11-25", "--root", str(root)])
    capsys.readouterr()
    if status:
        assert status == 2 and (root / "trees" / "a.yml").read_bytes() == before
    else:
        assert main(["check", "--root", str(root), "--strict", "--today", "2026-11-25"]) == 0, capsys.readouterr().out


def test_sign_asks_the_library_that_the_file_lies_in(
    small_library: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """From another folder, and without `--root`: who may sign is said where the tree is."""
    settings = small_library / "kb" / "settings.yml"
    settings.write_text(settings.read_text("utf-8") + "reviewers: [lead perfusionist]\n", "utf-8")
    tree = small_library / "trees" / "line-open.yml"
    before = tree.read_bytes()
    for name, root in ((str(tree), str(tmp_path)), ("line-open", str(small_library))):
        err = wrong_use(["sign", name, "--by", "janitor", "--root", root], capsys)
        assert "the janitor may not sign; `reviewers` in the settings lists lead perfusionist" in err
        assert tree.read_bytes() == before
        assert main(["sign", name, "--by", "lead perfusionist", "--on", "2026-11-25", "--root", root]) == 0
        assert tree.read_bytes() != before
        tree.write_bytes(before)
        capsys.readouterr()


@pytest.mark.parametrize(
    "command", [["walk", "--answer", "x"], ["export", "--to", "dot"], ["order"], ["sign", "--by", "lead"]]
)
def test_every_command_finds_a_tree_by_its_id_and_by_its_file(
    small_library: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], command: list[str]
) -> None:
    """By both names each says the same, and one that is not there is refused alike."""
    tree = small_library / "trees" / "line-open.yml"
    before, told = tree.read_bytes(), []
    for name, root in (("line-open", small_library), (str(tree), tmp_path)):
        status = main([command[0], name, *command[1:], "--root", str(root)])
        told.append((status, *capsys.readouterr()))
        tree.write_bytes(before)
    assert told[0] == told[1]
    missing = wrong_use([command[0], "nowhere", *command[1:], "--root", str(small_library)], capsys)
    assert missing.startswith("alarmtrees: there is no tree “nowhere”; there are: ") and "line-open" in missing


def test_advice_needs_a_library(tmp_path: Path, capsys: pytest.CaptureFixture[str], small_library: Path) -> None:
    lone = tmp_path / "lone.yml"
    lone.write_bytes((small_library / "trees" / "line-open.yml").read_bytes())
    assert f"{lone} lies in no library" in wrong_use(["order", str(lone)], capsys)


@pytest.mark.parametrize("case", ["yaml/bad/anchor", "schema/bad/missing-key"])
def test_sign_of_a_broken_tree_writes_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str], case: str) -> None:
    root = library(tmp_path, case)
    before = (root / "trees" / "a.yml").read_bytes()
    status = main(["sign", "a", "--by", "lead", "--root", str(root)])
    out, err = capsys.readouterr()
    assert status in (1, 2) and out == "" and "a.yml:" in err and "Traceback" not in err
    assert (root / "trees" / "a.yml").read_bytes() == before


# ---------------------------------------------------------------------- what means harm


@pytest.mark.parametrize(
    "command", [["check", "--today", "2026-11-25"], ["walk", "a", "--json", "--answer", "It is on"]]
)
@pytest.mark.parametrize(
    "change",
    [
        ("ask: Is the lamp on?", f"ask: Is the lamp on?\n    takes: {'9' * 400} min"),
        ("ask: Is the lamp on?", "ask: Is the lamp on?\n    takes: 0.0000000000000000000000000000001 s"),
        ("pump: running", "pump: stopped"),
        ("title: Alarm a", 'title: "\\uD800"'),
        ("title: Alarm a", 'title: "\\U0001F600 {{ {}"'),
        ("to: done}", "to: done, when: fixed}"),
        ("id: a", "id: ''"),
        ("start: look", "start: call-now"),
        ("start: look", 'start: "fixed"'),
        ("aliases: [a1,", "aliases: ['', "),
    ],
)
def test_odd_but_readable_trees_never_give_a_traceback(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: list[str], change: tuple[str, str]
) -> None:
    text = tree_of("unreachable/bad/wrong-answer")
    assert change[0] in text
    root = write_library(tmp_path, {"trees/a.yml": text.replace(*change, 1)})
    assert main([*command, "--root", str(root)]) in (0, 1, 2)
    capsys.readouterr()
