"""Where the boxes and lines of a drawn tree go: Graphviz's `dot`, asked once for each content.

Sizes and places are in CSS px, the origin at the top left. Text is measured here and not by Graphviz, so that
a drawing is the same whatever fonts a machine has.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from ...model.lettering import text_width

try:
    import pygraphviz  # type: ignore[import-untyped]
except ImportError:  # no wheel for this machine: pages then show a nested list instead of a drawing
    pygraphviz = None

HAS_GRAPHVIZ = pygraphviz is not None
"""Whether trees can be drawn on this machine."""

Point = tuple[float, float]

_PX = 72.0  # dot counts sizes in inches, places in points; one point is drawn as one px


@dataclass(frozen=True, slots=True)
class Size:
    """Width and height."""

    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Line:
    """A line to draw from one box to another, with room for its label where it has one."""

    start: str
    end: str
    label: Size | None = None


@dataclass(frozen=True, slots=True)
class Way:
    """A drawn line: Bézier points (one, then three for each piece), its tip, the middle of its label."""

    start: str
    end: str
    points: tuple[Point, ...]
    tip: Point
    label: Point | None


@dataclass(frozen=True, slots=True)
class Layout:
    """The drawing's size, the middle of each box by its name, and the lines in the order asked for."""

    size: Size
    middles: tuple[tuple[str, Point], ...]
    ways: tuple[Way, ...]


def wrapped(words: Sequence[str], size: float, room: float) -> list[str]:
    """The words in lines no wider than `room`, a word that is wider by itself on a line of its own.

    >>> wrapped(["a", "b", "cccccc"], 10, 20)
    ['a b', 'cccccc']
    """
    lines: list[list[str]] = []
    blank, used = text_width(" ", size), 0.0
    for word in words:
        wide = text_width(word, size)  # a line is as wide as its words and blanks together
        if lines and used + blank + wide <= room:
            lines[-1].append(word)
            used += blank + wide
        else:
            lines.append([word])
            used = wide
    return [" ".join(line) for line in lines]


@lru_cache(maxsize=1024)
def lay_out(boxes: tuple[tuple[str, Size], ...], lines: tuple[Line, ...], gap: Size) -> Layout:
    """Place the boxes in ranks from top to bottom, and lead the lines round them.

    Args:
        boxes: a name and a size each, the first at the top.
        lines: between named boxes, no two with the same ends.
        gap: the room between neighbours in a rank, and between ranks.

    Raises:
        RuntimeError: Graphviz is not installed.
    """
    if pygraphviz is None:
        raise RuntimeError("pygraphviz is missing: pip install pygraphviz")
    graph = pygraphviz.AGraph(
        directed=True, strict=False, rankdir="TB", nodesep=_inches(gap.width), ranksep=_inches(gap.height)
    )
    # No text reaches Graphviz: it would measure it with the fonts of this machine.
    graph.node_attr.update(shape="box", fixedsize="true", label="")
    graph.edge_attr.update(arrowsize="0.5")
    for name, size in boxes:
        graph.add_node(name, width=_inches(size.width), height=_inches(size.height))
    for line in lines:
        graph.add_edge(line.start, line.end, label=_room(line.label) if line.label else "")
    _keep_below(graph, boxes, lines)
    graph.layout(prog="dot")
    return _read(graph, boxes, lines)


def _inches(px: float) -> str:
    return f"{px / _PX:.4f}"


def _room(label: Size) -> str:
    """An empty table of the label's size: a label whose room is known without any font."""
    size = f'WIDTH="{round(label.width)}" HEIGHT="{round(label.height)}"'
    return f'<<TABLE BORDER="0" CELLPADDING="0" CELLSPACING="0" FIXEDSIZE="TRUE" {size}><TR><TD></TD></TR></TABLE>>'


def _keep_below(graph: pygraphviz.AGraph, boxes: Sequence[tuple[str, Size]], lines: Sequence[Line]) -> None:
    """Hang boxes that no line leads to below the first one, without a line to be seen."""
    reached = {line.end for line in lines}
    first, *others = (name for name, _ in boxes)
    for name in others:
        if name not in reached:
            graph.add_edge(first, name, key="unseen", style="invis")


def _read(graph: pygraphviz.AGraph, boxes: Sequence[tuple[str, Size]], lines: Sequence[Line]) -> Layout:
    """The places that Graphviz wrote into the graph's attributes."""
    left, bottom, right, top = map(float, graph.graph_attr["bb"].split(","))

    def point(text: str) -> Point:
        x, y = map(float, text.split(","))
        return round(x - left, 1), round(top - y, 1)

    ways = []
    for line in lines:
        edge = graph.get_edge(line.start, line.end)
        tip, *points = edge.attr["pos"].removeprefix("e,").split()
        label = point(edge.attr["lp"]) if line.label else None
        ways.append(Way(line.start, line.end, tuple(map(point, points)), point(tip), label))
    middles = tuple((name, point(graph.get_node(name).attr["pos"])) for name, _ in boxes)
    return Layout(Size(right - left, top - bottom), middles, tuple(ways))
