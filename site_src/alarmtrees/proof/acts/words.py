"""Words made comparable: British and American spelling, singular and plural, the forms of a verb."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

_TOKEN = re.compile(r"\{\w+\}|at-once|(?<!\d)\d+:\d+|\d+(?:[.,]\d+)*|[^\W\d_]+(?:['’][^\W\d_]+)?|,")
_PART = re.compile(r"(?:[^.;:!?()\[\]–—…]|(?<=\d)[:.](?=\d))+")
_JOINED = re.compile(r"\b(re|un|de|dis|stand)-(?=[a-z])")
_AT_ONCE = re.compile(r"\bat once\b")

ARTICLES = frozenset(["a", "an", "the"])
"""Words that make no difference."""

_DET = frozenset(["this", "these", "those", "your", "his", "its", "our", "any", "some", "each", "every", "all", "both"])


class Word(NamedTuple):
    """One word of a line.

    Attributes:
        norm: the word as all its spellings are compared.
        begin: where it begins in the line, with small letters and without hyphens.
        end: where it ends there.
        owns: whether it is a genitive: "the pump's" is no pump.
        det: whether an article or the like stands before it, or it is one.
    """

    norm: str
    begin: int
    end: int
    owns: bool
    det: bool


def plain(line: str) -> str:
    """A line in small letters, with "re-start" as one word and "at once" as another."""
    low = line.lower()
    return _AT_ONCE.sub("at-once", _JOINED.sub(r"\1", low) if "-" in low else low)


def parts_of(text: str) -> Iterator[tuple[int, int]]:
    """Where the parts of a plain text begin and end, each between two stops; "1:2" is no stop."""
    return (match.span() for match in _PART.finditer(text))


def words_of(text: str, begin: int, end: int) -> Iterator[Word]:
    """The words and commas of a part of a plain text, without the articles: these make no difference."""
    det = False
    for match in _TOKEN.finditer(text, begin, end):
        word = match.group()
        if word in ARTICLES:
            det = True
            continue
        owns = word.endswith(("'s", "’s"))
        yield Word(norm(word[:-2] if owns else word), match.start(), match.end(), owns, det or word in _DET)
        det = False


def phrase_words(phrase: str) -> list[str]:
    """The words of a name, cut as those of a line are.

    >>> phrase_words("high-flow oxygen"), phrase_words("the console's FiO2")
    (['high', 'flow', 'oxygen'], ['console', 'fio', '2'])
    """
    text = plain(phrase)
    words = (match.group() for match in _TOKEN.finditer(text))
    return [word[:-2] if word.endswith(("'s", "’s")) else word for word in words if word not in ARTICLES]


@lru_cache(maxsize=20_000)
def norm(word: str) -> str:
    """A word as all its spellings are compared.

    >>> norm("centre") == norm("center"), norm("heparinised") == norm("heparinized")
    (True, True)
    """
    word = re.sub(r"is(?=(?:e|ed|es|ing|ation)$)", "iz", word)
    word = re.sub(r"(?<=[a-z]{3})our", "or", word)
    word = word.replace("ae", "e").replace("oe", "e")
    word = re.sub(r"tre(?=s?$)", "ter", word)
    return re.sub(r"([b-eg-hj-np-tv-z])\1", r"\1", word)


def forms(base: str, irregular: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """The forms in which a verb may tell an act: `base`, `ing` and the past form, `part`.

    >>> sorted(forms("stop", {}))
    [('stop', 'base'), ('stoped', 'part'), ('stoping', 'ing')]
    """
    stem = base[:-1] if base.endswith("e") and not base.endswith("ee") else base
    yield norm(base), "base"
    yield norm(stem + "ing"), "ing"
    if base in irregular:
        yield norm(irregular[base]), "part"
    elif base.endswith("y") and base[-2:-1] not in "aeiou":
        yield norm(base[:-1] + "ied"), "part"
    else:
        yield norm(stem + "ed"), "part"


def numbers_of(words: Sequence[str]) -> Iterator[tuple[str, ...]]:
    """A name in one word or several, as one and as many.

    >>> list(numbers_of(["gas", "supply"]))
    [('gas', 'suply'), ('gas', 'suplys'), ('gas', 'suplies')]
    """
    *before, last = map(norm, words)
    yield (*before, last)
    if last.isalpha():
        yield (*before, norm(last + ("es" if re.search(r"(?:s|x|ch|sh)$", last) else "s")))
        if re.search(r"[^aeiou]y$", last):
            yield (*before, norm(last[:-1] + "ies"))
