"""Pictures that may lie in `kb/`: they are published as they are, so nothing in one may run or ask anybody."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

PICTURES = (".png", ".svg")
"""The endings of pictures that may lie in `kb/`."""

MAX_BYTES = 2 * 1024 * 1024

_PNG = b"\x89PNG\r\n\x1a\n"
_SVG = "{http://www.w3.org/2000/svg}"
_HREF = ("href", "{http://www.w3.org/1999/xlink}href")
_SHAPES = ("path", "rect", "circle", "ellipse", "line", "polyline", "polygon", "text", "tspan", "textPath")
_PAINTS = ("marker", "linearGradient", "radialGradient", "stop", "clipPath", "mask", "pattern")
_TAGS = frozenset(("svg", "g", "defs", "title", "desc", "symbol", "use", *_SHAPES, *_PAINTS))
"""What draws. Left out: scripts, styles, links, foreign content, pictures in the picture, and what moves."""

_OUTSIDE = re.compile(r"url\(\s*+['\"]?+\s*+(?!#)|//|\\|@import|javascript:|data:", re.IGNORECASE)
_OTHER_SIGNS = re.compile(r"<\?xml[^>]*encoding\s*=\s*['\"](?!utf-8['\"])", re.IGNORECASE)


def picture_problem(path: Path) -> str:
    """What is wrong with a picture, in words; empty where it can be published.

    Args:
        path: a file with one of the endings of `PICTURES`; it need not hold what its name says.
    """
    try:
        if path.stat().st_size > MAX_BYTES:
            return "the picture is larger than 2 MiB; make it smaller"
        content = path.read_bytes()
    except OSError as fault:
        return f"the picture cannot be read: {fault.strerror or fault}"
    if path.suffix.lower() == ".png":
        return "" if content.startswith(_PNG) else "this is no PNG, whatever its name says; save it as one"
    return _svg_problem(content)


def _svg_problem(content: bytes) -> str:
    # A document type can define texts that grow without end, and anything else.
    if b"<!DOCTYPE" in content or b"<!ENTITY" in content or b"<?xml-stylesheet" in content:
        return "an SVG may hold no DOCTYPE, no ENTITY and no style sheet; save it as plain SVG"
    try:
        text = content.decode("utf-8-sig")
        root = ElementTree.fromstring("" if _OTHER_SIGNS.match(text) else text)
    except (ElementTree.ParseError, UnicodeDecodeError, ValueError):
        return "this SVG cannot be read; save it as plain SVG in UTF-8"
    for element in root.iter():
        name = str(element.tag)
        tag = name.removeprefix(_SVG)
        if not name.startswith(_SVG) or tag not in _TAGS:
            return f"an SVG here only draws, and “{tag.rpartition('}')[2]}” may not stand in it; save it as plain SVG"
        for key, value in element.attrib.items():
            name = key.rpartition("}")[2]
            if name.lower().startswith("on") or _OUTSIDE.search(value) or (key in _HREF and not value.startswith("#")):
                return f"in an SVG here nothing runs or is fetched, and “{name}” of “{tag}” would; save it as plain SVG"
    return "" if root.tag == f"{_SVG}svg" else "this is no SVG, whatever its name says; save it as one"
