"""The cases of a tree as plain data, for the engine in the browser."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ..model import FIXED, PLACES, Answer, Library, Node, SafetyRule, Tree
from ..model.stamp import content_stamp
from ..model.wording import fill
from ..proof.resting import Times, setting_seconds
from .cases import Case, cases_of, looks_of
from .first import FirstActs
from .story import story_of


def is_practised(tree: Tree) -> bool:
    """Whether a tree can be practised: it has causes, and is not withdrawn."""
    return bool(tree.causes) and tree.in_use


def practised(library: Library) -> list[Tree]:
    """The trees that can be practised: in use, with causes."""
    return [tree for tree in library.trees.values() if is_practised(tree)]


def tree_data(library: Library, tree: Tree, traces: Mapping[str, str] | None = None) -> dict[str, Any]:
    """All that is needed to play a tree, in the shape that `play.js` reads.

    Args:
        library: without errors.
        tree: one of its trees.
        traces: HTML to show with the main case of a cause, by `<tree>/<cause>`.
    """
    rules = [rule for rule in library.safety.values() if rule.speaks_of(tree)]
    marks = sorted(_marks(tree, rules))
    number = {mark: index for index, mark in enumerate(marks)}
    times = Times.of(library.settings)
    cases = cases_of(tree, library.safety.values(), looks_of(library))
    first = FirstActs(tree, library.safety.values(), library.trees)
    return {
        "tree": tree.id,
        "title": fill(tree.title, library.settings),
        "content": content_stamp(tree),
        "pump": tree.pump,
        "harm": tree.harm.priority.value,
        "before": setting_seconds(library.settings, "before_page"),
        "warning": setting_seconds(library.settings, "resting_warning"),
        "start": tree.start,
        "marks": marks,
        "nodes": {node.id: _node(library, tree, node, times, number, first) for node in tree.nodes.values()},
        "causes": [{"id": cause.id, "say": fill(cause.say, library.settings)} for cause in tree.causes.values()],
        "rules": [_rule(library, rule, number) for rule in rules],
        "cases": [_case(library, tree, case, traces or {}) for case in cases],
    }


def _marks(tree: Tree, rules: list[SafetyRule]) -> frozenset[str]:
    named = (marks for rule in rules for marks in rule.slots.values() if marks)
    return tree.carried.union(*named)


def _numbers(marks: frozenset[str], number: Mapping[str, int]) -> list[int]:
    """Marks as numbers; those that neither the tree nor its rules name never come."""
    return sorted(number[mark] for mark in marks if mark in number)


def _node(
    library: Library, tree: Tree, node: Node, times: Times, number: Mapping[str, int], first: FirstActs
) -> dict[str, Any]:
    def say(text: str | None) -> str:
        return fill(text or "", library.settings)

    role = library.roles.get(node.call or "")
    helped = first.answers(node)
    entered = library.trees.get((node.go or "").partition("/")[0])
    order = list(tree.causes)
    return {
        "kind": node.kind,
        "text": say(node.text),
        "why": say(node.why),
        "meanwhile": say(node.meanwhile),
        "takes": _whole(times.takes(node)),
        "pump": node.pump or "",
        "call": fill(role.say, library.settings) if role else node.call or "",
        "end": node.end or "",
        "go": say(entered.title) if entered else node.go or "",
        "goto": (node.go or "").partition("/")[0],
        "welcome": first.welcome(node),
        "again": first.looks_at_patient(node),
        "known": node.kind == "ask" and any(library.marks[mark].shows for mark in node.marks if mark in library.marks),
        "helps": None if helped is None else _numbers(helped, number),
        "then": node.then or "",
        "marks": _numbers(node.marks, number),
        "fixes": [order.index(cause) for cause in node.fixes if cause in order],
        "answers": [_answer(library, answer, number) for answer in tree.answers_at(node)],
    }


def _answer(library: Library, answer: Answer, number: Mapping[str, int]) -> dict[str, Any]:
    return {
        "say": fill(answer.say, library.settings),
        "pump": answer.pump or "",
        "marks": _numbers(answer.marks, number),
        "to": answer.to,
        "held": answer.when is not None and FIXED in answer.when,
        "anytime": answer.anytime,
    }


def _rule(library: Library, rule: SafetyRule, number: Mapping[str, int]) -> dict[str, Any]:
    slots: dict[str, list[int] | None] = {}
    for place in PLACES:
        slots[place] = _numbers(rule.marks(place), number)
    if rule.for_any:
        slots["then"] = None
    say, reason = fill(rule.say, library.settings), fill(rule.reason, library.settings)
    return {"id": rule.id, "say": say, "reason": reason, "pattern": rule.pattern, "only": bool(rule.only), **slots}


def _case(library: Library, tree: Tree, case: Case, traces: Mapping[str, str]) -> dict[str, Any]:
    return {
        "id": case.id,
        "cause": list(tree.causes).index(case.cause),
        "story": story_of(library, tree, case.id),
        # What a twist shows may be that the balloon stands still, or worse: the cause's trace would say otherwise.
        "trace": "" if case.shows else traces.get(f"{tree.id}/{case.cause}", ""),
        "world": {step: list(answers) for step, answers in case.world.items()},
        "way": list(case.way),
        "solves": case.solves,
        "still": case.still,
    }


def _whole(value: float) -> int | float:
    return int(value) if value == int(value) else value
