"""Runs the jobs of a workflow as a code host does, from their own lines: in bash, in a scratch repository.

What is of the host is stood in for, as its documentation describes it: a proposal is checked out as its merge, whose
first parent is the branch it is for; a step without a condition runs while no step before it has failed; a job that
fails leaves out those that need it, unless their condition says otherwise; what is kept under a name is fetched by that
name. What is installed, `gh` and the site's generator are stood in for by programs that tell how they were called.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from small_library import REPOSITORY

WORKFLOW = REPOSITORY / ".github" / "workflows" / "trees.yml"
_WHO = {"NAME": "somebody", "EMAIL": "somebody@larkmoor.example"}
_CONTEXT = re.compile(r"\b(?:github|steps|needs|runner)(?:\.[a-z_]+)+")
_IN_TEXT = re.compile(r"\$\{\{(.*?)\}\}", re.DOTALL)

# Each stands in for a program, and writes how it was called into the log.
_PROGRAMS = {
    "python": """
case "$*" in *"-m pip install"*) where="${{@: -1}}";; *) exec {python} "$@";; esac
echo "install $(cat "$where/program")" >> "$LOG"
""",
    "alarmtrees": """
[ -z "$SILENT" ] || exit 3
exec {python} -c 'import sys; from alarmtrees.terminal.cli import main; sys.exit(main())' "$@"
""",
    "mkdocs": """
