"""The picture of a tree: all its steps and ways at a glance, each box a link to its step.

On wide screens it is a drawing, in the theme's colours and laid out when the site is built. On narrow ones, without
scripts, and where Graphviz is not installed, it is a nested list of the same steps. The drawing weighs a fifth of a
page and lies in a file beside it, which a phone never asks for.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from ...model import Library, Node, Tree
from ...model.addresses import tree_path
from ...model.lettering import text_width
from ...proof.order import reading_order
from ..markup import UNSEARCHED, SiteFile, View, block, esc, script_json
from ..minified import short_style
from .layout import HAS_GRAPHVIZ, Layout, Line, Point, Size, Way, lay_out, wrapped
from .nested import SHORT_ENDS, nested_list

_FONT = 13.0
_LEADING = 16.0
_LABEL_FONT = 12.0
_LABEL_LEADING = 14.0
_BOX = 104.0
_END = 64.0
_PAD = 7.0
_LOWEST = 44.0
_LABEL = 72.0
_LABEL_LINES = 4
_GAP = Size(8, 18)


def picture(view: View, tree: Tree, numbers: Mapping[str, int], apart: bool = False) -> str:
    """The tree's picture as one block of HTML.

    Args:
        view: the page it stands on.
        tree: a tree all of whose references hold.
        numbers: the number of each step, in reading order.
        apart: the drawing is left to the file that `tree_picture` makes.
    """
    anytime, listed = _anytime(view, tree, numbers), nested_list(view, tree, numbers)
    drawn = _drawing(view, tree, numbers) if HAS_GRAPHVIZ and not apart else ""
    shut = "" if HAS_GRAPHVIZ else " open"
    nest = f'<details class="picture__list"{shut}><summary>All steps at a glance</summary>{anytime}{listed}</details>'
    fetched = {"data-picture": _FILE} if apart else {}
    frame = block("div", [anytime, drawn], class_="picture__frame", **fetched) if HAS_GRAPHVIZ else ""
    return f'<figure id="_picture" class="picture" {UNSEARCHED}>\n{frame}\n{nest}\n</figure>'


_FILE = "picture.js"


def tree_picture(library: Library, tree: Tree) -> SiteFile:
    """The drawing of a tree, as a script that hands it to the tree's page; Graphviz must be there."""
    view = View(library, tree_path(tree.id))
    numbers = {node_id: number for number, node_id in enumerate(reading_order(tree), start=1)}
    drawn = script_json(_drawing(view, tree, numbers))
    return SiteFile(view.path.removesuffix("index") + _FILE, f"alarmtrees.picture({drawn});\n")


def ways_of(tree: Tree) -> dict[tuple[str, str], list[str]]:
    """Every pair of steps that one leads to the other, with the answers that do; answers of any time left out."""
    ways: dict[tuple[str, str], list[str]] = {}
    for node in tree.nodes.values():
        for answer in node.answers:
            ways.setdefault((node.id, answer.to), []).append(answer.say)
        if node.then:
            ways.setdefault((node.id, node.then), [])
    return ways


def _anytime(view: View, tree: Tree, numbers: Mapping[str, int]) -> str:
    """Answers of any time would be a line from every box: they are told in one sentence instead."""
    if not tree.anytime:
        return ""
    links = (
        f'<a href="#{esc(answer.to)}">{view.say(answer.say)} → {numbers.get(answer.to, "?")}</a>'
        for answer in tree.anytime
    )
    return f'<p class="picture__anytime"><b>At any time:</b> {" · ".join(links)}</p>'


@dataclass(frozen=True, slots=True)
class _Box:
    """A step as drawn: its lines of text, and how large that makes it."""

    node: Node
    lines: tuple[str, ...]
    size: Size


def _drawing(view: View, tree: Tree, numbers: Mapping[str, int]) -> str:
    boxes = {node_id: _box(view, tree.nodes[node_id], number) for node_id, number in numbers.items()}
    labels = {ends: _label(view, says) for ends, says in ways_of(tree).items()}
    lines = tuple(Line(*ends, _label_size(label)) for ends, label in labels.items())
    layout = lay_out(tuple((box.node.id, box.size) for box in boxes.values()), lines, _GAP)
    ways = (_way(way, labels[way.start, way.end]) for way in layout.ways)
    spots = (_spot(boxes[node_id], numbers[node_id], middle) for node_id, middle in layout.middles)
    name = f"Picture of all steps of “{view.say(tree.title)}”; each box leads to its step"
    return _svg(layout, name, [*ways, *spots])


