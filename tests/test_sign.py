"""`alarmtrees sign`: all kinds of pages, all that is due, and files that stay whole whatever happens."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from alarmtrees.check.run import check_library
from alarmtrees.model.stamp import content_stamp, is_stale
from alarmtrees.reading.open import open_library
from alarmtrees.reading.save import save
from alarmtrees.terminal.cli import main
from alarmtrees.terminal.sign import due, sign
from cases.bundle import CASES, files_of, write_library
from small_library import swap
from tools import full_disk

ON = date(2026, 11, 25)
TREE, ARTICLE, CALCULATOR = "trees/a.yml", "kb/zeroing.md", "kb/calculators/bottles.yml"


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A library with a tree, an article and a calculator, all signed and stamped."""
    files: dict[str, str] = {}
    for case in ("unknown-article/good/links", "formula-check/good/held"):
        files |= files_of((CASES / f"{case}.txt").read_text("utf-8"))
    made = write_library(tmp_path / "library", {name: text for name, text in files.items() if name != "findings"})
    assert all((made / name).is_file() for name in (TREE, ARTICLE, CALCULATOR))
    return made


def run(root: Path, *words: str, status: int = 0) -> None:
    assert main(["sign", *words, "--root", str(root)]) == status


def rules(root: Path) -> list[str]:
    return [finding.rule for finding in check_library(root, ON).findings if finding.rule.startswith("review")]


def pages(root: Path) -> list[str]:
    """The files of all pages that are due."""
    return [page.file for page in due(open_library(root), ON)]


def differing(before: str, after: str) -> list[tuple[str, str]]:
    old, new = before.split("\n"), after.split("\n")
    assert len(old) == len(new)
    return [(was, now) for was, now in zip(old, new, strict=True) if was != now]


# ---------------------------------------------------------------------- what is signed


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        (TREE, "say: All is well.", "say: All is quite well."),
        (ARTICLE, "1. Open the tap.", "1. Shut the tap."),
        (ARTICLE, "title: Zeroing", "title: Zeroing the line"),
        (CALCULATOR, "title: ", "title: The "),
    ],
)
def test_a_change_is_seen_until_it_is_signed(root: Path, file: str, old: str, new: str) -> None:
    """In each kind of page; everything but the review stays as it was, sign by sign."""
    assert rules(root) == []
    swap(root / file, old, new)
    assert rules(root) == ["review-stale"] and pages(root) == [file]
    before = (root / file).read_text("utf-8")
    run(root, Path(file).stem, "--by", "head nurse", "--on", ON.isoformat())
    assert rules(root) == [] and pages(root) == []
    ((was, now),) = differing(before, (root / file).read_text("utf-8"))
    assert was.startswith("review:") and "by: head nurse, on: 2026-11-25, next: 2027-11-25" in now


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        (ARTICLE, "part: start", "part: run"),
        (ARTICLE, "1. Open the tap.", "1. Open the tap.   "),
        (ARTICLE, "title: Zeroing", "title:   Zeroing"),
        (CALCULATOR, "id: ", "# a word between editors\nid: "),
    ],
)
def test_where_a_page_stands_and_its_layout_are_not_signed(root: Path, file: str, old: str, new: str) -> None:
    swap(root / file, old, new)
    assert rules(root) == []


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize(
    "review",
    [
        "review: {by: lead, on: 2026-09-14, next: 2027-09-14}",
        "review:\n  by: lead\n  on: 2026-09-14\n  next: 2027-09-14   # in a year",
        "review: {next: 2027-09-14, on: 2026-09-14,\n  by: lead}   # a comment",
        "",
    ],
)
@pytest.mark.parametrize("file", [ARTICLE, CALCULATOR])
def test_a_review_without_stamp_is_due_and_gets_one(root: Path, file: str, review: str, end: str) -> None:
    """However it is laid out, and where there is none at all; line ends and comments stay."""
    path = root / file
    text = re.sub(r"^review: .*\n", f"{review}\n" if review else "", path.read_text("utf-8"), flags=re.MULTILINE)
    path.write_bytes(text.replace("\n", end).encode())
    assert rules(root) == (["review-stale"] if review else []) and pages(root) == [file]
    run(root, str(path), "--by", "lead", "--on", "2026-09-14")
    assert rules(root) == [] and pages(root) == []
    after = path.read_bytes().decode()
    assert (after.count("\r\n") == after.count("\n")) == (end == "\r\n") and after.count("#") == text.count("#")
    library = open_library(root)
    page = (library.articles | library.calculators)[path.stem]
    assert page.review and page.review.next == "2027-09-14" and page.review.content == content_stamp(page)


