"""Finds numbers with a unit in a text: what a reader could act on, and so has to come from somewhere."""

from __future__ import annotations

import re
from collections.abc import Iterator

from .wording import spots

WORDS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
"""Number words that count as numbers before a unit written out."""

# Signs of units stand behind digits only: "two s" is no time.
_SIGNS = "|".join(
    (
        r"[mc]?L/min|mL/h|/min|/h|ms|mins?|s|h",
        r"mmHg|cmH2O|kPa|bar|psi",
        r"m[Ll]|cL|dL|L|[mck]?m|m?g|kg",
        r"k?J|mV|V|mA|A|Wh?|Ah|k?Hz|MB",
        r"%|°[CF]?|Fr|mmol/L|g/L|mg/dL|I?U",
    )
)
_SPELT = "|".join(
    (
        r"(?:milli)?seconds?|secs?|minutes?|hours?|hrs?|days?|nights?|shifts?|weeks?|months?|years?",
        r"(?:milli)?lit(?:re|er)s?|(?:milli|centi|kilo)?met(?:re|er)s?|(?:kilo)?grams?|kilos?",
        r"percent|per\s+cent|degrees?|bars?|joules?|volts?|amperes?|watts?|units?|french",
        r"times\s+(?:the|as)",
        r"(?:(?:heart)?beats?\s+|breaths?\s+|drops?\s+|times\s+)?(?:a|per|each|every)\s+(?:minute|hour|day|shift)",
    )
)
# "Compare two beats" is a count; "wait 20 beats" is a limit.
_COUNTED = r"(?:heart)?beats?|breaths?|drops?"
# A number has few parts, and none is read twice: else each comma of a long row would begin the search anew.
_DIGITS = r"[+-]?\d++(?:[.,]\d++){0,6}+"
_NUMBER = rf"(?:{_DIGITS}|\b(?:{'|'.join(WORDS)})\b)"
_RANGE = rf"{_NUMBER}(?:\s*(?:[-–—]|to|or|and|/)\s*{_NUMBER})?"
_GAP = r"(?:[\s\u00a0]*|[-‑])"
_SHAPE = re.compile(
    # Not inside a word, a ratio, a date, a version or a name such as A4 or T2.
    r"(?<![\w.:/@#])"
    rf"(?:half\s+an?\s+(?:hour|minute|lit(?:re|er)|day)\b"
    rf"|(?i:{_RANGE})(?:{_GAP}|\s+more\s+|\s+full\s+|\s+further\s+)(?i:{_SPELT})\b"
    rf"|{_DIGITS}{_GAP}(?i:{_COUNTED})\b"
    rf"|{_DIGITS}(?:\s*(?:[-–—]|to|or|and)\s*{_DIGITS})?{_GAP}(?:{_SIGNS})(?![\w:]))"
    # A clock of 24 hours is a way to write the time.
    r"(?!\s*+-?\s*+clock)"
)
_LINK = re.compile(r"\[[^\[\]]*\]\([^()]*\)")


def quantities(text: str) -> Iterator[tuple[str, int]]:
    """Numbers with a unit, as written, and where each begins.

    Numbers in settings and links do not count, nor ratios such as 1:2.

    >>> list(quantities("In 1:2 wait 10 min, {leak_watch} or two  hours."))
    [('10 min', 12), ('two hours', 36)]
    """
    if "{" in text:
        text = _without_settings(text)
    if "](" in text:
        text = _LINK.sub(lambda found: "_" * len(found.group()), text)
    for match in _SHAPE.finditer(text):
        yield " ".join(match.group().split()), match.start()


def _without_settings(text: str) -> str:
    kept, done = [], 0
    for _, start, end in spots(text):
        kept += [text[done:start], "_" * (end - start)]
        done = end
    return "".join([*kept, text[done:]])
