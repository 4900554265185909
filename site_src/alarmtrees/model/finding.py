"""What a check found, and where."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum

MOST = 20
"""How many findings of one rule in one file are told; nobody reads more before mending what they say."""

_STEPS = (20, 39)
_SIGNS = (700, 250)


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


def cut_way(way: tuple[Step, ...]) -> tuple[Step, ...]:
    """A way short enough to be read: of a long one the beginning and the end, and between them how much is left out.

    >>> way = tuple(Step(f"n{number}", None) for number in range(100))
    >>> cut_way(way[:60]) == way[:60], cut_way(way)[20], len(cut_way(way))
    (True, Step(node='… 41 more …', answer=None), 60)
    """
    head, tail = _STEPS
    if len(way) <= head + tail + 1:
        return way
    return (*way[:head], Step(f"… {len(way) - head - tail:,} more …", None), *way[-tail:])


def cut_words(text: str) -> str:
    """A message short enough to be read, whatever names stand in it; what to write instead is said at its end."""
    head, tail = _SIGNS
    return text if len(text) <= head + tail + 3 else f"{text[:head]} … {text[-tail:]}"


def told(findings: Iterable[Finding]) -> list[Finding]:
    """What is told of findings in their order: of one rule, in one file, the first few, then how many more.

    >>> one = [Finding("yaml", Severity.ERROR, Place("a.yml", line, 1), "it is wrong") for line in range(1, 5001)]
    >>> len(told(one)), told(one)[20].place.line, told(one)[20].message
    (21, 21, 'and 4,980 more of this kind in this file; mend those above first')
    """
    counts: dict[tuple[str, str, Severity], int] = {}
    kept: list[Finding] = []
    rest: dict[tuple[str, str, Severity], int] = {}
    for finding in findings:
        kind = finding.rule, finding.place.file, finding.severity
        counts[kind] = counts.get(kind, 0) + 1
        if counts[kind] > MOST and kind not in rest:
            rest[kind] = len(kept)
        if counts[kind] <= MOST + 1:
            kept.append(finding)
    for kind, index in rest.items():
        if counts[kind] > MOST + 1:
            message = f"and {counts[kind] - MOST:,} more of this kind in this file; mend those above first"
            kept[index] = replace(kept[index], message=message, node=None, way=None)
    return kept


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
