"""The things the project is about, as frozen dataclasses, each knowing where it stands in its file.

Nothing here reads a file or decides anything; `load.py` reads, `rules/` decide.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any, NamedTuple

from .finding import Place

FIXED = "fixed"
"""The word that, in an answer's `when`, says that a step before has removed the cause."""

DERIVED_MARKS = ("pump-starts", "pump-stops", "call", "resolved")
"""Marks that follow from what a node is; nobody writes them."""

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
    """Who reviewed a tree or article, when, until when that holds, and the content stamp that was reviewed.

    An article has no stamp: "".
    """

    by: str
    on: str
    next: str
    content: str
    raw: Map = field(repr=False)
    place: Place


@dataclass(frozen=True, slots=True)
class Withdrawal:
    """Since when a tree is withdrawn, and why."""

    on: str
    why: str


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


@dataclass(frozen=True, slots=True)
class Tree:
    """One alarm as a decision tree. `raw` is the document with all positions."""

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

    def at(self, key: str) -> Place:
        """Where the value of a top-level key stands; the file's first line where there is none."""
        return Place(self.file, *self.raw.value_at.get(key, (1, 1)))

    def item_at(self, key: str, index: int) -> Place:
        """Where the item `index` of the top-level list `key` stands."""
        return Place(self.file, *self.raw[key].item_at[index])

    def answers_at(self, node: Node) -> tuple[Answer, ...]:
        """The answers offered at a step: its own, then those offered at any time.

        An answer offered at any time is left out on the step it leads to: it has been taken there.
        """
        if node.kind == "end" or not self.anytime:
            return node.answers
        return node.answers + tuple(a for a in self.anytime if a.to != node.id)


@dataclass(frozen=True, slots=True)
class Setting:
    """A local value. `value` is None until the hospital sets it; `own` says that it is not the invented hospital's."""

    id: str
    say: str
    value: str | None
    unit: str | None
    status: str | None
    source: str | None
    by: str | None
    on: str | None
    place: Place
    own: bool = True

    @property
    def shown(self) -> str:
        """The value as readers see it, with its unit behind a no-break space."""
        if self.value is None:
            return "not set here"
        return f"{self.value}\u00a0{self.unit}" if self.unit else self.value


@dataclass(frozen=True, slots=True)
class Role:
    """Somebody to call. `phone` is None until the hospital sets it; a fictional one is never dialled.

    `own` says that the number is not the invented hospital's.
    """

    id: str
    say: str
    phone: str | None
    fictional: bool
    place: Place
    own: bool = True


