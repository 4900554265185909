"""What changes in one tree that both versions have."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ..model import Tree
from ..model.finding import Place
from ..proof.resting import Times
from .change import Change, Counts
from .edits import come_and_gone, edits
from .fields import head_differences
from .headlines import together
from .kinds import Weight
from .matching import Matching
from .net import unexplained
from .stops import NotComparableError, Stops
from .ways import Ways


@dataclass(frozen=True, slots=True)
class Compared:
    """One tree compared: its changes and its counts (None where its ways cannot be told)."""

    changes: tuple[Change, ...]
    counts: Counts | None


def compare_trees(
    matching: Matching,
    entered: tuple[frozenset[str], frozenset[str]],
    same_go: Callable[[str, str], bool],
    times: Times,
) -> Compared:
    """Compare two versions of a tree: what was edited, what that changes on the ways, and what neither explains.

    Args:
        matching: the two versions, side by side.
        entered: the steps at which other trees enter it, before and now.
        same_go: whether two hand-overs lead to the same step of another tree.
        times: how long steps take where the tree says nothing.
    """
    old, new = matching.old, matching.new
    if old.raw == new.raw:
        return Compared((), _unchanged(new))
    found = [difference.at(new.id, None) for difference in head_differences(old, new, matching.words)]
    ways: Ways | None = None
    try:
        ways = Ways(matching, _roots(matching, entered), same_go, times)
        found += ways.changes
        found += [] if ways.product.complete else [_rewritten(new)]
    except NotComparableError as fault:
        found.append(_not_comparable(old, new, fault))
    found += edits(matching, ways)
    found = list(come_and_gone(matching, found, ways))
    counts = ways.counts if ways else None
    return Compared((*together(found, matching), *unexplained(matching, found, counts)), counts)


def _unchanged(tree: Tree) -> Counts | None:
    try:
        stops = Stops(tree, [tree.start])
    except NotComparableError:
        return None  # as it was before; the check speaks of it
    ways = stops.ways[stops.entries[tree.start].to]
    return Counts(tree.id, ways, ways, ways)


def _roots(matching: Matching, entered: tuple[frozenset[str], frozenset[str]]) -> list[tuple[str, str]]:
    """Where ways begin in both versions: the start, then the steps at which other trees enter."""
    old, new = matching.old, matching.new
    pairs = [(old.start, new.start)]
    here = {**{node: node for node in old.nodes if node in new.nodes}, **matching.forth}
    pairs += [(u, v) for u, v in here.items() if (u in entered[0] or v in entered[1]) and (u, v) not in pairs]
    return pairs


def _not_comparable(old: Tree, new: Tree, fault: NotComparableError) -> Change:
    try:
        Stops(new, [new.start])
    except NotComparableError:
        return Change(
            "not-comparable",
            new.id,
            f"its ways cannot be compared: {fault}; see `alarmtrees check`",
            Place(new.file, 1, 1),
            after=str(fault),
        )
    return Change(
        "not-comparable",
        new.id,
        f"its ways cannot be compared: in the version before, {fault}",
        Place(new.file, 1, 1),
        before=str(fault),
        weighs=Weight.WARNING,
    )


def _rewritten(new: Tree) -> Change:
    message = "the two versions differ in so many places that not all their ways were put side by side; read it anew"
    return Change("rewritten", new.id, message, Place(new.file, 1, 1))
