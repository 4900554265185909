"""A smooth line through points, as the path of a drawing.

Between two points the line is a cubic that never leaves their range (Fritsch and Butland 1984): it rounds what is
round and invents no peak, no dip and no notch. Of many points those are kept without which the line would be another.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
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
    (x0, y0), (x1, y1) = points[at], points[at + 1]
    wide = x1 - x0
    t = min(max((x - x0) / wide, 0.0), 1.0)
    rise = y1 - y0
    a, b = steep[at] * wide - rise, rise - steep[at + 1] * wide
    return y0 + t * rise + t * (1.0 - t) * (a * (1.0 - t) + b * t)


def thinned(points: Points, close: float) -> list[tuple[float, float]]:
    """As few of the points as draw the same smooth line, to within `close` at each point left out.

    Args:
        points: two or more, from left to right, no two above one another.
        close: how far the line may lie beside a point that is left out.

    Complexity: O(n) a round, and some ten rounds.
    """
    kept = sorted({0, len(points) - 1, *_turns(points)})
    while True:
        line = [points[at] for at in kept]
        steep = slopes(line)
        worst = (_farthest(points, line, steep, first, last) for first, last in pairwise(kept))
        more = [at for off, at in worst if off > close]
        if not more:
            return line
        kept = sorted({*kept, *more})


def _turns(points: Points) -> Iterable[int]:
    """The places of all peaks and valleys."""
    for at in range(1, len(points) - 1):
        if (points[at][1] - points[at - 1][1]) * (points[at + 1][1] - points[at][1]) <= 0.0:
            yield at


def _farthest(points: Points, line: Points, steep: Sequence[float], first: int, last: int) -> tuple[float, int]:
    offs = [(abs(height(line, steep, points[at][0]) - points[at][1]), at) for at in range(first + 1, last)]
    return max(offs, default=(0.0, first))


def path(points: Points, across: Callable[[float], float], up: Callable[[float], float]) -> str:
    """The smooth line as the `d` of a path, each piece written from where the last one ended.

    Args:
        points: two or more, from left to right, no two above one another.
        across, up: from the points' measures to those of the drawing; straight, in tenths kept.

    >>> path([(0.0, 0.0), (3.0, 3.0)], lambda x: x, lambda y: y)
    'M0 0c1 1 2 2 3 3'
    """
    steep = slopes(points)
    pen = [_tenths(across(points[0][0])), _tenths(up(points[0][1]))]
    parts = [f"M{_short(pen[0])} {_short(pen[1])}c"]
    numbers: list[str] = []
    for at, ((x0, y0), (x1, y1)) in enumerate(pairwise(points)):
        third = (x1 - x0) / 3.0
        bends = ((x0 + third, y0 + steep[at] * third), (x1 - third, y1 - steep[at + 1] * third), (x1, y1))
        corners = [(_tenths(across(x)), _tenths(up(y))) for x, y in bends]
        numbers += [_short(corner[axis] - pen[axis]) for corner in corners for axis in (0, 1)]
        pen = list(corners[-1])
    return "".join([*parts, *_parted(numbers)])


def _tenths(value: float) -> int:
    return round(value * 10.0)


def _short(tenths: int) -> str:
    text = f"{tenths / 10:g}"
    return text.replace("0.", ".", 1) if abs(tenths) < 10 else text


def _parted(numbers: Iterable[str]) -> Iterable[str]:
    """A blank where a number would else run into the one before."""
    for place, number in enumerate(numbers):
        yield number if place == 0 or number.startswith("-") else f" {number}"
