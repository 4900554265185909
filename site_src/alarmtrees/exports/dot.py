"""A tree as a picture to be drawn, in the DOT language of Graphviz."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from ..model import Node
from .base import Format, Subject

_SHAPES = {"ask": "box", "do": "note", "end": "ellipse"}
_WIDE = 32
"""Signs on a line of a label."""


def write(subject: Subject, lost: tuple[str, ...]) -> str:
    """The tree as one directed graph; steps under their ids, answers on the lines between them."""
    return "\n".join(_lines(subject, lost)) + "\n"


def _lines(subject: Subject, lost: tuple[str, ...]) -> Iterator[str]:
    for note in subject.notes(lost):
        yield f"// {note}"
    yield f"digraph {_quoted([subject.tree.id])} {{"
    yield f"  graph [label={_quoted([subject.say(subject.tree.title)])}, labelloc=t, rankdir=TB];"
    for node in subject.steps:
        peripheries = ", peripheries=2" if node.kind == "end" else ""
        label = _quoted(_label(subject, node))
        yield f"  {_quoted([node.id])} [shape={_SHAPES[node.kind]}{peripheries}, label={label}];"
    for node in subject.steps:
        for move in subject.moves(node):
            style = ", style=dashed" if move.answer and move.answer.anytime else ""
            yield f"  {_quoted([node.id])} -> {_quoted([move.to])} [label={_quoted(_wrapped(move.say))}{style}];"
    yield "}"


def _label(subject: Subject, node: Node) -> list[str]:
    lines = _wrapped(f"{subject.numbers[node.id]}. {subject.say(node.lines[0])}")
    for line in node.lines[1:]:
        lines += _wrapped(subject.say(line))
    if node.call:
        lines += _wrapped(f"Call: {subject.role(node.call)}")
    if node.meanwhile:
        lines += _wrapped(f"Meanwhile: {subject.say(node.meanwhile)}")
    if node.go:
        lines += _wrapped(f"Go on with: {subject.title_of(node.go)}")
    return lines


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, _WIDE, break_long_words=False, break_on_hyphens=False) or [""]


def _quoted(lines: list[str]) -> str:
    r"""A quoted string of DOT; a backslash would begin an escape such as \N, so it is doubled.

    >>> _quoted(['say "no"', "then"])
    '"say \\"no\\"\\nthen"'
    """
    return '"' + "\\n".join(line.replace("\\", "\\\\").replace('"', '\\"') for line in lines) + '"'


DOT = Format(
    name="dot",
    say="a picture to be drawn: DOT of Graphviz",
    lost=(
        "the clock: how long steps take, and how long the balloon rests",
        "causes, and under which of them an answer is seen",
        "marks and safety rules",
        "reasons, cautions, sources, pictures, other names",
        "phone numbers",
    ),
    write=write,
)
