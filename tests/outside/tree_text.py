"""Edits the text of a tree's file so that the line of every change is known, and checks what comes of it."""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Any
from zlib import crc32

import pytest

from alarmtrees.check.run import CheckResult, check_library
from alarmtrees.model import Map, Seq, Tree
from alarmtrees.model.finding import Finding
from alarmtrees.model.stamp import content_stamp
from alarmtrees.reading import open as reading
from alarmtrees.reading.load import parse
from alarmtrees.reading.trees import build_tree
from lone import open_tree

REPOSITORY = Path(__file__).resolve().parents[2]
TREES = sorted(path.stem for path in (REPOSITORY / "trees").glob("*.yml"))
TODAY = date(2026, 10, 1)

EVERY = bool(os.environ.get("EVERY"))
"""All breaks and swaps of all trees, which takes long; else of each tree its share, so that every kind is met."""

SOME = TREES if EVERY else TREES[::6]
"""The trees that a library is written around: a check of each takes as long as one of all that it leads to."""

_QUOTED = re.compile(r'"(?:[^"\\]|\\.)*"|\'(?:[^\']|\'\')*\'')
_FLOW_LIST = re.compile(r"\[[^\]]*\]")
_STAMP = re.compile(r'(content: *)("[^"]*"|[0-9a-f]+)')


def share(stem: str, all_of_it: list[Any], one_in: int) -> list[Any]:
    """What is tried on a tree: one in so many, or everything if that is asked.

    Where it begins follows from the tree's name, so that a tree that comes or goes moves nothing in the others.
    """
    return all_of_it if EVERY else all_of_it[crc32(stem.encode()) % one_in :: one_in]


@dataclass(frozen=True)
class Script:
    """The text of one tree with the positions of its keys and values. Edits return new text."""

    text: str
    stem: str

    @cached_property
    def raw(self) -> Map:
        data = parse(self.text, f"trees/{self.stem}.yml", self.stem, "tree").data
        assert data is not None
        return data

    @cached_property
    def tree(self) -> Tree:
        return build_tree(parse(self.text, f"trees/{self.stem}.yml", self.stem, "tree"))

    @cached_property
    def lines(self) -> list[str]:
        return self.text.splitlines()

    def with_line(self, number: int, line: str) -> str:
        """The text with one line replaced."""
        return self.with_lines(number, number, [line])

    def with_lines(self, first: int, last: int, new: list[str]) -> str:
        """The text with the lines `first` to `last` replaced; `last` below `first` only inserts."""
        lines = list(self.lines)
        lines[first - 1 : last] = new
        return "\n".join(lines) + "\n"

    def token(self, owner: Map, key: str) -> str:
        """The value of a key as written."""
        line, column = owner.value_at[key]
        rest = self.lines[line - 1][column - 1 :]
        found = _QUOTED.match(rest) or _FLOW_LIST.match(rest)
        if found:
            return found.group()
        return re.split(r"[,}\]]", rest)[0].rstrip() if owner.flow else re.split(r" #", rest)[0].rstrip()

    def is_simple(self, owner: Map, key: str) -> bool:
        """Whether the value of a key is one token on one line."""
        value = owner[key]
        token = self.token(owner, key)
        if isinstance(value, (Map, Seq)):
            return value.flow and token.startswith("[") and token.endswith("]")
        return token.strip("\"'") == value

    def replace(self, owner: Map, key: str, new: str) -> str:
        """The text with the value of a key replaced by `new`, as written."""
        assert self.is_simple(owner, key), (self.stem, key, owner[key])
        line, column = owner.value_at[key]
        old = self.lines[line - 1]
        return self.with_line(line, old[: column - 1] + new + old[column - 1 + len(self.token(owner, key)) :])

    def remove(self, owner: Map, key: str) -> str:
        """The text without a key and its value."""
        if owner.flow:
            line, column = owner.key_at[key]
            old = self.lines[line - 1]
            end = owner.value_at[key][1] - 1 + len(self.token(owner, key))
            before, after = old[: column - 1], old[end:]
            joined = before.rstrip().rstrip(",") + after if before.rstrip()[-1] == "," else before + after.lstrip(", ")
            return self.with_line(line, joined)
        first, last = self.block(owner, key)
        return self.with_lines(first, last, [])

    def block(self, owner: Map, key: str) -> tuple[int, int]:
        """The first and last line that a key of a block mapping takes up."""
        line, column = owner.key_at[key]
        last = line
        for number in range(line + 1, len(self.lines) + 1):
            text = self.lines[number - 1]
            indent = len(text) - len(text.lstrip())
            is_item = indent == column - 1 and text.lstrip().startswith("- ")
            if text.strip() and indent < column and not is_item:
                break
            last = number if text.strip() else last
        return line, last

    def insert_into(self, owner: Map, line: str) -> tuple[str, int]:
        """The text with one more line at the top of a block mapping, and the number of that line."""
        first, column = min(owner.key_at.values())
        return self.with_lines(first, first - 1, [" " * (column - 1) + line]), first

    def add_step(self, lines: list[str]) -> tuple[str, int]:
        """The text with one more step before the first, and the line of its key."""
        nodes = self.raw["nodes"]
        first, column = min(nodes.key_at.values())
        return self.with_lines(first, first - 1, [" " * (column - 1) + line for line in lines]), first

    def nodes(self, key: str) -> list[tuple[str, Map]]:
        """The steps that have a key."""
        return [(name, node) for name, node in self.raw["nodes"].items() if key in node]

    def answers(self, key: str = "say") -> list[tuple[str, Map]]:
        """The own answers that have a key, each with its step."""
        return [(name, a) for name, node in self.nodes("answers") for a in node["answers"] if key in a]