@dataclass(frozen=True, slots=True)
class Mark:
    """A word for what a step or an answer means to the safety rules.

    `shows`: a question with this mark must offer answers that carry these marks. `anytime`: every
    tree must offer an answer that carries it at any time. `step_words` and
    `answer_words`: phrases that, in a line to do or in an answer, mean that the mark belongs there.
    """

    id: str
    say: str
    shows: tuple[str, ...]
    anytime: bool
    step_words: tuple[str, ...]
    answer_words: tuple[str, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class SafetyRule:
    """One rule over all ways, in the patterns of Dwyer, Avrunin & Corbett (1999).

    `slots` maps the pattern's places (`first`, `then`, `of`, `after`, `until`, `by`) to sets of
    marks; `then` may be None for "any".
    """

    id: str
    say: str
    pattern: str
    slots: Mapping[str, frozenset[str] | None]
    only: frozenset[str]
    reason: str
    sources: tuple[str, ...]
    raw: Map = field(repr=False)
    place: Place


@dataclass(frozen=True, slots=True)
class Caution:
    """A caution that trees and steps refer to."""

    id: str
    say: str
    why: str | None
    sources: tuple[str, ...]
    raw: Map = field(repr=False)
    place: Place


@dataclass(frozen=True, slots=True)
class Synonyms:
    """What the finder knows of words.

    `same` holds words of one meaning under a name for it; `light` names the meanings that count for little;
    `fillers` say nothing about which alarm it is; `elsewhere` are words of other machines; `said` are phrases
    for one alarm, by the id of its tree.
    """

    same: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    light: tuple[str, ...] = ()
    fillers: tuple[str, ...] = ()
    elsewhere: tuple[str, ...] = ()
    said: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


NO_SYNONYMS = Synonyms()


@dataclass(frozen=True, slots=True)
class Waveform:
    """A pressure trace that the model of the circulation draws, and what is said of it.

    Attributes:
        seen: what can be seen in it: the words, and the sign that the model has to show.
        beside: the trace drawn with it for comparison.
        trees: the alarms on whose pages it stands.
        causes: the causes whose practice cases show it, as tree/cause.
        raw: the entry, with what differs from the usual patient and timing.
    """

    id: str
    title: str
    say: str
    seen: tuple[tuple[str, str], ...]
    why: str | None
    beside: str | None
    trees: tuple[str, ...]
    causes: tuple[str, ...]
    sources: tuple[str, ...]
    raw: Map = field(repr=False)


@dataclass(frozen=True, slots=True)
class WaveformStep:
    """One step of a row: by how much ("40 ms earlier"), what is seen, the signs that the model has to show."""

    by: str
    say: str
    signs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WaveformSeries:
    """A row of traces in which the timing of one moves; `moves` is "fill" or "empty"."""

    id: str
    title: str
    say: str
    of: str
    moves: str
    steps: tuple[WaveformStep, ...]


@dataclass(frozen=True, slots=True)
class Stage:
    """A stage of the path that a new colleague takes: when it comes and why, and the pages read in it.

    `pages` holds ids of articles and trees, each with why it is read; `away` those of them that are no work at the bed.
    """

    id: str
    title: str
    when: str
    why: str
    pages: tuple[tuple[str, str], ...]
    away: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Telling:
    """Words for the story of a practice case; `never` holds trees and groups of trees that they do not fit."""

    say: str
    never: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Stories:
    """With what words a practice case begins: patients, places, what is met by tree, and a tree's own places."""

    patients: tuple[Telling, ...] = ()
    places: tuple[Telling, ...] = ()
    scenes: Mapping[str, str] = field(default_factory=dict)
    own_places: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


NO_STORIES = Stories()


@dataclass(frozen=True, slots=True)
class Library:
    """All that one department keeps: the trees, and the facts they share.

    `known` holds the ids of all tree files, the broken ones too, and `broken` the kinds of fact files
    that have faults: a reference to what a broken file may hold is no second fault. `wordings` are what
    the hospital's own consoles print, by the id of the tree: private, and never part of an export.
    `invented` is the name of the hospital that the shipped settings belong to, where that is an invented one,
    and `reviewers` are the roles that may sign a review; anybody may where none is named.
    `written` names all Markdown files of kb/, the articles and the plain pages.
    """

    root: str
    sources_read: tuple[Source, ...]
    trees: Mapping[str, Tree]
    known: frozenset[str]
    broken: frozenset[str] = frozenset()
    hospital: str = ""
    fictional: bool = False
    invented: str = ""
    reviewers: tuple[str, ...] = ()
    settings: Mapping[str, Setting] = field(default_factory=dict)
    roles: Mapping[str, Role] = field(default_factory=dict)
    marks: Mapping[str, Mark] = field(default_factory=dict)
    safety: Mapping[str, SafetyRule] = field(default_factory=dict)
    cautions: Mapping[str, Caution] = field(default_factory=dict)
    sources: Mapping[str, Map] = field(default_factory=dict)
    words: Mapping[str, Map] = field(default_factory=dict)
    synonyms: Synonyms = NO_SYNONYMS
    wordings: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    articles: Mapping[str, Article] = field(default_factory=dict)
    written: frozenset[str] = frozenset()
    calculators: Mapping[str, Calculator] = field(default_factory=dict)
    waveforms: Mapping[str, Waveform] = field(default_factory=dict)
    waveform_series: Mapping[str, WaveformSeries] = field(default_factory=dict)
    stories: Stories = NO_STORIES
    path: tuple[Stage, ...] = ()
