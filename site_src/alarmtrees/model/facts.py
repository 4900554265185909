"""What trees and articles share: values and roles, marks, safety rules, cautions, words, traces, stories."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from .finding import Place
from .pattern import Pattern
from .source import Map
from .tree import Tree


def value_shown(value: str | None, unit: str | None) -> str:
    """A value as readers see it, with its unit behind a no-break space."""
    if not value:
        return "not set here"
    return f"{value}\u00a0{unit}" if unit else value


@dataclass(frozen=True, slots=True)
class Setting:
    """A local value.

    Attributes:
        value: None until the hospital sets it.
        place: where the setting stands, in the hospital's own file where that names it.
        value_at: where the value stands; None where there is none.
        own: whether somebody of the hospital has put role and day to it.
        here: whether the value stands in the hospital's own file, whoever set it.
        shipped: what readers would see of the shipped value.
        range: the least and the greatest value that a hospital could mean, in `range_unit`.
        range_from: why that range.
        range_sources: keys of the sources that the range rests on.
        below: settings that are always greater.
        at_most: settings that are never less.
    """

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
    here: bool = False
    shipped: str = ""
    value_at: Place | None = None
    range: tuple[float, float] | None = None
    range_unit: str = ""
    range_from: str = ""
    range_sources: tuple[str, ...] = ()
    below: tuple[str, ...] = ()
    at_most: tuple[str, ...] = ()

    @property
    def shown(self) -> str:
        """The value as readers see it, with its unit behind a no-break space."""
        return value_shown(self.value, self.unit)


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

    @property
    def names(self) -> tuple[str, ...]:
        """The words by which texts call the role: of its id, and the last before "on call" of what it is called.

        >>> Role("equipment-on-call", "equipment engineer on call", None, False, ("kb/settings.yml", 1, 1)).names
        ('equipment', 'engineer')
        """
        before, on_call, _ = self.say.partition(" on call")
        words = [self.id.removesuffix("-on-call").replace("-", " "), *(before.split()[-1:] if on_call else [])]
        return tuple(dict.fromkeys(words))


@dataclass(frozen=True, slots=True)
class Look:
    """The words of a look that many trees ask for.

    `asks`: the questions, the usual one first. `answers`: the answers by the mark that they carry, those without one
    under `unmarked`.
    """

    asks: tuple[str, ...]
    answers: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Mark:
    """A word for what a step or an answer means to the safety rules.

    `shows`: a question with this mark must offer answers that carry these marks. `anytime`: every
    tree must offer an answer that carries it at any time. `sends_back`: an end with it sends back
    whoever came from another tree. `step_words` and
    `answer_words`: phrases that, in a line to do or in an answer, mean that the mark belongs there. `look`: the
    words of all questions that carry this mark, None where each tree has its own. `keeps`: for how many seconds an
    answer with this mark, or an unmarked answer to a question with it, need not be given again; None for no time.
    """

    id: str
    say: str
    shows: tuple[str, ...]
    anytime: bool
    sends_back: bool
    step_words: tuple[str, ...]
    answer_words: tuple[str, ...]
    look: Look | None
    keeps: float | None
    place: Place


@dataclass(frozen=True, slots=True)
class Act:
    """Something that is done to pump, line or patient, and how a line tells it.

    `marks`: one of these must stand on the step that tells it. `told`: marks that do as well on an end or an answer.
    `ways`: the verbs and what must follow them, in the language that `kb/acts.yml` explains.
    """

    id: str
    say: str
    about: str
    marks: tuple[str, ...]
    told: tuple[str, ...]
    ways: tuple[str, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Acts:
    """The table of acts, and the words that the ways of telling them are made of."""

    acts: Mapping[str, Act] = field(default_factory=dict)
    things: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    words: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    forms: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class SafetyRule:
    """One rule over all ways, in the patterns of Dwyer, Avrunin & Corbett (1999).

    `slots` maps the pattern's places (`first`, `then`, `of`, `after`, `until`, `by`) to sets of
    marks; `then` may be None for "any". `within` is the longest that a response may take, in seconds;
    None where it only has to come.
    """

    id: str
    say: str
    pattern: Pattern
    slots: Mapping[str, frozenset[str] | None]
    only: frozenset[str]
    reason: str
    sources: tuple[str, ...]
    raw: Map = field(repr=False)
    place: Place
    within: float | None = None

    def marks(self, place: str | None) -> frozenset[str]:
        """The marks in one of the pattern's places; none where it is empty, or "any"."""
        return self.slots.get(place or "") or frozenset()

    def meets(self, place: str, marks: Iterable[str]) -> bool:
        """Whether one of the pattern's places names one of some marks."""
        return not self.marks(place).isdisjoint(marks)

    @property
    def named(self) -> frozenset[str]:
        """All marks that it speaks of."""
        return frozenset().union(*(marks or () for marks in self.slots.values()))

    @property
    def for_any(self) -> bool:
        """Whether it speaks of every step that does not itself keep it: `then: any`."""
        return self.slots.get("then", ...) is None

    @property
    def alarms(self) -> frozenset[str]:
        """The marks that it reacts to."""
        return self.marks(self.pattern.cue)

    @property
    def spoken_of(self) -> tuple[frozenset[str], ...]:
        """The sets of marks of each of which a tree needs one, for the rule to be put to the test there."""
        places = dict.fromkeys(place for place in (self.pattern.subject, self.pattern.cue) if place)
        return tuple(marks for place in places if (marks := self.slots.get(place)) is not None)

    def holds_for(self, tree: Tree) -> bool:
        """Whether it is about a tree at all: by `only` it may be narrowed to some trees or groups of trees."""
        return not self.only or tree.id in self.only or tree.about in self.only

    def speaks_of(self, tree: Tree) -> bool:
        """Whether it holds for a tree, and the tree has what it speaks of."""
        return self.holds_for(tree) and all(marks & tree.carried for marks in self.spoken_of)


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

Phrases = Mapping[str, tuple[str, ...]]
"""What one voice types into the box, by the page: the id of a tree or article, `calculators/<id>`, or one of these."""

NUMBERS_ASKED, NOTHING_HERE = "numbers", "none"
"""Pages in `Phrases` that are none: who wants a phone number, and who wants what no page answers."""


@dataclass(frozen=True, slots=True)
class Waveform:
    """A pressure trace that the model of the circulation draws, and what is said of it.

    Attributes:
        seen: what can be seen in it: the words, and the sign that the model has to show.
        beside: the trace drawn with it for comparison.
        against: the trace that stands at its right; else `beside` does.
        draws: what is drawn beside pressure, ECG and fill: "ventricle", "gas".
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
    against: str | None
    draws: tuple[str, ...]
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
    """A row of traces in which the timing of one moves; `moves` is "fill" or "empty", `draws` as of a trace."""

    id: str
    title: str
    say: str
    of: str
    moves: str
    draws: tuple[str, ...]
    steps: tuple[WaveformStep, ...]


@dataclass(frozen=True, slots=True)
class Stage:
    """A stage of the path that a new colleague takes: when it comes and why, and the pages read in it.

    `pages` holds ids of articles and trees, each with why it is read; `away` those of them that are no work at the bed.
    `days` is how many days are planned for it.
    """

    id: str
    title: str
    when: str
    why: str
    pages: tuple[tuple[str, str], ...]
    away: frozenset[str] = frozenset()
    days: int = 7


@dataclass(frozen=True, slots=True)
class Told:
    """One change of a tree as a reader notices it: its day as `2026-09-14`, and what is other now."""

    on: str
    say: str


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
