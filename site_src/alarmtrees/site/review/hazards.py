"""What can go wrong with each act, and what holds it: for reviewers."""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Library
from ...model.addresses import HAZARDS, SAFETY, rule_path
from ...model.hazard import WAYS, Cell, Hazard, HazardRow
from ..markup import NOT_SAFE, Page, View, block, esc, items, whole

TITLE = "What can go wrong"

_DERIVED = {
    "pump-starts": "The pump is started.",
    "pump-stops": "The pump is stopped, or put on hold.",
    "call": "Somebody is called.",
    "end-resolved": "The alarm counts as answered.",
}
"""Acts whose marks nobody writes."""


def hazards_page(library: Library) -> Page | None:
    """The table of hazards, act by act; None where the library has none."""
    if library.hazards is None:
        return None
    view = View(library, HAZARDS)
    body = [
        f'<h1 id="_top">{TITLE}</h1>',
        "<p>Each act that a page may tell somebody to do can go wrong in four ways: it is not done; it is done when it "
        "must not be; it is done too early, too late or in the wrong order; it lasts too long or ends too soon "
        "(Leveson and Thomas, STPA handbook, 2018). Here stands what happens then, and which rule of the checks holds "
        "it. What words alone hold depends on whoever reads them. For reviewers, not for the bedside.</p>",
        f'<p class="strip">{NOT_SAFE}</p>',
        f"<p>{_counted(library)}</p>",
        block("ul", (_entry(view, row) for row in library.hazards.values()), class_="entries"),
        *(part for row in library.hazards.values() for part in _act(view, row)),
    ]
    return Page(
        path=view.path,
        title=TITLE,
        body=whole(body),
        description="Every act in the four ways in which it can go wrong, and what holds it.",
        source="hazards.yml",
        boost=0,
    )


def _counted(library: Library) -> str:
    cells = [cell for row in (library.hazards or {}).values() for cell in row.cells.values()]
    hazards = [hazard for cell in cells for hazard in cell.hazards]
    held = sum(bool(hazard.held_by) for hazard in hazards)
    none = sum(cell.none is not None for cell in cells)
    return (
        f"{len(library.hazards or {})} acts, {len(cells)} cells: {none} without a hazard; in the others "
        f"{len(hazards)} hazards, {held} held by rules and {len(hazards) - held} by words only."
    )


def _entry(view: View, row: HazardRow) -> str:
    """An act on the list at the top: its hazards, and how many of them no rule holds."""
    hazards = [hazard for cell in row.cells.values() for hazard in cell.hazards]
    words = sum(not hazard.held_by for hazard in hazards)
    told = ("1 hazard" if len(hazards) == 1 else f"{len(hazards)} hazards") + (
        f", {words} by words only" if words else ""
    )
    return f'<li><a href="#{esc(row.mark)}">{view.say(_told(view, row))}</a> <span class="quiet">{told}</span></li>'


def _told(view: View, row: HazardRow) -> str:
    mark = view.library.marks.get(row.mark)
    return mark.say if mark else _DERIVED.get(row.mark, row.mark)


def _act(view: View, row: HazardRow) -> Iterator[str]:
    yield f'<h2 id="{esc(row.mark)}">{view.say(_told(view, row))} <code class="quiet">{esc(row.mark)}</code></h2>'
    cells = ((name, row.cells[way]) for way, name in WAYS.items() if way in row.cells)
    yield block("dl", (f"<dt>{name}</dt><dd>{_cell(view, cell)}</dd>" for name, cell in cells), class_="facts")


def _cell(view: View, cell: Cell) -> str:
    if cell.none is not None:
        return f'<span class="quiet">No hazard.</span> {view.say(cell.none)}'
    return items("ul", (_hazard(view, hazard) for hazard in cell.hazards))


def _hazard(view: View, hazard: Hazard) -> str:
    harm = f'<span class="quiet">{hazard.harm.severity}, {hazard.harm.onset}</span>'
    if hazard.words_only is not None:
        return f"{view.say(hazard.say)} {harm}. Held by words only: {view.say(hazard.words_only)}"
    held = ", ".join(_rule(view, rule) for rule in hazard.held_by)
    return f"{view.say(hazard.say)} {harm}. Held by {held}."


def _rule(view: View, rule: str) -> str:
    safety = rule in view.library.safety
    link = view.to(SAFETY, rule) if safety else view.to(rule_path(rule))
    return f'<a href="{link}"><code>{esc(rule)}</code></a>'
