"""A file as read: mappings and lists that know where each piece stands, and what went wrong."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from .finding import Place

Spot = tuple[int, int]
"""Line and column, from 1, inside one file."""


class Map(dict[str, Any]):
    """A YAML mapping that remembers where each key and each value stands."""

    __slots__ = ("at", "flow", "key_at", "value_at")

    def __init__(self, at: Spot, flow: bool = False) -> None:
        super().__init__()
        self.at = at
        self.flow = flow
        self.key_at: dict[str, Spot] = {}
        self.value_at: dict[str, Spot] = {}


class Seq(list[Any]):
    """A YAML sequence that remembers where each item stands."""

    __slots__ = ("at", "flow", "item_at")

    def __init__(self, at: Spot, flow: bool = False) -> None:
        super().__init__()
        self.at = at
        self.flow = flow
        self.item_at: list[Spot] = []


@dataclass(frozen=True, slots=True)
class Problem:
    """A fault met while reading a file, before there is anything to check."""

    rule: str
    spot: Spot
    message: str


@dataclass(frozen=True, slots=True)
class Source:
    """One YAML file as read.

    Attributes:
        file: path relative to the library's root, with forward slashes.
        kind: "tree", "article", "calculator", or the name of a fact file's kind ("marks", "settings", …).
        stem: file name without ending.
        text: the characters of the file ("" where it could not be read).
        data: the document, None where it could not be read.
        problems: what went wrong in reading.
    """

    file: str
    kind: str
    stem: str
    text: str
    data: Map | None
    problems: tuple[Problem, ...]

    def place(self, spot: Spot) -> Place:
        """The place of a spot in this file."""
        return Place(self.file, *spot)
