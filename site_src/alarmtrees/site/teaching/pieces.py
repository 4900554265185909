"""Pieces of slides: what stands on a slide in one piece, how much room it takes, and how pieces are dealt to slides.

Room is counted in lines. It is a guess from the number of letters: a slide is written long before a screen shows it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import unescape
from itertools import groupby
from math import ceil

from ..markup import untagged

ROOM = 12.5
"""How many lines a slide holds below a heading of one line."""

LETTERS = 82
"""How many letters a line holds."""

BESIDE = 50
"""How many a line holds beside a drawing."""

_GAP = 0.4
_TITLE, _TITLE_LETTERS = 1.6, 52
_LINE = re.compile(r'<path class="([\w-]+)" d="([^"]{200,})"></path>')
_GAPS = {"bullet": 0.2, "step": 0.2, "box": 0.2}


@dataclass(frozen=True, slots=True)
class Piece:
    """What is never split between two slides.

    Attributes:
        kind: "text", "heading", "bullet", "step", "box", "row", "code" or "whole" (HTML that is a block already).
        html: its words; of a row, its cells; all texts in it are escaped.
        lines: the room that it takes.
        number: of a step.
        head: of a row, the first row of its table.
    """

    kind: str
    html: str
    lines: float
    number: int = 0
    head: str = ""

    @property
    def leads_on(self) -> bool:
        """Whether it belongs to what follows, and may not stand last on a slide."""
        return self.kind == "heading" or (self.kind == "text" and letters(self.html).endswith(":"))


def letters(html: str) -> str:
    """What can be read of a piece of HTML.

    >>> letters("<b>a</b> &amp; b")
    'a & b'
    """
    return unescape(untagged(html)).strip()


def piece(kind: str, html: str, number: int = 0, width: int = LETTERS) -> Piece:
    """A piece with the room that it takes: `width` letters a line."""
    return Piece(kind, html, ceil(max(len(letters(html)), 1) / width) + _GAPS.get(kind, _GAP), number)


def title_lines(html: str) -> float:
    """The room of a title, whose letters are larger."""
    return _TITLE * (1 + len(letters(html)) // _TITLE_LETTERS)


def row(cells: Sequence[str], head: Sequence[str]) -> Piece:
    """A row of a table; both take the HTML of its cells.

    Columns share the width by what stands in them, so a row is as high as all of its letters need, or a little more.
    """
    lengths = [len(letters(cell)) for cell in cells]
    even = LETTERS / max(len(cells), 1)
    high = max(sum(lengths) / (LETTERS * 0.75), min(max(lengths, default=0) / even, sum(lengths) / (LETTERS * 0.6)))
    return Piece("row", _cells("td", cells), max(ceil(high), 1) + _GAP, head=_cells("th", head))


def _cells(tag: str, cells: Iterable[str]) -> str:
    scope = ' scope="col"' if tag == "th" else ""
    return "".join(f"<{tag}{scope}>{cell}</{tag}>" for cell in cells)


def dealt(pieces: Iterable[Piece], room: float = ROOM) -> list[list[Piece]]:
    """The pieces on as few slides as hold them in their order, and nothing last that leads on to the next.

    A piece that needs more room than there is stands alone. Linear in the number of pieces.
    """
    slides: list[list[Piece]] = []
    here: list[Piece] = []
    for one in pieces:
        if here and _taken([*here, one]) > room:
            left = len(here)
            while left and here[left - 1].leads_on:
                left -= 1
            if left == 0 and _taken(here) > room / 2:
                left = len(here)
            slides += [here[:left]] if left else []
            here = here[left:]
        here.append(one)
    return [*slides, here] if here else slides


def balanced(pieces: Sequence[Piece], room: float = ROOM) -> list[list[Piece]]:
    """The pieces on as few slides as `dealt` needs, and on none of them much more than on another."""
    found = dealt(pieces, room)
    while room > 2 and len(closer := dealt(pieces, room - 1)) == len(found):
        found, room = closer, room - 1
    return found


def _taken(pieces: Sequence[Piece]) -> float:
    """The room of pieces on one slide; the head of a table is counted once."""
    heads = {one.head for one in pieces if one.head}
    return sum(one.lines for one in pieces) + len(heads) * (1 + _GAP)


def written(pieces: Sequence[Piece]) -> str:
    """The pieces of a slide as HTML: those of one list or table stand together."""
    return "\n".join(_run(kind, list(run)) for (kind, _, _), run in groupby(pieces, key=_Run()))


class _Run:
    """Names the list or table that a piece stands in, piece by piece: numbers that begin anew are a new list."""

    def __init__(self) -> None:
        self.last, self.list = 0, 0

    def __call__(self, one: Piece) -> tuple[str, str, int]:
        if one.kind == "step" and one.number != self.last + 1:
            self.list += 1
        self.last = one.number
        return one.kind, one.head, self.list


_LISTS = {"bullet": "<ul>", "box": '<ul class="boxes">', "step": "<ol>"}
_ALONE = {
    "heading": ("<h3>", "</h3>"),
    "code": ("<pre>", "</pre>"),
    "text": ("<p>", "</p>"),
    "whole": ("", ""),
}


def _run(kind: str, pieces: list[Piece]) -> str:
    if kind == "row":
        rows = "".join(f"<tr>{one.html}</tr>" for one in pieces)
        return f'<table class="rows"><thead><tr>{pieces[0].head}</tr></thead><tbody>{rows}</tbody></table>'
    if kind in _LISTS:
        opened = _LISTS[kind] if pieces[0].number < 2 else f'<ol start="{pieces[0].number}">'
        entries = "".join(f"<li>{one.html}</li>" for one in pieces)
        return f"{opened}{entries}</{opened[1:3]}>"
    begin, end = _ALONE[kind]
    return "\n".join(f"{begin}{one.html}{end}" for one in pieces)


def once(html: str) -> str:
    """Drawings in which each long line is written once; where it comes again, the first is used again.

    >>> line = f'<path class="a" d="M0 0c{"1 1 2 2 3 3" * 20}"></path>'
    >>> once(line + line).endswith('</path><use href="#_line1"></use>')
    True
    """
    found = [match.group(0) for match in _LINE.finditer(html)]
    again = {line for line in found if found.count(line) > 1}
    names: dict[str, str] = {}

    def put(match: re.Match[str]) -> str:
        line = match.group(0)
        if line not in again:
            return line
        if line in names:
            return f'<use href="#{names[line]}"></use>'
        names[line] = f"_line{len(names) + 1}"
        return line.replace("<path ", f'<path id="{names[line]}" ', 1)

    return _LINE.sub(put, html)
