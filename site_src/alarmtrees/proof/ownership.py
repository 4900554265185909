"""Which values and numbers are a hospital's own, and which still belong to the invented hospital."""

from __future__ import annotations

import json
from collections.abc import Iterable

from ..model import Library, Role, Setting

OWN, INVENTED, UNSET = "yours", "invented", "not set"

_SAID = 58
"""So many characters of what a value is fit on a line of a terminal."""


def state(entry: Setting | Role) -> str:
    """Whose a value or a number to call is."""
    if (entry.value if isinstance(entry, Setting) else entry.phone) is None:
        return UNSET
    return OWN if entry.own else INVENTED


def borrowed(library: Library) -> int:
    """How many values and numbers are still the invented hospital's."""
    entries: list[Setting | Role] = [*library.settings.values(), *library.roles.values()]
    return sum(state(entry) == INVENTED for entry in entries)


def is_own(library: Library) -> bool:
    """Whether nothing of the invented hospital is left, its name included."""
    return not library.fictional and not borrowed(library)


def as_text(library: Library, only_fictional: bool = False) -> str:
    """The list for a terminal.

    Args:
        library: the library.
        only_fictional: leave out what is the hospital's own, or not set.
    """
    kinds = ("values", list(library.settings.values())), ("numbers to call", list(library.roles.values()))
    lines = [_name(library)]
    for kind, entries in kinds:
        left = sum(state(entry) == INVENTED for entry in entries)
        lines += ["", f"{left} of {len(entries)} {kind} are still the invented hospital's{':' if entries else '.'}"]
        lines += _lines(entry for entry in entries if not only_fictional or state(entry) == INVENTED)
    lines += ["", f"Console wordings of your own: for {len(library.wordings)} alarms.", _reviewers(library), ""]
    lines.append(
        "All is yours."
        if is_own(library)
        else "Write what is yours into kb/settings.local.yml: a value with `by` and `on`, a role with `phone`."
    )
    return "\n".join(lines) + "\n"


def _name(library: Library) -> str:
    if library.fictional:
        return f"The hospital is {library.hospital}, and it is invented."
    return f"The hospital is {library.hospital}."


def _reviewers(library: Library) -> str:
    named = ", ".join(library.reviewers)
    return f"Who may sign a review: {named}." if named else "Who may sign a review: nobody is named, so anybody."


def _lines(entries: Iterable[Setting | Role]) -> list[str]:
    rows = [(state(entry), entry.id, _shown(entry), _said(entry)) for entry in entries]
    widths = [max((len(row[column]) for row in rows), default=0) for column in range(3)]
    return [
        "  " + "  ".join([*(part.ljust(width) for part, width in zip(row, widths, strict=False)), row[3]])
        for row in rows
    ]


def _shown(entry: Setting | Role) -> str:
    if isinstance(entry, Setting):
        return entry.shown.replace("\u00a0", " ")
    return entry.phone or "not set here"


def _said(entry: Setting | Role) -> str:
    said = entry.say if len(entry.say) <= _SAID else f"{entry.say[: _SAID - 1]}…"
    if isinstance(entry, Role) or not entry.own:
        return said
    who = f"set by {entry.by or 'nobody named'}{f' on {entry.on}' if entry.on else ''}"
    return f"{said} ({who})"


def as_json(library: Library, only_fictional: bool = False) -> str:
    """The list for programs: `hospital`, `values`, `roles`, `reviewers`, `wordings`, `invented`."""

    def listed(entries: Iterable[Setting | Role]) -> list[dict[str, str | None]]:
        return [_entry(entry) for entry in entries if not only_fictional or state(entry) == INVENTED]

    answer = {
        "hospital": {"say": library.hospital, "fictional": library.fictional},
        "values": listed(library.settings.values()),
        "roles": listed(library.roles.values()),
        "reviewers": list(library.reviewers),
        "wordings": len(library.wordings),
        "invented": borrowed(library),
    }
    return json.dumps(answer, indent=2, ensure_ascii=False) + "\n"


def _entry(entry: Setting | Role) -> dict[str, str | None]:
    told: dict[str, str | None] = {"id": entry.id, "say": entry.say, "state": state(entry)}
    if isinstance(entry, Role):
        return {**told, "phone": entry.phone}
    names = ("value", "unit", "status", "source", "by", "on")
    return {**told, **{name: getattr(entry, name) for name in names}}
