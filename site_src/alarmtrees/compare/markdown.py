"""A comparison as a comment on a proposal: what matters most, a picture of what moved, then change by change.

Texts of the library stand between fences, where they are shown as they are; outside of them nothing in a text is
mark-up, calls a person, or becomes a link.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from .change import Change, Comparison, Headline
from .kinds import Weight
from .telling import (
    approval_line,
    command_for,
    cut,
    details,
    is_same,
    left_out,
    name_of,
    numbers,
    texts_of,
    title_of,
    verdict,
    waits,
    with_it,
)

MOST_SIGNS = 65_536
"""What code hosts take as one comment; counted in UTF-8 bytes, which is never fewer than they count."""

MOST_ROWS = 40
MOST_PICTURES = 5
_HEADINGS = {
    Weight.ERROR: "To approve by name",
    Weight.WARNING: "To read",
    Weight.NOTE: "To glance over",
}

JOINER = "\u2060"
"""A sign that nobody sees. It keeps a code host from reading "@name" or "#1" as a call or a link: hosts look at the
page as it is shown, so an escaped sign would not stop them."""

_MARKUP = re.compile(r"[\\`*_\[\]~|$]")
_NAME = re.compile(r"(?<!`)(`[a-z0-9_/-]+(?: [a-z0-9_/-]+)*`)(?!`)")
_CALLS = re.compile(
    r"(?<=[@#!$%~&^])(?=\w)"  # a person, an issue, and what else a sign calls up
    r"|(?<=\bgh-)(?=\d)"
    r"|(?<=:)(?=//)|(?<=\bwww)(?=\.)|(?<=\bmailto:)|(?<=\bxmpp:)",
    re.IGNORECASE,
)
_COMMIT = re.compile(r"[0-9a-f]{6}(?=[0-9a-f])", re.IGNORECASE)


def as_markdown(comparison: Comparison, most: int | None = None, whole: str = "") -> str:
    """The comparison as a comment, never longer than such a comment may be.

    Args:
        comparison: what to tell.
        most: how many changes to show; as many as there is room for unless given.
        whole: where the whole report stands, in words or as an address; told where changes are left out.
    """
    most = len(comparison.headlines[:most])
    for pictures in (MOST_PICTURES, 1):
        text = _assembled(comparison, most, pictures, whole)
        if _fits(text):
            return text
    pictures = int(_fits(_assembled(comparison, 0, 1, whole)))
    fewest = 0
    while fewest < most:
        middle = (fewest + most + 1) // 2
        if _fits(_assembled(comparison, middle, pictures, whole)):
            fewest = middle
        else:
            most = middle - 1
    return _assembled(comparison, fewest, pictures, whole)


def _fits(text: str) -> bool:
    return len(text.encode()) <= MOST_SIGNS


def _assembled(comparison: Comparison, shown: int, pictures: int, whole: str) -> str:
    lines = [f"## Whose advice changes: {_code(comparison.base)} → {_code(comparison.head)}", ""]
    lines += [f"**{escaped(verdict(comparison))}**", ""]
    headlines = comparison.headlines[:shown]
    drawn = _pictures(comparison, pictures)
    if drawn:
        lines += [_fenced(drawn.pop(next(iter(drawn))), "mermaid"), "Dashed: as it was. Heavy: as it is now.", ""]
    if comparison.changes:
        lines += [f"{numbers(comparison)}. Compared by the answers a reader gives.", ""]
    for weight in Weight:
        of_weight = [(at, h) for at, h in enumerate(headlines) if h.weight is weight]
        if of_weight:
            lines += [f"### {_HEADINGS[weight]}", ""]
            lines += [_item(at + 1, headline, comparison, drawn.get(at, "")) for at, headline in of_weight]
    if rest := left_out(comparison, shown):
        lines += [f"**{escaped(rest)}**: {_place(comparison, whole)}.", ""]
    lines += _table(comparison)
    return "\n".join(lines).rstrip() + "\n"


def _pictures(comparison: Comparison, most: int) -> dict[int, str]:
    """The pictures of the first trees that have one, each by the number of the change that it stands with."""
    found: dict[str, tuple[int, str]] = {}
    for at, headline in enumerate(comparison.headlines):
        tree = headline.change.tree
        if tree in comparison.pictures and len(found) < most:
            found.setdefault(tree, (at, comparison.pictures[tree]))
    return dict(found.values())


def _place(comparison: Comparison, whole: str) -> str:
    """Where all stands; an address that whoever started the report gave is a link."""
    if re.fullmatch(r"https://[\w.~:/?#@!$&'*+,;=%-]+", whole):
        return f"[the whole report]({whole})"
    return escaped(whole) if whole else f"{_code(command_for(comparison))} tells them all"


def _item(number: int, headline: Headline, comparison: Comparison, picture: str) -> str:
    change = headline.change
    done = " (approved)" if comparison.approval(change) else ""
    lines = [f"**{number}. {escaped(title_of(change, comparison))}**{done}", ""]
    lines += _texts(change)
    if grave := with_it(headline, comparison):
        lines += ["With it:", "", *(f"- {escaped(one)}" for one in grave), ""]
    others = headline.followed_by
    follow = f"{len(others)} more that {'follows' if len(others) == 1 else 'follow'} from it; " if others else ""
    lines += [f"<details><summary>{follow}place, ways, fingerprint</summary>", ""]
    lines += [_fenced(picture, "mermaid"), ""] if picture else []
    told: set[str] = set()
    lines += [_fenced("\n".join(details(change, comparison, told)), "text"), ""]
    for other in others:
        settled = " (approved)" if comparison.approval(other) else ""
        title = escaped(title_of(other, comparison, change))
        lines += [f"So also, {other.weight}: {title}{settled}", "", *_texts(other)]
        lines += [_fenced("\n".join(details(other, comparison, told)), "text"), ""]
    asked = [c for c in (change, *others) if waits(c, comparison)]
    if asked:
        block = "\n".join(dict.fromkeys(approval_line(c, comparison) for c in asked))
        lines += ["To approve it, in `approved.yml` of the branch that it is for:", "", _fenced(block, "yaml"), ""]
    return "\n".join([*lines, "</details>", ""])


def _texts(change: Change) -> Iterator[str]:
    if told := texts_of(change):
        yield from (_fenced("\n".join(told), "diff"), "")


def _table(comparison: Comparison) -> list[str]:
    changed = [counts for counts in comparison.counts if not is_same(counts)]
    if not changed:
        return []
    rows = ["### Ways", "", "| Alarm | Before | Now | The same | Changed |", "|---|--:|--:|--:|--:|"]
    for c in changed[:MOST_ROWS]:
        least = "" if c.complete else "≥ "
        name = escaped(name_of(c.tree, comparison))
        rows.append(f"| {name} | {c.before:,} | {c.now:,} | {least}{c.same:,} | {c.before - c.same:,} |")
    if len(changed) > MOST_ROWS:
        rows += ["", f"… and {len(changed) - MOST_ROWS} alarms more"]
    return [*rows, ""]


def _fenced(text: str, kind: str) -> str:
    longest = max((len(run) for run in re.findall("`+", text)), default=0)
    fence = "`" * max(3, longest + 1)
    return f"{fence}{kind}\n{text.rstrip()}\n{fence}"


def escaped(text: str) -> str:
    """A text in which no sign is mark-up, no word calls a person, and nothing becomes a link; names in ticks stay so.

    >>> escaped("smoke-or-fluid: 5 < 6, @all").replace(JOINER, "^")
    'smoke-or-fluid: 5 &lt; 6, @^all'
    """
    parts = _NAME.split(text.replace("\n", " "))
    parts[::2] = [_plain(part) for part in parts[::2]]
    return "".join(parts)


def _plain(text: str) -> str:
    text = _COMMIT.sub(rf"\g<0>{JOINER}", _CALLS.sub(JOINER, text))
    text = _MARKUP.sub(r"\\\g<0>", text)
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _code(text: str) -> str:
    return f"`{cut(text.replace('`', ''), 200)}`"
