"""A tree as plain JSON, with all texts as readers see them."""

from __future__ import annotations

import json
from typing import Any

from ..model import Node, Picture
from .base import Format, Move, Subject

VERSION = 1
"""Of the layout of the file; grows where a reader of an older one would go wrong."""


def write(subject: Subject, lost: tuple[str, ...]) -> str:
    """The tree as one object; `steps` holds all that can be reached, each before all that can follow it."""
    tree = subject.tree
    document = {
        "format": "alarm-tree",
        "version": VERSION,
        "notes": subject.notes(lost),
        "id": tree.id,
        "title": subject.say(tree.title),
        "summary": subject.say(tree.summary),
        "status": tree.status,
        "about": tree.about,
        "aliases": [subject.say(alias) for alias in tree.aliases],
        "condition": tree.condition,
        "harm": {"severity": tree.harm.severity, "onset": tree.harm.onset, "priority": tree.harm.priority.value},
        "pump": tree.pump,
        "causes": [
            {"id": cause.id, "say": subject.say(cause.say), "share": cause.share} for cause in tree.causes.values()
        ],
        "cautions": [{"id": name, "say": subject.caution(name)} for name in tree.cautions],
        "related": list(tree.related),
        "sources": [{"id": name, "say": subject.source(name)} for name in tree.sources],
        "review": dict(tree.review.raw) if tree.review else None,
        "start": tree.start,
        "steps": [_step(subject, node) for node in subject.steps],
    }
    return json.dumps(document, indent=2, ensure_ascii=False) + "\n"


def _step(subject: Subject, node: Node) -> dict[str, Any]:
    step: dict[str, Any] = {
        "id": node.id,
        "number": subject.numbers[node.id],
        "kind": node.kind,
        "lines": [subject.say(line) for line in node.lines],
        "end": node.end,
        "call": {"id": node.call, "say": subject.role(node.call)} if node.call else None,
        "go": node.go,
        "meanwhile": subject.say(node.meanwhile) if node.meanwhile else None,
        "why": subject.say(node.why) if node.why else None,
        "picture": _picture(picture) if (picture := subject.tree.picture_at(node)) else None,
        "takes_s": node.takes,
        "fixes": list(node.fixes) or None,
        "pump": node.pump,
        "marks": sorted(node.marks) or None,
        "cautions": list(node.cautions) or None,
        "sources": list(node.sources) or None,
        "moves": [_move(move) for move in subject.moves(node)] or None,
    }
    return {key: value for key, value in step.items() if value is not None}


def _picture(picture: Picture) -> dict[str, str]:
    return {"id": picture.id, "title": picture.title, "description": picture.description}


def _move(move: Move) -> dict[str, Any]:
    told: dict[str, Any] = {"key": move.key, "say": move.say, "to": move.to}
    if move.answer:
        told |= {
            "anytime": move.answer.anytime,
            "when": list(move.answer.when) if move.answer.when is not None else None,
            "pump": move.answer.pump,
            "marks": sorted(move.answer.marks) or None,
        }
    return {key: value for key, value in told.items() if value is not None}


JSON = Format(
    name="json",
    say="the tree as plain JSON, texts as readers see them",
    lost=(
        "names of settings: their values stand in the texts",
        "phone numbers",
        "layout and comments of the YAML file",
        "drawings: each is told by its title and its description",
        "safety rules: only the marks they speak of are kept",
    ),
    write=write,
)
