"""A smooth line through points, as the path of a drawing."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import pairwise

from circulation.curve import Points, slopes


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
