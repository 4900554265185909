"""A line drawing that stands beside a step or in an article."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing of `kb/pictures/`, with what it says of itself.

    Attributes:
        id: the file's stem.
        title: what it shows, in a few words.
        description: all that it tells, in sentences, for whoever cannot see it.
        width: of its view box, in its own units; as many pixels where it is shown in full.
        height: likewise.
        stamp: the SHA-256 of the whole file, in hexadecimal, whatever its line ends.
        file: where it lies, relative to the library.
        text: the characters of the file.
    """

    id: str
    title: str
    description: str
    width: float
    height: float
    stamp: str
    file: str
    text: str = field(repr=False)
