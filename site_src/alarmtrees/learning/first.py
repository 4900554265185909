"""What is right as a first act, whatever the case: to call, to look for what cannot wait, and to help.

None of it is listed by name: the safety rules tell it. A look is for what cannot wait where an answer to it carries a
sign that a rule wants answered within the shortest time that any rule sets. A step helps where it does what a rule
wants within a time (oxygen, a hand on a wound, compressions) and nothing that a rule makes wait for something else;
what compressions go before waits too, but where something that saves goes with it: what a sign wants within a minute.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from ..model import FIXED, Node, Pattern, SafetyRule, Tree
from .cases import only_calls

_RESOLVED = frozenset({"end-resolved"})
_PUMP = frozenset({"pump-stops", "pump-starts"})
_CALLS = frozenset({"call", "doctor-called"})
_SAVING = 60.0
"""What a sign wants within as many seconds saves: a judgement, without a source."""


class FirstActs:
    """The first acts of one tree.

    Args:
        tree: whose steps are asked about.
        rules: all safety rules.
        others: the other trees, for steps that go on there.
    """

    def __init__(self, tree: Tree, rules: Iterable[SafetyRule], others: Mapping[str, Tree]) -> None:
        every = list(rules)
        held = [rule for rule in every if rule.holds_for(tree)]
        timed = [rule for rule in every if rule.pattern is Pattern.RESPONSE and rule.within is not None]
        at_once = min((rule.within for rule in timed if rule.within is not None), default=None)
        self._timed = timed
        self._others = {**others, tree.id: tree}
        self._looks = _union(rule.marks("first") for rule in every if _looks_first(rule))
        self._signs = _union(rule.marks("of") for rule in timed if rule.within == at_once)
        self._helps = _union(rule.marks("by") for rule in timed) - _PUMP
        done = _union(node.marks for one in others.values() for node in one.nodes.values())
        seen = _union(answer.marks for one in others.values() for node in one.nodes.values() for answer in node.answers)
        signs = seen - done
        soon = (rule for rule in timed if (rule.within or 0.0) <= _SAVING and rule.meets("of", signs))
        self._saves = _union(rule.marks("by") for rule in soon) - _PUMP - _CALLS
        self._waits = _union(_made_to_wait(rule) for rule in held)
        self._later = _PUMP.union(*(rule.marks("of") for rule in held if rule.meets("until", self._saves)))

    def looks_at_patient(self, node: Node) -> bool:
        """Whether a question is a look at the patient, as the rules want one first or before the end."""
        return node.kind == "ask" and not node.marks.isdisjoint(self._looks)

    def welcome(self, node: Node) -> bool:
        """Whether a step is right at any time: it only calls, or looks at the patient or for what cannot wait."""
        return only_calls(node) or self.looks_at_patient(node) or self.looks_for_the_worst(node)

    def looks_for_the_worst(self, node: Node) -> bool:
        """Whether an answer to a question may be a sign that wants to be answered at once.

        One that asks whether a remedy held is no first look.
        """
        is_first = not any(FIXED in (answer.when or ()) for answer in node.answers)
        return is_first and any(not answer.marks.isdisjoint(self._signs) for answer in node.answers)

    def helps(self, node: Node) -> bool:
        """Whether a step helps, and nothing in it has to wait for anything; a page that begins with it helps too."""
        if node.go:
            entered = self._entered(node.go)
            return entered is not None and entered.kind == "do" and self.helps(entered)
        if node.kind != "do" or node.marks.isdisjoint(self._helps) or not node.marks.isdisjoint(self._waits):
            return False
        return not node.marks.isdisjoint(self._saves) or node.marks.isdisjoint(self._later)

    def answers(self, node: Node) -> frozenset[str] | None:
        """The signs that a step which helps answers; None of one that does not help."""
        if not self.helps(node):
            return None
        entered = self._entered(node.go) if node.go else None
        marks = (entered or node).marks & self._helps
        return _union(rule.marks("of") for rule in self._timed if rule.meets("by", marks))

    def _entered(self, where: str) -> Node | None:
        tree_id, _, step = where.partition("/")
        tree = self._others.get(tree_id)
        return tree.nodes.get(step or tree.start) if tree else None


def _looks_first(rule: SafetyRule) -> bool:
    return rule.pattern is Pattern.PRECEDENCE and rule.slots["then"] in (None, _RESOLVED)


def _made_to_wait(rule: SafetyRule) -> frozenset[str]:
    """The marks that a rule forbids until something was done: not those that it forbids after a sign alone."""
    if rule.pattern is Pattern.PRECEDENCE:
        return rule.marks("then")
    if rule.pattern is Pattern.ABSENCE and not rule.marks("after"):
        return rule.marks("of")
    return frozenset()


def _union(marks: Iterable[frozenset[str]]) -> frozenset[str]:
    return frozenset[str]().union(*marks)
