"""Which alarms harm soonest: what somebody who has little time goes through again first."""

from __future__ import annotations

from collections.abc import Iterator

from ..model import Library, SafetyRule, Tree
from .record import likeliest_way

_ONSET = ("immediate", "prompt", "delayed")
_SEVERITY = ("irreversible", "reversible", "minor")


def soonest(library: Library) -> dict[str, SafetyRule | None]:
    """The alarms in use, those that harm soonest first, each with the rule that leaves the shortest time there.

    First by how soon harm comes and how bad it is (the tree's `harm`), then those at which the balloon rests from the
    beginning, then by the shortest time that a safety rule gives on the way of the likeliest cause. Of rules with the
    same time the one that is met first is told; None where no rule gives a time there.
    """
    chosen = {tree.id: _shortest(library, tree) for tree in library.in_use.values()}

    def order(tree: Tree) -> tuple[float, ...]:
        rule = chosen[tree.id]
        within = rule.within if rule and rule.within else float("inf")
        harm = tree.harm
        return (_ONSET.index(harm.onset), _SEVERITY.index(harm.severity), tree.pump != "stopped", within)

    return {tree.id: chosen[tree.id] for tree in sorted(library.in_use.values(), key=order)}


def _shortest(library: Library, tree: Tree) -> SafetyRule | None:
    timed = [rule for rule in library.safety.values() if rule.within and rule.holds_for(tree)]
    met = [rule for marks in _marks(library, tree) for rule in timed if rule.meets("of", marks)]
    return min(met, key=lambda rule: rule.within or 0, default=None)


def _marks(library: Library, tree: Tree) -> Iterator[frozenset[str]]:
    """The marks on the way of the likeliest cause, a step's and then its answer's."""
    way = list(likeliest_way(library, tree))
    for node, after in zip(way, [*way[1:], None], strict=True):
        yield node.marks
        for answer in node.answers:
            if after and answer.to == after.id:
                yield answer.marks
