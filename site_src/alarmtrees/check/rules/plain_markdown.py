"""The text of an article is marked in a way that not every reader of it knows.

The page, the slides, the questions and the competency record each read the same text. All of them know: headings with
`#`, lists, boxes to tick, tables whose lines begin with a bar, code, **strong**, *stress*, links, sources, settings and
signs with a backslash before them. Anything more looks right on one and leaves stray signs, or loses words, on another.

Good:

```yaml
line: Push the **plug** home, see [plugging in](plugging-in.md).
```

Bad, with this line in the text of the article:

```yaml
line: Push the ***plug*** home, see [plugging in](plugging-in.md "the page").
```
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import partial
from itertools import pairwise

from ...model import Article, Passage
from ...reading.articles import ITEM, Spans, comments, heading
from .base import Flaw, Page, View, page_rule

_HELD, _FILLED, _LINKED = "\0", "\1", "\2"
"""Stand for what was taken away; for values and sources, which are no part of a link; for the signs of a link. None of
them is part of stressed words."""
_NO_LINK = rf"\[\]<>|{_FILLED}"
_NO_STRESS = rf"\s*_|{_HELD}{_FILLED}{_LINKED}"
_KNOWN = (
    (re.compile(r"\\[\\*_\[\]()>#+.!|-]"), _HELD),
    (re.compile(r"\[@[^\[\]\n]*\]|\{[a-z0-9_]*\}|\{\{"), _FILLED),
    (
        re.compile(
            rf"\[(?P<words>[^{_NO_LINK}\s](?:[^{_NO_LINK}]*[^{_NO_LINK}\s])?)\]"
            r"\([^\s()<>\[\]|\\*{}]+\)"
        ),
        _LINKED,
    ),
    (re.compile(r"(?<![\w*])\*\*(?P<words>[^\s*_|]+(?:\s+[^\s*_|]+)*)\*\*(?![\w*])"), _HELD),
    (
        re.compile(
            rf"(?<![\w*_{_HELD}{_FILLED}])(?P<sign>[*_])(?P<words>[^{_NO_STRESS}]+(?:\s[^{_NO_STRESS}]+)*)"
            r"(?P=sign)(?![\w*_])"
        ),
        _HELD,
    ),
)

_MOST = 5000
"""Signs of a passage; the longest that was written here has 836."""

_ALONE = "mark whole plain words alone, as **strong** or *stress*; before a sign that marks nothing write \\"
_AT_LEFT = "begin a paragraph at the left with its words, a list with - or 1. and each line of a table with |"
_CLOSED = "close lines of code with the same fence, ``` at the left and alone on its line"
_WHOLE = "give a table a head, |---| below it, and lines with as many cells, each closed by |"
_HEADING = "write a heading as # and its words, at the left, and no line across"
_ODD = (
    (re.compile(r"(?<=\S)\*+|\*+(?=\S)|(?<![\w_])_+|_+(?![\w_])"), _ALONE),
    (re.compile(r"\](?=[(\[])"), "write a link as [plain words](page.md), without a title, and with no brackets in it"),
    (re.compile(r"`"), "close code on its line, with as many ticks as it begins with"),
    (re.compile(r"\\"), "a backslash stands only before one of \\ * _ [ ] ( ) > # + - . ! |"),
    (re.compile(r"&#?\w+;"), "write the sign itself, not its name"),
    (re.compile(r"^ *#(?!#{0,5} +[^\s#])|^ +#", re.MULTILINE), _HEADING),
    (re.compile(r"^[ \t]*(?:>|:[ \t]|!!!)", re.MULTILINE), _AT_LEFT),
)
_SHAPES = (
    (
        re.compile(r"\\(?:\[@|\](?=[(\[]))"),
        "write a source as [@key] and a link as [plain words](page.md), without a backslash",
    ),
    (re.compile(r"^ {0,3}(?:=+|(?:-[ \t]*)+|(?:\*[ \t]*){3,}|(?:_[ \t]*){3,})$", re.MULTILINE), _HEADING),
)
"""What is looked for in a passage as it stands, its mark included."""
_NESTED = re.compile(r"(?:[-+*]|\d{1,9}[.)])(?:\s|$)|#|(?:[-*_][ \t]*){3,}$", re.MULTILINE)
_INDENTED = re.compile(r" {4}| {0,3}\t")
_FENCE = re.compile(r" {0,3}(?P<fence>```+|~~~+)")
_FENCED = re.compile(r"(?:```+|~~~+) *[a-z]*")
_BAR = re.compile(r"(?<!\\)\|")
_RULED = re.compile(r"\s*+\|(?:\s*+:?-++:?\s*+\|)++\s*+")


@page_rule("words")
def check(view: View, page: Page) -> Iterator[Flaw]:
    """Take away what every reader knows, and look at what is left, outside code and comments."""
    if isinstance(page, Article):
        found = [(passage.start + at, message) for passage in page.passages for at, message in _odd(page, passage)]
        for at, message in sorted([*found, *_together(page.passages), *_order(page), *_fences(page)]):
            yield Flaw(page.place(at), f"not every page shows this; {message}")


def _odd(page: Article, passage: Passage) -> Iterator[tuple[int, str]]:
    """Where a passage holds what only some readers know, and what to write instead."""
    if len(passage.text) > _MOST:
        yield 0, f"{len(passage.text):,} signs without an empty line, at most {_MOST:,} can be read: part them"
        return
    bullet = ITEM.match(passage.text) if passage.kind == "item" else None
    begin = bullet.end() if bullet else 0
    raw = page.text[passage.start : passage.start + len(passage.text)]
    text = passage.text
    if raw != text:
        text = "".join(_HELD if was > " " == now else now for was, now in zip(raw, text, strict=True))
    text = " " * begin + text[begin:]
    for shape, sign in _KNOWN:
        text = shape.sub(partial(_held, sign), text)
    for shape, message in _ODD:
        yield from ((match.start(), message) for match in shape.finditer(text))
    for shape, message in _SHAPES:
        yield from ((match.start(), message) for match in shape.finditer(passage.text))
    if _INDENTED.match(page.text, passage.start) or (passage.kind == "item" and _NESTED.match(text, begin)):
        yield begin, _AT_LEFT
    if passage.kind != "row" and (bar := _BAR.search(text)):
        yield bar.start(), _AT_LEFT


def _fences(page: Article) -> Iterator[tuple[int, str]]:
    """Fences around code that only some readers see as such, or that nothing closes."""
    at, opened, fence = page.body_at, 0, ""
    hidden = Spans(comments(page.text, page.body_at))
    for line in page.text[page.body_at :].split("\n"):
        mark = None if hidden.holds(at - 1) else _FENCE.match(line)
        if mark and not fence:
            opened, fence = at, mark["fence"]
            if not _FENCED.fullmatch(line):
                yield at, _CLOSED
        elif mark and mark["fence"].startswith(fence):
            if line.rstrip() != fence:
                yield at, _CLOSED
            fence = ""
        at += len(line) + 1
    if fence:
        yield opened, _CLOSED


def _together(passages: Sequence[Passage]) -> Iterator[tuple[int, str]]:
    """Tables that are not whole, and passages that some readers would take for a part of the one before."""
    table: list[Passage] = []
    for passage, after in pairwise((*passages, None)):
        assert passage is not None
        touched = after is not None and after.start == passage.start + len(passage.text) + 1
        if passage.kind == "row":
            table.append(passage)
        if table and not (touched and after and after.kind == "row"):
            if not _is_table([row.text.strip() for row in table]):
                yield table[0].start, _WHOLE
            table = []
        if touched and after and passage.kind != "heading" and not passage.kind == after.kind != "paragraph":
            yield after.start, "leave an empty line before this"


def _is_table(rows: list[str]) -> bool:
    even = len({len(_BAR.findall(row)) for row in rows}) == 1 and all(row.endswith("|") for row in rows)
    return even and [bool(_RULED.fullmatch(row)) for row in rows] == [place == 1 for place in range(max(len(rows), 2))]


def _order(page: Article) -> Iterator[tuple[int, str]]:
    """A second title, and items that a page would count on from a list before or show under another mark."""
    last, number = "", 0
    for place, passage in enumerate(page.passages):
        if place and passage.kind == "heading" and heading(passage)[0] == 1:
            yield passage.start, "one title is enough; write ## or ###"
        mark = ITEM.match(passage.text) if passage.kind == "item" else None
        if mark is None:
            last, number = "", 0
            continue
        kind = "number" if mark["number"] else "dash"
        if last and kind != last:
            yield passage.start, "put words or a heading between two lists that differ in their marks"
        number = number + 1 if kind == last else 1
        if mark["number"] and int(mark["number"]) != number:
            yield passage.start, f"number a list from 1 on; this is item {number}"
        last = kind


def _held(sign: str, mark: re.Match[str]) -> str:
    """In the length of what is known: its words, where it has some."""
    words = mark.groupdict().get("words") or ""
    before = mark.start("words") - mark.start() if words else len(mark.group())
    return sign * before + words + sign * (len(mark.group()) - before - len(words))
