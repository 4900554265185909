"""Signs that can be seen on a trace. Whoever writes of a trace names them, and tests hold the model to them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from statistics import mean

from .curve import height, slopes
from .scene import FLUSH_AT
from .strip import Line, Strip
from .transducer import FLUSH

PLAIN = 3.0
"""From this difference on one pressure is plainly above another, mmHg."""

Sign = Callable[[Strip, Strip], bool]


def _above(strip: Strip, high: str, low: str, by: float) -> bool:
    """Whether both points are there and one lies above the other by so much."""
    upper, lower = getattr(strip.five, high), getattr(strip.five, low)
    return upper is not None and lower is not None and upper.pressure - lower.pressure >= by


def _end_lower(strip: Strip, _: Strip) -> bool:
    return _above(strip, "unassisted_end", "assisted_end", PLAIN)


def _end_higher(strip: Strip, _: Strip) -> bool:
    return _above(strip, "assisted_end", "unassisted_end", 0.0)


def _end_back(strip: Strip, usual: Strip) -> bool:
    """The fall that good timing brings is mostly lost."""
    both = [_fall(strip), _fall(usual)]
    return None not in both and 0.0 <= (both[0] or 0.0) <= 0.5 * (both[1] or 0.0)


def _fall(strip: Strip) -> float | None:
    before, after = strip.five.unassisted_end, strip.five.assisted_end
    return None if before is None or after is None else before.pressure - after.pressure


def _systole_lower(strip: Strip, _: Strip) -> bool:
    return _above(strip, "unassisted_systole", "assisted_systole", 1.0)


def _systole_less_lowered(strip: Strip, usual: Strip) -> bool:
    own, other = _relief(strip), _relief(usual)
    return own is not None and other is not None and own < 0.75 * other


def _relief(strip: Strip) -> float | None:
    before, after = strip.five.unassisted_systole, strip.five.assisted_systole
    return None if before is None or after is None else before.pressure - after.pressure


def _peak_highest(strip: Strip, _: Strip) -> bool:
    return _above(strip, "augmented", "unassisted_systole", PLAIN) or (
        strip.five.unassisted_systole is None and _above(strip, "augmented", "assisted_systole", PLAIN)
    )


def _peak_not_highest(strip: Strip, _: Strip) -> bool:
    return _above(strip, "unassisted_systole", "augmented", 0.0)


def _peak_lower(strip: Strip, usual: Strip) -> bool:
    """Lower than with good timing and a whole, free circuit."""
    own, other = strip.five.augmented, usual.five.augmented
    return own is not None and other is not None and other.pressure - own.pressure >= PLAIN


def _notch_v(strip: Strip, _: Strip) -> bool:
    """The rise begins in the notch."""
    return strip.notch is not None and strip.notch_to_rise is not None and abs(strip.notch_to_rise) <= 0.03


def _notch_hidden(strip: Strip, _: Strip) -> bool:
    return strip.notch is None


def _notch_free(strip: Strip, _: Strip) -> bool:
    return strip.notch is not None and (strip.notch_to_rise is None or strip.notch_to_rise >= 0.05)


def _hollow(strip: Strip, usual: Strip) -> bool:
    """The pressure has stopped falling well before the beat: a wide hollow in place of a sharp valley."""
    return strip.hollow is not None and strip.hollow >= (usual.hollow or 0.0) + 0.05


def _opens_late(strip: Strip, usual: Strip) -> bool:
    """The heart needs longer until it opens its valve."""
    return strip.isovolumic >= usual.isovolumic + 0.02


def _ejects_less(strip: Strip, usual: Strip) -> bool:
    """The beat in which the balloon fills gives less blood."""
    return strip.free is not None and usual.free is not None and strip.free[0] <= 0.95 * usual.free[0]


def _heart_higher(strip: Strip, usual: Strip) -> bool:
    """The ventricle's own pressure is higher in the beat that the error meets."""
    beats = zip((strip.free, strip.helped), (usual.free, usual.helped), strict=True)
    return any(own and other and own[1] >= other[1] + PLAIN for own, other in beats)


def _peaks_fall(strip: Strip, _: Strip) -> bool:
    """Each hump is lower than the one before."""
    pairs = list(pairwise(strip.peaks))
    return len(pairs) >= 2 and all(late < early - 0.5 for early, late in pairs)


def _peaks_vary(strip: Strip, _: Strip) -> bool:
    return len(strip.peaks) > 1 and max(strip.peaks) - min(strip.peaks) >= PLAIN


