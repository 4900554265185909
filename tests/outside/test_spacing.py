"""The spacing of practice cases against what was published of SM-2, and against another program of it.

Published: P. A. Wozniak, "Optimization of learning", master's thesis, University of Technology in Poznan, 1990,
chapter 3.2. It prints the formula in two forms, says that a grade of 4 leaves the E-factor as it is, and gives 1 and 6
days, 2.5 and 1.3, rounding up, and "without changing the E-factor" below grade 3. It prints no worked row of intervals:
that at an E-factor of 2.5 is worked out here by its rule, and rows of random grades by the package supermemo2 (MIT).
"""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from supermemo2 import review

from alarmtrees.learning.spacing import (
    DAY,
    Item,
    graded,
    next_item,
)

NOW = 1_800_000_000


def after(*grades: int) -> list[Item]:
    items = [Item("t/c")]
    for grade in grades:
        items.append(graded(items[-1], grade, NOW))
    return items


def reduced(q: int) -> float:
    """The change of the E-factor in the thesis's shorter form."""
    return -0.8 + 0.28 * q - 0.02 * q * q


@pytest.mark.parametrize("q", [3, 4, 5])
def test_the_e_factor_changes_as_the_shorter_form_says(q: int) -> None:
    assert after(q)[-1].ef / 100 == pytest.approx(2.5 + reduced(q))


def test_the_published_numbers() -> None:
    assert (Item("t/c").ef, after(4)[-1].ef) == (250, 250)
    assert [item.interval for item in after(4, 4, 4, 4, 4)[1:]] == [1, 6, 15, 38, 95]
    assert after(*[3] * 20)[-1].ef == 130
    assert [item.ef for item in after(3, 3, 3, 3)] == [250, 236, 222, 208, 194]


@pytest.mark.parametrize("q", [0, 1, 2])
def test_below_three_it_begins_anew_and_the_e_factor_stays(q: int) -> None:
    before, failed, again, second = after(5, 5, 5, q, 4, 4)[3:]
    assert (failed.ef, failed.interval, failed.reps) == (before.ef, 1, 0)
    assert (again.interval, second.interval) == (1, 6)
    assert failed.due == NOW + DAY


@given(st.lists(st.integers(3, 5), min_size=1, max_size=12))
def test_rows_of_passed_grades_are_those_of_another_program(grades: list[int]) -> None:
    easiness, interval, reps = 2.5, 0, 0
    for grade, item in zip(grades, after(*grades)[1:], strict=True):
        product = interval * easiness
        theirs = review(grade, easiness, interval, reps, "2026-11-25 00:00:00")
        easiness, interval, reps = theirs["easiness"], theirs["interval"], theirs["repetitions"]
        assert item.reps == reps
        assert item.ef / 100 == pytest.approx(easiness)
        # Theirs adds up fractions, so a whole product may come out a hair above itself and be rounded up.
        assert item.interval == interval or (interval == item.interval + 1 and product == pytest.approx(item.interval))
        interval = item.interval


def test_a_grade_is_zero_to_five() -> None:
    for grade in (-1, 6):
        with pytest.raises(ValueError, match="a grade is 0 to 5"):
            graded(Item("t/c"), grade, NOW)


# Which comes next: ours, so judged by its own words.


def test_what_is_due_comes_before_what_is_new_and_that_before_the_rest() -> None:
    late = graded(Item("t/late"), 3, NOW - 9 * DAY)
    rest = [graded(Item(f"t/{name}"), 5, NOW - seconds) for name, seconds in (("a", 5), ("b", 50), ("c", 20))]
    assert next_item([*rest, late, Item("t/new")], NOW, 1) == "t/late"
    assert next_item([*rest, Item("t/new")], NOW, 1) == "t/new"
    assert next_item(rest, NOW, 1) == "t/b"
    assert next_item([], NOW, 1) is None


def test_draws_weigh_what_went_wrong_what_is_late_and_what_is_dangerous() -> None:
    def drawn(*items: Item) -> list[str]:
        counted = Counter(next_item(items, NOW, seed) for seed in range(3000))
        return [name for name, _ in counted.most_common() if name]

    wrong, right = (graded(Item(f"t/{name}"), grade, NOW - 3 * DAY) for name, grade in (("wrong", 0), ("right", 5)))
    assert drawn(right, wrong) == ["t/wrong", "t/right"]
    old, young = (graded(Item(f"t/{name}"), 4, NOW - days * DAY) for name, days in (("old", 20), ("young", 2)))
    assert drawn(young, old) == ["t/old", "t/young"]
    new = [Item(f"t/{harm}", harm) for harm in ("low", "high", "medium")]
    assert drawn(*new) == ["t/high", "t/medium", "t/low"]


def test_the_order_of_the_items_does_not_matter_and_the_seed_does() -> None:
    items = [Item(f"t/{number}", "high") for number in range(20)]
    drawn = [next_item(items, NOW, seed) for seed in range(30)]
    assert drawn == [next_item(items[::-1], NOW, seed) for seed in range(30)]
    assert len(set(drawn)) > 10 and any(one != other for one, other in pairwise(drawn))
