"""What has been found in a text."""

from dataclasses import dataclass

from ...model import Act


@dataclass(frozen=True, slots=True)
class Told:
    """An act that a text tells somebody to do.

    Attributes:
        act: which; None for a verb that changes something and that no act of the table knows.
        words: the words that tell it, as they stand in the text.
    """

    act: Act | None
    words: str