def _hump_broad(strip: Strip, usual: Strip) -> bool:
    """From the filling to the lowest point it is longer than with good timing."""
    own, other = _hump(strip), _hump(usual)
    return own is not None and other is not None and own >= other + 0.03


def _hump(strip: Strip) -> float | None:
    peak, valley = strip.five.augmented, strip.five.assisted_end
    return None if peak is None or valley is None else valley.time - peak.time


def _rounded(strip: Strip, usual: Strip) -> bool:
    """The steepest rise is less than half of what it is."""
    return _steepest(strip) < 0.5 * _steepest(usual)


def _steepest(strip: Strip) -> float:
    return max((late[1] - early[1]) / (late[0] - early[0]) for early, late in pairwise(strip.trace))


def _opens_higher(strip: Strip, usual: Strip) -> bool:
    """The heart has to lift its pressure further until its valve opens, in the beat behind the balloon."""
    both = strip.helped, usual.helped
    return None not in both and both[0].opens_at >= both[1].opens_at + 10.0  # type: ignore[union-attr]


def _slow_upstroke(strip: Strip, usual: Strip) -> bool:
    """From the lowest point to the systole behind the balloon the pressure climbs by a quarter more slowly."""
    own, other = _climb(strip), _climb(usual)
    return own is not None and other is not None and own <= 0.75 * other


def _climb(strip: Strip) -> float | None:
    low, top = strip.five.assisted_end, strip.five.assisted_systole
    return None if low is None or top is None else (top.pressure - low.pressure) / (top.time - low.time)


# ---- the line that shows the pressure


def _too_tall(strip: Strip, usual: Strip) -> bool:
    """Balloon's peak and valley go further than they do."""
    peaks, ends = (strip.five.augmented, usual.five.augmented), (strip.five.assisted_end, usual.five.assisted_end)
    if None in peaks or None in ends:
        return False
    higher, deeper = peaks[0].pressure - peaks[1].pressure, ends[1].pressure - ends[0].pressure  # type: ignore[union-attr]
    return higher >= PLAIN and deeper >= PLAIN


def _own_peak_taller(strip: Strip, usual: Strip) -> bool:
    own, other = strip.five.unassisted_systole, usual.five.unassisted_systole
    return own is not None and other is not None and own.pressure >= other.pressure + 0.75 * PLAIN


def _trembles(strip: Strip, usual: Strip) -> bool:
    """Many more small turns than usual."""
    return len(_turns(_even(strip.trace), 1.0)) >= 1.5 * len(_turns(_even(usual.trace), 1.0))


def _late(strip: Strip, usual: Strip) -> bool:
    """By more than the least that was measured through a catheter's fluid, 23 ms (Pantalos 2011)."""
    return _later_by(strip, usual) >= 0.023


def _much_late(strip: Strip, usual: Strip) -> bool:
    """By more than the least that was measured at the wrist, 100 ms (Pantalos 2011)."""
    return _later_by(strip, usual) >= 0.1


def _later_by(strip: Strip, usual: Strip) -> float:
    """The least delay of valley, notch and peak."""
    pairs = [(getattr(strip.five, name), getattr(usual.five, name)) for name in ("augmented", "assisted_end")]
    pairs.append((strip.notch, usual.notch))
    return min((own.time - other.time if own and other else 0.0) for own, other in pairs)


def _swings_few(strip: Strip, _: Strip) -> bool:
    return _is_flushed(strip) and 1 <= _swings(strip) <= 3


def _swings_many(strip: Strip, _: Strip) -> bool:
    return _is_flushed(strip) and _swings(strip) >= 5


def _swings_none(strip: Strip, _: Strip) -> bool:
    return _is_flushed(strip) and _swings(strip) == 0


def _is_flushed(strip: Strip) -> bool:
    return _at(strip.trace, FLUSH_AT[1]) > 0.8 * FLUSH


def _swings(strip: Strip) -> int:
    """How often the line turns, plainly, in the 0.3 s after a fast flush."""
    after = [value for time, value in _even(strip.trace) if FLUSH_AT[1] <= time <= FLUSH_AT[1] + 0.3]
    return len(_turns(list(enumerate(after)), 5.0))


# ---- rhythm and trigger


