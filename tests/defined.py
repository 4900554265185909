"""The patterns of the safety rules by their definition: over the whole list of what has happened, without a memory."""

from __future__ import annotations

from dataclasses import dataclass

from alarmtrees.model import SafetyRule


@dataclass(frozen=True)
class Event:
    """Marks that come together; `by_learner`: those of a step that was chosen, not of the case's answer."""

    marks: frozenset[str]
    by_learner: bool


class DEFINED:
    """Each pattern by its definition; is it broken by the last of some events, which is a step?"""

    @staticmethod
    def precedence(rule: SafetyRule, happened: list[Event], ended: bool, fair: bool) -> bool:
        first, then, marks = rule.slots["first"] or frozenset(), rule.slots["then"], happened[-1].marks
        meant = not marks & first if then is None else bool(marks & then)
        return meant and not any(event.marks & first for event in happened[:-1])

    @staticmethod
    def absence(
        rule: SafetyRule, happened: list[Event], ended: bool, fair: bool, asked: frozenset[str] = frozenset()
    ) -> bool:
        """`asked`: what lifts the rule and a like sign asks for; while it holds, an answer forbids nothing."""
        after, until = rule.slots.get("after"), rule.slots.get("until") or frozenset()
        active = after is None
        for index, event in enumerate(happened[:-1]):
            if after and event.marks & after:
                freed = fair and not event.by_learner and holds(happened[:index], asked)
                active = not freed or (active and not event.marks & until)
            elif event.marks & until:
                active = False
        return active and bool(happened[-1].marks & (rule.slots["of"] or frozenset()))

    @staticmethod
    def response(rule: SafetyRule, happened: list[Event], ended: bool, fair: bool) -> bool:
        of, by = rule.slots["of"] or frozenset(), rule.slots["by"] or frozenset()
        for index, event in enumerate(happened if ended else []):
            if not event.marks & of or any(later.marks & by for later in happened[index + 1 :]):
                continue
            if fair and not event.by_learner and holds(happened[:index], by):
                continue
            return True
        return False

    @staticmethod
    def existence(rule: SafetyRule, happened: list[Event], ended: bool, fair: bool) -> bool:
        return ended and not any(event.marks & (rule.slots["of"] or frozenset()) for event in happened)


UNDONE_BY = {"pump-stops": "pump-starts", "compressions": "compressions-stopped"}


def holds(happened: list[Event], by: frozenset[str]) -> bool:
    """Whether something that a rule asks for was done, and was not undone since, as by a start of the pump."""
    for index, event in enumerate(happened):
        for mark in event.marks & by:
            if not any(UNDONE_BY.get(mark) in later.marks for later in happened[index:]):
                return True
    return False
