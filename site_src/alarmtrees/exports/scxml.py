"""A tree as a state machine in W3C SCXML 1.0 (Recommendation, 1 September 2015).

Only elements of the standard and its null data model: a step is a state, an end is a final state, an
answer is an event. What a step says stands in a `log` on entry, what an answer says in a `log` of its
transition, so that any interpreter tells it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.sax.saxutils import quoteattr

from ..model import Node
from .base import Format, Move, Subject

NAMESPACE = "http://www.w3.org/2005/07/scxml"


def write(subject: Subject, lost: tuple[str, ...]) -> str:
    """The tree as one document."""
    return "\n".join(_lines(subject, lost)) + "\n"


def state_id(node_id: str) -> str:
    """The id of a step's state. An id of XML begins with no digit, and some words are taken in some interpreters."""
    return f"step-{node_id}"


def event(move: Move) -> str:
    """The event that a move is taken on.

    Its first part tells what it is; the second has no point in it, so no event is the beginning of another.
    """
    if move.answer is None:
        return "step.done"
    return f"{'anytime' if move.answer.anytime else 'answer'}.{move.key}"


def _lines(subject: Subject, lost: tuple[str, ...]) -> Iterator[str]:
    tree = subject.tree
    yield '<?xml version="1.0" encoding="UTF-8"?>'
    for note in [f"{subject.say(tree.title)}. {subject.say(tree.summary)}", *subject.notes(lost)]:
        yield f"<!-- {_comment(note)} -->"
    yield (
        f'<scxml xmlns="{NAMESPACE}" version="1.0" datamodel="null" '
        f"name={quoteattr(tree.id)} initial={quoteattr(state_id(tree.start))}>"
    )
    for node in subject.steps:
        yield from _state(subject, node)
    yield "</scxml>"


def _state(subject: Subject, node: Node) -> Iterator[str]:
    kind = "final" if node.kind == "end" else "state"
    yield f"  <{kind} id={quoteattr(state_id(node.id))}>"
    yield "    <onentry>"
    for label in _said(subject, node):
        yield f"      <log label={quoteattr(_legal(label))}/>"
    yield "    </onentry>"
    for move in subject.moves(node):
        yield f"    <transition event={quoteattr(event(move))} target={quoteattr(state_id(move.to))}>"
        yield f"      <log label={quoteattr(_legal(move.say))}/>"
        yield "    </transition>"
    yield f"  </{kind}>"


def _said(subject: Subject, node: Node) -> Iterator[str]:
    """What a step says, a label each, the first word telling what it is."""
    word = {"ask": "Ask", "do": "Do", "end": f"End ({node.end})"}[node.kind]
    for line in node.lines:
        yield f"{word}: {subject.say(line)}"
    if node.call:
        yield f"Call: {subject.role(node.call)}"
    if node.meanwhile:
        yield f"Meanwhile: {subject.say(node.meanwhile)}"
    if node.go:
        yield f"Go on with: {node.go}"
    for caution in node.cautions:
        yield f"Caution: {subject.caution(caution)}"
    if node.why:
        yield f"Why: {subject.say(node.why)}"


def _legal(text: str) -> str:
    """Signs that XML 1.0 cannot hold at all are left out."""
    return "".join(sign for sign in text if sign not in "\ufffe\uffff")


def _comment(text: str) -> str:
    """A comment of XML: two hyphens would end it."""
    return re.sub("-(?=-)", "- ", _legal(text))


SCXML = Format(
    name="scxml",
    say="a state machine: W3C SCXML 1.0, null data model",
    lost=(
        "the clock: how long steps take, and how long the balloon rests",
        "causes, and under which of them an answer is seen",
        "marks and safety rules",
        "the way on into another tree: the machine ends there and names it",
        "sources, pictures, other names, phone numbers",
        "going back one answer",
    ),
    write=write,
)
