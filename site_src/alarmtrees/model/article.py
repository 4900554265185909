"""What staff read beside the trees: articles, their questions for learners, and calculators."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from .finding import Place
from .picture import Picture
from .source import Map
from .tree import Review


@dataclass(frozen=True, slots=True)
class Passage:
    """A heading, paragraph, list item or table row of an article.

    Attributes:
        kind: "heading", "paragraph", "item" or "row".
        text: its characters, line ends included, with code and comments blanked.
        start: where it begins in the text of the file.
    """

    kind: str
    text: str
    start: int


class Choice(NamedTuple):
    """An answer to a question that learners are asked: its words, whether it is right, and why."""

    say: str
    right: bool
    why: str


@dataclass(frozen=True, slots=True)
class SelfCheck:
    """A question of an article with its answers, the right one first."""

    ask: str
    choices: tuple[Choice, ...]
    raw: Map = field(repr=False)


@dataclass(frozen=True, slots=True)
class Article:
    """A page for staff about a part of the job, written in Markdown under a front matter.

    Attributes:
        id: the file's stem.
        part: the part of the job it belongs to ("start", "run", …).
        tasks: what it helps to do ("zero", "trigger", …).
        trees: the alarms that it serves.
        free: whether it does without the six sections.
        questions: what learners may be asked about it.
        passages: its body, in order.
        text: the characters of the file, line ends as one sign.
        plain: `text` of the same length in which front matter, code and comments are blanked.
        body_at: where the body begins in `text`.
        line_starts: where each line begins in `text`.
        raw: the front matter with all positions.
        pictures: the drawings that it shows, by id.
    """

    id: str
    title: str
    description: str
    part: str
    tasks: tuple[str, ...]
    trees: tuple[str, ...]
    cautions: tuple[str, ...]
    sources: tuple[str, ...]
    free: bool
    questions: tuple[SelfCheck, ...]
    review: Review | None
    passages: tuple[Passage, ...]
    text: str = field(repr=False)
    plain: str = field(repr=False)
    body_at: int
    line_starts: tuple[int, ...] = field(repr=False)
    file: str
    raw: Map = field(repr=False)
    pictures: Mapping[str, Picture] = field(default_factory=dict, repr=False)

    def place(self, offset: int) -> Place:
        """The place of a character of the file, counted from 0."""
        line = bisect_right(self.line_starts, offset)
        return Place(self.file, line, offset - self.line_starts[line - 1] + 1)

    def at(self, key: str) -> Place:
        """Where the value of a key of the front matter stands; the file's first line where there is none."""
        return Place(self.file, *self.raw.value_at.get(key, (1, 1)))

    def item_at(self, key: str, index: int) -> Place:
        """Where the item `index` of the list `key` of the front matter stands."""
        return Place(self.file, *self.raw[key].item_at[index])


@dataclass(frozen=True, slots=True)
class Calculator:
    """A formula for staff, as its file says it; `calc` reads what is to be computed.

    Attributes:
        id: the file's stem.
        trees: the alarms that it serves.
        related: articles of the same subject.
        text: the characters of the file.
        raw: the document with all positions.
    """

    id: str
    title: str
    summary: str
    trees: tuple[str, ...]
    related: tuple[str, ...]
    cautions: tuple[str, ...]
    sources: tuple[str, ...]
    review: Review | None
    text: str = field(repr=False)
    file: str
    raw: Map = field(repr=False)

    def at(self, key: str) -> Place:
        """Where the value of a top-level key stands; the file's first line where there is none."""
        return Place(self.file, *self.raw.value_at.get(key, (1, 1)))

    def item_at(self, key: str, index: int) -> Place:
        """Where the item `index` of the top-level list `key` stands."""
        return Place(self.file, *self.raw[key].item_at[index])
