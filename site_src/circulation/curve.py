"""A smooth line through few points.

Between two points the line is a cubic that never leaves their range (Fritsch and Butland 1984): it rounds what is
round and invents no peak, no dip and no notch. Of many points those are kept without which the line would be another.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from itertools import pairwise

Points = Sequence[tuple[float, float]]


def slopes(points: Points) -> list[float]:
    """How steep the line is at each of its points.

    Args:
        points: two or more, from left to right, no two above one another.

    Complexity: O(n).
    """
    steps = [(late[1] - early[1]) / (late[0] - early[0]) for early, late in pairwise(points)]
    wide = [late[0] - early[0] for early, late in pairwise(points)]
    found = [steps[0]]
    for (left, right), (before, after) in zip(pairwise(wide), pairwise(steps), strict=True):
        if before * after <= 0.0:
            found.append(0.0)  # a peak or a valley stays where its point is
            continue
        first, second = 2.0 * right + left, right + 2.0 * left
        found.append((first + second) / (first / before + second / after))
    return [*found, steps[-1]]


def height(points: Points, steep: Sequence[float], x: float) -> float:
    """Where the line stands at `x`, held at its ends.

    Args:
        points, steep: the line, and what `slopes` says of it.
        x: where.

    Complexity: O(log n).
    """
    at = min(max(bisect_right(points, (x, float("inf"))) - 1, 0), len(points) - 2)
    x = min(max(x, points[0][0]), points[-1][0])
    return _between(points[at], points[at + 1], steep[at], steep[at + 1], x)


def _between(left: tuple[float, float], right: tuple[float, float], leaves: float, arrives: float, x: float) -> float:
    wide, rise = right[0] - left[0], right[1] - left[1]
    t = (x - left[0]) / wide
    a, b = leaves * wide - rise, rise - arrives * wide
    return left[1] + t * rise + t * (1.0 - t) * (a * (1.0 - t) + b * t)


def thinned(points: Points, close: float) -> list[tuple[float, float]]:
    """As few of the points as draw the same smooth line, to within `close` at each point left out.

    Args:
        points: two or more, from left to right, no two above one another.
        close: how far the line may lie beside a point that is left out.

    Complexity: O(n) a round, and some ten rounds; of a round only the pieces that changed are looked at.
    """
    kept = [0, len(points) - 1]
    known: dict[tuple[int, int, float, float], tuple[float, int]] = {}
    while True:
        line = [points[at] for at in kept]
        steep = slopes(line)
        more: list[int] = []
        for (first, last), (leaves, arrives) in zip(pairwise(kept), pairwise(steep), strict=True):
            piece = (first, last, leaves, arrives)
            if piece not in known:
                known[piece] = _farthest(points, *piece)
            off, at = known[piece]
            if off > close:
                more.append(at)
        if not more:
            return line
        kept = sorted({*kept, *more})


def _farthest(points: Points, first: int, last: int, leaves: float, arrives: float) -> tuple[float, int]:
    """How far the points between two of them lie beside the line at most, and which does."""
    left, right = points[first], points[last]
    offs = (
        (abs(_between(left, right, leaves, arrives, points[at][0]) - points[at][1]), at)
        for at in range(first + 1, last)
    )
    return max(offs, default=(0.0, first))
