"""How much room a tree takes on paper, and so how large its sheet is set.

All sizes are in points. The widths are those of theme/assets/print.css, and the text is measured as in the picture, so
this is an estimate; what the paper says of its own pages is counted by whoever prints it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from ...model import Library, Node, Role, Tree
from ...model.lettering import text_width
from ...model.wording import fill
from ..markup import SAID, meanwhile_label
from .layout import wrapped

_MM = 72 / 25.4

NBSP = "\u00a0"
COLUMNS = 3


@dataclass(frozen=True, slots=True)
class Form:
    """How a sheet is set.

    Attributes:
        size: of its type. What is read at the bedside is never set smaller than 8 points.
        run_on: the lines of a step to do stand one behind the other, each with its box; else one under the other.
        leading: from line to line, as a share of the size.
        between: the room between two steps, as a share of the size.
    """

    size: float
    run_on: bool = False
    leading: float = 1.09
    between: float = 0.32


_SIZES = (10, 9.5, 9, 8.75, 8.5, 8.25, 8)
FORMS = (
    *map(Form, _SIZES),
    Form(8, leading=1.05),
    Form(8, run_on=True),
    Form(8, run_on=True, leading=1.02, between=0.2),
)
"""All forms, the best first."""

PREAMBLE = "Teaching and reference, not a medical device: it diagnoses nothing and decides nothing."
"""Stands behind the cautions of each sheet; with the strip it says what the cautions `SAID` say."""

PRIORITY = "Our priority may differ from the console’s."

_WIDTH = 196 * _MM
_HEIGHT = 281 * _MM
_GAP = 3 * _MM
COLUMN = (_WIDTH - (COLUMNS - 1) * _GAP) / COLUMNS
"""How wide a column is, and a picture in it."""

_TOLD = 170 * _MM
_CODE = 21 * _MM
_SMALL = 0.5
_SPARE = 3 * _MM
# In shares of the size of type.
_BOLD = 1.06
_INDENT = 0.9
_NUMBER = 0.75
_BOX = 1.1
_ARROW = 2.3
_FRAME = 0.1
_BOX_AS_TEXT = f"m{NBSP}"


@dataclass(frozen=True, slots=True)
class Paper:
    """One tree on paper: which of its parts stand where, and how tall they are.

    Attributes:
        library: holds the settings, cautions and roles.
        tree: the tree.
        order: the ids of its steps in the order of their numbers.
        letters: the cautions that steps name, each with its letter.
        general: the cautions of the tree that no step names.
        steps: the ids of the steps in the columns: all but those that stand above them.
    """

    library: Library
    tree: Tree
    order: tuple[str, ...]
    letters: Mapping[str, str] = field(init=False)
    general: Sequence[str] = field(init=False)
    steps: Sequence[str] = field(init=False)

    def __post_init__(self) -> None:
        nodes = (self.tree.nodes[node_id] for node_id in self.order)
        named = dict.fromkeys(key for node in nodes for key in node.cautions if key not in SAID)
        object.__setattr__(self, "letters", {key: _letter(place) for place, key in enumerate(named)})
        object.__setattr__(self, "general", [key for key in self.tree.cautions if key not in named and key not in SAID])
        object.__setattr__(self, "steps", [node_id for node_id in self.order if not self.is_at_top(node_id)])

    def is_at_top(self, node_id: str) -> bool:
        """Whether a step stands above the columns: an end to which something seen at any time leads."""
        node = self.tree.nodes.get(node_id)
        return node is not None and node.kind == "end" and any(answer.to == node_id for answer in self.tree.anytime)

    def form(self) -> Form:
        """The best form with which the sheet takes one page; else two; else the shortest."""
        for pages in (1, 2):
            for form in FORMS:
                if self.pages(form) <= pages:
                    return form
        return FORMS[-1]

    def pages(self, form: Form, drawn: Collection[str] = ()) -> int:
        """How many pages the sheet takes, as steps are never split between columns; `drawn`: steps with a picture."""
        heights = [
            self._card(self.tree.nodes[node_id], form) + (self._picture(node_id) if node_id in drawn else 0)
            for node_id in self.steps
        ]
        return _pages(heights, _HEIGHT - self.head(form))

    def drawn(self, form: Form) -> list[str]:
        """The steps whose pictures have room on the pages that the sheet takes anyway, each picture once."""
        pages, found = self.pages(form), dict[str, str]()
        for node_id in self.steps:
            picture = self.tree.picture_at(self.tree.nodes[node_id])
            if picture and picture.id not in found and self.pages(form, [*found.values(), node_id]) <= pages:
                found[picture.id] = node_id
        return list(found.values())

    def _picture(self, node_id: str) -> float:
        """How tall a picture is, as wide as a column, with a little room in case a text was taken too short."""
        picture = self.tree.picture_at(self.tree.nodes[node_id])
        return COLUMN * picture.height / picture.width + _SPARE if picture and picture.width else 0

    def head(self, form: Form) -> float:
        """How much of the first page stands above the steps."""
        size = form.size
        told = self._told(form)
        cautions = " ".join(
            [*(f"! A {self._caution(key)}" for key in (*self.letters, *self.general)), PREAMBLE, PRIORITY]
        )
        small = size - _SMALL
        return (
            max(told, _CODE)
            + self._lines(cautions, small * 1.01, _WIDTH) * small * form.leading
            + self._anytime(form)
            + 3 * _MM
        )

    def _told(self, form: Form) -> float:
        size = form.size
        roles = {node.call for node in self.tree.nodes.values() if node.call}
        named = [role for role_id in roles if (role := self.library.roles.get(role_id))]
        calls = " · ".join(f"{role.say} {paper_number(role)} (fictional)" for role in named)
        site = self.library.settings.get("site_address")
        found = f"{site and site.value}/alarms/{self.tree.id}/"
        where = f"Do not use after 2027-11-30 · {found} · reviewed 2027-11-30 · build 000000000000"
        lines = 1 + self._lines(f"Call: {calls}", size * 1.01, _TOLD) + self._lines(where, size * 1.02, _TOLD)
        return (
            self._lines(self.tree.title, 1.9 * size * _BOLD, _TOLD) * 2 * size
            + lines * form.leading * size
            + 3 * 0.5 * _MM
        )

    def _anytime(self, form: Form) -> float:
        answers = self.tree.anytime
        if not answers:
            return 0
        wide = (_WIDTH - 2 * _GAP) / 2
        heights = []
        for to in dict.fromkeys(answer.to for answer in answers):
            seen = " · ".join(answer.say for answer in answers if answer.to == to)
            heights.append(self._card(self.tree.nodes[to], form, wide, seen) if self.is_at_top(to) else 1.5 * form.size)
        return _balanced([1.2 * form.size, *heights], 2) + 4

    def _card(self, node: Node, form: Form, width: float = COLUMN, seen: str = "") -> float:
        size = form.size
        inner = width - _INDENT * size
        letters = [self.letters[key] for key in node.cautions if key in self.letters]
        mark = " ".join([*([f"{seen}:"] if seen else []), *(["!", *letters] if letters else [])])
        match node.kind:
            case "ask":
                lines = self._ask(node, size, inner, mark)
            case "do":
                lines = self._do(node, form, inner, mark)
            case _:
                lines = self._end(node, size, inner, mark)
        return (lines * form.leading + form.between + (_FRAME if node.kind == "end" else 0)) * size

    def _ask(self, node: Node, size: float, inner: float, mark: str) -> int:
        answers = sum(self._lines(answer.say, size, inner - _ARROW * size) for answer in node.answers)
        return self._lines(f"{mark} {node.text}", size * _BOLD, inner, _NUMBER * size) + answers

    def _do(self, node: Node, form: Form, inner: float, mark: str) -> int:
        size = form.size
        lines = [*node.lines, *(["Call: " + " ".join(self.called(node.call, named=False))] if node.call else [])]
        lines[0] = f"{mark} {lines[0]}"
        if form.run_on:
            told = " ".join(f"{_BOX_AS_TEXT}{line}" for line in lines) + (" → 38" if node.then else "")
            return self._lines(told, size, inner, _NUMBER * size)
        room = inner - _BOX * size
        rooms = [room - _NUMBER * size, *(room for _ in lines[1:])]
        rooms[-1] -= _ARROW * size if node.then else 0
        return sum(self._lines(line, size, wide) for line, wide in zip(lines, rooms, strict=True))

    def _end(self, node: Node, size: float, inner: float, mark: str) -> int:
        target = self.library.trees.get((node.go or "").partition("/")[0])
        title = target.title if target else node.go
        first = {"resolved": "Alarm answered.", "go": f"Go to the sheet “{title}”, step 10."}.get(node.end or "", "")
        call = f"Call now: {' '.join(self.called(node.call))}." if node.call else ""
        meanwhile = f"{meanwhile_label(node)} {node.meanwhile}" if node.meanwhile else ""
        said = " ".join(part for part in (mark, call, first, node.text, meanwhile) if part)
        return self._lines(said, size * 1.01, inner, _NUMBER * size)

    def called(self, role_id: str, named: bool = True) -> tuple[str, str]:
        """Whom a step calls, in few words, and the number; `named` asks for the words where the number would do."""
        role = self.library.roles.get(role_id)
        if role is None:
            return role_id, ""
        words = fill(role.say, self.library.settings).partition(" on call")[0]
        return words if named or role.phone is None else "", paper_number(role)

    def _caution(self, key: str) -> str:
        entry = self.library.cautions.get(key)
        return entry.say if entry else key

    def _lines(self, text: str, size: float, room: float, first: float = 0) -> int:
        words = fill(text, self.library.settings).split()
        return len(wrapped([NBSP * round(first / text_width(" ", size)) + words[0], *words[1:]], size, room))


def paper_number(role: Role) -> str:
    """A role's number as it stands on paper, never broken at the end of a line."""
    return role.phone.replace(" ", NBSP) if role.phone else "number not set here"


