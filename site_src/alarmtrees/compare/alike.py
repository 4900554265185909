"""Whether two texts say the same: word for word, but for a slip of the pen, or not."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable

from ..model import Library
from ..reading.texts import texts

_WORD = re.compile(r"[^\W_]+(?:['’][^\W_]+)*")
_NUMBER = re.compile(r"(?<![^\s}])[^\s\d}]*+\d\S*|\{[^{}]*\}")
_SIMPLE = re.compile(r"[\s.,;:!?'\"“”‘’()–—-]+")
_STOP = re.compile(r"[,;:.!?]")
_NEGATIONS = frozenset(["no", "not", "never", "nobody", "none", "nothing", "nowhere"])
_NEGATIONS |= {"neither", "nor", "without", "cannot"}
_SHORT = 5
"""Words below this length are never taken for a slip: on, off, not, no, one letter turns much."""


class Vocabulary:
    """The words that a library uses, with how often it does. A word that it uses elsewhere is no slip of the pen."""

    def __init__(self, words: Iterable[str]) -> None:
        self.count = Counter(words)

    @classmethod
    def of(cls, library: Library) -> Vocabulary:
        """The words of all texts of a library that readers see."""
        return cls(
            word
            for source in library.sources_read
            if source.data is not None and not source.problems
            for text in texts(source)
            for word in words_of(text.text)
        )

    def is_slip(self, before: str, after: str) -> bool:
        """Whether a text only mends a slip: other case or marks, or one misspelt word put right.

        Numbers and settings must be the same, and so must signs such as < and %, and all stops where something is
        negated. The misspelt word is one that
        the library has nowhere else, and the right one is one that it has: "loose" for "loos", never "lower"
        for "slower".
        """
        if numbers(before) != numbers(after) or _signs(before) != _signs(after):
            return False
        old, new = words_of(before), words_of(after)
        if len(old) != len(new):
            return False
        differ = [(a, b) for a, b in zip(old, new, strict=True) if a != b]
        if not differ:
            # A stop behind a "not" is no trifle: "no, pulse felt" is not "no pulse felt".
            return not any(map(negates, old)) or _stops(before) == _stops(after)
        wrong, right = differ[0]
        if len(differ) > 1 or min(len(wrong), len(right)) < _SHORT or not _one_slip(wrong, right):
            return False
        return self.count[wrong] <= old.count(wrong) and self.count[right] > old.count(right)


def numbers(text: str) -> list[str]:
    """The numbers and settings in a text, in order."""
    return [found.strip(".,;:!?()“”\"'") for found in _NUMBER.findall(text)]


def without_numbers(text: str) -> str:
    """A text with a sign in the place of each number and setting."""
    return _NUMBER.sub("#", text)


def words_of(text: str) -> list[str]:
    """The words of a text without regard to case, in order."""
    return _WORD.findall(text.casefold())


def negates(word: str) -> bool:
    """Whether a word says that something is not so."""
    return word in _NEGATIONS or word.endswith(("n't", "n’t"))


def _stops(text: str) -> list[int]:
    """How many words stand between the stops of a text."""
    return [len(words_of(part)) for part in _STOP.split(text.rstrip(" .!?"))]


def _signs(text: str) -> str:
    return _SIMPLE.sub("", _WORD.sub("", text.casefold()))


def _one_slip(a: str, b: str) -> bool:
    """Whether one letter is wrong, missing or too many, or two neighbours have changed places."""
    if len(a) > len(b):
        a, b = b, a
    start = next((i for i, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), len(a))
    if len(a) < len(b):
        return len(b) - len(a) == 1 and a[start:] == b[start + 1 :]
    swapped = a[start : start + 2] == b[start : start + 2][::-1] and a[start + 2 :] == b[start + 2 :]
    return a[start + 1 :] == b[start + 1 :] or swapped