def test_all_signs_what_is_due_and_touches_nothing_else(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    swap(root / ARTICLE, "1. Open the tap.", "1. Shut the tap.")
    swap(root / CALCULATOR, "next: 2027-09-14", "next: 2026-10-01")  # overdue
    draft = (root / TREE).read_text("utf-8").replace("id: a\n", "id: d\n").replace("status: in-use", "status: draft")
    (root / "trees" / "d.yml").write_text(re.sub(r"\nreview:.*", "", draft), "utf-8")
    before = {path: path.read_bytes() for path in root.rglob("*") if path.is_file()}
    run(root, "--all", "--by", "janitor's friend", "--on", ON.isoformat())
    changed = sorted(path.relative_to(root).as_posix() for path, was in before.items() if path.read_bytes() != was)
    assert changed == sorted([ARTICLE, CALCULATOR])
    assert "next: 2026-12-12" in (root / CALCULATOR).read_text("utf-8")  # 17 days, as the last time
    assert capsys.readouterr().out.count("signed, content") == 2
    run(root, "--all", "--by", "head nurse", "--on", ON.isoformat())
    assert capsys.readouterr().out == "Nothing is due.\n"


def test_all_signs_what_others_have_signed(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A house that names its own reviewers signs everything anew, in one go; nobody else may."""
    settings = root / "kb" / "settings.local.yml"
    settings.write_text("reviewers: [head of perfusion]\n", "utf-8")
    assert pages(root) == [TREE, ARTICLE, CALCULATOR]
    run(root, "--all", "--by", "lead", status=2)
    err = capsys.readouterr().err
    assert err.count("\n") == 1 and "the lead may not sign; `reviewers` in the settings lists head of perfusion" in err
    assert "in kb/settings.local.yml" in err  # the way out
    run(root, "--all", "--by", "head of perfusion", "--on", ON.isoformat())
    assert pages(root) == [] and not [f for f in check_library(root, ON).findings if f.rule == "foreign-review"]


def test_one_that_cannot_be_signed_keeps_back_all(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = (root / ARTICLE).read_bytes()
    run(root, "zeroing", "nowhere", "--by", "lead", status=2)
    assert (root / ARTICLE).read_bytes() == before and "there is no tree “nowhere”" in capsys.readouterr().err


@pytest.mark.parametrize("words", [[], ["a", "--all"]])
def test_pages_or_all_but_not_both(root: Path, words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    run(root, *words, "--by", "lead", status=2)
    assert "name the pages that were reviewed, or write --all" in capsys.readouterr().err


def test_an_id_of_two_pages_asks_for_the_file(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    article = root / "kb" / "a.md"
    article.write_bytes((root / ARTICLE).read_bytes())
    run(root, "a", "--by", "lead", status=2)
    assert "“a” is a tree and an article; name the file, " in capsys.readouterr().err
    run(root, str(article), "--by", "lead", "--on", ON.isoformat())
    assert not is_stale(open_library(root).articles["a"])
    (root / "kb" / "plain.md").write_text("# A page\n", "utf-8")
    run(root, "plain", "--by", "lead", status=2)
    assert "without the front matter of an article" in capsys.readouterr().err


@pytest.mark.parametrize(("next_", "on"), [("9999-12-31", "2026-11-25"), ("2027-09-14", "9999-12-31")])
def test_days_beyond_the_calendar(root: Path, capsys: pytest.CaptureFixture[str], next_: str, on: str) -> None:
    """An interval of thousands of years becomes one; a day without a year behind it is refused."""
    swap(root / TREE, "next: 2027-09-14", f"next: {next_}")
    before = (root / TREE).read_bytes()
    if on == "9999-12-31":
        run(root, "a", "--by", "lead", "--on", on, status=2)
        assert capsys.readouterr().err.count("\n") == 1 and (root / TREE).read_bytes() == before
    else:
        run(root, "a", "--by", "lead", "--on", on)
        assert "next: 2027-11-25" in (root / TREE).read_text("utf-8")


# ---------------------------------------------------------------------- files


def test_nothing_is_written_through_a_link(root: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Neither by a name that once was that of the half file, nor by a page that is a link to elsewhere."""
    victim = tmp_path / "victim"
    victim.write_text("mine", "utf-8")
    for name in (".a.yml.new", f".a.yml.{os.getpid()}.new"):
        (root / "trees" / name).symlink_to(victim)
    run(root, "a", "--by", "lead", "--on", ON.isoformat())
    assert main(["export", "a", "--to", "dot", "--output", str(root / "trees" / "a.dot"), "--root", str(root)]) == 0
    assert victim.read_text("utf-8") == "mine" and not (root / TREE).is_symlink()
    outside = tmp_path / "elsewhere.yml"
    outside.write_bytes((root / TREE).read_bytes().replace(b"id: a\n", b"id: e\n"))
    (root / "trees" / "e.yml").symlink_to(outside)
    before = outside.read_bytes()
    capsys.readouterr()
    for name in ("e", str(root / "trees" / "e.yml")):
        run(root, name, "--by", "lead", status=2)
        assert "a link that leads out of the library" in capsys.readouterr().err
    assert outside.read_bytes() == before and (root / "trees" / "e.yml").is_symlink()


def test_a_link_within_the_library_signs_the_file_itself(root: Path) -> None:
    (root / "trees" / "old").mkdir()
    real = root / "trees" / "old" / "a.yml"
    (root / TREE).rename(real)
    (root / TREE).symlink_to(real)
    run(root, "a", "--by", "head nurse", "--on", ON.isoformat())
    assert (root / TREE).is_symlink() and "head nurse" in real.read_text("utf-8")


@pytest.mark.parametrize("mode", [0o660, 0o600, 0o644])
def test_who_may_read_and_write_stays(root: Path, mode: int) -> None:
    (root / TREE).chmod(mode)
    run(root, "a", "--by", "head nurse", "--on", ON.isoformat())
    assert (root / TREE).stat().st_mode & 0o777 == mode


def test_a_full_disk_leaves_the_file_and_nothing_beside_it(root: Path) -> None:
    before = {path: path.read_bytes() for path in root.rglob("*") if path.is_file()}
    made = sign("a", root, "head nurse", ON)
    with full_disk(), pytest.raises(OSError, match="File too large"):
        made.write()
    with full_disk(), pytest.raises(OSError, match="File too large"):
        save(root / "trees" / "a.dot", "x" * 1000)
    assert {path: path.read_bytes() for path in root.rglob("*") if path.is_file()} == before


def test_what_somebody_else_wrote_meanwhile_stays(root: Path) -> None:
    made = sign("a", root, "head nurse", ON)
    swap(root / TREE, "say: All is well.", "say: All is quite well.")
    before = (root / TREE).read_bytes()
    with pytest.raises(ValueError, match="somebody else has changed it meanwhile"):
        made.write()
    assert (root / TREE).read_bytes() == before
    assert sorted(path.name for path in (root / "trees").iterdir() if "a" in path.stem) == ["a.yml"]


_HAND = """
import sys
from datetime import date, timedelta
from pathlib import Path
from alarmtrees.terminal.sign import sign
root, hand, done = Path(sys.argv[1]), sys.argv[2], 0
for turn in range(40):
    try:
        sign("a", root, f"hand {hand}, turn {turn} " + "x" * (turn * 7), date(2026, 1, 1) + timedelta(turn)).write()
        done += 1
    except ValueError as fault:
        if "somebody" not in str(fault):
            raise
print(done)
"""


def test_three_hands_at_once_never_damage_a_tree(root: Path) -> None:
    """Each reads whole files and writes whole files, or is told that another one was quicker."""
    swap(root / TREE, "id: a\n", "# 7}\nid: a\n")
    hands = [
        subprocess.Popen([sys.executable, "-c", _HAND, str(root), str(hand)], stdout=subprocess.PIPE, text=True)
        for hand in range(3)
    ]
    seen = 0
    while any(hand.poll() is None for hand in hands):
        library = open_library(root)
        assert "a" in library.trees and not is_stale(library.trees["a"])
        seen += 1
    told = [int(hand.communicate()[0]) for hand in hands]
    assert all(hand.returncode == 0 for hand in hands) and sum(told) >= 40 and seen > 0
    assert rules(root) == [] and (root / TREE).read_text("utf-8").startswith("# 7}\nid: a\n")
    assert [path.name for path in (root / "trees").iterdir() if path.name.startswith(".")] == []
