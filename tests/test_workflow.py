"""The workflow for proposals, run from its own lines: what is red, what is told, who judges, what is kept."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
from importlib.metadata import files
from pathlib import Path
from typing import Any

import pytest

from alarmtrees.compare import compare
from alarmtrees.compare.telling import approval_line, waits
from alarmtrees.reading.offered import offer
from alarmtrees.terminal.cli import _parser, main
from cases.bundle import REPO
from played.pull_request import HERE, MENDED, WRONG
from test_host_files import faults, read
from workflow_run import WORKFLOW, Host, Job, workflow

TREE = "trees/line-apart.yml"
WORDS = {"README.md": "# About\n\nOther words, for authors alone.\n"}
REWORDED = ("Does the balloon move with every beat?", "Does the balloon move at each beat?")
MARKER = "<!-- alarmtrees: whose advice changes -->"
GREEN = {"judge": "success", "comment": "success", "preview": "success", "program": "skipped"}


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The library of the guides, signed."""
    root = tmp_path_factory.mktemp("workflow") / "library"
    shutil.copytree(HERE / "library", root)
    assert main(["sign", "line-apart", "--by", "lead perfusionist", "--on", "2026-09-14", "--root", str(root)]) == 0
    offer(root)
    return root


@pytest.fixture
def host(tmp_path: Path, library: Path) -> Host:
    return Host(tmp_path, library)


def changed(root: Path, *changes: tuple[str, str]) -> str:
    """The tree with some texts replaced, each of which stands there once."""
    text = (root / TREE).read_text("utf-8")
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


def comment(host: Host) -> str:
    """What is handed on for the comment."""
    return (host.kept / "report" / "comment.md").read_text("utf-8")


def summary(host: Host) -> str:
    """What the run tells of the judgement."""
    return (host.folder / "temporary" / "judge" / "GITHUB_STEP_SUMMARY").read_text("utf-8")


def previewed(host: Host, name: str) -> str | None:
    """What the preview was made of."""
    path = host.kept / "site-preview" / name
    return path.read_text("utf-8") if path.is_file() else None


def results(done: dict[str, Job]) -> dict[str, str]:
    """How each job ended."""
    return {name: job.result for name, job in done.items()}


# ---------------------------------------------------------------------- proposals


def test_a_clean_proposal_to_a_branch_that_has_gone_on(host: Host) -> None:
    """What it is compared with is the branch as it is now, and not as it was where the proposal began."""
    host.commit(WORDS, "proposal")
    host.commit({TREE: changed(host.root, REWORDED)})
    host.merge()
    done = host.run()
    assert results(done) == GREEN, done
    assert comment(host).startswith(MARKER + "\n") and "Nothing changes" in comment(host)
    assert "(https://host.example/larkmoor/trees/actions/runs/7)" in comment(host)
    assert "1 trees, 0 errors, 1 warnings" in summary(host) and "Whose advice changes" in summary(host)
    assert previewed(host, "line-apart.yml") == (host.root / TREE).read_text("utf-8")
    assert host.log[-1].startswith("gh ") or host.log[-1] == "mkdocs build"


def test_a_change_that_waits_for_its_review_is_not_red(host: Host) -> None:
    reworded = changed(host.root, REWORDED)
    host.propose({TREE: reworded})
    done = host.run()
    assert results(done) == GREEN, done
    assert re.search(r"::warning file=trees/line-apart.yml,.*review-stale", done["judge"].out)
    assert "0 errors, 1 warnings" in summary(host)
    assert "at each beat?" in comment(host) and "## Whose advice changes\n" in comment(host)
    assert previewed(host, "line-apart.yml") == reworded
    assert "mkdocs build" in host.log  # never --strict: it would make a warning red


def test_an_error_of_the_check_is_red_and_all_else_is_there(host: Host) -> None:
    before, wrong = changed(host.root), changed(host.root, *WRONG)
    host.propose({TREE: wrong, "trees/torn.yml": "id: [\n"})
    done = host.run()
    assert results(done) == {**GREEN, "judge": "failure"}
    assert done["judge"].steps["Check"] == "failure" and "Compare" in done["judge"].steps
    assert "::error file=trees/line-apart.yml" in done["judge"].out
    assert "breaks `no-blood-before-gas`" in comment(host) and "Whose advice changes" in comment(host)
    assert "breaks `no-blood-before-gas`" in summary(host)
    # A look at the rest: the page with the error as it was, the new one left out.
    assert previewed(host, "line-apart.yml") == before and previewed(host, "torn.yml") is None
    assert "::notice::The preview shows trees/line-apart.yml as it was" in done["preview"].out