def _starts_full(strip: Strip, _: Strip) -> bool:
    """Some beat is about to open its valve, and the balloon is still nearly full."""
    full = max((volume for _, volume in strip.balloon), default=0.0)
    moments = [beat + 0.09 for beat in strip.beats if beat + 0.09 < strip.lasts]
    return full > 5.0 and any(_at(strip.balloon, moment) >= 0.8 * full for moment in moments)


def _all_start_full(strip: Strip, _: Strip) -> bool:
    """Each beat but those cut by either end is about to open its valve against a balloon nearly full."""
    full = max((volume for _, volume in strip.balloon), default=0.0)
    moments = [beat + 0.09 for beat in strip.beats if beat + 0.09 < strip.lasts]
    return full > 5.0 and bool(moments) and all(_at(strip.balloon, moment) >= 0.8 * full for moment in moments)


def _marks_late(strip: Strip, _: Strip) -> bool:
    """Each beat is counted plainly later than its R wave."""
    late = [min((mark - beat for beat in strip.beats if beat <= mark), default=None) for mark in strip.marks]
    known = [wait for wait in late if wait is not None]
    return bool(known) and min(known) >= 0.05 and max(known) <= 0.25


def _cut_short(strip: Strip, usual: Strip) -> bool:
    """Some hump lasts less than half as long as usual."""
    own, other = _lasting(strip.balloon), _lasting(usual.balloon)
    return bool(own and other) and min(own) < 0.5 * mean(other)


def _counted(strip: Strip) -> list[int]:
    """How often each beat was taken for one, but those cut by either end; a spike may come before its beat."""
    spans = list(pairwise(beat - 0.25 for beat in strip.beats))
    return [sum(begin <= mark < end for mark in strip.marks) for begin, end in spans[1:]]


def _counted_once(strip: Strip, _: Strip) -> bool:
    return set(_counted(strip)) == {1}


def _counted_twice(strip: Strip, _: Strip) -> bool:
    return set(_counted(strip)) == {2}


def _beats_missed(strip: Strip, _: Strip) -> bool:
    """Some beats are counted, others are not."""
    return set(_counted(strip)) == {0, 1}


def _waits(strip: Strip) -> list[float]:
    """From the last R wave to each filling, s."""
    return [fill - max(before) for fill in strip.fills if (before := [beat for beat in strip.beats if beat <= fill])]


def _fills_in_ejection(strip: Strip, _: Strip) -> bool:
    """Some filling begins while the valve is open: later behind the R wave than it opens, earlier than it shuts."""
    return any(0.05 <= wait <= 0.25 for wait in _waits(strip))


def _out_of_step(strip: Strip, _: Strip) -> bool:
    """The balloon fills now early and now late in a beat."""
    waits = _waits(strip)
    return len(waits) > 2 and max(waits) - min(waits) >= 0.3


def _in_pause(strip: Strip) -> list[float]:
    """Fillings in a pause of a second and more at the end, once the last beat is over; none where there is no pause."""
    over = strip.beats[-1] + 0.75 if strip.beats else 0.0
    return [fill for fill in strip.fills if over <= fill] if over < strip.lasts - 1.0 else []


def _moves_in_pause(strip: Strip, _: Strip) -> bool:
    return len(_in_pause(strip)) >= 2


def _still_in_pause(strip: Strip, _: Strip) -> bool:
    return bool(strip.beats and strip.beats[-1] + 1.75 < strip.lasts and strip.fills) and not _in_pause(strip)


# ---- the gas


