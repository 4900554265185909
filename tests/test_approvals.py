"""Approvals of changes: each is for one version and ends with it, and none comes from the proposal itself."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from alarmtrees.terminal.cli import main

HERE = Path(__file__).parent
LINE = "trees/line-open.yml"
OTHER_END = ("to: broken, pump", "to: patient-worse, pump")


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A library on the branch `main` of a repository, one folder down, and a branch `proposal` with another end."""
    library = tmp_path / "repository" / "library"
    shutil.copytree(HERE / "small-library", library)
    git = caller(library)
    git("init", "-q", "-b", "main", str(library.parent))
    git("add", "-A")
    git("commit", "-qm", "as it was")
    git("switch", "-qc", "proposal")
    edit(library, LINE, *OTHER_END)
    git("commit", "-qam", "another end")
    return library


def caller(root: Path) -> Callable[..., str]:
    def git(*arguments: str) -> str:
        base = ["git", "-C", str(root), "-c", "user.name=lead", "-c", "user.email=lead@example.org"]
        return subprocess.run([*base, *arguments], check=True, capture_output=True, text=True).stdout

    return git


def edit(root: Path, file: str, old: str, new: str) -> None:
    text = (root / file).read_text("utf-8")
    assert old in text, old
    (root / file).write_text(text.replace(old, new, 1), "utf-8")


def told(root: Path, capsys: pytest.CaptureFixture[str], *more: str, base: str = "main") -> tuple[int, dict[str, Any]]:
    status = main(["compare", base, "--root", str(root), "--format", "json", *more])
    return status, json.loads(capsys.readouterr().out)


def approve(root: Path, report: dict[str, Any], by: str = "lead perfusionist", branch: str = "main") -> None:
    """List each error of a report as approved on a branch, as a reviewer does."""
    git = caller(root)
    here = git("rev-parse", "--abbrev-ref", "HEAD").strip()
    git("switch", "-q", branch)
    errors = [change for change in report["changes"] if change["severity"] == "error"]
    lines = [
        f"  - {{change: {c['fingerprint']}, version: {c['approve_as']}, by: {by}, on: 2026-11-25, why: Meant.}}"
        for c in errors
    ]
    (root / "approved.yml").write_text("\n".join(["approved:", *lines]) + "\n", "utf-8")
    git("add", "-A")
    git("commit", "-qm", "approved")
    git("switch", "-q", here)


FROM_MAIN = ("--approved-from", "main")


