"""The path of new colleagues with what is asked under each stage and how long each page is: what all its pages show."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from ..model import Library, Stage
from .minutes import Words, words_of
from .path import asked_here, path_of
from .questions import Question


@dataclass(frozen=True, slots=True)
class Course:
    """The path of a library.

    Attributes:
        library: what it leads through, without errors.
        stages: in their order.
        asked: the questions under each stage.
        words: those of each page, by its id.
    """

    library: Library
    stages: Sequence[Stage]
    asked: Sequence[Sequence[Question]]
    words: Mapping[str, Words]

    @property
    def questions(self) -> list[Question]:
        """Those of all stages, in their order."""
        return [one for stage in self.asked for one in stage]


def course_of(library: Library, known: Iterable[Question] | None = None) -> Course:
    """The path of a library.

    Args:
        library: without errors.
        known: all of its questions, where they are made already.
    """
    asked = asked_here(library, known)
    return Course(library, path_of(library), asked, words_of(library, asked))
