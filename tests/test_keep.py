"""What a build keeps for the next one: never taken where it is old, damaged or somebody else's."""

from __future__ import annotations

import os
import shutil
import time
from pathlib import Path

import pytest

from alarmtrees.reading.keep import Store, _secret, digest, digest_of_files
from alarmtrees.reading.open import open_library
from alarmtrees.site.bedside.tree import tree_page
from alarmtrees.site.kept import Kept


def answers(folder: Path, value: str, code: str = "code", inputs: object = ("a", 1)) -> str:
    """What a new store says that would make `value`."""
    return Store(folder, code).get("page", inputs, lambda: value)


def only_file(folder: Path) -> Path:
    (file,) = folder.iterdir()
    return file


def test_what_was_made_from_the_same_is_made_once(tmp_path: Path) -> None:
    assert answers(tmp_path, "first") == "first"
    assert answers(tmp_path, "second") == "first"


def test_other_inputs_another_code_and_another_name_are_made_anew(tmp_path: Path) -> None:
    answers(tmp_path, "first")
    assert answers(tmp_path, "other", inputs=("a", 2)) == "other"
    assert answers(tmp_path, "other", inputs=("a1",)) == "other"
    assert answers(tmp_path, "other", code="changed") == "other"
    assert Store(tmp_path, "code").get("sheet", ("a", 1), lambda: "other") == "other"
    assert answers(tmp_path, "second") == "first"


def test_no_flipped_bit_is_ever_taken_for_what_was_kept(tmp_path: Path) -> None:
    answers(tmp_path, "Stop the pump and call.")
    file = only_file(tmp_path)
    good = file.read_bytes()
    for place in range(len(good)):
        for bit in (0, 5):
            file.write_bytes(good[:place] + bytes([good[place] ^ (1 << bit)]) + good[place + 1 :])
            assert answers(tmp_path, "made anew") == "made anew"
    file.write_bytes(good)
    assert answers(tmp_path, "made anew") == "Stop the pump and call."


def test_a_file_cut_short_or_grown_is_made_anew_and_mended(tmp_path: Path) -> None:
    answers(tmp_path, "first")
    file = only_file(tmp_path)
    good = file.read_bytes()
    for broken in (*(good[:length] for length in range(len(good))), good + b" ", b"", b"{}", b"\xff\xfe"):
        file.write_bytes(broken)
        assert answers(tmp_path, "first") == "first"
        assert file.read_bytes() == good


def test_a_whole_file_under_another_name_is_foreign(tmp_path: Path) -> None:
    answers(tmp_path, "old advice", inputs="old tree")
    old = only_file(tmp_path)
    answers(tmp_path, "new advice", inputs="new tree")
    (new,) = set(tmp_path.iterdir()) - {old}
    shutil.copy(old, new)
    assert answers(tmp_path, "new advice", inputs="new tree") == "new advice"


def test_what_cannot_be_read_or_written_is_no_fault(tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("")
    assert answers(blocked / "pages", "made") == "made"
    Store(blocked / "pages").clear()
    answers(tmp_path / "pages", "first")
    file = only_file(tmp_path / "pages")
    file.unlink()
    file.mkdir()
    assert answers(tmp_path / "pages", "made anew") == "made anew"
    Store(tmp_path / "pages").clear()
    assert file.is_dir()


def test_what_another_machine_has_made_is_made_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever knows code and inputs can work out name and hash, and could put a page into a proposal."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "other"))
    _secret.cache_clear()
    answers(tmp_path / "pages", "Start the pump.")
    assert answers(tmp_path / "pages", "made anew") == "Start the pump."
    key = tmp_path / "other" / "alarmtrees" / "key"
    assert key.stat().st_mode & 0o077 == 0 and len(key.read_bytes()) == 32
    for broken in (b"", b"short"):  # a key cut short is replaced, and what it signed is gone with it
        key.write_bytes(broken)
        _secret.cache_clear()
        assert answers(tmp_path / "pages", "made anew") == "made anew"
        shutil.rmtree(tmp_path / "pages")
        answers(tmp_path / "pages", "Start the pump.")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "this"))
    _secret.cache_clear()
    assert answers(tmp_path / "pages", "made anew") == "made anew"
    assert answers(tmp_path / "pages", "second") == "made anew", "kept from then on"
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "pages" / only_file(tmp_path / "pages").name))
    _secret.cache_clear()
    assert answers(tmp_path / "pages", "made anew") == "made anew", "no key can be kept: nothing can be trusted"
    _secret.cache_clear()


def test_kept_and_made_are_alike(tmp_path: Path) -> None:
    def ask() -> object:
        return Store(tmp_path).get("row", 1, lambda: {"steps": ("a", "b"), "gain": 0.1 + 0.2, "text": "–\ud800"})

    assert ask() == ask() == {"steps": ["a", "b"], "gain": 0.1 + 0.2, "text": "–\ud800"}


def test_only_what_was_asked_for_stays_and_what_another_build_writes(tmp_path: Path) -> None:
    answers(tmp_path, "old", inputs="old")
    store = Store(tmp_path, "code")
    store.get("page", "new", lambda: "new")
    half, left = (tmp_path / f".page-{sign * 32}.json.7.new" for sign in "12")
    foreign = [tmp_path / name for name in ("package.json", "page-1.json", f"page-{'1' * 32}.json.txt~", ".key")]
    for path in (half, left, *foreign):
        path.write_text("half")
        os.utime(path, (time.time() - 7200,) * 2)
    os.utime(half)
    store.clear()
    assert answers(tmp_path, "made anew", inputs="new") == "new"
    assert half.exists()
    assert not left.exists()
    assert all(path.is_file() for path in foreign), "what no store writes is somebody's"
    assert answers(tmp_path, "made anew", inputs="old") == "made anew"


def test_two_builds_at_once_do_not_take_half_of_the_other(tmp_path: Path) -> None:
    one, other = Store(tmp_path, "code"), Store(tmp_path, "code")

    def while_the_other_builds() -> str:
        other.get("page", "tree", lambda: "advice")
        other.clear()
        return "advice"

    assert one.get("page", "tree", while_the_other_builds) == "advice"
    one.clear()
    assert answers(tmp_path, "made anew", inputs="tree") == "advice"


def test_a_digest_tells_apart_what_differs() -> None:
    told = [["a"], "a", ("a", "b"), "ab", {"a": "b"}, frozenset({"a"}), 1, "1", None, True]
    assert len({digest(one) for one in told}) == len(told) - 1  # a set counts as the list of its items
    assert digest(frozenset("abcdef")) == digest(sorted("abcdef"))


def test_a_digest_of_files_sees_names_bytes_and_borders(tmp_path: Path) -> None:
    def of(**files: str) -> str:
        folder = tmp_path / digest(files)
        folder.mkdir()
        for name, text in files.items():
            (folder / name).write_text(text)
        return digest_of_files([folder])

    told = [of(a="x"), of(b="x"), of(a="y"), of(a="x", b=""), of(a="", b="x"), of()]
    assert len(set(told)) == len(told)


def test_a_kept_page_is_the_page_that_was_made(small_library: Path, tmp_path: Path) -> None:
    library = open_library(small_library)
    for tree in library.trees.values():
        for _ in range(2):
            assert Kept(library, Store(tmp_path)).page(tree, tree_page, None) == tree_page(library, tree)
