"""A tree as an HL7 FHIR R4 (4.0.1) PlanDefinition, without extensions.

An action for each step. Its condition is FHIRPath on the QuestionnaireResponse to the Questionnaire of
the same tree: the step applies once one of the answers that lead to it has been given.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from ..model import Node
from .base import Format, Subject
from .fhir import ENDS, ID_SIZE, as_json, canonical, code, metadata, question

_TYPES = "http://terminology.hl7.org/CodeSystem/plan-definition-type"


def write(subject: Subject, lost: tuple[str, ...]) -> str:
    """The tree as one resource; its actions are the steps, each behind all that can lead to it."""
    tree = subject.tree
    questions = canonical("Questionnaire", tree.id)
    others = sorted({node.go.partition("/")[0] for node in subject.steps if node.go})
    resource = {
        **metadata(subject, "PlanDefinition", lost),
        "type": {"coding": [{"system": _TYPES, "code": "clinical-protocol"}]},
        "relatedArtifact": [
            *({"type": "citation", "display": name, "citation": subject.source(name)} for name in tree.sources),
            {"type": "depends-on", "resource": f"{questions}|{subject.stamp}"},
            *({"type": "depends-on", "resource": canonical("PlanDefinition", name)} for name in others),
        ],
        "action": [_action(subject, node) for node in subject.steps],
    }
    return as_json(resource)


def _action(subject: Subject, node: Node) -> dict[str, Any]:
    action: dict[str, Any] = {
        "id": _id(subject, node),
        "prefix": f"{subject.numbers[node.id]}.",
        "title": subject.say(node.lines[0]),
        "textEquivalent": "\n".join(_told(subject, node)),
    }
    if node.end:
        action["code"] = [{"coding": [{"system": ENDS, "code": node.end}]}]
    if node.sources:
        action["documentation"] = [
            {"type": "citation", "display": name, "citation": subject.source(name)} for name in node.sources
        ]
    if comers := subject.comers(node):
        action["condition"] = [
            {
                "kind": "applicability",
                "expression": {"language": "text/fhirpath", "expression": _condition(subject, node)},
            }
        ]
        before = dict.fromkeys(_id(subject, before) for before, _ in comers)
        action["relatedAction"] = [{"actionId": key, "relationship": "after-end"} for key in before]
    if node.call:
        action["participant"] = [{"type": "practitioner", "role": {"text": subject.role(node.call)}}]
    if node.kind == "ask":
        action["definitionCanonical"] = canonical("Questionnaire", subject.tree.id)
    elif node.go:
        action["definitionCanonical"] = canonical("PlanDefinition", node.go.partition("/")[0])
    return action


def _id(subject: Subject, node: Node) -> str:
    """The id of an action. FHIR allows no `_`, and 64 signs; no id of a step holds a point, so none meets another."""
    name = node.id.replace("_", ".")
    return name if len(name) <= ID_SIZE else f"step..{subject.numbers[node.id]}"


def _condition(subject: Subject, node: Node) -> str:
    """True once one of the answers that lead to a step has been given; linkIds and codes hold no quotes."""
    return " or ".join(
        f"QuestionnaireResponse.repeat(item).where(linkId = '{question(before)}')"
        f".answer.value.where(code = '{code(before, move)}').exists()"
        for before, move in subject.comers(node)
    )


def _told(subject: Subject, node: Node) -> Iterator[str]:
    for line in node.lines:
        yield subject.say(line)
    for move in subject.moves(node):
        if move.answer:
            yield f"– {move.say}: go to {subject.numbers[move.to]}"
        else:
            yield f"Then go to {subject.numbers[move.to]}."
    if node.call:
        yield f"Call: {subject.role(node.call)}"
    if node.meanwhile:
        yield f"Meanwhile: {subject.say(node.meanwhile)}"
    if node.go:
        yield f"Go on with: {subject.title_of(node.go)}"
    for name in node.cautions:
        yield f"Caution: {subject.caution(name)}"
    if node.why:
        yield f"Why: {subject.say(node.why)}"


PLAN = Format(
    name="fhir-plan",
    say="HL7 FHIR R4 PlanDefinition, without extensions; its conditions speak of the Questionnaire's answers",
    lost=(
        "the clock: how long steps take, and how long the balloon rests",
        "causes, and under which of them an answer is seen",
        "marks and safety rules",
        "the step at which another tree is entered: only that tree is named",
        "the answers as codes: they stand in the Questionnaire, and here in words",
        "pictures, other names, phone numbers",
    ),
    write=write,
)
