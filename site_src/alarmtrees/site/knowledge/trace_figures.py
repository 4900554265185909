"""The figures of a trace: its five pressures, and what the heart did meanwhile, in tables and in words."""

from __future__ import annotations

from collections.abc import Callable, Sequence

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
    "Highest pressure in the left ventricle": lambda beat: f"{beat.highest:.0f}",
    "Pressure at which its valve opens": lambda beat: f"{beat.opens_at:.0f}",
    "From the R wave until it opens, ms": lambda beat: f"{beat.waits * 1000.0:.0f}",
    "Load until it shuts, mmHg s": lambda beat: f"{beat.integral:.1f}",
    "Ejected, mL": lambda beat: f"{beat.volume:.0f}",
}
"""What is told of one heartbeat."""

_BEAT = {"fill": "the beat in which the balloon fills", "empty": "the beat behind the balloon"}
"""Which heartbeat an error meets, by what is moved."""


def trace_table(view: View, waveform: Waveform, strip: Strip, other: Strip | None) -> str:
    """The five pressures in mmHg, beside those of the trace that is drawn with it, and where the ventricle is drawn,
    what it did in the beat that the error meets; nothing where there is nothing to tell."""
    beside = view.library.waveforms.get(waveform.beside or "")
    also = f'<th scope="col">{view.say(beside.title)}</th>' if beside and other else ""
    rows = []
    for number, (name, words) in enumerate(NAMES.items(), start=1):
        here, there = getattr(strip.five, name), getattr(other.five, name) if other else None
        if here or there:
            cells = f"<td>{_whole(here)}</td>" + (f"<td>{_whole(there)}</td>" if also else "")
            rows.append(f'<tr><th scope="row"><span class="trace__number">{number}</span> {words}</th>{cells}</tr>')
    moves = next((key for key in _BEAT if key in waveform.raw), None)
    if moves and "ventricle" in waveform.draws:
        rows += _heart_rows(moves, strip, other if also else None)
    head = f'<tr><th scope="col">Pressure, mmHg</th><th scope="col">Here</th>{also}</tr>'
    return block("table", [head, *rows], **{"data-search-exclude": "yes"}) if rows else ""


def _heart_rows(moves: str, strip: Strip, other: Strip | None) -> list[str]:
    here, there = beat_of(strip, moves), beat_of(other, moves) if other else None
    if here is None:
        return []
    wide = 2 if there is None else 3
    rows = [f'<tr><th scope="colgroup" colspan="{wide}">In {_BEAT[moves]}</th></tr>']
    for words, say in _HEART.items():
        cells = "".join(f"<td>{say(beat)}</td>" for beat in (here, there) if beat)
        rows.append(f'<tr><th scope="row">{words}</th>{cells}</tr>')
    return rows


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
        f"All steps in figures, in mmHg: {named}. The rest is of the left ventricle, in {_BEAT[moves]}. “Opens”: the "
        "pressure at which its valve opens; “ms”: how long that takes from the R wave; “Heart”: its highest pressure; "
        "“Load”: its pressure added up until the valve shuts, mmHg s; “mL”: what it ejects."
    )
    return block("div", [f"<p>{words}</p>", block("table", rows)], class_="moved__all")


def _row(by: str, points: Sequence[str], beat: Gave | None) -> str:
    heart = ["–"] * 5
    if beat:
        heart = [f"{beat.opens_at:.0f}", f"{beat.waits * 1000.0:.0f}", f"{beat.highest:.0f}"]
        heart += [f"{beat.integral:.1f}", f"{beat.volume:.0f}"]
    cells = "".join(f"<td>{cell}</td>" for cell in (*points, *heart))
    return f'<tr><th scope="row">{esc(by)}</th>{cells}</tr>'
