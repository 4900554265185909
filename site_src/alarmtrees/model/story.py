"""A bedside told in a few sentences, and what a tree must and must never tell the one who stands there."""

from __future__ import annotations

from dataclasses import dataclass, field

from .finding import Place
from .source import Map


@dataclass(frozen=True, slots=True)
class Given:
    """One answer that the reader of a story gives: its text as shown, and whether it is one offered at any time."""

    say: str
    anytime: bool
    place: Place


@dataclass(frozen=True, slots=True)
class Demand:
    """What must be told: a mark, or a call to a role; and by when, in seconds after the page was opened."""

    mark: str | None
    call: str | None
    by: float | None
    place: Place


@dataclass(frozen=True, slots=True)
class Story:
    """A bedside, the page opened there, and the answers that an honest, hurried reader gives.

    Attributes:
        id: its id, the only one of its file.
        tree: the tree whose file it stands in.
        say: the bedside.
        opens: the tree, or tree/step, that the reader opens.
        answers: what the reader answers, in order, on through other pages.
        must: what must be told.
        never: marks that must not be met.
        end: the kind of end ("resolved", "call", "page").
        whom: the role that an end `call` calls, or the tree that an end `page` hands over to.
        causes: the causes of the opened tree that are true, where known.
    """

    id: str
    tree: str
    say: str
    opens: str
    answers: tuple[Given, ...]
    must: tuple[Demand, ...]
    never: tuple[str, ...]
    end: str
    whom: str | None
    causes: tuple[str, ...]
    raw: Map = field(repr=False)
    place: Place

    def at(self, key: str) -> Place:
        """Where the value of `key` stands; the story itself where it has none."""
        spot = self.raw.value_at.get(key)
        return Place(self.place.file, *spot) if spot else self.place

    def never_at(self, index: int) -> Place:
        """Where the item `index` of `never` stands."""
        return Place(self.place.file, *self.raw["never"].item_at[index])
