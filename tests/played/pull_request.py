"""Plays one change through, from the edit to the site: a scratch repository with a bare remote, and the real programs.

What the programs print goes into kb/review.md, between the markers `<!-- output: name -->` and `<!-- end -->`. A test
plays it again and compares; to write the page anew:

    python tests/played/pull_request.py
"""

from __future__ import annotations

import difflib
import html
import os
import re
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

HERE = Path(__file__).resolve().parent
REPOSITORY = HERE.parents[1]
PAGE = REPOSITORY / "kb" / "review.md"
TREE = "trees/line-apart.yml"
TODAY = "2026-11-25"

_BLOCK = re.compile(r"(<!-- output: ([a-z-]+) -->\n).*?(<!-- end -->)", re.DOTALL)

# The first attempt: the reader whose patient is as before goes straight to the refill, past the look for blood.
WRONG = (
    ("{say: As before, to: look-for-blood}", "{say: As before, to: refill}"),
    (
        "  pumping-again:\n",
        "  refill:\n    do:\n      - Renew the gas, once.\n    marks: [refill]\n    then: look-for-blood\n"
        "  pumping-again:\n",
    ),
)
# The mended one: the refill comes where the balloon still stands after the line was closed, and is looked at.
MENDED = (
    ("{say: It stands still, to: call-still, pump: still}", "{say: It stands still, to: refill, pump: still}"),
    (
        "  pumping-again:\n",
        '  refill:\n    do:\n      - "Only if no blood was seen: renew the gas, once."\n      - Restart the pump.\n'
        "    marks: [refill]\n    pump: starts\n    then: moves-now\n"
        "  moves-now:\n    ask: Does the balloon move after the refill?\n    answers:\n"
        "      - {say: It moves now, to: pumping-again, pump: moves}\n"
        "      - {say: It still stands, to: call-still, pump: still}\n"
        "  pumping-again:\n",
    ),
)


@dataclass
class Played:
    """What was printed, by name, each as a block of Markdown."""

    blocks: dict[str, str] = field(default_factory=dict)


class Stage:
    """The scratch repository, its remote, and the programs as people run them."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.root = folder / "library"
        self.remote = folder / "remote.git"
        self.minute = 0

    def run(self, *command: str, status: int | None = 0) -> str:
        """What a command prints; it must end with the status, where one is given."""
        made = {
            **os.environ,
            "NO_MKDOCS_2_WARNING": "1",
            "GIT_CONFIG_GLOBAL": os.devnull,
            "GIT_CONFIG_SYSTEM": os.devnull,
        }
        self.minute += 1  # each commit a minute after the one before, so that their order is ever the same
        who = {**_WHO, "DATE": f"2026-11-25T09:{self.minute:02}:00+00:00"}
        made |= {f"GIT_{role}_{what}": value for role in ("AUTHOR", "COMMITTER") for what, value in who.items()}
        done = subprocess.run(command, cwd=self.root, env=made, capture_output=True, text=True, timeout=120)
        if status is not None and done.returncode != status:
            raise AssertionError(f"{command}: status {done.returncode}\n{done.stdout}{done.stderr}")
        return done.stdout

    def git(self, *arguments: str) -> str:
        """What git prints."""
        return self.run("git", *arguments)

    def alarmtrees(self, *arguments: str, status: int | None = 0) -> str:
        """What the program prints."""
        code = "import sys; from alarmtrees.terminal.cli import main; sys.exit(main())"
        return self.run(sys.executable, "-c", code, *arguments, status=status)

    def edit(self, changes: tuple[tuple[str, str], ...]) -> None:
        """Replace texts in the tree, each of which stands there once."""
        path = self.root / TREE
        text = path.read_text("utf-8")
        for old, new in changes:
            assert text.count(old) == 1, old
            text = text.replace(old, new)
        path.write_text(text, "utf-8")

    def site(self, name: str) -> list[str]:
        """Build the site, and read the headings of the steps on the tree's page, and who reviewed it."""
        target = self.folder / name
        self.run(sys.executable, "-m", "mkdocs", "build", "-q", "-d", str(target))
        pages = [target / "alarms" / "line-apart" / "index.html", target / "alarms" / "line-apart.html"]
        return _told(next(page for page in pages if page.is_file()).read_text("utf-8"))


_WHO = {"NAME": "lead perfusionist", "EMAIL": "lead@larkmoor.example"}