def test_a_change_that_somebody_must_approve_is_red(host: Host) -> None:
    host.propose({TREE: changed(host.root, *MENDED)})
    done = host.run(jobs="judge comment")
    assert results(done) == {"judge": "failure", "comment": "success"}
    assert done["judge"].steps["Check"] == "success" and done["judge"].steps["Compare"] == "failure"
    assert "::error::Somebody must approve" in done["judge"].out and "Whose advice changes" in comment(host)


def test_approvals_count_on_the_branch_and_not_in_the_proposal(host: Host) -> None:
    host.propose({TREE: changed(host.root, *MENDED)})
    found = compare("main", "proposal", host.root)
    lines = [approval_line(one, found) for one in found.changes if waits(one, found)]
    meant = 'by: lead perfusionist, on: 2026-11-25, why: "One refill before the call is meant."'
    given = [line.replace('by: "", on: "", why: ""', meant) for line in lines]
    approved = {"approved.yml": "\n".join(["approved:", *given, ""])}
    host.commit(approved, "proposal")
    host.merge()
    assert host.run(jobs="judge")["judge"].steps["Compare"] == "failure"
    host.commit(approved)
    host.merge()
    assert host.run(jobs="judge")["judge"].steps["Compare"] == "success"


def test_a_proposal_from_a_copy_is_told_in_the_summary_only(host: Host) -> None:
    host.propose(WORDS)
    done = host.run(fork=True, jobs="judge comment")
    assert results(done) == {"judge": "success", "comment": "skipped"}
    assert host.log == ["install of main"]
    assert "Whose advice changes" in summary(host)


def test_the_program_of_the_branch_judges_and_the_proposals_own_is_tested(host: Host) -> None:
    host.around["SILENT"] = "yes"  # what it says is of no account here
    host.propose({"program": "of the proposal\n", ".ci/run": "echo all tests\n"})
    (host.root / ".ci" / "run").chmod(0o755)
    done = host.run(jobs="judge preview program")
    assert done["program"].result == "success" and "all tests" in done["program"].out
    assert host.log == ["install of main", "install of the proposal"]
    assert "This proposal changes the program too" in comment(host)


def test_a_proposal_cannot_pass_for_what_it_is_compared_with(host: Host) -> None:
    """A name that is a folder is read as one: with its own trees there, a proposal would change nothing."""
    mended = changed(host.root, *MENDED)
    host.propose({TREE: mended, f"HEAD^1/{TREE}": mended})
    done = host.run(jobs="judge comment")
    assert results(done) == {"judge": "failure", "comment": "failure"} and "Compare" not in done["judge"].steps
    assert "::error::A folder has the name" in done["judge"].out


def test_a_comparison_that_cannot_be_made_leaves_no_old_one_standing(host: Host) -> None:
    host.around["SILENT"] = "yes"
    host.propose(WORDS)
    done = host.run(jobs="judge comment")
    assert done["judge"].steps["Compare"] == "failure" and done["comment"].result == "success"
    assert "could not be made" in comment(host)


@pytest.mark.parametrize(("there", "written"), [("", "POST {}/3/comments"), ("41\n42", "PATCH {}/comments/41")])
def test_only_its_own_comment_is_written_over(host: Host, there: str, written: str) -> None:
    host.around |= {"COMMENTS": there, "SILENT": "yes"}
    host.propose(WORDS)
    host.run(jobs="judge comment")
    asked, wrote = " ".join(host.log).split("gh api ")[1:]
    assert "github-actions[bot]" in asked and MARKER in asked
    assert f"--method {written.format('repos/larkmoor/trees/issues')} --field body=@comment.md" in wrote


def test_a_long_report_is_cut_and_names_the_whole(tmp_path: Path) -> None:
    step = next(step for step in _steps() if step.get("name") == "Write the comment")
    report = tmp_path / "report"
    report.mkdir()
    long = "<details><summary>x</summary>\n\n```text\n" + "é and so on, line after line\n" * 4000
    (report / "comparison.md").write_text(long, "utf-8")
    around = {
        "PATH": "/usr/bin:/bin",
        "RUNNER_TEMP": str(tmp_path),
        "RUN": "https://host.example/7",
        "PROGRAM": "false",
    }
    subprocess.run(["bash", "-eo", "pipefail", "-c", step["run"]], env=around, check=True, timeout=20)
    text = (report / "comment.md").read_text("utf-8")
    assert 63_000 < len(text.encode()) < 65_536
    assert text.startswith(MARKER) and text.count("```") == 2 and text.count("</details>") == 1
    assert "too long for a comment" in text and "(https://host.example/7)" in text


