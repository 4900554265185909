"""Hostile and broken files: findings in the right file, never a traceback; other trees are not touched.

What a YAML file can do to its reader is known from the YAML 1.1 and 1.2 specifications (anchors, tags,
merge keys, directives, complex keys), from "billion laughs" (Klein 2002, for XML), and from the Unicode
Technical Report 36 and "Trojan Source" (Boucher & Anderson 2021) for signs that turn the direction of
writing. The kinds below are from memory of these; the last test makes more at random.
"""

from __future__ import annotations

import json
import os
import random
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tree_text import EVERY, REPOSITORY, SOME, TODAY, Bench, all_scripts, library_of, reading_once

from alarmtrees.check.report import FORMATS
from alarmtrees.check.run import check_library
from alarmtrees.model import wording
from alarmtrees.reading.open import FACTS
from alarmtrees.terminal.cli import main

HEAD = "id: hostile\ntitle: Hostile\n"
BOMB = "a: &a [x, x, x, x, x, x, x, x, x]\n" + "".join(
    f"{b}: &{b} [{', '.join([f'*{a}'] * 9)}]\n" for a, b in zip("abcdefgh", "bcdefghi", strict=True)
)

# Kind: the file's bytes, and the line of the first finding (None: any).
HOSTILE: dict[str, tuple[bytes, int | None]] = {
    "alias bomb": (BOMB.encode(), 1),
    "alias without anchor": (f"{HEAD}summary: *nothing\n".encode(), 3),
    "anchors twice": (f"{HEAD}summary: &a x\nabout: &a gas\n".encode(), 3),
    "anchor that holds itself": (b"&a [*a]\n", 1),
    "code tag": (f'{HEAD}summary: !!python/object/apply:os.system ["exit 3"]\n'.encode(), 3),
    "tag on a mapping": (f"{HEAD}harm: !!map {{severity: minor}}\n".encode(), 3),
    "tag directive": (f"%TAG ! tag:example.invalid,2000:\n---\n{HEAD}summary: !x y\n".encode(), 5),
    "unknown YAML version": (f"%YAML 9.9\n---\n{HEAD}".encode(), None),
    "merge key": (f"{HEAD}nodes:\n  <<: {{a: b}}\n".encode(), None),
    "deep lists": (f"{HEAD}nodes: {'[' * 5000}{']' * 5000}\n".encode(), 3),
    "deep mappings": (HEAD.encode() + b"".join(b" " * i + b"k:\n" for i in range(200)), None),
    "deep lists never closed": (b"[" * 100_000, 1),
    "control character": (f"{HEAD}summary: a\x08b\n".encode(), 3),
    "NUL": (f"{HEAD}summary: a\x00b\n".encode(), 3),
    "escaped NUL": (f'{HEAD}summary: "a\\0b"\n'.encode(), 3),
    "escaped bell": (f'{HEAD}summary: "a\\ab"\n'.encode(), 3),
    "half a character": (f'{HEAD}summary: "a\\ud800b"\n'.encode(), None),
    "direction turned": (f"{HEAD}summary: a \u202e b\n".encode(), 3),
    "direction isolated": (f"{HEAD}summary: a \u2066 b\n".encode(), 3),
    "over 1 MiB": (HEAD.encode() + b"# " + b"x" * (1024 * 1024), 1),
    "not UTF-8": (HEAD.encode() + b"summary: \xff\xfe\n", 3),
    "Latin-1": (HEAD.encode() + "summary: übel\n".encode("latin-1"), 3),
    "UTF-16": (HEAD.encode("utf-16"), 1),
    "UTF-32": (HEAD.encode("utf-32"), 1),
    "binary": (random.Random(1).randbytes(4096), None),
    "an executable's beginning": (b"\x7fELF\x02\x01\x01" + bytes(9), None),
    "two documents": (f"{HEAD}---\n{HEAD}".encode(), 3),
    "empty": (b"", 1),
    "comments only": (b"# nothing\n# here\n", 1),
    "only the mark of a document": (b"---\n", 1),
    "list at the top": (b"- id: hostile\n", 1),
    "text at the top": (b"hostile\n", 1),
    "tab": (f"{HEAD}harm:\n\tseverity: minor\n".encode(), None),
    "quote not closed": (f'{HEAD}summary: "a\nabout: gas\n'.encode(), None),
    "bracket not closed": (f"{HEAD}aliases: [a, b\nabout: gas\n".encode(), None),
    "huge key": (HEAD.encode() + b"k" * 200_000 + b": x\n", 3),
    "huge text": (HEAD.encode() + b"summary: " + b"x " * 200_000 + b"\n", None),
    "list as key": (f"{HEAD}? [a, b]\n: c\n".encode(), None),
    "mapping as key": (f"{HEAD}? {{a: b}}\n: c\n".encode(), None),
    "key without a name": (f"{HEAD}? \n: c\n".encode(), None),
    "many keys": (HEAD.encode() + b"".join(b"k%d: x\n" % i for i in range(20_000)), None),
    "one key many times": (HEAD.encode() + b"about: gas\n" * 5_000, 4),
    "Mac line ends": (HEAD.replace("\n", "\r").encode(), None),
    "line separators": (f"{HEAD}summary: a\u2028b\u2029c\u0085d\n".encode(), None),
    "numbers and dates": (b"id: 010\ntitle: 2026-09-14\nsummary: yes\npump: off\nnodes: ~\n", None),
    "a tree inside out": (b"nodes: [id, title]\nid: {a: b}\nanytime: x\ncauses: [x]\nharm: high\n", None),
    "steps without anything": (f"{HEAD}nodes: {{a: , b: {{}}, c: x, d: [y]}}\n".encode(), None),
}

