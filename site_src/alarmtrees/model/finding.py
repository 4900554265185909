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


def way_text(way: tuple[Step, ...]) -> str:
    """A way on one line: steps joined by arrows, answers in quotes."""
    return " → ".join(step.node if step.answer is None else f"{step.node} “{step.answer}”" for step in way)


def annotation(level: str, place: Place, title: str, message: str) -> str:
    """One workflow command: a message beside a line.

    Args:
        level: error, warning or notice.
        place: the line.
        title: what stands above the message.
        message: any text; line ends are kept.
    """
    fields = f"file={_property(place.file)},line={place.line},col={place.column},title={_property(title)}"
    return f"::{level} {fields}::{_data(message)}\n"


def _data(text: str) -> str:
    return text.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def _property(text: str) -> str:
    return _data(text).replace(":", "%3A").replace(",", "%2C")
