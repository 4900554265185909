"""Draws that come out the same in Python and in the browser."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

_Item = TypeVar("_Item")
_MASK = 0xFFFFFFFF


class Draw:
    """A row of numbers from one seed: the generator mulberry32, on 32-bit whole numbers alone.

    Args:
        seed: any whole number; its lowest 32 bits count.

    >>> Draw(1).number()
    2693262067
    """

    def __init__(self, seed: int) -> None:
        self._state = seed & _MASK

    def number(self) -> int:
        """The next number, from 0 to 2**32 - 1."""
        self._state = (self._state + 0x6D2B79F5) & _MASK
        mixed = ((self._state ^ self._state >> 15) * (self._state | 1)) & _MASK
        mixed = ((mixed + (mixed ^ mixed >> 7) * (mixed | 61)) & _MASK) ^ mixed
        return mixed ^ mixed >> 14

    def below(self, count: int) -> int:
        """The next number, from 0 to `count` - 1."""
        return self.number() * count >> 32

    def shuffled(self, items: Sequence[_Item]) -> list[_Item]:
        """The items in a drawn order: Fisher and Yates, from the last place down."""
        mixed = list(items)
        for last in range(len(mixed) - 1, 0, -1):
            other = self.below(last + 1)
            mixed[last], mixed[other] = mixed[other], mixed[last]
        return mixed


def seed_of(text: str) -> int:
    """A seed made from a text: the hash FNV-1a of its UTF-8 bytes, 32 bits.

    >>> hex(seed_of("a"))
    '0xe40c292c'
    """
    value = 0x811C9DC5
    for byte in text.encode():
        value = (value ^ byte) * 0x01000193 & _MASK
    return value
