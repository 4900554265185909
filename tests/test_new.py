"""`alarmtrees new`: whole trees in any library, refused ids, and no half-written file."""

from __future__ import annotations

import os
import shutil
from datetime import date
from pathlib import Path

import pytest

from alarmtrees.check.rules.fill_in import SIGN
from alarmtrees.check.run import check_library
from alarmtrees.terminal.cli import main
from alarmtrees.terminal.new import new_tree
from alarmtrees.terminal.sign import sign
from cases.bundle import REPO
from tools import full_disk

TODAY = date(2026, 10, 1)


@pytest.fixture
def shipped(tmp_path: Path) -> Path:
    """The shipped trees and facts."""
    for folder in ("kb", "trees"):
        (tmp_path / folder).mkdir()
        for path in (REPO / folder).glob("*.yml"):
            if path.name != "settings.local.yml":
                shutil.copy(path, tmp_path / folder)
    return tmp_path


def rules_of(root: Path, stem: str) -> list[str]:
    """The rules that find something in a tree; articles are not there, so what only names them does not count."""
    findings = check_library(root, TODAY).findings
    return [finding.rule for finding in findings if finding.place.file == f"trees/{stem}.yml"]


def test_what_is_left_for_the_author(shipped: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing but words and other names: a draft needs no review. In use it is signed, and lacks its scene alone."""
    assert main(["new", "line-came-off", "--root", str(shipped)]) == 0
    told = capsys.readouterr().out
    path = shipped / "trees" / "line-came-off.yml"
    text = path.read_text("utf-8")
    rules = rules_of(shipped, "line-came-off")
    assert set(rules) == {"fill-in", "too-few-aliases"}
    assert rules.count("fill-in") == text.count(SIGN) - 1  # one stands in a comment
    assert told.count("[fill-in]") == rules.count("fill-in") and f"{path}: written." in told
    text = text.replace(f"{SIGN} ", "").replace("aliases: []", "aliases: [n1, n2, n3, n4, n5, n6, n7, n8]")
    path.write_text(text, "utf-8")
    assert rules_of(shipped, "line-came-off") == []
    path.write_text(text.replace("status: draft", "status: in-use"), "utf-8")
    assert "missing-review" in rules_of(shipped, "line-came-off")
    sign("line-came-off", shipped, "lead perfusionist", TODAY).write()
    assert rules_of(shipped, "line-came-off") == ["missing-scene"]


@pytest.mark.parametrize(
    "title", ["Line has come off", 'A "quoted": title # {{ with signs \\', "Schlauch gelöst – jetzt"]
)
def test_a_title_is_kept(small_library: Path, title: str) -> None:
    new_tree("another", small_library, title)
    tree = check_library(small_library, TODAY).library.trees["another"]
    assert tree.title == title


def test_a_library_with_fewer_facts(small_library: Path) -> None:
    """What the library does not know is not named: no reference fails, and other trees stay as they are."""
    before = {finding.place.file for finding in check_library(small_library, TODAY).findings}
    new_tree("another", small_library)
    assert set(rules_of(small_library, "another")) <= {
        "fill-in",
        "too-few-aliases",
        "missing-caution",
    }
    assert {finding.place.file for finding in check_library(small_library, TODAY).findings} == before | {
        "trees/another.yml"
    }


def test_a_library_without_facts(tmp_path: Path) -> None:
    (tmp_path / "trees").mkdir()
    new_tree("first", tmp_path)
    left = {"fill-in", "too-few-aliases", "missing-caution", "missing-source", "unknown-role"}
    assert set(rules_of(tmp_path, "first")) == left


@pytest.mark.parametrize(
    "tree_id", ["", "Line", "line off", "../line", "line/off", "-line", "line-", "lineé", "a--b", "a\n"]
)
def test_no_id(small_library: Path, tree_id: str) -> None:
    before = sorted(small_library.rglob("*"))
    with pytest.raises(ValueError, match="is no id"):
        new_tree(tree_id, small_library)
    assert sorted(small_library.rglob("*")) == before


@pytest.mark.parametrize("name", ["line-open.yml", "Broken.YAML", "deeper/broken.yml"])
def test_what_exists_is_refused(small_library: Path, name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Also a file that cannot be read, under another ending or in a folder below."""
    path = small_library / "trees" / name
    path.parent.mkdir(exist_ok=True)
    if not path.exists():
        path.write_text("no: [tree", "utf-8")
    text = path.read_text("utf-8")
    assert main(["new", path.stem.lower(), "--root", str(small_library)]) == 2
    assert "already" in capsys.readouterr().err
    assert path.read_text("utf-8") == text


@pytest.mark.parametrize("title", ["", "  ", "two\nlines", "a bell \x07", "turned \u202e"])
def test_no_title(small_library: Path, title: str) -> None:
    with pytest.raises(ValueError, match="a title is one line"):
        new_tree("another", small_library, title)
    assert not (small_library / "trees" / "another.yml").exists()


def test_no_library(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["new", "another", "--root", str(tmp_path)]) == 2
    assert "no folder trees/" in capsys.readouterr().err


@pytest.mark.parametrize("links", [True, False])
def test_nothing_half_written(small_library: Path, links: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """A full disk leaves nothing behind; a drive without links works as well."""

    def no_links(*_: object) -> None:
        raise OSError("no links here")

    folder = small_library / "trees"
    before = sorted(folder.iterdir())
    if not links:
        monkeypatch.setattr(os, "link", no_links)
    with full_disk(), pytest.raises(OSError, match="File too large"):
        new_tree("another", small_library)
    assert sorted(folder.iterdir()) == before
    new_tree("another", small_library)
    assert sorted(folder.iterdir()) == sorted([*before, folder / "another.yml"])
