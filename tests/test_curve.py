"""Smooth lines through points: they pass through all of them, and make no peak, dip or notch that is not there."""

from __future__ import annotations

import re
from itertools import accumulate, pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from alarmtrees.site.knowledge.curve import path
from circulation.curve import height, slopes, thinned

heights = st.lists(st.floats(-50.0, 250.0).map(lambda value: round(value, 1)), min_size=3, max_size=40)
gaps = st.lists(st.floats(0.01, 0.5), min_size=40, max_size=40)


def line(values: list[float], wide: list[float]) -> list[tuple[float, float]]:
    return list(zip(accumulate(wide), values, strict=False))


@given(heights, gaps)
def test_the_line_goes_through_its_points_and_stays_between_them(values: list[float], wide: list[float]) -> None:
    points = line(values, wide)
    steep = slopes(points)
    for (x0, y0), (x1, y1) in pairwise(points):
        course = [height(points, steep, x0 + (x1 - x0) * share / 16) for share in range(17)]
        assert course[0] == pytest.approx(y0) and course[-1] == pytest.approx(y1, abs=1e-6)
        assert min(y0, y1) - 1e-6 <= min(course) and max(course) <= max(y0, y1) + 1e-6


@given(heights, gaps)
def test_inside_it_is_the_monotone_cubic_of_a_reference_library(values: list[float], wide: list[float]) -> None:
    points = line(values, wide)
    theirs = PchipInterpolator(*zip(*points, strict=True)).derivative()
    assert slopes(points)[1:-1] == pytest.approx([float(theirs(x)) for x, _ in points][1:-1], rel=1e-6, abs=1e-6)


def test_few_points_draw_the_same_line() -> None:
    points = [(at / 500, 80.0 + 20.0 * float(np.sin(at / 25))) for at in range(500)]
    few = thinned(points, 0.3)
    steep = slopes(few)
    assert len(few) < 60
    assert max(abs(height(few, steep, x) - y) for x, y in points) <= 0.3


def test_a_path_is_written_in_steps_that_end_where_the_points_are() -> None:
    points = [(0.0, 60.0), (0.4, 90.5), (0.9, 71.25), (2.0, 71.25), (3.7, 10.0)]
    written = path(points, lambda x: 40 + 100 * x, lambda y: 200 - y)
    start, _, rest = written[1:].partition("c")
    pen = [float(one) for one in start.split()]
    numbers = [float(one) for one in re.findall(r"-?(?:\d+\.?\d*|\.\d+)", rest)]
    assert len(numbers) == 6 * (len(points) - 1)
    for at, (x, y) in enumerate(points[1:]):
        dx, dy = numbers[6 * at + 4 : 6 * at + 6]
        pen = [pen[0] + dx, pen[1] + dy]
        assert pen == pytest.approx([40 + 100 * x, 200 - y], abs=0.051)
