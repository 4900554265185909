"""What a link dials: exactly what one number says, or nothing."""

from __future__ import annotations

import re

DIGITS = 15
"""The most digits of a number that is dialled around the world: ITU-T E.164."""

# A bracket is no separator here: "+44 (0)20 …" would dial a 0 that nobody dials, "1234 (5678)" two numbers.
_ONE = re.compile(r"(?:\+[0-9]++|[0-9*#]++)(?:[ \u00a0.-][0-9*#]++)*+")


def dialled(text: str) -> str | None:
    """What stands behind `tel:` for a number, or None where the text is not one number and no more.

    RFC 3966 has a local number hold * and # too, a global one digits alone behind its +. Separators are left out, and
    # is written as RFC 3986 asks, for it begins a fragment.

    >>> dialled("+44 20 7946 0000"), dialled("5-5501"), dialled("9#1234")
    ('+442079460000', '55501', '9%231234')
    >>> dialled("1234 or 5678"), dialled("1234 (5678)"), dialled("switchboard")
    (None, None, None)
    """
    if not _ONE.fullmatch(text):
        return None
    number = re.sub(r"[ \u00a0.-]", "", text)
    digits = len(re.sub("[+*#]", "", number))
    if not 0 < digits <= DIGITS or (number[0] == "+" and digits < len(number) - 1):
        return None
    return number.replace("#", "%23")


def undialled(text: str) -> str:
    """Why a text dials nobody, in a few words."""
    hidden = sorted({f"U+{ord(sign):04X}" for sign in text if sign != "\u00a0" and not sign.isprintable()})
    if hidden:
        return f"it holds what nobody sees ({', '.join(hidden[:3])})"
    if any(sign.isdigit() and sign not in "0123456789" for sign in text):
        return "its digits are not those from 0 to 9"
    if "(0)" in text and text.startswith("+"):
        return "behind + nobody dials the (0)"
    if _ONE.fullmatch(text):
        return f"it has no digit, more than {DIGITS} of them, or + with * or #"
    return "it is two numbers, or words"