echo "mkdocs $*" >> "$LOG"
alarmtrees check > /dev/null || exit 1
mkdir site && cp trees/*.yml site/
""",
    "gh": """
printf '%s\\n' "gh $*" >> "$LOG"
case "$*" in *--jq*) printf '%s' "$COMMENTS"; [ -z "$COMMENTS" ] || echo;; esac
""",
}


def workflow() -> Any:
    """The workflow; its key `on` is a boolean to this reader, and is left as it is."""
    return yaml.load(WORKFLOW.read_text("utf-8"), yaml.CSafeLoader)


@dataclass
class Job:
    """What became of one job: its result, the steps that ran with how each ended, what it printed."""

    result: str = "skipped"
    steps: dict[str, str] = field(default_factory=dict)
    outputs: dict[str, str] = field(default_factory=dict)
    out: str = ""


class Host:
    """A code host with one repository, and one proposal to its branch main.

    Attributes:
        root: the repository; main is checked out until something is proposed.
        kept: what was kept, a folder a name.
        log: how the programs that stand in were called.
    """

    def __init__(self, folder: Path, library: Path) -> None:
        self.folder = folder
        self.root = folder / "repository"
        self.kept = folder / "kept"
        shutil.copytree(library, self.root)
        (self.root / "program").write_text("of main\n", "utf-8")
        (self.root / ".gitignore").write_text("/site/\n", "utf-8")
        bin_folder = folder / "bin"
        bin_folder.mkdir()
        for name, text in _PROGRAMS.items():
            path = bin_folder / name
            path.write_text(f"#!/bin/bash\n{text.format(python=sys.executable).strip()}\n", "utf-8")
            path.chmod(0o755)
        self.around = {
            **{key: value for key, value in os.environ.items() if not key.startswith(("GIT_", "GITHUB_"))},
            **{f"GIT_{role}_{what}": value for role in ("AUTHOR", "COMMITTER") for what, value in _WHO.items()},
            "PATH": f"{bin_folder}{os.pathsep}{os.environ['PATH']}",
            "GIT_CONFIG_GLOBAL": os.devnull,
            "LOG": str(folder / "log"),
            "SILENT": "",
            "COMMENTS": "",
        }
        self.git("init", "-q", "-b", "main")
        self.git("add", "-A")
        self.git("commit", "-q", "-m", "As it was")

    @property
    def log(self) -> list[str]:
        """How the programs that stand in were called."""
        path = self.folder / "log"
        return path.read_text("utf-8").splitlines() if path.is_file() else []

    def git(self, *arguments: str) -> None:
        """Run git in the repository."""
        subprocess.run(("git", *arguments), cwd=self.root, env=self.around, check=True, timeout=30)

    def commit(self, texts: dict[str, str], branch: str = "main") -> None:
        """Write some files on a branch."""
        known = (self.root / ".git" / "refs" / "heads" / branch).is_file()
        self.git("switch", "-q", *([] if known else ["-c"]), branch)
        for name, text in texts.items():
            path = self.root / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, "utf-8")
        self.git("add", "-A")
        self.git("commit", "-q", "-m", "A change")
        self.git("switch", "-q", "main")

    def propose(self, texts: dict[str, str]) -> None:
        """Propose some files to main, and check out the merge as the host makes it."""
        self.commit(texts, "proposal")
        self.merge()

    def merge(self) -> None:
        """Check out the merge of the proposal, as the host makes it."""
        self.git("switch", "-q", "--detach", "main")
        self.git("merge", "-q", "--no-ff", "-m", "Merge", "proposal")

    def run(self, event: str = "pull_request", fork: bool = False, jobs: str = "") -> dict[str, Job]:
        """Run all jobs, or those named, in the order of the file: each stands there behind those that it needs."""
        self.github = {
            "event_name": event,
            "repository": "larkmoor/trees",
            "token": "a-token",
            "run_id": "7",
            "server_url": "https://host.example",
            "ref": "refs/pull/3/merge" if event == "pull_request" else "refs/heads/main",
            "event.before": "0" * 40 if event == "push" else "",
            "event.pull_request.number": "3",
            "event.pull_request.head.repo.full_name": "stranger/trees" if fork else "larkmoor/trees",
        }
        for folder in ("work", "temporary", "kept"):
            shutil.rmtree(self.folder / folder, ignore_errors=True)
        document = workflow()
        done: dict[str, Job] = {}
        for name, job in document["jobs"].items():
            if jobs and name not in jobs.split():
                continue
            needed = job.get("needs", [])
            needed = [needed] if isinstance(needed, str) else needed
            failed = any(done[one].result != "success" for one in needed)
            done[name] = Job()
            given = {f"needs.{one}.outputs.{key}": value for one in needed for key, value in done[one].outputs.items()}
            if self._holds(job.get("if"), failed, given):
                self._run_job(name, job, document, done[name], given)
        return done

    def _run_job(self, name: str, job: Any, document: Any, done: Job, given: dict[str, str]) -> None:
        work = self.folder / "work" / name
        temporary = self.folder / "temporary" / name
        temporary.mkdir(parents=True)
        work.mkdir(parents=True)
        given = {**given, "runner.temp": str(temporary)}
        files = {key: temporary / key for key in ("GITHUB_OUTPUT", "GITHUB_STEP_SUMMARY")}
        failed = False
        for at, step in enumerate(job["steps"]):
            title = step.get("name", step.get("uses", "").partition("@")[0])
            if not self._holds(step.get("if"), failed, given):
                continue
            files["GITHUB_OUTPUT"].write_text("", "utf-8")
            if "uses" in step:
                ended = self._use(step, work, given)
            else:
                own = {**document["env"], **job.get("env", {}), **step.get("env", {})}
                shown = {key: self._filled(str(value), given) for key, value in own.items()}
                variables = {
                    **self.around,
                    **{key: str(path) for key, path in files.items()},
                    "RUNNER_TEMP": str(temporary),
                    "GITHUB_EVENT_NAME": self.github["event_name"],
                    "GITHUB_REPOSITORY": self.github["repository"],
                    **shown,
                }
                script = temporary / f"step-{at}.sh"
                script.write_text(step["run"], "utf-8")
                command = ["bash", "--noprofile", "--norc", "-eo", "pipefail", str(script)]
                ran = subprocess.run(command, cwd=work, env=variables, capture_output=True, text=True, timeout=60)
                done.out += ran.stdout + ran.stderr
                ended = ran.returncode == 0
            done.steps[title] = "success" if ended else "failure"
            failed |= not ended
            if "id" in step:
                given[f"steps.{step['id']}.outcome"] = done.steps[title]
                for line in files["GITHUB_OUTPUT"].read_text("utf-8").splitlines():
                    key, _, value = line.partition("=")
                    given[f"steps.{step['id']}.outputs.{key}"] = value
        done.outputs = {key: self._filled(value, given) for key, value in job.get("outputs", {}).items()}
        done.result = "failure" if failed else "success"

    def _use(self, step: Any, work: Path, given: dict[str, str]) -> bool:
        """What an action of the host does: here nothing but files."""
        given_with = {key: self._filled(str(value), given) for key, value in step.get("with", {}).items()}
        match step["uses"].partition("@")[0]:
            case "actions/checkout":
                shutil.copytree(self.root, work, dirs_exist_ok=True)
            case "actions/upload-artifact":
                source = work / given_with["path"]
                target = self.kept / given_with["name"]
                if source.is_dir():
                    shutil.copytree(source, target)
                elif source.is_file():
                    target.mkdir(parents=True)
                    shutil.copy(source, target)
                else:
                    return False
            case "actions/download-artifact":
                source = self.kept / given_with["name"]
                if not source.is_dir():
                    return False
                shutil.copytree(source, work, dirs_exist_ok=True)
            case "actions/setup-python":
                pass
            case other:
                raise AssertionError(f"nothing stands in for {other}")
        return True

    def _holds(self, condition: str | None, failed: bool, given: dict[str, str]) -> bool:
        text = str(condition or "").strip()
        if found := _IN_TEXT.fullmatch(text):
            text = found[1]
        # Without a word on the state of the run, a condition counts only while nothing has failed.
        if "cancelled()" not in text and failed:
            return False
        if not text:
            return True
        return bool(self._value(text, given))

    def _value(self, text: str, given: dict[str, str]) -> Any:
        known = {**{f"github.{key}": value for key, value in self.github.items()}, **given}
        text = _CONTEXT.sub(lambda found: json.dumps(known.get(found[0], "")), text)
        text = text.replace("cancelled()", "False").replace("&&", " and ").replace("||", " or ")
        return eval(re.sub(r"!(?!=)", " not ", " ".join(text.split())), {"__builtins__": {}})

    def _filled(self, text: str, given: dict[str, str]) -> str:
        return _IN_TEXT.sub(lambda found: str(self._value(found[1], given)), text)
