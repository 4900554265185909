"""When the heart beats: its R waves, and what stands before them on an ECG."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

UNEVEN = (0.68, 0.60, 0.88, 0.57, 0.74, 0.63, 0.62, 0.84, 0.52, 0.71, 0.58, 0.93, 0.50, 0.66, 0.79, 0.55)
"""Intervals between beats in s as in atrial fibrillation; made up, with a mean of about 0.67."""

RHYTHMS = (
    "compressions",
    "even",
    "extra-beats",
    "fibrillation",
    "paced",
    "paced-atria",
    "paced-both",
    "paced-on-demand",
)
"""What the heart does: nothing, and the chest is compressed; an even rhythm of its own; one with extra beats; atrial
fibrillation; paced in the ventricles; in the atria; in both, one after the other; in the ventricles where no beat of
its own came first."""

P_BEFORE = 0.15
"""From the top of P to the R wave, s: with a P wave of 0.1 s that is a PR interval of 0.16 (textbook: 0.12 to 0.20)."""

VENTRICLE_SPIKE = 0.08
"""From a spike in the ventricles to the middle of the wide beat that follows it, s. Textbook order of size."""

ATRIUM_SPIKE = 0.22
"""From a spike in the atria to the R wave, s. Chosen: a little longer than from a P wave of the heart's own."""

BOTH_SPIKES = 0.15
"""From the spike in the atria to the one in the ventricles where both are paced, s (textbook: 0.12 to 0.20)."""

DEMAND = (True, True, False, True, False, False)
"""Which of six beats in a row are paced where the pacemaker waits for the heart; the others are its own. Chosen."""

OWN_EARLY = 0.12
"""How much sooner a beat of the heart's own comes than the pacemaker would have paced, as a share of the interval;
else it would be paced. Chosen."""

SPELL, PAUSE = 21, 3.0
"""So many compressions, then none for so long, s: a look whether the heart beats. Chosen: a trace shows both."""

EXTRA_EVERY, EXTRA_PLACE, EXTRA_EARLY = 6, 2, 0.4
"""One beat in so many comes too soon, the one at this place, by this share of the interval; the next keeps its place,
so that a long pause follows (a full compensatory one, as textbooks have it)."""


@dataclass(frozen=True, slots=True)
class Wave:
    """One heartbeat on the ECG. Moments in s.

    Attributes:
        r: its R wave, from which the muscle counts.
        p: the top of its P wave; None where the atria do not go first.
        spike: of a pacemaker, the last before the beat; None for a beat of the heart's own.
        wide: whether it began in the ventricles and so is wide.
        atrial: the spike for the atria, where another for the ventricles follows.
        pressed: whether it is no heartbeat, but a compression of the chest: then `r` is where that begins.
    """

    r: float
    p: float | None = None
    spike: float | None = None
    wide: bool = False
    atrial: float | None = None
    pressed: bool = False


def waves(rhythm: str, interval: float, until: float) -> list[Wave]:
    """The heartbeats from 0 on, and two more after the end.

    Args:
        rhythm: one of `RHYTHMS`.
        interval: between beats, s; atrial fibrillation has its own.
        until: the end, s.

    Raises:
        ValueError: there is no such rhythm.
    """
    if rhythm not in RHYTHMS:
        raise ValueError(f"rhythm: {rhythm!r} is none of {', '.join(RHYTHMS)}")
    if rhythm == "fibrillation":
        return [Wave(r) for r in uneven_beats(until)]
    return [_wave(rhythm, number, r, interval) for number, r in enumerate(even_beats(interval, until))]


def _wave(rhythm: str, number: int, r: float, interval: float) -> Wave:
    if rhythm == "paced":
        return Wave(r, spike=r - VENTRICLE_SPIKE, wide=True)
    if rhythm == "paced-atria":
        spike = r - ATRIUM_SPIKE
        return Wave(r, p=spike + 0.05, spike=spike)
    if rhythm == "paced-both":
        atrial = r - VENTRICLE_SPIKE - BOTH_SPIKES
        return Wave(r, p=atrial + 0.05, spike=r - VENTRICLE_SPIKE, wide=True, atrial=atrial)
    if rhythm == "paced-on-demand":
        if DEMAND[number % len(DEMAND)]:
            return Wave(r, spike=r - VENTRICLE_SPIKE, wide=True)
        own = r - OWN_EARLY * interval
        return Wave(own, p=own - P_BEFORE)
    if rhythm == "compressions":
        return Wave(r + number // SPELL * PAUSE, pressed=True)
    if rhythm == "extra-beats" and number % EXTRA_EVERY == EXTRA_PLACE:
        return Wave(r - EXTRA_EARLY * interval, wide=True)
    return Wave(r, p=r - P_BEFORE)


def even_beats(interval: float, until: float) -> list[float]:
    """R waves in s from 0 on, at one interval, and two more after the end."""
    return [interval * number for number in range(int(until / interval) + 3)]


def uneven_beats(until: float) -> list[float]:
    """R waves in s from 0 on, at intervals that vary and repeat only after a while, and two more after the end."""
    beats, number = [0.0], 0
    while len(beats) < 3 or beats[-3] <= until:
        beats.append(beats[-1] + UNEVEN[number % len(UNEVEN)])
        number += 1
    return beats


def intervals_before(moments: Sequence[float]) -> Iterator[float]:
    """For each moment the time since the one before; the first counts as late as the second."""
    if len(moments) > 1:
        yield moments[1] - moments[0]
    for early, late in pairwise(moments):
        yield late - early