def play(folder: Path, site: bool = True) -> Played:
    """Play the change through.

    Args:
        folder: an empty folder to work in.
        site: whether the site is built before and after.

    Returns:
        What was printed.
    """
    stage, played = Stage(folder), Played()
    _set_up(stage)
    before = stage.site("before") if site else []
    stage.git("switch", "-q", "-c", "one-refill")
    stage.edit(WRONG)
    played.blocks["wrong-edit"] = _fenced(_diff(stage.git("diff", "-U1", "--", TREE)), "diff")
    played.blocks["check-fails"] = _fenced(stage.alarmtrees("check", "--today", TODAY, status=1))
    stage.git("checkout", "-q", "--", TREE)
    stage.edit(MENDED)
    played.blocks["mended-edit"] = _fenced(_diff(stage.git("diff", "-U1", "--", TREE)), "diff")
    played.blocks["check-passes"] = _fenced(stage.alarmtrees("check", "--today", TODAY))
    stage.git("commit", "-q", "-am", "One refill where the closed line does not help")
    stage.git("push", "-q", "origin", "one-refill")
    played.blocks["compare"] = _fenced(stage.alarmtrees("compare", "main", "one-refill", status=1))
    comment = stage.alarmtrees("compare", "main", "one-refill", "--format", "markdown", status=1)
    played.blocks["comment"] = _fenced(comment, "markdown", "````")
    _approve(stage, played)
    said = stage.alarmtrees("sign", "line-apart", "--by", "lead perfusionist", "--on", TODAY)
    played.blocks["sign"] = _fenced(said)
    played.blocks["check-strict"] = _fenced(stage.alarmtrees("check", "--strict", "--today", TODAY))
    stage.git("commit", "-q", "-am", "Gas line apart: reviewed")
    stage.git("push", "-q", "origin", "one-refill")
    stage.git("switch", "-q", "main")
    stage.git("merge", "-q", "--no-ff", "-m", "One refill where the closed line does not help", "one-refill")
    stage.git("push", "-q", "origin", "main")
    played.blocks["merged"] = _fenced(stage.git("--git-dir", str(stage.remote), "log", "--format=%s", "main"))
    if site:
        lines = difflib.unified_diff(before, stage.site("after"), n=0, lineterm="")
        changed = [line for line in lines if line[:1] in "+-" and not line.startswith(("+++", "---"))]
        played.blocks["site"] = _fenced("\n".join(changed), "diff")
    return played


def _set_up(stage: Stage) -> None:
    shutil.copytree(HERE / "library", stage.root)
    configuration = (REPOSITORY / "mkdocs.yml").read_text("utf-8")
    theme = REPOSITORY / "site_src" / "theme"
    configuration = configuration.replace("custom_dir: site_src/theme", f"custom_dir: {theme.as_posix()}")
    (stage.root / "mkdocs.yml").write_text(configuration, "utf-8")
    stage.alarmtrees("sign", "line-apart", "--by", "lead perfusionist", "--on", "2026-09-14")
    stage.run("git", "init", "-q", "--bare", "-b", "main", str(stage.remote))
    stage.git("init", "-q", "-b", "main")
    # It names a folder of this machine: committed, it would give each machine other commits, and the page with them.
    (stage.root / ".git" / "info" / "exclude").write_text("/mkdocs.yml\n", "utf-8")
    stage.git("remote", "add", "origin", str(stage.remote))
    stage.git("add", "-A")
    stage.git("commit", "-q", "-m", "Gas line apart: as it was")
    stage.git("push", "-q", "origin", "main")


def _approve(stage: Stage, played: Played) -> None:
    """The reviewer reads each change, and approves on the main branch those that are meant, with the reason."""
    told = stage.alarmtrees("compare", "main", "one-refill", status=1)
    lines = re.findall(r'^  - \{change: \w+, version: \w+, by: "", on: "", why: ""\}$', told, re.MULTILINE)
    assert len(lines) == 1
    meant = f"by: lead perfusionist, on: {TODAY}, why: One refill before the call is meant."
    approved = "\n".join(["approved:", *(line.replace('by: "", on: "", why: ""', meant) for line in lines)])
    stage.git("switch", "-q", "main")
    (stage.root / "approved.yml").write_text(approved + "\n", "utf-8")
    stage.git("add", "approved.yml")
    stage.git("commit", "-q", "-m", "Approved: one refill before the call")
    stage.git("push", "-q", "origin", "main")
    stage.git("switch", "-q", "one-refill")
    out = stage.alarmtrees("compare", "main", "one-refill", "--approved-from", "main")
    played.blocks["approved"] = _fenced(approved, "yaml") + "\n\n" + _fenced(out.splitlines()[-1])


def _diff(text: str) -> str:
    """A difference without the lines that name hashes and files."""
    return "\n".join(line for line in text.splitlines() if not line.startswith(("diff ", "index ", "--- ", "+++ ")))


def _fenced(text: str, kind: str = "text", fence: str = "```") -> str:
    return f"{fence}{kind}\n{text.rstrip()}\n{fence}"


def _told(page: str) -> list[str]:
    """The steps' headings on a page, with the words in them, and the review."""
    article = re.search(r"<article\b.*?</article>", page, re.DOTALL)
    assert article, "the page has no article"
    text = re.sub(r"<(script|style|svg)\b.*?</\1>", " ", article.group(), flags=re.DOTALL)
    text = re.sub(r"</?(?:a|strong|em|b|span|abbr|small|code)\b[^>]*>", " ", text)
    pieces = (re.sub(r"\s+", " ", html.unescape(piece)).strip() for piece in re.split(r"<[^>]+>", text))
    return [piece for piece in pieces if re.match(r"Step \d|Reviewed by", piece)]


def filled(page: str, played: Played) -> str:
    """The page with each block between markers replaced by what was printed; others stay."""

    def block(match: re.Match[str]) -> str:
        made = played.blocks.get(match.group(2))
        return match.group() if made is None else f"{match.group(1)}\n{made}\n\n{match.group(3)}"

    return _BLOCK.sub(block, page)


def main() -> None:
    """Write the page anew."""
    with tempfile.TemporaryDirectory() as folder:
        played = play(Path(folder))
    page = PAGE.read_text("utf-8")
    names = [found.group(2) for found in _BLOCK.finditer(page)]
    assert sorted(names) == sorted(played.blocks), (names, list(played.blocks))
    PAGE.write_text(filled(page, played), "utf-8")


if __name__ == "__main__":
    main()
