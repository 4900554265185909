"""Which alarms harm soonest: what somebody who has little time goes through again first."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from ..model import ABOUT, Library, Priority, SafetyRule, Tree
from .record import likeliest_way

_ONSET = ("immediate", "prompt", "delayed")
_SEVERITY = ("irreversible", "reversible", "minor")
_PRIORITY = {priority: place for place, priority in enumerate(Priority)}

AT_ONCE = 60.0
"""Seconds: what leaves no more time than this comes before a balloon that rests. Chosen: no source says it."""


def soonest(library: Library) -> dict[str, SafetyRule | None]:
    """The alarms in use, those that harm soonest first, each with the rule that leaves the shortest time there.

    First by how soon harm comes and how bad it is (the tree's `harm`); then what has to be answered within `AT_ONCE`;
    then, where harm comes at once, the patient's own trouble before the machine's; then a balloon that rests from the
    beginning, for clot forms meanwhile; then by the shortest time that a safety rule gives for what is seen on the way
    of the likeliest cause, and by title. Of rules with the same time the one that is met first is told; None where no
    rule gives a time there.
    """
    chosen = {tree.id: _shortest(library, tree) for tree in library.in_use.values()}

    def order(tree: Tree) -> tuple[float | str, ...]:
        rule = chosen[tree.id]
        within = rule.within if rule and rule.within else float("inf")
        harm = tree.harm
        at_once = within if within <= AT_ONCE else float("inf")
        later = harm.onset == "immediate" and tree.condition != "physiological"
        grave = (_ONSET.index(harm.onset), _SEVERITY.index(harm.severity))
        return *grave, at_once, later, tree.pump != "stopped", within, tree.title.casefold()

    return {tree.id: chosen[tree.id] for tree in sorted(library.in_use.values(), key=order)}


def as_soon(library: Library) -> list[list[str]]:
    """The alarms in use in groups whose harm comes alike, the soonest group first: of two in one group neither is
    plainly the sooner."""
    chosen = soonest(library)

    def alike(key: str) -> tuple[str, str, bool]:
        rule, harm = chosen[key], library.trees[key].harm
        return harm.onset, harm.severity, bool(rule and rule.within and rule.within <= AT_ONCE)

    return [list(group) for _, group in groupby(chosen, key=alike)]


def by_subject(library: Library) -> dict[str, list[Tree]]:
    """The trees under what they are about: by priority, then what harms soonest; withdrawn last."""
    soon = {key: place for place, key in enumerate(soonest(library))}

    def order(tree: Tree) -> tuple[bool, int, int, str]:
        return tree.is_withdrawn, _PRIORITY[tree.harm.priority], soon.get(tree.id, len(soon)), tree.title.casefold()

    groups: dict[str, list[Tree]] = {about: [] for about in ABOUT}
    for tree in sorted(library.trees.values(), key=order):
        groups[tree.about].append(tree)
    return {about: trees for about, trees in groups.items() if trees}


def _shortest(library: Library, tree: Tree) -> SafetyRule | None:
    timed = [rule for rule in library.safety.values() if rule.within and rule.holds_for(tree)]
    met = [rule for marks in _marks(library, tree) for rule in timed if rule.meets("of", marks)]
    return min(met, key=lambda rule: rule.within or 0, default=None)


def _marks(library: Library, tree: Tree) -> Iterator[frozenset[str]]:
    """The marks of what is seen on the way of the likeliest cause; what is done there asks for nothing but its end."""
    way = list(likeliest_way(library, tree))
    for node, after in zip(way, [*way[1:], None], strict=True):
        for answer in node.answers:
            if after and answer.to == after.id:
                yield answer.marks
