"""The figures of a trace: its five pressures, and what the heart did meanwhile, in tables and in words."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from circulation.pressures import Five, Point
from circulation.strip import Gave, Strip

from ...model import Waveform
from ..markup import View, block, esc
from .trace_scenes import seconds

NAMES = {
    "unassisted_systole": "Unassisted systolic pressure",
    "augmented": "Augmented peak",
    "assisted_end": "Assisted end-diastolic pressure",
    "assisted_systole": "Assisted systolic pressure",
    "unassisted_end": "Unassisted end-diastolic pressure",
}

_HEART: dict[str, Callable[[Gave], str]] = {
    "Highest pressure in the left ventricle, mmHg": lambda beat: f"{beat.highest:.0f}",
    "Pressure at which its valve opens, mmHg": lambda beat: f"{beat.opens_at:.0f}",
    "From the R wave until it opens, ms": lambda beat: f"{beat.waits * 1000.0:.0f}",
    "Load of its whole contraction, mmHg s": lambda beat: f"{beat.integral:.1f}",
    "Ejected, mL": lambda beat: f"{beat.volume:.0f}",
}
"""What is told of one heartbeat."""

_BEAT = {"fill": "the beat in which the balloon fills", "empty": "the beat behind the balloon"}
"""Which heartbeat an error meets, by what is moved."""

_BOTH = {
    "fill": (
        f"The rest is of the left ventricle in another beat, {_BEAT['fill']}: 3 and 4 belong to the beat behind it."
    ),
    "empty": f"The rest is of the left ventricle in the same beat, {_BEAT['empty']}.",
}
"""To which beat the figures of a row belong, by what is moved."""


def trace_tables(view: View, waveform: Waveform, strip: Strip, other: Strip | None) -> list[str]:
    """The five pressures in mmHg, beside those of the trace that is drawn with it, and where the ventricle is drawn,
    what it did in the beat that the error meets; a table each, and none where there is nothing to tell."""
    beside = view.library.waveforms.get(waveform.beside or "")
    also = view.say(beside.title) if beside and other else ""
    rows = []
    for number, (name, words) in enumerate(NAMES.items(), start=1):
        here, there = getattr(strip.five, name), getattr(other.five, name) if other else None
        if here or there:
            cells = [_whole(here), _whole(there)] if also else [_whole(here)]
            rows.append(_cells(f'<span class="trace__number">{number}</span> {words}', cells))
    tables = [_titled("Pressure, mmHg", also, rows)] if rows else []
    moves = next((key for key in _BEAT if key in waveform.raw), None)
    if moves and "ventricle" in waveform.draws:
        beats = [beat_of(one, moves) for one in (strip, other if also else None) if one]
        rows = [_cells(words, [say(beat) if beat else "–" for beat in beats]) for words, say in _HEART.items()]
        tables.append(_titled(f"In {_BEAT[moves]}", also, rows))
    return tables


def _titled(title: str, also: str, rows: Sequence[str]) -> str:
    heads = "".join(f'<th scope="col">{words}</th>' for words in (title, "Here", also) if words)
    return block("table", [f"<tr>{heads}</tr>", *rows], **{"data-search-exclude": "yes"})


def _cells(head: str, cells: Iterable[str]) -> str:
    return f'<tr><th scope="row">{head}</th>{"".join(f"<td>{cell}</td>" for cell in cells)}</tr>'


def beat_of(strip: Strip, moves: str) -> Gave | None:
    """What the heart did in the beat that is met where filling ("fill") or emptying ("empty") is moved."""
    return strip.free if moves == "fill" else strip.helped


def _whole(point: Point | None) -> str:
    return "–" if point is None else f"{point.pressure:.0f}"


def told(five: Five) -> str:
    """The five pressures in one quiet sentence."""
    named = [(words, getattr(five, name)) for name, words in NAMES.items()]
    said = [f"{words[0].lower()}{words[1:]} {point.pressure:.0f}" for words, point in named if point]
    return f'<span class="quiet">In mmHg: {", ".join(said)}.</span>'


def shifted(by: str) -> str:
    """How far something is moved, in words."""
    return by if seconds(by) else "not moved"


_COLUMNS = {
    "fill": (("augmented", "2"), ("assisted_end", "3"), ("assisted_systole", "4")),
    "empty": (("assisted_end", "3"), ("assisted_systole", "4")),
}


def overview(moves: str, strips: Sequence[tuple[str, Strip]], alone: Gave | None) -> str:
    """What each step does to the trace, and to the heart in the beat that it meets.

    Args:
        moves: "fill" or "empty".
        strips: each step in words, and its strip.
        alone: a beat of the same heart without a balloon, to compare with.
    """
    columns = _COLUMNS[moves]
    heads = ("Moved by", *(number for _, number in columns), "Opens", "ms", "Heart", "Load", "mL")
    rows = ["<tr>" + "".join(f'<th scope="col">{head}</th>' for head in heads) + "</tr>"]
    for by, strip in strips:
        points = [_whole(getattr(strip.five, name)) for name, _ in columns]
        rows.append(_row(by, points, beat_of(strip, moves)))
    if alone:
        rows.append(_row("no balloon", ["–"] * len(columns), alone))
    named = ", ".join(f"{number} {NAMES[name].lower()}" for name, number in columns)
    words = (
        f"All steps in figures, in mmHg: {named}. {_BOTH[moves]} “Opens”: the "
        "pressure at which its valve opens; “ms”: how long that takes from the R wave; “Heart”: its highest pressure; "
        "“Load”: its pressure added up from the R wave until it has fallen to half of its highest, mmHg s; “mL”: what "
        "it ejects."
    )
    return block("div", [f"<p>{words}</p>", block("table", rows)], class_="moved__all")


def _row(by: str, points: Sequence[str], beat: Gave | None) -> str:
    heart = ["–"] * 5
    if beat:
        heart = [f"{beat.opens_at:.0f}", f"{beat.waits * 1000.0:.0f}", f"{beat.highest:.0f}"]
        heart += [f"{beat.integral:.1f}", f"{beat.volume:.0f}"]
    return _cells(esc(by), (*points, *heart))
