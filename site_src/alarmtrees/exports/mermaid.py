"""A tree as a flow chart in Mermaid text, which code hosts and note pages draw by themselves."""

from __future__ import annotations

import re
from collections.abc import Iterator

from ..model import Node
from .base import Format, Subject

_BOXES = {"ask": ("{{", "}}"), "do": ("[", "]"), "end": ("([", "])")}

# What is mark-up within a quoted text, and what would turn a text into Markdown. The page's own entities
# begin with # here, so that is one of them.
_SPECIAL = re.compile(r"[#&<>\"`*_~\\{}\[\]|]")


def write(subject: Subject, lost: tuple[str, ...]) -> str:
    """The tree as one flow chart. Steps are named by their numbers: some ids would be words of the language."""
    return "\n".join(_lines(subject, lost)) + "\n"


def _lines(subject: Subject, lost: tuple[str, ...]) -> Iterator[str]:
    yield "flowchart TD"
    for note in [f"{subject.tree.id}: {subject.say(subject.tree.title)}", *subject.notes(lost)]:
        yield f"%% {_plain(note)}"
    for node in subject.steps:
        opening, closing = _BOXES[node.kind]
        yield f'  s{subject.numbers[node.id]}{opening}"{_label(subject, node)}"{closing}'
    for node in subject.steps:
        for move in subject.moves(node):
            arrow = "-.->" if move.answer and move.answer.anytime else "-->"
            here, there = subject.numbers[node.id], subject.numbers[move.to]
            yield f'  s{here} {arrow}|"{_escaped(move.say)}"| s{there}'


def _label(subject: Subject, node: Node) -> str:
    lines = [subject.say(line) for line in node.lines]
    if node.call:
        lines.append(f"Call: {subject.role(node.call)}")
    if node.meanwhile:
        lines.append(f"Meanwhile: {subject.say(node.meanwhile)}")
    if node.go:
        lines.append(f"Go on with: {subject.title_of(node.go)}")
    # The number stands before a sign that begins no list: "1. " would be one of Markdown.
    return f"{subject.numbers[node.id]} – " + "<br/>".join(_escaped(line) for line in lines)


def _escaped(text: str) -> str:
    """A text that means itself within quotes.

    >>> _escaped('a "b" <c>')
    'a #34;b#34; #60;c#62;'
    """
    return _SPECIAL.sub(lambda sign: f"#{ord(sign.group())};", text)


def _plain(text: str) -> str:
    """A comment: braces right behind the percent signs would be an instruction to the renderer."""
    return text.replace("{", "(").replace("}", ")")


MERMAID = Format(
    name="mermaid",
    say="a flow chart in Mermaid text",
    lost=(
        "ids of the steps: they are named by their numbers on the page",
        "the clock: how long steps take, and how long the balloon rests",
        "causes, and under which of them an answer is seen",
        "marks and safety rules",
        "reasons, cautions, sources, pictures, other names",
        "phone numbers",
    ),
    write=write,
)
