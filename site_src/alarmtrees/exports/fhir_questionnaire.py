"""A tree as an HL7 FHIR R4 (4.0.1) Questionnaire, without extensions.

A question is a `choice`; a step to do is a `group` of its lines and the question whether it is done; an
end is a `group` with a code for its kind. A step is enabled by any of the answers that lead to it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from ..model import Node
from .base import Format, Subject
from .fhir import ANSWERS, ENDS, as_json, code, metadata, question

Item = dict[str, Any]


def write(subject: Subject, lost: tuple[str, ...]) -> str:
    """The tree as one resource; its items are the steps, each behind all that can enable it."""
    cautions = [
        _line(f"page.caution-{number}", subject.caution(name)) for number, name in enumerate(subject.tree.cautions, 1)
    ]
    group = {"linkId": "page.cautions", "text": "Cautions", "type": "group", "item": cautions}
    resource = {
        **metadata(subject, "Questionnaire", lost),
        "subjectType": ["Patient"],
        "item": [*([group] if cautions else []), *(_step(subject, node) for node in subject.steps)],
    }
    return as_json(resource)


def _step(subject: Subject, node: Node) -> Item:
    kinds = {"ask": _ask, "do": _do, "end": _end}
    item: Item = {"linkId": node.id, "prefix": f"{subject.numbers[node.id]}."}
    item |= kinds[node.kind](subject, node)
    if conditions := _conditions(subject, node):
        item |= {"enableWhen": conditions, "enableBehavior": "any"}
    return {**item, "item": item.pop("item")} if item.get("item") else item


def _ask(subject: Subject, node: Node) -> Item:
    return {
        "text": subject.say(node.text),
        "type": "choice",
        "answerOption": _options(subject, node),
        "item": list(_besides(subject, node)),
    }


def _do(subject: Subject, node: Node) -> Item:
    lines = [_line(f"{node.id}.line-{number}", subject.say(line)) for number, line in enumerate(node.lines, 1)]
    done = {"linkId": question(node), "text": "Done?", "type": "choice", "answerOption": _options(subject, node)}
    return {"text": "Do:", "type": "group", "item": [*lines, *_besides(subject, node), done]}


def _end(subject: Subject, node: Node) -> Item:
    told = "The alarm is answered." if node.end == "resolved" else ""
    if node.go:
        told = f"Go on with: {subject.title_of(node.go)}"
    return {
        "code": [{"system": ENDS, "code": node.end}],
        "text": subject.say(node.text),
        "type": "group",
        "item": [*([_line(f"{node.id}.end", told)] if told else []), *_besides(subject, node)],
    }


def _besides(subject: Subject, node: Node) -> Iterator[Item]:
    """What stands beside the words of a step."""
    if node.call:
        yield _line(f"{node.id}.call", f"Call: {subject.role(node.call)}")
    if node.meanwhile:
        yield _line(f"{node.id}.meanwhile", f"Meanwhile: {subject.say(node.meanwhile)}")
    for number, name in enumerate(node.cautions, 1):
        yield _line(f"{node.id}.caution-{number}", f"Caution: {subject.caution(name)}")
    if node.why:
        yield _line(f"{node.id}.why", f"Why: {subject.say(node.why)}")


def _line(link_id: str, text: str) -> Item:
    # A point stands in no step's id, so none of these can be that of a step.
    return {"linkId": link_id, "text": text, "type": "display"}


def _options(subject: Subject, node: Node) -> list[Item]:
    system = f"{ANSWERS}:{subject.tree.id}"
    return [
        {"valueCoding": {"system": system, "code": code(node, move), "display": move.say}}
        for move in subject.moves(node)
    ]


def _conditions(subject: Subject, node: Node) -> list[Item]:
    system = f"{ANSWERS}:{subject.tree.id}"
    return [
        {
            "question": question(before),
            "operator": "=",
            "answerCoding": {"system": system, "code": code(before, move)},
        }
        for before, move in subject.comers(node)
    ]


QUESTIONNAIRE = Format(
    name="fhir-questionnaire",
    say="HL7 FHIR R4 Questionnaire, without extensions",
    lost=(
        "the clock: how long steps take, and how long the balloon rests",
        "causes, and under which of them an answer is seen",
        "marks and safety rules",
        "the way on into another tree: the questions end there and name its title",
        "sources of single steps, pictures, other names, phone numbers",
        "a changed answer: whoever shows the questions has to drop the answers to those that are no longer enabled",
    ),
    write=write,
)
