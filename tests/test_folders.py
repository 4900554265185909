"""Whatever lies in a library's folders is told in one clear line: nothing is followed, nothing hangs."""

from __future__ import annotations

import json
import os
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from alarmtrees.check.report import FORMATS
from alarmtrees.check.run import check_library
from alarmtrees.compare.versions import read_version
from alarmtrees.reading.folders import lying, shown
from alarmtrees.reading.keep import Store
from alarmtrees.reading.pictures import MAX_BYTES, picture_problem

Run = Callable[..., subprocess.CompletedProcess[str]]

SECRET = "secret: words\n"


def strays(root: Path) -> dict[str, str]:
    """What may not lie there, by name, with what is said of it."""
    found = [finding for finding in check_library(root).findings if finding.rule == "stray-file"]
    told = {finding.place.file: finding.message for finding in found}
    assert len(told) == len(found)
    return told


@pytest.fixture
def outside(tmp_path: Path) -> Path:
    """A file of the user's that no library may touch."""
    path = tmp_path / "outside" / "private.yml"
    path.parent.mkdir()
    path.write_text(SECRET, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    "name", ["kb/x.txt", "kb/x.md", "kb/marks2.yml", "kb/x.png", "trees/x.yml", "kb/calculators/x.yml", "kb/deep/x.svg"]
)
def test_link_is_one_finding_and_tells_nothing_of_where_it_leads(small_library: Path, outside: Path, name: str) -> None:
    (small_library / name).parent.mkdir(exist_ok=True)
    (small_library / name).symlink_to(outside)
    told = "this is a link, and could lead out of the library; put the file itself here"
    result = check_library(small_library)
    assert strays(small_library) == {name: told}
    assert result.errors == 1
    for report in FORMATS.values():
        assert "secret" not in report(result) and str(outside) not in report(result)
    assert not any("secret" in source.text for source in read_version(None, small_library).library.sources_read)


def test_private_values_are_not_read_through_a_link(small_library: Path, outside: Path) -> None:
    (small_library / "kb" / "settings.local.yml").symlink_to(outside)
    assert list(strays(small_library)) == ["kb/settings.local.yml"]


def test_folders_are_not_followed(small_library: Path, outside: Path) -> None:
    (small_library / "kb" / "loop").symlink_to(small_library / "kb")
    (small_library / "trees" / "more").symlink_to(outside.parent)
    (small_library / "trees" / "x.yml").mkdir()
    told = strays(small_library)
    assert sorted(told) == ["kb/loop", "trees/more", "trees/x.yml"]
    assert "a folder named like a file" in told["trees/x.yml"]


@pytest.mark.parametrize("name", ["kb", "trees", ".cache", ".cache/pages", ".cache/traces"])
def test_folder_of_the_library_itself_is_no_link(small_library: Path, tmp_path: Path, name: str) -> None:
    there = tmp_path / "elsewhere"
    if (small_library / name).is_dir():
        (small_library / name).rename(there)
    else:
        there.mkdir()
        (small_library / name).parent.mkdir(exist_ok=True)
    (small_library / name).symlink_to(there)
    assert strays(small_library)[name].startswith("this folder is a link")


@pytest.mark.parametrize("linked", [".cache", ".cache/traces"])
def test_build_removes_nothing_where_a_linked_cache_leads(
    small_library: Path, tmp_path: Path, mkdocs: Run, linked: str
) -> None:
    target = tmp_path / "project"
    (target / "traces").mkdir(parents=True)
    for path in (target / "package.json", target / "traces" / "package.json"):
        path.write_text("{}", encoding="utf-8")
    (small_library / linked).parent.mkdir(exist_ok=True)
    (small_library / linked).symlink_to(target)
    done = mkdocs(small_library, "build")
    assert done.returncode == 1 and f"{linked}:1:1: error: this folder is a link" in done.stderr
    store = Store(small_library / ".cache" / "traces")
    store.put("trace", 1, 1)
    store.clear()
    assert (target / "package.json").is_file() and (target / "traces" / "package.json").is_file()
    assert len(list(target.rglob("*"))) == 3


ODD = {
    b"a\n::error::b.md": r"kb/a\n::error::b.md",
    b"a\x1b[31m.md": r"kb/a\x1b[31m.md",
    "a\u202egnp.md".encode(): r"kb/a\u202egnp.md",
    b"a\xff.md": r"kb/a\udcff.md",
    b"a\x7f.yml": r"kb/a\x7f.yml",
}


@pytest.mark.parametrize("name", ODD, ids=range(len(ODD)))
def test_name_with_an_odd_sign_is_one_line_in_every_report(small_library: Path, mkdocs: Run, name: bytes) -> None:
    (small_library / "kb" / os.fsdecode(name)).write_text("# Words\n", encoding="utf-8")
    result = check_library(small_library)
    assert strays(small_library) == {
        ODD[name]: "the name holds a sign that cannot be shown; name it in letters, digits and -"
    }
    assert result.errors == 1
    for kind, report in FORMATS.items():
        text = report(result)
        assert text.isascii() or all(sign.isprintable() or sign == "\n" for sign in text)
        text.encode("utf-8")
        assert kind not in ("text", "github") or sum("stray-file" in line for line in text.splitlines()) == 1
    assert json.loads(FORMATS["sarif"](result))["runs"][0]["results"]


def test_odd_name_and_pipe_stop_a_build_with_a_line_each(small_library: Path, mkdocs: Run) -> None:
    os.mkfifo(small_library / "kb" / "pipe.md")
    os.mkfifo(small_library / "trees" / "pipe.yml")
    (small_library / "kb" / os.fsdecode(b"a\xff\n.md")).touch()
    done = mkdocs(small_library, "build")
    assert done.returncode == 1 and "Traceback" not in done.stderr
    said = [line for line in done.stderr.splitlines() if "[stray-file]" in line]
    assert [line.partition(":")[0] for line in said] == [r"kb/a\udcff\n.md", "kb/pipe.md", "trees/pipe.yml"]
    assert "neither a file nor a folder" in said[1]


def test_folder_that_cannot_be_read_is_said(small_library: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    scan = os.scandir

    def refused(folder: Path) -> object:
        if Path(folder).name == "locked":
            raise PermissionError(13, "Permission denied")
        return scan(folder)

    (small_library / "kb" / "locked").mkdir()
    monkeypatch.setattr(os, "scandir", refused)
    assert [one.file for one in lying(small_library).strays] == ["kb/locked"]


def test_plain_names_are_told_as_they_are() -> None:
    assert shown("kb/größe 1 – é.md") == "kb/größe 1 – é.md"


def test_svg_in_other_signs_or_escapes_is_refused(tmp_path: Path) -> None:
    picture = tmp_path / "a.svg"
    draws = '<svg xmlns="http://www.w3.org/2000/svg"><path d="M0 0" style="fill:url( #a)"/></svg>'
    for text, good in (
        (draws, True),
        (f'<?xml version="1.0" encoding="UTF-8"?>{draws}', True),
        (f'<?xml version="1.0" encoding="shift_jis"?>{draws}', False),
        (draws.replace("url( #a)", r"\75rl(x)"), False),
        (draws.replace("url( #a)", "image-set('//other.example/a' 1x)"), False),
        (f"{draws}{' ' * MAX_BYTES}", False),
    ):
        picture.write_text(text, encoding="utf-8")
        assert (picture_problem(picture) == "") == good, text[:200]
    picture.write_bytes(draws.encode("utf-16"))
    assert "cannot be read" in picture_problem(picture)
