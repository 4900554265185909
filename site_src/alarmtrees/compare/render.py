"""A comparison as text for people, JSON for machines, annotations, or Markdown for a pull request."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from typing import Any

from ..model.finding import annotation, way_text
from .change import Change, Comparison, Counts, Way
from .kinds import Weight

MOST_SIGNS = 65_536
"""What code hosts take as one comment; counted in UTF-8 bytes, which is never fewer than they count."""

MOST_PICTURES = 5
MOST_SHOWN = 240
_HEADINGS = {Weight.ERROR: "Errors", Weight.WARNING: "Warnings", Weight.NOTE: "Notes"}


def as_text(comparison: Comparison) -> str:
    """Changes as `path:line:col: weight: tree: message [kind]`, each with its texts, ways and fingerprint."""
    parts = [_one_text(change, comparison) for change in comparison.changes]
    return "\n".join([*parts, *_ways_lines(comparison), _summary(comparison)]) + "\n"


def _one_text(change: Change, comparison: Comparison) -> str:
    lines = [f"{_where(change, comparison)}: {change.weight}: {_title(change)} [{change.kind}]"]
    lines += [f"    {line}" for line in _details(change)]
    lines.append(
        f"    fingerprint: {change.fingerprint}, version {comparison.version(change)}{_approved(change, comparison)}"
    )
    return "\n".join(lines)


def _approved(change: Change, comparison: Comparison) -> str:
    if approval := comparison.approval(change):
        return f", approved by {approval.by} on {approval.on}"
    if approval := comparison.outlived(change):
        of = "this, but may not sign" if approval.version == comparison.version(change) else "another version of it"
        return f"; {approval.by} approved {of} on {approval.on}"
    return ""


def _where(change: Change, comparison: Comparison) -> str:
    place = f"{change.place.file}:{change.place.line}:{change.place.column}"
    return f"{comparison.base}:{place}" if change.gone else place


def _title(change: Change) -> str:
    return f"{change.tree}: {change.message}" if change.tree else change.message


def _details(change: Change) -> Iterator[str]:
    """The texts and ways of a change, where the message does not hold them already."""
    if change.before is not None and change.before not in change.message:
        yield f"before: {_cut(change.before)}"
    if change.after is not None and change.after not in change.message:
        yield f"now:    {_cut(change.after)}"
    if change.way_before is not None and change.way_before == change.way_now:
        yield f"way: {_way(change.way_before)}"
    else:
        if change.way_before is not None:
            yield f"way before: {_way(change.way_before)}"
        if change.way_now is not None:
            yield f"way now:    {_way(change.way_now)}"
    if change.ways is not None:
        yield f"met on {_many(change.ways)}"


def _cut(text: str) -> str:
    text = " / ".join(text.splitlines())
    return text if len(text) <= MOST_SHOWN else text[: MOST_SHOWN - 1] + "…"


def _way(way: Way) -> str:
    return way_text(way)


def _many(ways: int) -> str:
    return "1 way" if ways == 1 else f"{ways:,} ways"


def _ways_lines(comparison: Comparison) -> Iterator[str]:
    changed = [counts for counts in comparison.counts if not _is_same(counts)]
    for counts in changed:
        least = "" if counts.complete else "at least "
        yield (
            f"{counts.tree}: {_many(counts.before)} before, {counts.now:,} now; "
            f"{least}{counts.same:,} stay the same, {counts.before - counts.same:,} do not"
        )
    rest = len(comparison.counts) - len(changed)
    if rest:
        total = sum(counts.same for counts in comparison.counts if _is_same(counts))
        yield f"{rest} {'tree' if rest == 1 else 'trees'} with all {_many(total)} the same"


def _is_same(counts: Counts) -> bool:
    return counts.before == counts.now == counts.same


def _summary(comparison: Comparison) -> str:
    numbers = [f"{comparison.open(weight)} {weight}s" for weight in Weight]
    approved = sum(comparison.approval(change) is not None for change in comparison.changes)
    tail = f", {approved} approved" if approved else ""
    stale = f"; {len(comparison.stale)} approvals fit no change of this version" if comparison.stale else ""
    return f"{comparison.base} -> {comparison.head}: {', '.join(numbers)}{tail}{stale}"


# ---------------------------------------------------------------------- for machines


def as_json(comparison: Comparison) -> str:
    """The whole comparison as one JSON object; counts of ways are exact, as text where they pass 2^53."""
    value = {
        "base": comparison.base,
        "head": comparison.head,
        "changes": [_one_json(change, comparison) for change in comparison.changes],
        "trees": [
            {
                "tree": counts.tree,
                "ways_before": _exact(counts.before),
                "ways_now": _exact(counts.now),
                "ways_same": _exact(counts.same),
                "ways_changed": _exact(counts.before - counts.same),
                "complete": counts.complete,
            }
            for counts in comparison.counts
        ],
        "pictures": comparison.pictures,
        **{f"{weight}s": comparison.open(weight) for weight in Weight},
        "approvals_that_fit_nothing": comparison.stale,
    }
    return json.dumps(value, indent=2) + "\n"


def _one_json(change: Change, comparison: Comparison) -> dict[str, Any]:
    return {
        "kind": change.kind,
        "severity": str(change.weight),
        "tree": change.tree,
        "node": change.node,
        "message": change.message,
        "version": "base" if change.gone else "head",
        "file": change.place.file,
        "line": change.place.line,
        "column": change.place.column,
        "before": change.before,
        "after": change.after,
        "way_before": _way_json(change.way_before),
        "way_now": _way_json(change.way_now),
        "ways": None if change.ways is None else _exact(change.ways),
        "fingerprint": change.fingerprint,
        "approve_as": comparison.version(change),
        "approved": comparison.approval(change) is not None,
    }


def _way_json(way: Way | None) -> list[dict[str, str | None]] | None:
    return None if way is None else [{"node": step.node, "answer": step.answer} for step in way]


def _exact(number: int) -> int | str:
    return number if number < 2**53 else str(number)


def as_github(comparison: Comparison) -> str:
    """Changes as workflow commands, which code hosts show beside the changed lines; approved ones are left out."""
    return "".join(
        annotation(
            "notice" if change.weight is Weight.NOTE else str(change.weight),
            change.place,
            change.kind,
            "\n".join([_title(change), *_details(change)]),
        )
        for change in comparison.changes
        if comparison.approval(change) is None
    )


# ---------------------------------------------------------------------- for a pull request


def as_markdown(comparison: Comparison) -> str:
    """The comparison as a comment of a pull request, never longer than such a comment may be.

    Where it would be, the last changes are left out, notes first, and their number is told.
    """
    head = [
        f"## Whose advice changes: {_code(comparison.base)} → {_code(comparison.head)}",
        "",
        _verdict(comparison),
        "",
    ]
    table = _table(comparison)
    pictures = list(_pictures(comparison))
    items = list(_items(comparison))
    for kept_pictures in (pictures, []):
        for rows in (table, table[:42]):
            whole = _assembled(head, rows, len(table) - len(rows), items, kept_pictures)
            if whole is not None:
                return whole
    return _assembled(head, [], len(table), items, [], cut=True) or ""


def _assembled(
    head: list[str],
    table: list[str],
    rows_left: int,
    items: list[tuple[Weight, str]],
    pictures: list[str],
    cut: bool = False,
) -> str | None:
    """The parts as one text that fits; None where too little of the changes would be left of it."""
    tail = [f"… and {rows_left} trees more", ""] if rows_left and table else []
    fixed = "\n".join([*head, *table, *tail, *pictures])
    room = MOST_SIGNS - len(fixed.encode()) - 400  # headings, and the line that tells what was left out
    kept: list[tuple[Weight, str]] = []
    for weight, text in items:
        size = len(text.encode()) + 2
        if size > room:
            break
        kept.append((weight, text))
        room -= size
    if len(kept) < len(items) and pictures and not cut:
        return None  # words before pictures
    if room < 0 and not cut:
        return None
    lines = [*head, *table, *tail]
    for weight in Weight:
        of_weight = [text for w, text in kept if w is weight]
        if of_weight:
            lines += [f"### {_HEADINGS[weight]}", "", *of_weight, ""]
    left = len(items) - len(kept)
    if left:
        by_weight = [f"{sum(w is weight for w, _ in items[len(kept) :])} {weight}s" for weight in Weight]
        lines += [f"**… and {left} changes more** ({', '.join(by_weight)}): `alarmtrees compare` tells them all.", ""]
    lines += pictures
    return "\n".join(lines).rstrip() + "\n"


def _verdict(comparison: Comparison) -> str:
    numbers = ", ".join(f"{comparison.open(weight)} {weight}s" for weight in Weight)
    approved = [c for c in comparison.changes if comparison.approval(c)]
    more = f" {len(approved)} approved before." if approved else ""
    if not comparison.changes:
        return "Nothing changes for any reader."
    return f"**{numbers}.**{more} Compared by the answers a reader gives; the checks rest on what authors wrote."


def _table(comparison: Comparison) -> list[str]:
    changed = [counts for counts in comparison.counts if not _is_same(counts)]
    if not changed:
        return []
    rows = ["| Tree | Ways before | Ways now | The same | Changed |", "|---|--:|--:|--:|--:|"]
    for c in changed:
        least = "" if c.complete else "≥ "
        rows.append(f"| {_code(c.tree)} | {c.before:,} | {c.now:,} | {least}{c.same:,} | {c.before - c.same:,} |")
    return [*rows, ""]


def _items(comparison: Comparison) -> Iterator[tuple[Weight, str]]:
    for change in comparison.changes:
        done = " (approved)" if comparison.approval(change) else ""
        lines = [f"- **{_escaped(_title(change))}**{done} `{change.kind}`, {_code(_where(change, comparison))}"]
        lines += [f"  <br>{_escaped(line)}" for line in _details(change)]
        lines.append(f"  <br>fingerprint `{change.fingerprint}`")
        yield change.weight, "\n".join(lines)


def _pictures(comparison: Comparison) -> Iterator[str]:
    """The pictures of the trees with the heaviest changes."""
    trees = dict.fromkeys(c.tree for c in comparison.changes if c.tree in comparison.pictures)
    for name in list(trees)[:MOST_PICTURES]:
        assert name is not None
        yield f"### Picture: {_code(name)}\n\n```mermaid\n{comparison.pictures[name]}```\n"
    if len(trees) > MOST_PICTURES:
        yield f"… and {len(trees) - MOST_PICTURES} trees more without a picture here\n"


def _escaped(text: str) -> str:
    """A text in which no sign is mark-up, no word calls a person, and no number links to an issue."""
    for sign in "\\`*_{}[]()#+-.!|~$":
        text = text.replace(sign, f"\\{sign}")
    text = text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return text.replace("@", "&#64;").replace("://", "&#58;//").replace("\n", " ")


def _code(text: str) -> str:
    return f"`{text.replace('`', '')}`"


FORMATS: dict[str, Callable[[Comparison], str]] = {
    "text": as_text,
    "json": as_json,
    "markdown": as_markdown,
    "github": as_github,
}
