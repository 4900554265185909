"""How much room a tree takes on paper, and so in which form its sheet is written.

All sizes are in points. The widths are those of theme/assets/print.css, and the text is measured as in the picture, so
this is an estimate; what the paper says of its own pages is counted by whoever prints it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil

from ...model import Library, Node, Tree
from ...model.wording import fill
from .layout import wrapped

_MM = 72 / 25.4
_SIZE = 10.0
_LEADING = 11.5
_BOLD = 1.05

COLUMNS = 3
COLUMN_WIDTH = 60 * _MM
PAGE_HEIGHT = 272 * _MM
_INDENT = 5.5 * _MM
_GO_TO = 44.0
_BETWEEN = 2 * _MM
_FRAME = 4.5


@dataclass(frozen=True, slots=True)
class Form:
    """How a sheet is written.

    Attributes:
        full: each caution in full at every step that carries it; else all of them once at the top, with letters.
        map: with a small map of all steps behind the last one.
    """

    full: bool
    map: bool


FORMS = (Form(True, True), Form(True, False), Form(False, True), Form(False, False))
"""All forms, the best first."""


@dataclass(frozen=True, slots=True)
class Paper:
    """One tree on paper: how tall each of its parts is."""

    library: Library
    tree: Tree
    order: tuple[str, ...]
    map_height: float

    def best_form(self) -> Form:
        """The best form that fits one page; else the best that fits two; else the shortest."""
        for pages in (1, 2):
            for form in FORMS:
                if (self.map_height or not form.map) and self.pages(form) <= pages:
                    return form
        return FORMS[-1]

    def pages(self, form: Form) -> int:
        """How many pages the sheet takes, as steps are never split between columns."""
        heights = [self._card(self.tree.nodes[node_id], form) for node_id in self.order]
        if form.map:
            heights.append(self.map_height + 2 * _LEADING)
        first = PAGE_HEIGHT - self._head(form)
        return ceil(max(_columns(heights, first), 1) / COLUMNS)

    def top_cautions(self, form: Form) -> list[str]:
        """The cautions at the top of the sheet: those that no step says in full."""
        at_steps = dict.fromkeys(key for node_id in self.order for key in self.tree.nodes[node_id].cautions)
        if form.full:
            return [key for key in self.tree.cautions if key not in at_steps]
        return list(dict.fromkeys([*self.tree.cautions, *at_steps]))

    def _head(self, form: Form) -> float:
        cautions = sum(self._lines(self._caution(key), COLUMN_WIDTH - 9) for key in self.top_cautions(form))
        longest = max((self._lines(self._caution(key), COLUMN_WIDTH - 9) for key in self.top_cautions(form)), default=0)
        anytime = " · ".join(f"{answer.say}: go to 28" for answer in self.tree.anytime)
        boxed = self._lines(f"At any time: {anytime}", 500, 1.15) * 12.7 + 12 if anytime else 0
        calls = len({node.call for node in self.tree.nodes.values() if node.call}) + 1
        title = self._lines(self.tree.title, 420, 2.0)
        return 40 + 21 * title + 12 * ceil(calls / 1.5) + boxed + (ceil(cautions / 3) + longest) * _LEADING + 12

    def _card(self, node: Node, form: Form) -> float:
        inner = COLUMN_WIDTH - _INDENT
        lines = {"ask": self._ask, "do": self._do, "end": self._end}[node.kind](node, inner)
        if node.cautions and form.full:
            lines += sum(self._lines(f"! {self._caution(key)}", inner - 7) for key in node.cautions)
        elif node.cautions:
            lines += 1
        return lines * _LEADING + _BETWEEN + 2 + (_FRAME if node.kind == "end" else 0)

    def _ask(self, node: Node, inner: float) -> int:
        answers = sum(self._lines(answer.say, inner - _GO_TO) for answer in node.answers)
        return self._lines(node.text, inner, _BOLD) + answers

    def _do(self, node: Node, inner: float) -> int:
        lines = sum(self._lines(line, inner - 11, _BOLD) for line in node.lines)
        return lines + self._call(node, inner) + (1 if node.then else 0)

    def _end(self, node: Node, inner: float) -> int:
        inner -= 3
        first = {"resolved": "Alarm answered.", "go": f"Go to the sheet “{node.go}”, step 10."}.get(node.end or "", "")
        meanwhile = self._lines(f"Meanwhile: {node.meanwhile}", inner) if node.meanwhile else 0
        return self._call(node, inner) + self._lines(f"{first} {node.text}", inner) + meanwhile

    def _call(self, node: Node, inner: float) -> int:
        role = self.library.roles.get(node.call or "")
        if role is None:
            return 0
        number = (role.phone or "number not set here").replace(" ", "\u00a0")
        return self._lines(f"Call now: {role.say} {number}\u00a0(fictional)", inner, 1.02)

    def _caution(self, key: str) -> str:
        entry = self.library.cautions.get(key)
        return entry.say if entry else key

    def _lines(self, text: str, room: float, scale: float = 1.0) -> int:
        words = fill(text, self.library.settings).replace("\n", " ").split(" ")
        return len(wrapped(words, _SIZE * scale, room))


def _columns(heights: Iterable[float], first: float) -> int:
    """How many columns the parts fill one after the other, those of the first page being shorter."""
    columns, used = 1, 0.0
    for height in heights:
        room = first if columns <= COLUMNS else PAGE_HEIGHT
        if used and used + height > room:
            columns, used = columns + 1, 0.0
        used += height
    return columns
