"""An alarm as a decision tree: causes, steps, answers, and who reviewed it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from .finding import Place
from .picture import Picture
from .source import Map

FIXED = "fixed"
"""The word that, in an answer's `when`, says that a step before has removed the cause."""

DERIVED_MARKS = ("pump-starts", "pump-stops", "call", "end-resolved", "resolved")
"""Marks that follow from what a node is; nobody writes them. `resolved` is an older name of `end-resolved`."""


class Priority(StrEnum):
    """Priority of an alarm condition, as IEC 60601-1-8 names it."""

    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"


# IEC 60601-1-8:2006+A1:2012+A2:2020, 6.1.2, Table 1. Where that table leaves a choice between a low
# priority and no alarm at all (minor, delayed), the alarm has sounded: low.
_TABLE_1 = {
    ("irreversible", "immediate"): Priority.HIGH,
    ("irreversible", "prompt"): Priority.HIGH,
    ("irreversible", "delayed"): Priority.MEDIUM,
    ("reversible", "immediate"): Priority.HIGH,
    ("reversible", "prompt"): Priority.MEDIUM,
    ("reversible", "delayed"): Priority.LOW,
    ("minor", "immediate"): Priority.MEDIUM,
    ("minor", "prompt"): Priority.LOW,
    ("minor", "delayed"): Priority.LOW,
}


@dataclass(frozen=True, slots=True)
class Harm:
    """What may happen if nobody reacts (irreversible, reversible, minor), and how soon."""

    severity: str
    onset: str

    @property
    def priority(self) -> Priority:
        """The priority by Table 1 of IEC 60601-1-8:2006+A1:2012+A2:2020.

        >>> Harm("irreversible", "prompt").priority.value
        'high'
        """
        return _TABLE_1[self.severity, self.onset]


@dataclass(frozen=True, slots=True)
class Cause:
    """One possible cause of the alarm; `share` in percent is an estimate for editors, or None."""

    id: str
    say: str
    share: float | None
    place: Place


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer to a question: what is seen, and where it leads.

    `when` holds the causes under which it can be seen (`FIXED` among them: once a step has removed
    the cause); None means under all. `pump` is "moves", "still" or None. `anytime` answers are
    offered at every step.
    """

    say: str
    to: str
    marks: frozenset[str]
    when: tuple[str, ...] | None
    pump: str | None
    anytime: bool
    raw: Map = field(repr=False)
    place: Place


@dataclass(frozen=True, slots=True)
class Node:
    """One step: a question (`ask`), something to do (`do`), or an end (`end`).

    `lines` holds the question, the lines to do, or what the end says. `takes` is in seconds.
    `pump` is what a `do` does ("starts", "stops"). `marks` are the written and the derived ones.
    `picture` is the id of the drawing that shows where to look or what to do.
    """

    id: str
    kind: str
    lines: tuple[str, ...]
    answers: tuple[Answer, ...]
    then: str | None
    end: str | None
    call: str | None
    go: str | None
    why: str | None
    meanwhile: str | None
    fixes: tuple[str, ...]
    pump: str | None
    takes: float | None
    marks: frozenset[str]
    cautions: tuple[str, ...]
    sources: tuple[str, ...]
    picture: str | None
    raw: Map = field(repr=False)
    place: Place

    @property
    def text(self) -> str:
        """All that the step says, lines joined by a newline."""
        return "\n".join(self.lines)

    def at(self, key: str) -> Place:
        """Where the value of `key` stands; the step itself where it has none."""
        spot = self.raw.value_at.get(key)
        return Place(self.place.file, *spot) if spot else self.place

    def item_at(self, key: str, index: int) -> Place:
        """Where the item `index` of the list under `key` stands."""
        return Place(self.place.file, *self.raw[key].item_at[index])


@dataclass(frozen=True, slots=True)
class Review:
    """Who reviewed a page, when, until when that holds, and what was reviewed.

    Attributes:
        content: the stamp of what the page said; "" where it was signed without one.
        values: the stamp of the hospital's values that it was shown with; "" where it was signed without one, and
            so with the shipped ones.
        house: the stamp of the hospital that signed it; "" where it was signed before any had taken it over.
    """

    by: str
    on: str
    next: str
    content: str
    values: str
    house: str
    raw: Map = field(repr=False)
    place: Place


@dataclass(frozen=True, slots=True)
class Withdrawal:
    """Since when a tree is withdrawn, and why."""

    on: str
    why: str


@dataclass(frozen=True, slots=True)
class Tree:
    """One alarm as a decision tree. `raw` is the document with all positions; `pictures` are what its steps show."""

    id: str
    title: str
    summary: str
    status: str | None
    about: str
    aliases: tuple[str, ...]
    condition: str
    harm: Harm
    pump: str
    causes: Mapping[str, Cause]
    anytime: tuple[Answer, ...]
    start: str
    nodes: Mapping[str, Node]
    cautions: tuple[str, ...]
    related: tuple[str, ...]
    sources: tuple[str, ...]
    review: Review | None
    file: str
    raw: Map = field(repr=False)
    withdrawn: Withdrawal | None = None
    pictures: Mapping[str, Picture] = field(default_factory=dict, repr=False)

    @property
    def is_withdrawn(self) -> bool:
        """Whether nobody is to follow it any more."""
        return self.status == "withdrawn"

    @property
    def is_draft(self) -> bool:
        """Whether it is being written still, and nobody may use it yet."""
        return self.status == "draft"

    @property
    def in_use(self) -> bool:
        """Whether readers may be led to it: found, linked, practised, asked and counted."""
        return not self.is_withdrawn and not self.is_draft

    def at(self, key: str) -> Place:
        """Where the value of a top-level key stands; the file's first line where there is none."""
        return Place(self.file, *self.raw.value_at.get(key, (1, 1)))

    def item_at(self, key: str, index: int) -> Place:
        """Where the item `index` of the top-level list `key` stands."""
        return Place(self.file, *self.raw[key].item_at[index])

    def picture_at(self, node: Node) -> Picture | None:
        """The drawing that a step shows; None where it shows none, or one that does not exist."""
        return self.pictures.get(node.picture or "")

    @property
    def carried(self) -> frozenset[str]:
        """All marks that its steps and answers carry."""
        own = (answer.marks for node in self.nodes.values() for answer in node.answers)
        return frozenset().union(*own, *(a.marks for a in self.anytime), *(n.marks for n in self.nodes.values()))

    def answers_at(self, node: Node) -> tuple[Answer, ...]:
        """The answers offered at a step: its own, then those offered at any time.

        An answer offered at any time is left out on the step it leads to: it has been taken there.
        """
        if node.kind == "end" or not self.anytime:
            return node.answers
        return node.answers + tuple(a for a in self.anytime if a.to != node.id)


ABOUT = {
    "patient": "Patient",
    "gas": "Gas",
    "trigger": "Trigger",
    "pressure": "Pressure",
    "timing": "Timing",
    "power": "Power",
}
"""What an alarm is about, in the order of the home page, as readers see it."""