def _letter(place: int) -> str:
    """A, B, …, Z, A1, B1, …"""
    round_, place = divmod(place, 26)
    return f"{chr(ord('A') + place)}{round_ or ''}"


def _columns(heights: Iterable[float], room: float) -> int:
    """How many columns of one height the parts fill one after the other."""
    columns, used = 1, 0.0
    for height in heights:
        if used and used + height > room:
            columns, used = columns + 1, 0.0
        used += height
    return columns


def _pages(heights: Sequence[float], first: float) -> int:
    """How many pages the parts fill, the columns of the first one being shorter."""
    at, page, room = 0, 1, first
    while (held := _held(heights[at:], room)) < len(heights) - at:
        at, page, room = at + max(held, 1), page + 1, _HEIGHT
    return page


def _held(heights: Sequence[float], room: float) -> int:
    """How many of the parts one page holds."""
    return next((at for at in range(len(heights)) if _columns(heights[: at + 1], room) > COLUMNS), len(heights))


def _balanced(heights: Sequence[float], columns: int) -> float:
    """How tall columns are that hold all parts and are as short as can be."""
    tall = sorted({sum(heights[a:b]) for a in range(len(heights)) for b in range(a + 1, len(heights) + 1)})
    return next(room for room in tall if room >= max(heights) and _columns(heights, room + 0.01) <= columns)
