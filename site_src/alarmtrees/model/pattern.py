"""The shapes that a safety rule may have: patterns of Dwyer, Avrunin & Corbett (ICSE 1999)."""

from __future__ import annotations

from enum import StrEnum

PLACES = ("first", "then", "of", "by", "after", "until")
"""All places of a pattern that marks can stand in."""


class Pattern(StrEnum):
    """What a rule asks of every way. Each place of a pattern holds marks, "any of"."""

    PRECEDENCE = "precedence"
    """`first` comes before `then`."""
    ABSENCE = "absence"
    """`of` does not come: never, or not after `after`, or not before `until`."""
    RESPONSE = "response"
    """`of` is always followed by `by`."""
    EXISTENCE = "existence"
    """`of` comes on every way."""

    @property
    def guard(self) -> str:
        """The place of the marks that keep the rule: with more of them it asks for less."""
        return _GUARD[self]

    @property
    def subject(self) -> str | None:
        """The place of the marks that it speaks of: with fewer of them it asks for less. None where it is every way."""
        return _SUBJECT.get(self)

    @property
    def cue(self) -> str | None:
        """The place of the marks that it reacts to: once one of them has come, something is asked or forbidden."""
        return _CUE.get(self)


_GUARD = {Pattern.PRECEDENCE: "first", Pattern.ABSENCE: "until", Pattern.RESPONSE: "by", Pattern.EXISTENCE: "of"}
_SUBJECT = {Pattern.PRECEDENCE: "then", Pattern.ABSENCE: "of", Pattern.RESPONSE: "of"}
_CUE = {Pattern.ABSENCE: "after", Pattern.RESPONSE: "of"}