# What the first message must say of some kinds.
SAYS = {
    "alias bomb": "anchor",
    "alias without anchor": "alias",
    "code tag": "tag",
    "tag on a mapping": "tag",
    "merge key": "<<",
    "deep mappings": "nested",
    "control character": "U+0008",
    "NUL": "U+0000",
    "escaped NUL": "U+0000",
    "direction turned": "U+202E",
    "direction isolated": "U+2066",
    "over 1 MiB": "1 MiB",
    "not UTF-8": "UTF-8",
    "UTF-16": "UTF-8",
    "two documents": "second document",
    "empty": "empty",
    "list at the top": "at its top",
    "list as key": "key",
    "key without a name": "without a key",
    "one key many times": "second time",
}


Told = list[tuple[str, str, int, str]]


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A shipped tree, all that it hands over to, and all facts. A file that has not changed is read only once."""
    folder = tmp_path_factory.mktemp("hostile")
    scripts = all_scripts(folder / "stamped")
    root = folder / "library"
    with reading_once():
        library_of("cardiac-arrest", scripts, root)  # it hands over to none: a check of it takes least
        yield root


@pytest.fixture(scope="module")
def before(library: Path) -> Told:
    """What is found while nothing is hostile; each test here puts back what it changes."""
    return _others(library, library / "trees" / "hostile.yml")


def _others(root: Path, path: Path) -> Told:
    file = path.relative_to(root).as_posix()
    found = check_library(root, TODAY).findings
    return [(f.rule, f.place.file, f.place.line, f.message) for f in found if f.place.file != file]


def test_there_are_enough() -> None:
    """At least twelve kinds are asked for."""
    assert len(HOSTILE) >= 12


@pytest.mark.parametrize("kind", HOSTILE)
def test_a_hostile_tree(kind: str, library: Path, before: Told, capsys: pytest.CaptureFixture[str]) -> None:
    """Findings in the file, exit status 1, nothing on stderr, the others as before."""
    content, line = HOSTILE[kind]
    path = library / "trees" / "hostile.yml"
    try:
        path.write_bytes(content)
        assert main(["check", "--root", str(library), "--format", "json", "--today", TODAY.isoformat()]) == 1
        after = _others(library, path)
    finally:
        path.unlink()
    out, err = capsys.readouterr()
    found = [f for f in json.loads(out)["findings"] if f["file"] == "trees/hostile.yml"]
    assert found and not err
    assert {f["severity"] for f in found} == {"error"}
    assert {f["rule"] for f in found} <= {"yaml", "lost-text", "duplicate-key", "schema", "id-mismatch"}
    if line is not None:
        assert found[0]["line"] == line, found[0]
    assert any(SAYS.get(kind, "") in f["message"] for f in found)
    assert all(len(f["message"]) < 1000 for f in found)
    assert after == before


def test_among_thousands_of_unknown_steps_none_is_likened_to_all(
    library: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A nearest name is not looked for among thousands, once for each of thousands."""
    path = library / "trees" / "hostile.yml"
    asked = "  n{0}: {{ask: x, answers: [{{say: a, to: a{0}}}, {{say: b, to: b{0}}}]}}\n"
    keys = "summary: x\nstatus: draft\nabout: gas\naliases: [x]\ncondition: technical\n"
    harm = "harm: {severity: minor, onset: delayed}\npump: running\nstart: n0\nnodes:\n"
    likened: list[str] = []
    near = wording.get_close_matches
    monkeypatch.setattr(wording, "get_close_matches", lambda *given: likened.append(given[0]) or near(*given))
    try:
        path.write_text(HEAD + keys + harm + "".join(map(asked.format, range(6000))), encoding="utf-8")
        found = check_library(library, TODAY).findings
    finally:
        path.unlink()
    assert len(likened) < 200
    assert sum(f.rule == "unknown-target" for f in found) == 12000


