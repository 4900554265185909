"""Which values, numbers and reviews are a hospital's own, and which still belong to the invented hospital."""

from __future__ import annotations

import json
from collections.abc import Iterable

from ..model import Article, Calculator, Library, Role, Setting, Tree
from ..model.stamp import is_foreign

OWN, INVENTED, NOBODYS, UNSET = "yours", "invented", "nobody's", "not set"

LOCAL = "kb/settings.local.yml"
"""A hospital's own settings."""

_SAID = 58
"""So many characters of what a value is fit on a line of a terminal."""


def state(entry: Setting | Role) -> str:
    """Whose a value or a number to call is."""
    if (entry.value if isinstance(entry, Setting) else entry.phone) is None:
        return UNSET
    if entry.own:
        return OWN
    return NOBODYS if isinstance(entry, Setting) and entry.here and not (entry.by and entry.on) else INVENTED


def is_left(entry: Setting | Role) -> bool:
    """Whether a value or number is none of the hospital's own: the invented one's, or nobody's."""
    return state(entry) in (INVENTED, NOBODYS)


def borrowed(library: Library) -> int:
    """How many values and numbers are still the invented hospital's, or nobody's."""
    entries: list[Setting | Role] = [*library.settings.values(), *library.roles.values()]
    return sum(map(is_left, entries))


def unreviewed(library: Library) -> list[Tree | Article | Calculator]:
    """The pages whose review is not the hospital's own; of an invented hospital those that have one."""
    return [page for page in _pages(library) if page.review and (library.fictional or is_foreign(library, page))]


def unreviewed_count(library: Library) -> int:
    """How many these are; of a library that knows other trees by their shapes alone, as was counted before."""
    return len(unreviewed(library)) if library.unreviewed is None else library.unreviewed


def _pages(library: Library) -> list[Tree | Article | Calculator]:
    return [*library.in_use.values(), *library.articles.values(), *library.calculators.values()]


def is_own(library: Library) -> bool:
    """Whether nothing of the invented hospital is left, its name and its reviews included; a house has a name."""
    return bool(library.hospital) and not library.fictional and not borrowed(library) and not unreviewed(library)


def as_text(library: Library, only_fictional: bool = False) -> str:
    """The list for a terminal.

    Args:
        library: the library.
        only_fictional: leave out what is the hospital's own, or not set.
    """
    kinds = ("values", list(library.settings.values())), ("numbers to call", list(library.roles.values()))
    lines = [_name(library)]
    for kind, entries in kinds:
        left = sum(map(is_left, entries))
        listed = [entry for entry in entries if not only_fictional or is_left(entry)]
        lines += ["", f"{left} of {len(entries)} {kind} are still the invented hospital's{':' if listed else '.'}"]
        lines += _lines(listed)
    if any(state(entry) == NOBODYS for entry in library.settings.values()):
        lines += ["", "Nobody's is a value to which nobody of the house has put role and day: `by` and `on`."]
    lines += ["", *_reviews(library)]
    lines += ["", f"Console wordings of your own: for {len(library.wordings)} alarms.", _reviewers(library), ""]
    if library.fictional or borrowed(library):
        lines.append("Write what is yours into kb/settings.local.yml: a value with `by` and `on`, a role with `phone`.")
        if not any(source.file == LOCAL for source in library.sources_read):
            lines.append("`alarmtrees settings --begin` writes that file for you to fill in.")
    elif not is_own(library):
        lines.append("Values and numbers are yours; the reviews are not yet.")
    else:
        lines.append("All is yours.")
    return "\n".join(lines) + "\n"


def _reviews(library: Library) -> list[str]:
    """Whose the reviews are, and with them the shares of causes: whoever signs a page answers for all of it."""
    left = unreviewed(library)
    whose = "review is" if len(left) == 1 else "reviews are"
    told = f"{len(left)} of {len(_pages(library))} {whose} the invented hospital's"
    if not left:
        return [f"{told}."]
    shares = sum(cause.share is not None for page in left if isinstance(page, Tree) for cause in page.causes.values())
    estimates = f"With them stand {shares} estimated shares of causes, which only `alarmtrees order` counts with."
    return [f"{told}: read the pages, then sign them, `alarmtrees sign --all --by ROLE`.", *[estimates] * bool(shares)]


def _name(library: Library) -> str:
    if library.fictional:
        return f"The hospital is {library.hospital}, and it is invented."
    return f"The hospital is {library.hospital}." if library.hospital else "The hospital has no name yet."


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
    """The list for programs: `hospital`, `values`, `roles`, `reviewers`, `wordings`, `invented`, `reviews`."""

    def listed(entries: Iterable[Setting | Role]) -> list[dict[str, str | None]]:
        return [_entry(entry) for entry in entries if not only_fictional or is_left(entry)]

    answer = {
        "hospital": {"say": library.hospital, "fictional": library.fictional},
        "values": listed(library.settings.values()),
        "roles": listed(library.roles.values()),
        "reviewers": list(library.reviewers),
        "wordings": len(library.wordings),
        "invented": borrowed(library),
        "reviews": [page.file for page in unreviewed(library)],
    }
    return json.dumps(answer, indent=2, ensure_ascii=False) + "\n"


def _entry(entry: Setting | Role) -> dict[str, str | None]:
    told: dict[str, str | None] = {"id": entry.id, "say": entry.say, "state": state(entry)}
    if isinstance(entry, Role):
        return {**told, "phone": entry.phone}
    names = ("value", "unit", "status", "source", "by", "on")
    return {**told, **{name: getattr(entry, name) for name in names}}