def test_main_is_looked_at_by_its_own_program_and_names_that_editors_lack_are_a_warning(host: Host) -> None:
    newer = "newer: {kind: not published, title: A newer one, read: from memory}\n"
    host.commit({"kb/sources.yml": (host.root / "kb" / "sources.yml").read_text("utf-8") + newer})
    done = host.run(event="push", jobs="judge comment program")
    # No version before is known, so all of the program is new, and here it has no tests.
    assert results(done) == {"judge": "success", "comment": "skipped", "program": "failure"}
    assert "Compare" not in done["judge"].steps and host.log == ["install of main"]
    assert "::warning::Editors lack names" in done["judge"].out


# ---------------------------------------------------------------------- what it may, and what it relies on


def test_it_fits_the_published_schema_and_nothing_that_runs_a_proposal_may_write() -> None:
    document = read(WORKFLOW)
    assert faults(document, "github-workflows") == []
    assert set(document["on"]) == {"pull_request", "push"}  # never pull_request_target: it would lend its rights
    assert document["permissions"] == {}
    may = {name: job["permissions"] for name, job in document["jobs"].items()}
    assert {name for name, rights in may.items() if "write" in rights.values()} == {"comment"}
    assert may["comment"] == {"pull-requests": "write"}
    uses = [step["uses"].partition("@")[0] for step in document["jobs"]["comment"]["steps"] if "uses" in step]
    assert uses == ["actions/download-artifact"]
    (install,) = [step["run"] for step in document["jobs"]["judge"]["steps"] if step.get("id") == "install"]
    assert install.startswith("python -I -m pip ")  # else a pip.py of the proposal would be run in its place
    assert document["concurrency"]["cancel-in-progress"] == "${{ github.event_name == 'pull_request' }}"


def test_a_validator_of_workflows_finds_nothing() -> None:
    """zizmor (MIT), without the network: pinned actions, rights, credentials, words of a stranger in a shell."""
    program = next(file for file in files("zizmor") or () if file.name == "zizmor").locate()
    command = [str(program), "--offline", "--persona", "auditor", "--quiet", str(REPO / ".github")]
    ran = subprocess.run(command, capture_output=True, text=True, timeout=60)
    assert ran.returncode == 0, ran.stdout + ran.stderr


def test_actions_are_pinned_by_their_whole_hash_with_the_tag_beside_it() -> None:
    pin = r" *(?:- )?uses: (actions/[a-z-]+)@([0-9a-f]{40}) # (v[0-9]+\.[0-9]+\.[0-9]+)"
    lines = [line for line in WORKFLOW.read_text("utf-8").splitlines() if "uses:" in line]
    pins = [found.groups() for line in lines if (found := re.fullmatch(pin, line))]
    assert len(pins) == len(lines) >= 8
    assert len({action for action, _, _ in pins}) == len(set(pins))  # one version of each


def test_no_words_of_a_stranger_become_a_command() -> None:
    """What a proposal brings along reaches a shell through the environment only."""
    assert [step["run"] for step in _steps() if "${{" in step.get("run", "")] == []


def test_its_commands_exist() -> None:
    """Each `alarmtrees` line is understood by the program as it is now."""
    lines = [line.strip() for step in _steps() for line in step.get("run", "").splitlines()]
    found = [line for line in lines if line.startswith("alarmtrees ")]
    assert len(found) >= 5
    for line in found:
        words = shlex.split(line.replace('"${compare[@]}"', "HEAD^1 --approved-from HEAD^1 --whole X"))
        words = words[: next((at for at, word in enumerate(words) if word in (">", "||", "&&")), len(words))]
        _parser(words).parse_args(words[1:])


def _steps() -> list[dict[str, Any]]:
    return [step for job in workflow()["jobs"].values() for step in job["steps"]]


def test_owners_are_named_for_all_that_judges_and_are_invented() -> None:
    lines = (REPO / ".github" / "CODEOWNERS").read_text("utf-8").splitlines()
    rules = dict(line.split(maxsplit=1) for line in lines if line and not line.startswith("#"))
    assert {"*", "/trees/", "/kb/", "/.github/", "/kb/safety.yml"} <= rules.keys()
    assert all(owner.startswith("@larkmoor-invented/") for owners in rules.values() for owner in owners.split())
    assert all((REPO / name.strip("/")).exists() for name in rules if name.startswith(("/trees", "/kb", "/.")))
