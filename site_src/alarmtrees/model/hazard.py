"""What can go wrong with an act, in the four ways of Leveson and Thomas (STPA handbook, 2018), and what holds it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from .finding import Place
from .source import Map
from .tree import Harm

WAYS = {
    "not-given": "Not done",
    "given": "Done when it must not be",
    "wrong-time": "Too early, too late, or in the wrong order",
    "wrong-length": "Too long, or ended too soon",
}
"""The four ways in which an act can go wrong, as readers see them."""


@dataclass(frozen=True, slots=True)
class Hazard:
    """One thing that can go wrong with an act.

    Attributes:
        id: its id, the only one of the table.
        say: what happens.
        harm: how bad, and how soon.
        held_by: the safety rules, and the rules of the check, that hold it; empty where words alone do.
        words_only: why no rule holds it; None where one does.
    """

    id: str
    say: str
    harm: Harm
    held_by: tuple[str, ...]
    words_only: str | None
    raw: Map = field(repr=False)
    place: Place


@dataclass(frozen=True, slots=True)
class Cell:
    """What can go wrong with one act in one way; `none` says why nothing can, where there is no hazard."""

    hazards: tuple[Hazard, ...]
    none: str | None
    place: Place


@dataclass(frozen=True, slots=True)
class HazardRow:
    """An act that has a mark: its four cells by the way it goes wrong; one that is not written is not there."""

    mark: str
    cells: Mapping[str, Cell]
    place: Place
