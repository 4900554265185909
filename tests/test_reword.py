"""`alarmtrees reword`: one text, wherever the library says it, and not a sign besides."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from alarmtrees.check.run import check_library
from alarmtrees.terminal.cli import main
from alarmtrees.terminal.reword import reword
from small_library import REPOSITORY, shipped_library

KEPT = (
    "# a word on it\nlook:\r\n  say: 'It''s  out'   # why\n  other: {say: \"It's out\", to: x}\n"
    "  long: >\n    It's\n    out\n  last: It's out, or not\n"
)
WORDS = st.text(st.characters(exclude_categories=("C", "Z")), min_size=1).map(str.strip).filter(bool)


def library(tmp_path: Path) -> Path:
    for name in ("trees", "kb", "schema"):
        shutil.copytree(REPOSITORY / name, tmp_path / name)
    return tmp_path


def small(tmp_path: Path, text: str = KEPT) -> Path:
    (tmp_path / "trees").mkdir(exist_ok=True)
    (tmp_path / "trees" / "a.yml").write_bytes(text.encode())
    return tmp_path / "trees" / "a.yml"


def looked_at() -> list[str]:
    """The usual words of each look of the library: how it is asked, and each of its answers."""
    looks = [mark.look for mark in shipped_library().marks.values() if mark.look]
    return [text for look in looks for text in (look.asks[0], *(said[0] for said in look.answers.values()))]


def test_words_of_every_look_are_put_otherwise_each_in_one_go(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    root, texts = library(tmp_path), sorted(set(looked_at()))
    for old in texts:
        assert main(["reword", old, f"Now: {old}", "--root", str(root)]) == 0, old
    assert capsys.readouterr().out.count("have them checked, compared and signed") == len(texts) >= 20
    rules = {finding.rule for finding in check_library(root).findings}
    assert not rules & {"look-wording", "story-fails", "yaml", "schema", "duplicate-answer"}, rules


def test_nothing_else_in_the_file_moves(tmp_path: Path) -> None:
    path = small(tmp_path)
    (one,) = reword("it's OUT", "It is out: now", tmp_path)
    one.write()
    was, now = KEPT.splitlines(True), path.read_bytes().decode().splitlines(True)
    assert one.lines == (3, 4, 5)
    assert now[2] == was[2].replace("'It''s  out'", '"It is out: now"')
    assert now[3] == was[3].replace('"It\'s out"', '"It is out: now"')
    assert now[4:] == ['  long: "It is out: now"\n', was[7]]
    assert now[:2] == was[:2]


@given(new=WORDS)
def test_what_is_put_there_is_read_back(new: str, tmp_path_factory: pytest.TempPathFactory) -> None:
    path = small(tmp_path_factory.mktemp("words"))
    (one,) = reword("It's out", new, path.parent.parent)
    read = yaml.safe_load(one.text)["look"]
    assert read["say"] == read["other"]["say"] == read["long"] == " ".join(new.split())
    assert read["last"] == "It's out, or not"


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("It's out", " ", "there are no new words; write what is to stand there"),
        ("It's out", "It's  out", "the new words are the old ones"),
        ("out", "off", "no tree, story or look says “out” as a whole text; write it as it stands in its file"),
    ],
)
def test_what_cannot_be_done_is_told_in_one_line(
    old: str, new: str, told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = small(tmp_path)
    assert main(["reword", old, new, "--root", str(tmp_path)]) == 2
    assert capsys.readouterr().err == f"alarmtrees: {told}\n"
    assert path.read_bytes() == KEPT.encode()


def test_a_file_that_cannot_be_read_leaves_all_as_they_were(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = small(tmp_path)
    (tmp_path / "trees" / "b.yml").write_text("say: [It's out")
    assert main(["reword", "It's out", "It is off", "--root", str(tmp_path)]) == 2
    assert "b.yml: it cannot be read as it is; `alarmtrees check` says why" in capsys.readouterr().err
    assert path.read_bytes() == KEPT.encode()
