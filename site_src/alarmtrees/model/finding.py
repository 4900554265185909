"""What a check found, and where."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How much a finding weighs. An error keeps a library from being published."""

    ERROR = "error"
    WARNING = "warning"


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """A spot in a file: path relative to the library's root, line and column counted from 1."""

    file: str
    line: int
    column: int


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a way: the node passed, and the answer given there (None where none is asked)."""

    node: str
    answer: str | None


@dataclass(frozen=True, slots=True)
class Finding:
    """One fault, at one place, under one rule.

    Attributes:
        rule: the kebab-case id of the rule.
        severity: error or warning.
        place: where to look in the source.
        message: what is wrong, why it matters, what to write instead.
        node: the step concerned, None where the fault is not about one step.
        way: the shortest way through the tree that shows the fault, None where it is not about a way.
    """

    rule: str
    severity: Severity
    place: Place
    message: str
    node: str | None = None
    way: tuple[Step, ...] | None = None

    @property
    def sort_key(self) -> tuple[Place, str, str]:
        """The order in which findings are reported: by place, then rule, then words."""
        return (self.place, self.rule, self.message)
