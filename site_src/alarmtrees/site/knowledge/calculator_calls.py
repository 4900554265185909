"""Whom the words of a calculator tell a reader to call, with the number: a result that calls shows it beside."""

from __future__ import annotations

import re
from collections.abc import Iterable

from ...model import Library, Role
from ...model.dialling import dialled
from ...model.wording import fill
from ..markup import View, call_line, first_call

_CALLS = re.compile(r"(?<!\ba )(?<!\bthe )\bcall\b", re.IGNORECASE)
_TELLS = re.compile(r"\b(?:tell|have \w+ \w+ called)\b", re.IGNORECASE)
_PRESCRIBER = "prescriber"
_DOCTOR = "doctor"


def called(library: Library, text: str) -> list[str]:
    """The roles that a text tells a reader to call; none where it calls nobody.

    Those that it names, else the first call where it says to call. A prescriber is asked for as the doctor is.

    Args:
        library: the library, for its roles.
        text: a line of a calculator, as it is shown.
    """
    calls = _CALLS.search(text)
    if not calls and not _TELLS.search(text):
        return []
    plain = text.casefold().replace(_PRESCRIBER, _DOCTOR)
    known = {role.id: "|".join(map(re.escape, role.names)) for role in library.roles.values()}
    named = [key for key, names in known.items() if re.search(rf"\b(?:{names})\b", plain)]
    first = first_call(library) if calls else None
    return named or ([first] if first else [])


def roles_data(library: Library, texts: Iterable[str]) -> dict[str, dict[str, str | None]]:
    """Each role that one of these texts calls, with its number; only a real one that can be dialled has `dial`."""
    roles = dict.fromkeys(key for text in texts for key in called(library, text))
    return {key: _told(library, library.roles[key]) for key in library.roles if key in roles}


def _told(library: Library, role: Role) -> dict[str, str | None]:
    number = role.phone or "number not set here"
    return {
        "say": fill(role.say, library.settings),
        "number": number,
        "note": " (fictional)" if role.phone and role.fictional else "",
        "dial": None if role.fictional or not role.phone else dialled(role.phone),
    }


def call_lines(view: View, texts: Iterable[str]) -> list[str]:
    """The numbers of all whom these texts call, for a page without scripts."""
    return [call_line(view, key) for key in roles_data(view.library, texts)]
