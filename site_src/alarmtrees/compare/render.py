"""A comparison as text for people, JSON for machines, or annotations; as a comment see `markdown`."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from typing import Any

from ..model.finding import annotation
from .change import Change, Comparison, Headline, Way
from .kinds import Weight
from .markdown import as_markdown
from .telling import (
    approval_line,
    command_for,
    details,
    is_same,
    left_out,
    many,
    name_of,
    numbers,
    texts_of,
    title_of,
    verdict,
    waits,
    ways_of,
)


def as_text(comparison: Comparison, most: int | None = None, whole: str = "") -> str:
    """The sentence that matters most, each change with what follows from it, the ways, and what can be approved.

    Args:
        comparison: what to tell.
        most: how many changes to show; all unless given.
        whole: where the whole report stands, in words; told where changes are left out.
    """
    shown = comparison.headlines[:most]
    parts = [verdict(comparison)]
    parts += ["\n".join(_headline(number, headline, comparison)) for number, headline in enumerate(shown, 1)]
    if rest := left_out(comparison, len(shown)):
        parts.append(f"{rest}: {whole or f'`{command_for(comparison)}` tells them all'}")
    if asked := [c for c in comparison.changes if waits(c, comparison)][:most]:
        lines = (approval_line(change, comparison) for change in asked)
        parts.append("\n".join(["To approve what is meant, put into approved.yml of the branch it is for:", *lines]))
    parts.append("\n".join([*_ways_lines(comparison), _summary(comparison)]))
    return "\n\n".join(parts) + "\n"


def _headline(number: int, headline: Headline, comparison: Comparison) -> Iterator[str]:
    change = headline.change
    approved = " (approved)" if comparison.approval(change) else ""
    yield f"{number}. {headline.weight}: {title_of(change, comparison)}{approved}"
    told: set[str] = set()
    yield from _told(change, comparison, told)
    for other in headline.followed_by:
        yield f"   so also: {other.weight}: {title_of(other, comparison, change)}"
        yield from (f"   {line}" for line in _told(other, comparison, told))


def _told(change: Change, comparison: Comparison, told: set[str]) -> Iterator[str]:
    yield from (f"   {line}" for line in texts_of(change))
    yield from (f"     {line}" for line in details(change, comparison, told))


def _ways_lines(comparison: Comparison) -> Iterator[str]:
    changed = [counts for counts in comparison.counts if not is_same(counts)]
    for counts in changed:
        least = "" if counts.complete else "at least "
        yield (
            f"{name_of(counts.tree, comparison)}: {many(counts.before)} before, {counts.now:,} now; "
            f"{least}{counts.same:,} stay the same, {counts.before - counts.same:,} do not"
        )
    rest = len(comparison.counts) - len(changed)
    if rest:
        total = sum(counts.same for counts in comparison.counts if is_same(counts))
        yield f"{many(rest, 'tree')} with all {many(total)} the same"


def _summary(comparison: Comparison) -> str:
    stale = len(comparison.stale)
    tail = f"; {many(stale, 'approval')} of other versions" if stale else ""
    return f"{comparison.base} -> {comparison.head}: {numbers(comparison)}{tail}"


# ---------------------------------------------------------------------- for machines


def as_json(comparison: Comparison, most: int | None = None, whole: str = "") -> str:
    """The whole comparison as one JSON object; counts of ways are exact, as text where they pass 2^53."""
    value = {
        "base": comparison.base,
        "head": comparison.head,
        "verdict": verdict(comparison),
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
        "part": change.part,
        "entry": change.entry,
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
        "follows": change.follows,
        "fingerprint": change.fingerprint,
        "approve_as": comparison.version(change),
        "approved": comparison.approval(change) is not None,
    }


def _way_json(way: Way | None) -> list[dict[str, str | None]] | None:
    return None if way is None else [{"node": step.node, "answer": step.answer} for step in way]


def _exact(number: int) -> int | str:
    return number if number < 2**53 else str(number)


def as_github(comparison: Comparison, most: int | None = None, whole: str = "") -> str:
    """Changes as workflow commands, which code hosts show beside the changed lines; approved ones are left out."""
    open_ones = [change for change in comparison.changes if comparison.approval(change) is None]
    return "".join(
        annotation(
            "notice" if change.weight is Weight.NOTE else str(change.weight),
            change.place,
            change.kind,
            "\n".join(
                [
                    title_of(change, comparison),
                    *texts_of(change),
                    *ways_of(change),
                ]
            ),
        )
        for change in open_ones[:most]
    )


FORMATS: dict[str, Callable[[Comparison, int | None, str], str]] = {
    "text": as_text,
    "json": as_json,
    "markdown": as_markdown,
    "github": as_github,
}