def _gas_steep(strip: Strip, _: Strip) -> bool:
    """From line to top, and back, in less than 80 ms."""
    line, top = _gas_line(strip), _gas_tops(strip)
    if not line or not top:
        return False
    low, high = mean(line), mean(top)
    quarters = low + 0.25 * (high - low), low + 0.75 * (high - low)
    ways = [late[0] - early[0] for early, late in pairwise(_crossings(strip.gas, *quarters)) if early[1] != late[1]]
    return bool(ways) and min(ways) < 0.08 and sorted(ways)[len(ways) // 2] < 0.08


def _gas_line_steady(strip: Strip, usual: Strip) -> bool:
    own, other = _gas_line(strip), _gas_line(usual)
    return bool(own and other) and max(own) - min(own) <= PLAIN and abs(mean(own) - mean(other)) <= PLAIN


def _gas_line_sinks(strip: Strip, _: Strip) -> bool:
    own = _gas_line(strip)
    return len(own) >= 3 and all(late <= early - 1.0 for early, late in pairwise(own))


def _gas_line_high(strip: Strip, usual: Strip) -> bool:
    own, other = _gas_line(strip), _gas_line(usual)
    return bool(own and other) and mean(own) >= mean(other) + 10.0


def _gas_top_high(strip: Strip, usual: Strip) -> bool:
    """The spike is plainly higher, or what follows it."""
    own, other = _gas_tops(strip), _gas_tops(usual)
    if not own or not other:
        return False
    return mean(own) >= mean(other) + 2 * PLAIN or _highest(strip.gas) >= _highest(usual.gas) + 15.0


def _gas_top_low(strip: Strip, usual: Strip) -> bool:
    own, other = _gas_tops(strip), _gas_tops(usual)
    return bool(own and other) and mean(own) <= mean(other) - 2 * PLAIN


def _gas_top_gone(strip: Strip, usual: Strip) -> bool:
    """In the end what follows the spike is no longer there."""
    own, other = _gas_tops(strip), _gas_tops(usual)
    return bool(own and other) and own[-1] <= 0.25 * mean(other)


def _gas_rounded(strip: Strip, usual: Strip) -> bool:
    """Hardly a flat top: the pressure comes down until the gas is drawn back."""
    return bool(strip.gas) and _gas_flat(strip) <= 0.6 * _gas_flat(usual)


def _gas_dips(strip: Strip, usual: Strip) -> bool:
    """Drawn back, the gas goes far below the line, and stays below it for twice as long as usual."""
    own, other = _gas_below(strip), _gas_below(usual)
    if own is None or other is None:
        return False
    return own[0] <= other[0] - 20.0 and own[1] >= 2.0 * other[1]


def _gas_below(strip: Strip) -> tuple[float, float] | None:
    """The lowest pressure of the gas, and for how long in all it is below that of the air, s."""
    if not strip.gas:
        return None
    values = [value for _, value in _even(strip.gas)]
    return min(values), 0.004 * sum(1 for value in values if value < 0.0)


def _gas_trembles(strip: Strip, usual: Strip) -> bool:
    return len(_turns(_even(strip.gas), 1.5)) > 1.2 * len(_turns(_even(usual.gas), 1.5))


def _gas_narrow(strip: Strip, usual: Strip) -> bool:
    own, other = _lasting(strip.gas), _lasting(usual.gas)
    return bool(own and other) and mean(own) <= 0.8 * mean(other)


def _gas_wide(strip: Strip, usual: Strip) -> bool:
    own, other = _lasting(strip.gas), _lasting(usual.gas)
    return bool(own and other) and mean(own) >= 1.25 * mean(other)


def _fills_slowly(strip: Strip, usual: Strip) -> bool:
    """From a quarter to three quarters full, and back, the balloon takes half as long again as usual."""
    own, other = _half_way(strip.balloon), _half_way(usual.balloon)
    return own is not None and other is not None and own >= 1.5 * other


# ---- how lines are read


def _even(line: Line) -> list[tuple[float, float]]:
    """A smooth line at every 4 ms."""
    if not line:
        return []
    steep = slopes(line)
    return [(at * 0.004, height(line, steep, at * 0.004)) for at in range(int(line[-1][0] / 0.004) + 1)]


def _at(line: Line, time: float) -> float:
    return height(line, slopes(line), time)


def _highest(line: Line) -> float:
    return max(value for _, value in line)


def _turns(points: Sequence[tuple[float, float]], least: float) -> list[tuple[float, float]]:
    """Where a line turns by more than so much."""
    turns: list[tuple[float, float]] = []
    if not points:
        return turns
    low = high = points[0]
    up: bool | None = None
    for point in points:
        low, high = min(low, point, key=lambda p: p[1]), max(high, point, key=lambda p: p[1])
        if up is not False and high[1] - point[1] >= least:
            turns += [high] if up else []
            up, low = False, point
        elif up is not True and point[1] - low[1] >= least:
            turns += [low] if up is False else []
            up, high = True, point
        if up:
            low = point
        elif up is False:
            high = point
    return turns


def _crossings(line: Line, low: float, high: float) -> list[tuple[float, bool]]:
    """When a line passes either height, and whether that was the higher one."""
    found: list[tuple[float, bool]] = []
    for early, late in pairwise(_even(line)):
        for bound in (low, high):
            if (early[1] - bound) * (late[1] - bound) < 0.0:
                found.append((late[0], bound == high))
    return sorted(found)


def _middle(line: Line) -> float:
    values = [value for _, value in line]
    return (max(values) + min(values)) / 2.0


def _lasting(line: Line) -> list[float]:
    """How long each hump stands above the middle, s; those cut by either end are left out."""
    middle = _middle(line) if line else 0.0
    points = _even(line)
    passes = [
        (late[0], late[1] > early[1]) for early, late in pairwise(points) if (early[1] > middle) != (late[1] > middle)
    ]
    return [late - early for (early, up), (late, _) in pairwise(passes) if up]


def _half_way(line: Line) -> float | None:
    values = [value for _, value in line]
    if not values or max(values) - min(values) < 1.0:
        return None
    low, high = (min(values) + share * (max(values) - min(values)) for share in (0.25, 0.75))
    passes = _crossings(line, low, high)
    return mean([late[0] - early[0] for early, late in pairwise(passes) if early[1] != late[1]] or [0.0])


def _gas_line(strip: Strip) -> list[float]:
    """Pressure of the gas just before each hump."""
    return [_at(strip.gas, time) for time in _begins(strip) if time > 0.1] if strip.gas else []


def _gas_tops(strip: Strip) -> list[float]:
    """Pressure of the gas at the end of each hump, just before it is drawn back."""
    return [_at(strip.gas, time - 0.004) for time in strip.empties] if strip.gas else []


def _gas_flat(strip: Strip) -> float:
    """For how long before its end the first whole hump is no more than 8 mmHg above that, s."""
    pairs = [(begin, end) for begin in strip.fills for end in strip.empties if begin < end][:1]
    if not strip.gas or not pairs:
        return 0.0
    (begin, end), steep = pairs[0], slopes(strip.gas)
    last = height(strip.gas, steep, end - 0.004)
    moments = [end - at * 0.004 for at in range(1, int((end - begin) / 0.004))]
    return 0.004 * next((n for n, moment in enumerate(moments) if height(strip.gas, steep, moment) > last + 8.0), 0)


def _begins(strip: Strip) -> list[float]:
    return [time - 0.004 for time in strip.fills]


def _no_balloon(strip: Strip, _: Strip) -> bool:
    return not strip.peaks


SIGNS: dict[str, Sign] = {
    "end-lower": _end_lower,
    "end-higher": _end_higher,
    "end-back": _end_back,
    "systole-lower": _systole_lower,
    "systole-less-lowered": _systole_less_lowered,
    "peak-highest": _peak_highest,
    "peak-not-highest": _peak_not_highest,
    "peak-lower": _peak_lower,
    "notch-v": _notch_v,
    "notch-hidden": _notch_hidden,
    "notch-free": _notch_free,
    "hollow": _hollow,
    "hump-broad": _hump_broad,
    "rounded": _rounded,
    "opens-late": _opens_late,
    "ejects-less": _ejects_less,
    "heart-higher": _heart_higher,
    "peaks-fall": _peaks_fall,
    "peaks-vary": _peaks_vary,
    "opens-higher": _opens_higher,
    "slow-upstroke": _slow_upstroke,
    "too-tall": _too_tall,
    "own-peak-taller": _own_peak_taller,
    "trembles": _trembles,
    "late": _late,
    "much-late": _much_late,
    "swings-few": _swings_few,
    "swings-many": _swings_many,
    "swings-none": _swings_none,
    "starts-full": _starts_full,
    "all-start-full": _all_start_full,
    "marks-late": _marks_late,
    "cut-short": _cut_short,
    "counted-once": _counted_once,
    "counted-twice": _counted_twice,
    "beats-missed": _beats_missed,
    "fills-in-ejection": _fills_in_ejection,
    "out-of-step": _out_of_step,
    "moves-in-pause": _moves_in_pause,
    "still-in-pause": _still_in_pause,
    "gas-steep": _gas_steep,
    "gas-line-steady": _gas_line_steady,
    "gas-line-sinks": _gas_line_sinks,
    "gas-line-high": _gas_line_high,
    "gas-top-high": _gas_top_high,
    "gas-top-low": _gas_top_low,
    "gas-top-gone": _gas_top_gone,
    "gas-rounded": _gas_rounded,
    "gas-dips": _gas_dips,
    "gas-trembles": _gas_trembles,
    "gas-narrow": _gas_narrow,
    "gas-wide": _gas_wide,
    "fills-slowly": _fills_slowly,
    "no-balloon": _no_balloon,
}
"""All signs by name: each takes a strip and the well-timed one of the same ratio in the usual patient."""
