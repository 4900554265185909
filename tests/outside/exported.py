"""What the outside checks of the exports share: the exports of all shipped trees, and a reading of the YAML of its own.

The reading takes nothing from the package: PyYAML, the fields as the schema explains them, and the settings put in.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import yaml
from tree_text import EVERY, REPOSITORY, TREES

from alarmtrees.exports import Subject, export
from small_library import shipped_library

SHARE = TREES if EVERY else TREES[::6]
"""The trees that are walked step by step; all where `EVERY` is set."""

Way = tuple[int, ...]
"""The numbers of the answers given, from 0, one a step."""


@dataclass(frozen=True)
class Told:
    """One tree as written: for each step the answers as shown with where they lead, and how it ends if it does."""

    start: str
    moves: dict[str, list[tuple[str, str]]]
    ends: dict[str, str]
    texts: dict[str, list[str]]

    def ways(self, at: str | None = None) -> Iterator[tuple[Way, str]]:
        """Every way, and the step at which it ends."""
        at = at or self.start
        if at in self.ends:
            yield (), at
        for number, (_, to) in enumerate(self.moves[at]):
            for way, end in self.ways(to):
                yield (number, *way), end

    def follow(self, way: Way) -> list[str]:
        """The steps of a way."""
        steps = [self.start]
        for number in way:
            steps.append(self.moves[steps[-1]][number][1])
        return steps

    def covering(self, seed: int, more: int) -> Iterator[Way]:
        """Ways that together give every answer at every step, going on at random, and some more at random."""
        random = Random(seed)
        ahead, to = [self.start], {self.start: ()}
        for step in ahead:
            for number, (_, target) in enumerate(self.moves[step]):
                if target not in to:
                    to[target] = (*to[step], number)
                    ahead.append(target)
        given: set[tuple[str, int]] = set()
        for step in reversed(ahead):
            for number in range(len(self.moves[step])):
                if (step, number) not in given:
                    way = self._onward((*to[step], number), random)
                    given.update(zip(self.follow(way), way, strict=False))
                    yield way
        for _ in range(more):
            yield self._onward((), random)

    def _onward(self, way: Way, random: Random) -> Way:
        at = self.follow(way)[-1]
        while self.moves[at]:
            number = random.randrange(len(self.moves[at]))
            way, at = (*way, number), self.moves[at][number][1]
        return way


@cache
def _settings() -> dict[str, str]:
    values = _read(REPOSITORY / "kb" / "settings.yml")["values"]
    return {key: f"{e['value']} {e['unit']}" if "unit" in e else e["value"] for key, e in values.items()}


def _read(path: Path) -> Any:
    return yaml.load(path.read_text(encoding="utf-8"), yaml.CBaseLoader)


def _shown(text: str) -> str:
    whole = re.sub(r"[ \t\r\n]+", " ", text).strip()
    return re.sub(r"\{(\w+)\}", lambda name: _settings()[name.group(1)], whole)


@cache
def told(stem: str) -> Told:
    """A shipped tree as written."""
    tree = _read(REPOSITORY / "trees" / f"{stem}.yml")
    moves, ends, texts = {}, {}, {}
    for name, node in tree["nodes"].items():
        own = [("Done", node["then"])] if "then" in node else [(a["say"], a["to"]) for a in node.get("answers", [])]
        ever = [(a["say"], a["to"]) for a in tree.get("anytime", []) if a["to"] != name]
        moves[name] = [] if "end" in node else [(_shown(say), to) for say, to in [*own, *ever]]
        texts[name] = [_shown(line) for line in node.get("do", [node.get("ask", node.get("say"))])]
        if "end" in node:
            ends[name] = node["end"]
    return Told(tree["start"], moves, ends, texts)


@cache
def _library() -> Any:
    return shipped_library()


@cache
def exported(stem: str, form: str) -> str:
    """A shipped tree in a format."""
    return export(Subject(_library().trees[stem], _library()), form)


__all__ = ["REPOSITORY", "TREES", "Told", "Way", "exported", "told"]
