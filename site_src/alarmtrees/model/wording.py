"""The only mark-up of a text: `{setting}` stands for a local value, `{{` for a brace."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from difflib import get_close_matches
from functools import lru_cache

from .facts import Setting

MOST_NAMES = 2000
"""Among so many names the nearest one is still looked for; no tree or library comes near."""

_SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0}

_SENTENCE = re.compile(r"(?<=[.!?\])])\s+(?=[A-Z“])")

_BRACE = re.compile(r"\{\{|\{([^{}]*)\}|\{")


def fill(text: str, settings: Mapping[str, Setting] | None) -> str:
    """The text as readers see it.

    Args:
        text: a text of a tree or fact file.
        settings: the local values; None leaves `{name}` as written (a tree outside any library).

    Returns:
        Plain text, not escaped. A setting that is not set reads "not set here".

    >>> fill("a {{ b", None)
    'a { b'
    """

    def shown(match: re.Match[str]) -> str:
        name = match.group(1)
        if name is None:
            return "{"
        if settings is None or name not in settings:
            return match.group()
        return settings[name].shown

    return _BRACE.sub(shown, text) if "{" in text else text


def names(text: str) -> Iterator[str]:
    """The setting names in a text, in order; "" where a lone brace stands.

    >>> list(names("at {resting_warning} or {{ and {"))
    ['resting_warning', '']
    """
    return (name for name, _, _ in spots(text))


def spots(text: str) -> Iterator[tuple[str, int, int]]:
    """The setting names in a text with where each begins and ends, braces included; "" where a lone brace stands.

    >>> list(spots("{{ at {a}"))
    [('a', 6, 9)]
    """
    if "{" in text:
        for match in _BRACE.finditer(text):
            if match.group() != "{{":
                yield match.group(1) or "", match.start(), match.end()


def lasting(seconds: float) -> str:
    r"""A time in minutes and seconds, each behind a no-break space.

    >>> lasting(99.6), lasting(40), lasting(120)
    ('1\xa0min 40\xa0s', '40\xa0s', '2\xa0min')
    """
    minutes, rest = divmod(round(seconds), 60)
    parts = [f"{minutes}\u00a0min"] * bool(minutes) + [f"{rest}\u00a0s"] * bool(rest or not minutes)
    return " ".join(parts)


def seconds(takes: str) -> float:
    """A time such as "20 s" or "2 min", in seconds.

    >>> seconds("2 min")
    120.0
    """
    number, unit = takes.split()
    return float(number) * _SECONDS[unit]


def sentences_of(text: str) -> list[str]:
    """The sentences of a text: each ends with its sign, or with a citation or bracket behind it.

    >>> sentences_of("Look. Then, e.g. by hand [@a]. “Now” is late.")
    ['Look.', 'Then, e.g. by hand [@a].', '“Now” is late.']
    """
    return _SENTENCE.split(text)


def folded(text: str) -> str:
    """A text without regard to case and white space."""
    return " ".join(text.casefold().split())


def nearest(name: str, known: Iterable[str]) -> str | None:
    """The known name that a mistyped one is most like, or None.

    All names are looked at, so a file with thousands of unknown ones would take minutes: where there are more
    than `MOST_NAMES` none is looked for, and what was asked before is remembered.

    >>> nearest("gass", ["power", "gas"]), nearest("zzz", ["gas"])
    ('gas', None)
    """
    names = tuple(known)
    return _nearest(name, names) if len(names) <= MOST_NAMES else None


@lru_cache(maxsize=256)
def _nearest(name: str, known: tuple[str, ...]) -> str | None:
    return next(iter(get_close_matches(name, known, 1)), None)
