"""What both FHIR R4 resources say about themselves, and the names by which they know each other."""

from __future__ import annotations

import json
import re
from datetime import date
from typing import Any

from ..model import Node
from .base import Move, Subject, plain

ANSWERS = "urn:alarmtrees:answers"
"""Begins the name of the code system of a tree's answers."""

ENDS = "urn:alarmtrees:ends"
"""The code system of the three kinds of end: resolved, call, go."""

ID_SIZE = 64
"""The longest id that FHIR allows."""


def canonical(kind: str, tree_id: str) -> str:
    """The name by which a resource of a tree is referred to."""
    return f"urn:alarmtrees:{kind.lower()}:{tree_id}"


def metadata(subject: Subject, kind: str, lost: tuple[str, ...]) -> dict[str, Any]:
    """The elements with which both resources begin.

    Args:
        subject: the tree.
        kind: "Questionnaire" or "PlanDefinition".
        lost: what the format cannot hold.
    """
    tree, review, reviewed = subject.tree, subject.tree.review, subject.is_reviewed
    dates: dict[str, Any] = {}
    if review and reviewed and _is_day(review.on) and _is_day(review.next):
        dates = {
            "date": review.on,
            "approvalDate": review.on,
            "lastReviewDate": review.on,
            "effectivePeriod": {"start": review.on, "end": review.next},
        }
    hospital = plain(subject.library.hospital) if subject.library else ""
    return {
        "resourceType": kind,
        "id": tree.id.replace("_", ".")[:ID_SIZE],
        "language": "en-GB",
        "url": canonical(kind, tree.id),
        "version": subject.stamp,
        "name": "".join(part.capitalize() for part in ["alarm", *re.split("[-_]", tree.id)]),
        "title": subject.say(tree.title),
        "status": "active" if reviewed else "draft",
        "experimental": subject.is_fictional,
        **({"publisher": hospital} if hospital else {}),
        **dates,
        "description": "\n\n".join([subject.say(tree.summary), *subject.notes(lost)]),
    }


def _is_day(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def code(node: Node, move: Move) -> str:
    """The code of an answer, which no other answer of the tree has."""
    return f"{node.id}.{move.key}"


def question(node: Node) -> str:
    """The linkId of the item that is answered at a step: a step to do asks whether it is done."""
    return f"{node.id}.done" if node.kind == "do" else node.id


def as_json(resource: dict[str, Any]) -> str:
    """A resource as text."""
    return json.dumps(resource, indent=2, ensure_ascii=False) + "\n"
