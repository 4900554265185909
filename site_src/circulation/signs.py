"""Signs that can be seen on a trace. Whoever writes of a trace names them, and tests hold the model to them."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

from .strip import Strip

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
    """The pressure has stopped falling well before the beat: a wide U in place of a sharp valley."""
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
    "no-balloon": _no_balloon,
}
"""All signs by name: each takes a strip and the well-timed one of the same ratio in the usual patient."""