@pytest.mark.parametrize("kind", HOSTILE)
def test_a_hostile_tree_is_not_walked(kind: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`walk` says file and line on stderr, and exits with 1."""
    path = tmp_path / "hostile.yml"
    path.write_bytes(HOSTILE[kind][0])
    assert main(["walk", str(path), "--json"]) == 1
    out, err = capsys.readouterr()
    assert not out
    assert "hostile.yml:" in err and "Traceback" not in err


FILES = (*(f"kb/{fact}.yml" for fact in FACTS), "kb/settings.local.yml", "kb/calculators/hostile.yml", "kb/hostile.md")
OF_ALL = ("NUL", "not UTF-8", "list at the top")
OF_ONE = ("alias bomb", "code tag", "empty", "binary", "merge key")


@pytest.mark.parametrize(
    ("file", "kind"),
    [*((file, kind) for file in FILES for kind in OF_ALL), *(("kb/settings.yml", kind) for kind in OF_ONE)],
)
def test_another_hostile_file(file: str, kind: str, library: Path) -> None:
    """A broken file of facts, calculator or article is a finding in that file, in every format of report."""
    path = library / file
    before = path.read_bytes() if path.is_file() else None
    path.parent.mkdir(exist_ok=True)
    try:
        bad = HOSTILE[kind][0]
        path.write_bytes(b"---\npart: start\n" + bad + b"---\n" if path.suffix == ".md" else bad)
        result = check_library(library, TODAY)
        for told in FORMATS.values():
            assert told(result)
    finally:
        if before is None:
            path.unlink()
        else:
            path.write_bytes(before)
    assert any(f.place.file == file and f.severity == "error" for f in result.findings)


def test_what_is_no_file(library: Path, before: Told) -> None:
    """A folder with a tree's name, a link to nowhere, a link in a circle: no traceback, other trees as before."""
    trees = library / "trees"
    (trees / "folder.yml").mkdir()
    (trees / "nowhere.yml").symlink_to(trees / "not-there.yml")
    (trees / "circle.yml").symlink_to(trees / "circle.yml")
    try:
        found = check_library(library, TODAY).findings
    finally:
        (trees / "folder.yml").rmdir()
        (trees / "nowhere.yml").unlink()
        (trees / "circle.yml").unlink()
    names = ("trees/folder.yml", "trees/nowhere.yml", "trees/circle.yml")
    rest = [(f.rule, f.place.file, f.place.line, f.message) for f in found if f.place.file not in names]
    assert rest == before


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_file_nobody_may_read(library: Path) -> None:
    """A finding, not a traceback."""
    path = library / "trees" / "secret.yml"
    path.write_text(HEAD, encoding="utf-8")
    path.chmod(0)
    try:
        found = check_library(library, TODAY).findings
    finally:
        path.unlink()
    assert any(f.rule == "yaml" and f.place.file == "trees/secret.yml" for f in found)


WORDS = ("- ", ": ", " #", "\n  ", "when: ", "fixed", "then: ", "end: go", "go: ", "nodes", "0", "é")
PIECES = st.sampled_from([*"{}[]:,#&*!|>-?'\"%@`~\n\t ", *WORDS])
DAMAGE = st.lists(st.tuples(st.floats(0, 1), st.integers(0, 30), PIECES), min_size=1, max_size=4)
SLOW = [HealthCheck.function_scoped_fixture, HealthCheck.too_slow]


@settings(max_examples=200 if EVERY else 25, deadline=None, derandomize=True, suppress_health_check=SLOW)
@given(stem=st.sampled_from(SOME), damage=DAMAGE)
def test_random_damage(benches: dict[str, Bench], stem: str, damage: list[tuple[float, int, str]]) -> None:
    """Pieces cut out of a shipped tree and others put in: findings at most, in every format of report."""
    bench = benches[stem]
    text = bench.script.text
    for where, cut, piece in damage:
        at = int(where * len(text))
        text = text[:at] + piece + text[at + cut :]
    path = bench.root / bench.file
    try:
        path.write_text(text, encoding="utf-8")
        result = bench.check()
        for told in FORMATS.values():
            assert isinstance(told(result), str)
    finally:
        path.write_text(bench.script.text, encoding="utf-8")
    lines = text.count("\n") + 2
    assert all(1 <= f.place.line <= lines for f in result.findings if f.place.file == bench.file)


def test_the_repository_itself_is_untouched() -> None:
    """These tests work on copies."""
    assert not (REPOSITORY / "trees" / "hostile.yml").exists()