def test_an_approval_on_the_base_lets_a_change_pass(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, report = told(root, capsys, *FROM_MAIN)
    assert (status, report["errors"]) == (1, 1)
    approve(root, report)
    status, report = told(root, capsys, *FROM_MAIN)
    assert (status, report["errors"]) == (0, 0) and report["changes"][0]["approved"]
    assert "approvals-changed" not in {change["kind"] for change in report["changes"]}
    assert main(["compare", "main", "proposal", "--root", str(root), *FROM_MAIN]) == 0
    assert "approved by lead perfusionist on 2026-11-25" in capsys.readouterr().out


def test_a_signature_afterwards_does_not_end_it_and_an_edit_elsewhere_neither(
    root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    approve(root, told(root, capsys)[1])
    path = root / LINE
    path.write_text("# a comment\n" + path.read_text("utf-8").replace("on: 2026-01-02", "on: 2026-11-25"), "utf-8")
    assert path.read_text("utf-8").count("on: 2026-11-25") == 1
    edit(root, "trees/supply-low.yml", "title: ", "title: Too ")
    assert told(root, capsys, *FROM_MAIN)[0] == 0


def test_any_other_edit_of_the_tree_ends_it(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    approve(root, told(root, capsys)[1])
    edit(root, LINE, "A loose plug is the usual cause.", "It mostly is loose.")
    status, report = told(root, capsys, *FROM_MAIN)
    assert (status, report["errors"], len(report["approvals_that_fit_nothing"])) == (1, 1, 1)
    main(["compare", "main", "--root", str(root), *FROM_MAIN])
    assert "lead perfusionist approved another version of it on 2026-11-25" in capsys.readouterr().out


@pytest.mark.parametrize("how", ["--no-ff", "--squash"])
def test_after_the_merge_it_never_counts_again(root: Path, capsys: pytest.CaptureFixture[str], how: str) -> None:
    """Merged, undone, and proposed once more, word for word: somebody has to look again."""
    git = caller(root)
    approve(root, told(root, capsys)[1])
    git("switch", "-q", "main")
    git("merge", "-q", how, "proposal", *(["-m", "merged"] if how == "--no-ff" else []))
    if how == "--squash":
        git("commit", "-qm", "merged")
    git("checkout", "-q", "HEAD~1", "--", LINE)
    git("commit", "-qam", "undone")
    git("switch", "-qc", "again")
    edit(root, LINE, *OTHER_END)
    git("commit", "-qam", "another end, again")
    status, report = told(root, capsys, *FROM_MAIN)
    assert (status, report["errors"]) == (1, 1)


def test_a_merge_that_undoes_a_change_does_not_bring_the_version_before_back(
    root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    git = caller(root)
    approve(root, told(root, capsys)[1])
    before = git("rev-parse", "main").strip()
    git("switch", "-q", "main")
    git("merge", "-q", "--no-ff", "-m", "merged", "proposal")
    git("switch", "-qc", "old", before)
    git("commit", "-q", "--allow-empty", "-m", "nothing")
    git("switch", "-q", "main")
    git("merge", "-q", "--no-ff", "--no-commit", "-s", "ours", "old")
    git("checkout", "-q", "old", "--", LINE)
    git("commit", "-qm", "merged, and undone in the merge")
    git("switch", "-qc", "again")
    edit(root, LINE, *OTHER_END)
    assert told(root, capsys, *FROM_MAIN)[0] == 1


def test_the_proposal_approves_nothing_itself(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Neither by a file that it brings along, nor by its own branch, its commits, or a branch that holds it."""
    report = told(root, capsys)[1]
    approve(root, report, branch="proposal")
    assert told(root, capsys, *FROM_MAIN)[0] == 1
    git = caller(root)
    git("branch", "beyond", "proposal")
    git("switch", "-q", "beyond")
    git("commit", "-q", "--allow-empty", "-m", "built upon it")
    git("switch", "-q", "proposal")
    for own in ("HEAD", "proposal", "beyond", git("rev-parse", "HEAD").strip()):
        for head in ([], ["proposal"]):
            assert main(["compare", "main", *head, "--root", str(root), "--approved-from", own]) == 2
            out, err = capsys.readouterr()
            assert out == "" and "part of the proposal, and nobody approves their own" in err and "Traceback" not in err


def test_approvals_on_a_newer_state_of_the_base_count(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What is merged into the base after the proposal's check began is read by the next check of the same merge."""
    base = caller(root)("rev-parse", "main").strip()
    approve(root, told(root, capsys)[1])
    assert told(root, capsys, *FROM_MAIN, base=base)[0] == 0
    assert told(root, capsys, "--approved-from", base, base=base)[0] == 1


def test_a_proposal_that_brings_approvals_along_is_told_of(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    approve(root, told(root, capsys)[1], branch="proposal")
    for head in ([], ["proposal"]):
        main(["compare", "main", *head, "--root", str(root), "--format", "json", *FROM_MAIN])
        changes = json.loads(capsys.readouterr().out)["changes"]
        (change,) = [c for c in changes if c["kind"] == "approvals-changed"]
        assert change["severity"] == "warning" and "by: lead perfusionist" in change["after"]


def test_a_merge_made_for_the_check_takes_approvals_from_its_first_parent(
    root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    approve(root, told(root, capsys)[1])
    git = caller(root)
    git("switch", "-q", "--detach", "main")
    git("merge", "-q", "--no-ff", "-m", "for the check", "proposal")
    status, report = told(root, capsys, "--approved-from", "HEAD^1", base="HEAD^1")
    assert (status, report["errors"]) == (0, 0)
    assert main(["compare", "HEAD^1", "--root", str(root), "--approved-from", "HEAD^2"]) == 2


def test_whoever_may_not_sign_may_not_approve(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    git = caller(root)
    git("switch", "-q", "main")
    edit(root, "kb/settings.yml", "values:", "reviewers: [lead perfusionist]\nvalues:")
    git("commit", "-qam", "who may sign")
    git("switch", "-q", "proposal")
    git("rebase", "-q", "main")
    report = told(root, capsys)[1]
    approve(root, report, by="night nurse")
    assert told(root, capsys, *FROM_MAIN)[0] == 1
    main(["compare", "main", "--root", str(root), *FROM_MAIN])
    assert "night nurse approved it on 2026-11-25, but may not sign" in capsys.readouterr().out
    approve(root, report)
    assert told(root, capsys, *FROM_MAIN)[0] == 0


def test_a_file_of_approvals_beside_two_folders(root: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without a history the version is the content before and now."""
    before = tmp_path / "before"
    shutil.copytree(HERE / "small-library", before)
    report = told(root, capsys, base=str(before))[1]
    approve(root, report, branch="proposal")
    file = ("--approved", str(root / "approved.yml"))
    assert told(root, capsys, *file, base=str(before))[0] == 0
    edit(before, LINE, "A loose plug is the usual cause.", "It mostly is loose.")
    assert told(root, capsys, *file, base=str(before))[0] == 1
    assert main(["compare", str(before), "--root", str(root), "--approved-from", "main"]) == 2
    assert "is a folder; approvals are read beside a revision" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("file", "line", "more"),
    [
        ("kb/about.md", "\nDo not press.\n", "\nNever pull.\n"),
        ("kb/plugging-in.md", "\nDo not press.\n", "\nNever pull.\n"),
        ("kb/words.yml", "", "\nplug: {say: plug, means: The end of a line.}\n"),
    ],
)
def test_pages_and_shared_files_have_versions_too(
    root: Path, capsys: pytest.CaptureFixture[str], file: str, line: str, more: str
) -> None:
    path = root / file
    text = path.read_text("utf-8").replace("The tube in which", "The tube in which never")
    path.write_text(text + line, "utf-8")
    before = told(root, capsys, *FROM_MAIN)[1]
    path.write_text(text + line + more, "utf-8")
    now = told(root, capsys, *FROM_MAIN)[1]
    versions = [{c["approve_as"] for c in report["changes"] if c["file"] == file} for report in (before, now)]
    assert all(len(found) == 1 for found in versions) and versions[0] != versions[1]


GOOD = "{change: 0123456789abcdef, version: 0123456789abcdef, by: lead, on: 2026-11-25, why: Meant.}"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", ""),
        ("# nothing yet\n", ""),
        ("approved: []\n", ""),
        (f"approved:\n  - {GOOD}\n", ""),
        ("approved:\n  - {change: 0123456789abcdef}\n", ":2:5: "),
        (f"approved:\n  - {GOOD.replace('abcdef,', 'abcdeg,', 1)}\n", "16 signs from 0 to 9 and a to f"),
        (f"approved:\n  - {GOOD.replace('2026-11-25', 'today')}\n", "a date such as 2026-09-14"),
        ("b48dec061444f7e7  # meant\n", ":1:1: "),
        ("approved: [\n", ":2:1: "),
    ],
)
def test_what_a_file_of_approvals_may_hold(
    root: Path, capsys: pytest.CaptureFixture[str], text: str, says: str
) -> None:
    (root / "approved.yml").write_text(text, "utf-8")
    status = main(["compare", "main", "--root", str(root), "--approved", str(root / "approved.yml")])
    out, err = capsys.readouterr()
    assert status == (2 if says else 1)
    assert not says or (out == "" and says in err and str(root / "approved.yml") in err and err.count("\n") == 1)
