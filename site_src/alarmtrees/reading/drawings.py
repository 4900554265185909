"""Reads the line drawings of `kb/pictures/`: what each says of itself, and where its words stand."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from xml.etree import ElementTree

from ..model import Map, Picture, Source
from .load import read_text

KIND = "picture"

NONE: Mapping[str, Picture] = MappingProxyType({})
"""No pictures."""

_SVG = "{http://www.w3.org/2000/svg}"
_NUMBER = r"-?+(?:\d++(?:\.\d*+)?+|\.\d++)"
_BOX = re.compile(rf"\s*+0[\s,]++0[\s,]++({_NUMBER})[\s,]++({_NUMBER})\s*+")
_MOVED = re.compile(rf"\s*+translate\(\s*+({_NUMBER})(?:[\s,]++({_NUMBER}))?+\s*+\)\s*+")
_SIZE = re.compile(rf"\s*+({_NUMBER})(?:px)?+\s*+")
_USUAL = 16.0


@dataclass(frozen=True, slots=True)
class Word:
    """A line of words in a drawing.

    Attributes:
        text: what it says.
        x: where it begins, ends or has its middle, as `anchor` says.
        y: its base line.
        size: of its type; 0 where that is no plain number.
        anchor: "start", "middle" or "end".
        is_turned: whether it is turned, scaled or led along a line, so that nobody can tell where it ends.
    """

    text: str
    x: float
    y: float
    size: float
    anchor: str
    is_turned: bool


def read_pictures(paths: Iterable[Path], root: Path) -> list[Source]:
    """The drawings of a library as files, each harmless: what may not be published is a stray file.

    Args:
        paths: SVG files in `kb/pictures/` itself.
        root: the library's folder.
    """
    return [_read(path, root) for path in paths]


def _read(path: Path, root: Path) -> Source:
    text, problem = read_text(path)
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    return Source(path.relative_to(root).as_posix(), KIND, path.stem, text, Map((1, 1)), (problem,) if problem else ())


def build_pictures(sources: Iterable[Source]) -> dict[str, Picture]:
    """The drawings of some sources, by id; what cannot be read is left out."""
    return {source.stem: made for source in sources if not source.problems and (made := _build(source))}


def _build(source: Source) -> Picture | None:
    root = _root(source.text)
    if root is None:
        return None
    box = _BOX.fullmatch(root.get("viewBox", ""))
    width, height = (float(box[1]), float(box[2])) if box else (0.0, 0.0)
    return Picture(
        id=source.stem,
        title=_said(root, "title"),
        description=_said(root, "desc"),
        width=width,
        height=height,
        stamp=hashlib.sha256(source.text.encode()).hexdigest(),
        file=source.file,
        text=source.text,
    )


def _root(text: str) -> ElementTree.Element | None:
    # A document type could define texts that grow without end.
    if "<!" in text.replace("<!--", ""):
        return None
    try:
        return ElementTree.fromstring(text)
    except (ElementTree.ParseError, ValueError):
        return None


def _said(root: ElementTree.Element, tag: str) -> str:
    found = root.find(f"{_SVG}{tag}")
    return " ".join("".join(found.itertext()).split()) if found is not None else ""


def words_of(picture: Picture) -> list[Word]:
    """All words of a drawing, line by line, each where it stands in the whole drawing."""
    root = _root(picture.text)
    return [] if root is None else list(_words(root, _Style(), (0.0, 0.0), is_turned=False))


@dataclass(frozen=True, slots=True)
class _Style:
    """What a text takes from what it stands in."""

    size: float = _USUAL
    anchor: str = "start"

    def within(self, element: ElementTree.Element) -> _Style:
        size = element.get("font-size")
        plain = _SIZE.fullmatch(size) if size else None
        return _Style(
            self.size if size is None else float(plain[1]) if plain else 0.0, element.get("text-anchor", self.anchor)
        )


def _words(element: ElementTree.Element, style: _Style, at: tuple[float, float], is_turned: bool) -> Iterator[Word]:
    style = style.within(element)
    moved = element.get("transform")
    if moved:
        shift = _MOVED.fullmatch(moved)
        is_turned = is_turned or shift is None
        at = (at[0] + float(shift[1]), at[1] + float(shift[2] or 0)) if shift else at
    if element.tag == f"{_SVG}text":
        yield from _lines(element, style, at, is_turned)
    elif element.tag not in (f"{_SVG}title", f"{_SVG}desc"):
        for part in element:
            yield from _words(part, style, at, is_turned)


def _lines(text: ElementTree.Element, style: _Style, at: tuple[float, float], is_turned: bool) -> Iterator[Word]:
    """A text in its lines: a `tspan` with an `x` of its own begins one, any other goes on with it."""
    x, y = _length(text, "x"), _length(text, "y") + _length(text, "dy")
    said, lines = text.text or "", list[tuple[str, float, float, _Style]]()
    here = style
    for part in text:
        is_turned = is_turned or part.tag != f"{_SVG}tspan" or len(part) > 0 or "rotate" in part.attrib
        if "x" in part.attrib:
            lines.append((said, x, y, here))
            x, said, here = _length(part, "x"), "", style.within(part)
            y = _length(part, "y") if "y" in part.attrib else y
        y += _length(part, "dy")
        said += (part.text or "") + (part.tail or "")
    is_turned = is_turned or "rotate" in text.attrib or " " in text.get("x", "").strip()
    for words, left, base, how in [*lines, (said, x, y, here)]:
        if told := " ".join(words.split()):
            yield Word(told, at[0] + left, at[1] + base, how.size, how.anchor, is_turned)


def _length(element: ElementTree.Element, key: str) -> float:
    plain = _SIZE.fullmatch(element.get(key, "0"))
    return float(plain[1]) if plain else 0.0