def _svg(layout: Layout, name: str, parts: Iterable[str]) -> str:
    width, height = round(layout.size.width + 4), round(layout.size.height + 4)
    size = f'viewBox="-2 -2 {width} {height}" width="{width}" height="{height}"'
    style = f"<style>{_style()}</style>"
    return f'<svg {size} role="group" aria-label="{name}">\n{style}\n{chr(10).join(parts)}\n</svg>'


@cache
def _style() -> str:
    return short_style((Path(__file__).parent / "assets" / "picture.css").read_text(encoding="utf-8"))


def _box(view: View, node: Node, number: int) -> _Box:
    """An end is told by how it ends: what it says in full stands at the step."""
    if node.kind == "end":
        lines, width = [str(number), SHORT_ENDS[node.end or ""]], _END
    else:
        words = [str(number), *view.plain(node.lines[0]).split()]
        lines, width = wrapped(words, _FONT * 1.04, _BOX - 2 * _PAD), _BOX
        if len(node.lines) > 1:
            lines.append(f"+ {len(node.lines) - 1} more")
    width = max(width, *(text_width(line, _FONT * 1.04) + 2 * _PAD for line in lines))
    return _Box(node, tuple(lines), Size(round(width), max(len(lines) * _LEADING + 2 * _PAD, _LOWEST)))


def _label(view: View, says: list[str]) -> tuple[str, ...]:
    """The answers of one line, each on lines of its own; only how many there are where they do not fit."""
    if not says:
        return ()
    sign = "· " if len(says) > 1 else ""
    lines = [line for say in says for line in wrapped(f"{sign}{view.plain(say)}".split(), _LABEL_FONT, _LABEL)]
    return tuple(lines) if len(lines) <= _LABEL_LINES else (f"{len(says)} answers",) if len(says) > 1 else ("…",)


def _label_size(lines: tuple[str, ...]) -> Size | None:
    if not lines:
        return None
    return Size(max(text_width(line, _LABEL_FONT) for line in lines) + 6, len(lines) * _LABEL_LEADING + 4)


def _spot(box: _Box, number: int, middle: Point) -> str:
    node, size = box.node, box.size
    rect = _rect(middle, size, {"ask": 12, "do": 0, "end": 4}[node.kind])
    first, *others = box.lines
    bold = f'<tspan class="spot__number">{number}</tspan>{esc(first.removeprefix(str(number)))}'
    y = middle[1] - len(box.lines) * _LEADING / 2 + _FONT * 0.92
    text = _text([bold, *map(esc, others)], middle[0] - size.width / 2 + _PAD, y, _LEADING)
    return f'<a class="{_css(node)}" href="#{esc(node.id)}">{rect}{text}</a>'


def _way(way: Way, label: tuple[str, ...]) -> str:
    start, *rest = (f"{x:.0f} {y:.0f}" for x, y in way.points)
    line = f'<path class="edge__line" d="M{start}C{" ".join(rest)}"></path>'
    head = f'<path class="edge__tip" d="{_arrow(way.points[-1], way.tip)}"></path>'
    text = ""
    if way.label is not None:
        x, y = way.label
        width = max(text_width(line, _LABEL_FONT) for line in label)
        top = y - len(label) * _LABEL_LEADING / 2 + _LABEL_FONT * 0.9
        text = _text(map(esc, label), x - width / 2, top, _LABEL_LEADING)
    ends = f'data-from="{esc(way.start)}" data-to="{esc(way.end)}"'
    return f'<g class="edge" {ends} aria-hidden="true">{line}{head}{text}</g>'


def _arrow(base: Point, tip: Point) -> str:
    """A small triangle on the line from `base` to `tip`."""
    dx, dy = (tip[0] - base[0]) / 2.4, (tip[1] - base[1]) / 2.4
    corners = (tip, (base[0] - dy, base[1] + dx), (base[0] + dy, base[1] - dx))
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in corners) + "Z"


def _text(lines: Iterable[str], x: float, y: float, leading: float) -> str:
    """Lines of text that are safe in HTML already, one under the other. Blanks keep words apart when read aloud."""
    written = f'</tspan> <tspan x="{x:.0f}" dy="{leading:g}">'.join(lines)
    return f'<text y="{y:.0f}"><tspan x="{x:.0f}">{written}</tspan></text>'


def _css(node: Node) -> str:
    return f"spot spot--{node.kind}" + (f" spot--{node.end}" if node.end else "")


def _rect(middle: Point, size: Size, radius: int) -> str:
    left, top = middle[0] - size.width / 2, middle[1] - size.height / 2
    place = f'x="{left:.0f}" y="{top:.0f}" width="{size.width:.0f}" height="{size.height:.0f}"'
    return f'<rect {place} rx="{radius}"></rect>'