@contextmanager
def reading_once() -> Iterator[None]:
    """Within it, a file whose path and bytes have been read before is not read again: nobody changes what was read."""
    known: dict[tuple[str, str, bytes], Any] = {}
    read = reading.read_checked

    def read_once(path: Path, root: Path, kind: str) -> Any:
        if not path.is_file():
            return read(path, root, kind)
        key = (path.relative_to(root).as_posix(), kind, path.read_bytes())
        if key not in known:
            known[key] = read(path, root, kind)
        return known[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(reading, "read_checked", read_once)
        yield


# ------------------------------------------------------------------ small libraries


def neighbours(stem: str, scripts: dict[str, Script]) -> list[str]:
    """A tree, all that it hands over to, and one tree more: what a check of it has to know."""
    found, ahead = {stem}, [stem]
    while ahead:
        for _, node in scripts[ahead.pop()].nodes("go"):
            other = node["go"].partition("/")[0]
            if other in scripts and other not in found:
                found.add(other)
                ahead.append(other)
    strangers = [other for other in scripts if other not in found and _handed_to(scripts[other]) <= found]
    return [*found, *strangers[:1]]


def _handed_to(script: Script) -> set[str]:
    return {node["go"].partition("/")[0] for _, node in script.nodes("go")}


def stamped(text: str, folder: Path, stem: str) -> str:
    """A tree's text with the stamp of what it says."""
    path = folder / f"{stem}.yml"
    path.write_text(text, encoding="utf-8")
    _, tree = open_tree(path)
    assert tree is not None, f"{stem} does not fit the schema"
    return _STAMP.sub(lambda match: f'{match.group(1)}"{content_stamp(tree)}"', text)


@dataclass(frozen=True)
class Bench:
    """A small library around one tree, with its findings before anything was broken."""

    root: Path
    stem: str
    scripts: dict[str, Script]
    before: frozenset[tuple[str, str, int]]

    @property
    def script(self) -> Script:
        return self.scripts[self.stem]

    @property
    def file(self) -> str:
        return f"trees/{self.stem}.yml"

    def findings(self, text: str | bytes) -> tuple[Finding, ...]:
        """What is found once the tree's file holds another text. The file is put back."""
        path = self.root / self.file
        try:
            path.write_bytes(text if isinstance(text, bytes) else text.encode())
            return self.check().findings
        finally:
            path.write_text(self.script.text, encoding="utf-8")

    def check(self) -> CheckResult:
        return check_library(self.root, TODAY)


def library_of(stem: str, scripts: dict[str, Script], root: Path) -> Bench:
    """Write the small library around a tree into a new folder, and check it once."""
    (root / "trees").mkdir(parents=True)
    # Articles are named but not read, and nothing is calculated: the breaks are in the tree alone.
    unread = shutil.ignore_patterns("settings.local.yml", "*.md", "calculators")
    shutil.copytree(REPOSITORY / "kb", root / "kb", ignore=unread)
    for article in (REPOSITORY / "kb").glob("*.md"):
        (root / "kb" / article.name).write_text(f"# {article.stem}\n", encoding="utf-8")
    for name in neighbours(stem, scripts):
        (root / "trees" / f"{name}.yml").write_text(scripts[name].text, encoding="utf-8")
    findings = check_library(root, TODAY).findings
    return Bench(root, stem, scripts, frozenset((f.rule, f.place.file, f.place.line) for f in findings))


def all_scripts(folder: Path) -> dict[str, Script]:
    """All shipped trees, stamped."""
    folder.mkdir()
    return {
        stem: Script(stamped((REPOSITORY / "trees" / f"{stem}.yml").read_text(encoding="utf-8"), folder, stem), stem)
        for stem in TREES
    }
