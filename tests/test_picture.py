"""The picture of a tree: every step and every way once, readable, the same each time; and the list in its place."""

from __future__ import annotations

import math
import re
from html.parser import HTMLParser
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from alarmtrees.model import Library, Tree
from alarmtrees.model.addresses import tree_path
from alarmtrees.model.lettering import text_width
from alarmtrees.proof.order import reading_order
from alarmtrees.reading.open import open_library
from alarmtrees.site.bedside import layout, picture
from alarmtrees.site.bedside.layout import Line, Size, lay_out, wrapped
from alarmtrees.site.markup import View
from small_library import HOSTILE_AS_READ, shipped_library, spoil

LIBRARY = shipped_library()
TREES = list(LIBRARY.trees.values())


def numbered(tree: Tree) -> dict[str, int]:
    return {node_id: number for number, node_id in enumerate(reading_order(tree), start=1)}


def drawn(library: Library, tree: Tree) -> str:
    return picture.picture(View(library, tree_path(tree.id)), tree, numbered(tree))


class Drawing(HTMLParser):
    """What a picture holds: where the links of its drawing lead, lines between steps, boxes, tags."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.edges: list[tuple[str, str]] = []
        self.boxes: list[tuple[float, ...]] = []
        self.tags: list[str] = []
        self.drawing = False
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self.tags.append(tag)
        self.drawing |= tag == "svg"
        if tag == "a" and self.drawing:
            self.links.append(given["href"].removeprefix("#"))
        if "data-from" in given:
            self.edges.append((given["data-from"], given["data-to"]))
        if tag == "rect":
            self.boxes.append(tuple(float(given[name]) for name in ("x", "y", "width", "height")))

    def handle_endtag(self, tag: str) -> None:
        self.drawing &= tag != "svg"


@pytest.mark.parametrize("tree", TREES, ids=lambda tree: tree.id)
def test_every_step_and_every_way_is_drawn_once(tree: Tree) -> None:
    seen = Drawing(drawn(LIBRARY, tree))
    assert sorted(seen.links) == sorted(tree.nodes)
    ways = {(node.id, to) for node in tree.nodes.values() for to in [a.to for a in node.answers] + [node.then] if to}
    assert sorted(seen.edges) == sorted(ways)


@pytest.mark.parametrize("tree", TREES, ids=lambda tree: tree.id)
def test_boxes_neither_overlap_nor_leave_the_drawing(tree: Tree) -> None:
    html = drawn(LIBRARY, tree)
    seen = Drawing(html)
    assert len(seen.boxes) == len(tree.nodes)
    for (x, y, width, height), (u, v, wide, high) in combinations(seen.boxes, 2):
        assert x + width < u or u + wide < x or y + height < v or v + high < y, (x, y, u, v)
    frame = re.search(r'viewBox="-2 -2 (\d+) (\d+)"', html)
    assert frame is not None
    for x, y, width, height in seen.boxes:
        assert x >= -2 and y >= -2 and x + width <= int(frame[1]) and y + height <= int(frame[2])


@pytest.mark.parametrize("tree", TREES, ids=lambda tree: tree.id)
def test_answers_of_any_time_are_told_and_not_drawn(tree: Tree) -> None:
    html = drawn(LIBRARY, tree)
    told = html.split("</p>")[0]
    for answer in tree.anytime:
        assert f'href="#{answer.to}"' in told and f"→ {numbered(tree)[answer.to]}<" in told
    assert len(Drawing(html).edges) < sum(len(tree.answers_at(node)) + 1 for node in tree.nodes.values())


@pytest.mark.parametrize("tree", TREES, ids=lambda tree: tree.id)
def test_list_holds_every_step_once_and_is_never_deep(tree: Tree) -> None:
    listed = drawn(LIBRARY, tree)
    listed = listed[listed.index('<ul class="nest">') :]
    assert sorted(re.findall(r'<a href="#([^"]+)"><b>', listed)) == sorted(tree.nodes)
    depth = deepest = 0
    for tag in re.findall(r'<ul class="nest">|<ul>|</ul>', listed):
        depth += -1 if tag == "</ul>" else 1
        deepest = max(deepest, depth)
    assert depth == 0 and deepest <= 2 * (math.log2(len(tree.nodes)) + 1)


def test_number_of_every_step_is_the_one_of_its_section() -> None:
    for tree in TREES:
        numbers = numbered(tree)
        listed = re.findall(r'<a href="#([^"]+)"><b>(\d+)</b>', drawn(LIBRARY, tree))
        assert {node_id: int(number) for node_id, number in listed} == numbers


def test_drawing_is_the_same_each_time() -> None:
    tree = TREES[0]
    first = drawn(LIBRARY, tree)
    lay_out.cache_clear()
    assert drawn(LIBRARY, tree) == first


def test_layout_is_asked_for_once_for_each_content() -> None:
    lay_out.cache_clear()
    for _ in range(3):
        for tree in TREES:
            drawn(LIBRARY, tree)
    assert lay_out.cache_info().misses == len(TREES)


def test_hostile_text_stays_text(small_library: Path) -> None:
    spoil(small_library)
    library = open_library(small_library)
    for tree in library.trees.values():
        html = drawn(library, tree)
        known = {"figure", "div", "p", "b", "a", "svg", "g", "path", "text", "tspan", "rect", "details", "summary"}
        assert set(Drawing(html).tags) <= known | {"ul", "li", "style"} and html.count("<style>") <= 1
        assert HOSTILE_AS_READ[:8] not in html


def test_without_graphviz_the_list_is_open_and_nothing_else_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(picture, "HAS_GRAPHVIZ", False)
    tree = TREES[0]
    html = drawn(LIBRARY, tree)
    assert "<svg" not in html and '<details class="picture__list" open>' in html
    assert sorted(re.findall(r'<a href="#([^"]+)"><b>', html)) == sorted(tree.nodes)


def test_without_graphviz_a_layout_says_what_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(layout, "pygraphviz", None)
    with pytest.raises(RuntimeError, match="pip install pygraphviz"):
        lay_out((("only-here", Size(1, 1)),), (), Size(1, 1))


def test_way_with_a_label_has_room_for_it() -> None:
    boxes = (("a", Size(40, 20)), ("b", Size(40, 20)), ("c", Size(40, 20)))
    label = Size(70, 30)
    placed = lay_out(boxes, (Line("a", "b", label), Line("a", "c", label)), Size(10, 10))
    middles = [way.label for way in placed.ways]
    assert middles[0] is not None and middles[1] is not None
    assert abs(middles[0][0] - middles[1][0]) >= 70


def test_step_that_no_way_leads_to_stands_below_the_first() -> None:
    placed = dict(lay_out((("a", Size(40, 20)), ("b", Size(40, 20))), (), Size(10, 10)).middles)
    assert placed["b"][1] > placed["a"][1] and placed["a"][0] == placed["b"][0]


@given(
    st.lists(st.text(st.characters(codec="ascii", categories=("L", "N")), min_size=1), min_size=1), st.integers(1, 90)
)
def test_wrapping_loses_no_word_and_keeps_to_the_room(words: list[str], room: int) -> None:
    lines = wrapped(words, 10, room)
    assert " ".join(lines) == " ".join(words)
    assert all(text_width(line, 10) <= room for line in lines if " " in line)
