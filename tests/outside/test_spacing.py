"""The spacing of practice cases, as learners' browsers reckon it, against what is published of gaps between tests.

Read were the abstracts, and what is asked for here stands in them:

- N. J. Cepeda and others, "Spacing effects in learning: a temporal ridgeline of optimal retention", Psychol Sci 2008;
  19:1095-1102: the best gap grows with the time until the next test, and falls as a share of it, from "about 20 to 40%
  of a 1-week test delay to about 5 to 10% of a 1-year test delay".
- J. D. Karpicke, H. L. Roediger, J Exp Psychol Learn Mem Cogn 2007; 33:704-719: "delaying the first test improved
  long-term retention, regardless of how the repeated tests were spaced".
- A. Latimier and others, Educ Psychol Rev 2021; 33:959-987: spaced tests keep far more than massed ones (g = 0.74), and
  widening gaps no more than even ones (g = 0.034), but "the more learners are tested, the more beneficial".
- S. H. K. Kang and others, Psychon Bull Rev 2014: over "four weeks" of learning, "sessions separated by increasing
  numbers of days" gave "much higher average recallability over the whole training period".
- M. H. Oermann and others, Simul Healthc 2022; 17:e59-e67: after a year of resuscitation skills, ventilations were
  worse with refreshers every 6 months than every 3.

All else (three times, one day, what is drawn) is chosen: it is judged by its own words.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from itertools import pairwise
from math import exp, log
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alarmtrees.site.teaching.practice import SPACING
from engine import call, call_all

NOW = 1_800_000_000
DAY = 86_400
WEEK, YEAR = 7, 365
SHARES = {WEEK: (0.20, 0.40), YEAR: (0.05, 0.10)}
GOOD, FAIR, BAD = "good", "fair", "bad"

Item = dict[str, Any]


def item(name: str, **known: Any) -> Item:
    return call("item", {"id": name, **known})


def played(one: Item, went: str, now: float) -> Item:
    return call("after", one, went, now)


def after(*went: str, gap: int = 0) -> list[Item]:
    """Plays of one cause, each on the day that was told for it."""
    items = [item("t/c", gap=gap)]
    for how in went:
        items.append(played(items[-1], how, max(NOW, items[-1]["again"])))
    return items[1:]


def gaps(*went: str, gap: int = 0) -> list[int]:
    return [one["gap"] for one in after(*went, gap=gap)]


# Published.


@pytest.mark.parametrize(("place", "delay"), [(0, WEEK), (-1, YEAR)])
def test_the_first_and_the_widest_gap_are_the_best_for_a_week_and_for_a_year(place: int, delay: int) -> None:
    low, high = (share * delay for share in SHARES[delay])
    assert low <= gaps(*[GOOD] * 12)[place] <= high


def test_gaps_widen_and_each_is_the_best_for_a_longer_time() -> None:
    """Cepeda and others: the best gap grows with the time to the test, and falls as a share of it."""
    row = gaps(*[GOOD] * 12)
    widening = row[: row.index(max(row)) + 1]
    assert all(one < other for one, other in pairwise(widening)) and set(row[len(widening) :]) == {max(row)}
    # Between a week and a year by the middle of both shares, even on a scale of powers.
    (near, far), (week, year) = (0.30 * WEEK, 0.075 * YEAR), (log(WEEK), log(YEAR))
    slope = (log(far) - log(near)) / (year - week)
    delays = [exp(week + (log(gap) - log(near)) / slope) for gap in widening]
    shares = [gap / delay for gap, delay in zip(widening, delays, strict=True)]
    assert all(one < other for one, other in pairwise(delays))
    assert all(one > other for one, other in pairwise(shares))
    assert max(shares) <= 0.40 and min(shares) >= 0.05
    # Widest of all: within the quarter of a year that did better than half a year (Oermann and others).
    assert max(row) <= YEAR / 4


def test_nothing_comes_again_on_the_same_day() -> None:
    for went in (GOOD, FAIR, BAD):
        for before in ([], [GOOD], [BAD], [GOOD] * 9):
            assert after(*before, went)[-1]["gap"] >= 1


def test_four_weeks_hold_several_plays_with_ever_more_days_between_them() -> None:
    days = [0]
    for gap in gaps(*[GOOD] * 12):
        days.append(days[-1] + gap)
    within = [day for day in days if day <= 28]
    assert len(within) >= 4
    between = [other - one for one, other in pairwise(within)]
    assert between == sorted(set(between))


# Chosen.


def test_a_fair_play_keeps_the_gap_and_a_bad_one_begins_anew() -> None:
    assert gaps(GOOD, GOOD, GOOD, GOOD, GOOD) == [2, 6, 18, 36, 36]
    assert gaps(GOOD, GOOD, FAIR, GOOD) == [2, 6, 6, 18]
    assert gaps(GOOD, GOOD, BAD, GOOD) == [2, 6, 1, 3]
    assert gaps(FAIR, GOOD) == [1, 3] and gaps(BAD, BAD, GOOD) == [1, 1, 3]
    assert gaps(FAIR, gap=95) == [36]  # a wider gap of before


@given(st.lists(st.sampled_from([GOOD, FAIR, BAD]), min_size=1, max_size=30), st.integers(1, 400))
@settings(deadline=None)
def test_a_gap_is_told_by_the_last_bad_play_and_the_good_ones_since(went: list[str], begun: int) -> None:
    good = len([how for how in went[::-1][: went[::-1].index(BAD)] if how == GOOD]) if BAD in went else went.count(GOOD)
    start = 1 if BAD in went else begun
    rows = [start]
    for _ in range(good):
        rows.append(max(2, 3 * rows[-1]))
    last = after(*went, gap=begun)[-1]
    assert last["gap"] == min(36, rows[-1])
    assert last["again"] == last["seen"] + last["gap"] * DAY and last["plays"] == len(went)


def test_a_play_before_its_day_moves_no_day_unless_it_went_badly() -> None:
    first = played(item("t/c"), GOOD, NOW)
    for went in (GOOD, FAIR):
        soon = played(first, went, NOW + DAY)
        assert soon["early"] and (soon["gap"], soon["again"], soon["plays"]) == (2, first["again"], 2)
        assert (soon["seen"], soon["went"]) == (NOW + DAY, went)
    worse = played(first, BAD, NOW + DAY)
    assert not worse["early"] and (worse["gap"], worse["again"]) == (1, NOW + 2 * DAY)
    assert not played(first, GOOD, NOW + 2 * DAY)["early"]


def test_what_has_come_again_goes_before_what_is_new_and_that_before_the_rest() -> None:
    late = played(item("t/late"), FAIR, NOW - 9 * DAY)
    rest = [played(item(f"t/{name}"), GOOD, NOW - seconds) for name, seconds in (("a", 5), ("b", 50), ("c", 20))]
    today = played(item("t/today"), GOOD, NOW - 2 * DAY)
    assert call("nextItem", [*rest, late, item("t/new")], NOW, 1) == "t/late"
    assert call("nextItem", [*rest, today, item("t/new")], NOW, 1) == "t/today"
    assert call("nextItem", [*rest, item("t/new")], NOW, 1) == "t/new"
    assert call("nextItem", rest, NOW, 1) == "t/b"
    assert call("nextItem", [], NOW, 1) is None


def test_draws_weigh_what_went_wrong_what_is_late_and_what_is_dangerous() -> None:
    def shares(*items: Item) -> list[float]:
        """How much oftener than the first each is drawn."""
        counted = Counter(call_all(("nextItem", items, NOW, seed) for seed in range(6000)))
        return [counted[one["id"]] / counted[items[0]["id"]] for one in items]

    went = [played(item(f"t/{how}"), how, NOW - days * DAY) for how, days in ((GOOD, 3), (FAIR, 2), (BAD, 2))]
    assert len({one["again"] for one in went}) == 1
    assert shares(*went) == pytest.approx([1, 2, 3], rel=0.1)
    today, *late = (played(item(f"t/{days}"), GOOD, NOW - days * DAY) for days in (2, 3, 5, 90, 900))
    assert [shares(today, one)[1] for one in late] == pytest.approx([2, 4, 31, 31], rel=0.2)
    assert shares(*(item(f"t/{harm}", harm=harm) for harm in ("low", "medium", "high"))) == pytest.approx(
        [1, 2, 4], rel=0.1
    )


def test_the_order_of_the_items_does_not_matter_and_the_seed_does() -> None:
    items = [item(f"t/{number}", harm="high") for number in range(20)]
    drawn = call_all(("nextItem", items, NOW, seed) for seed in range(30))
    assert drawn == call_all(("nextItem", items[::-1], NOW, seed) for seed in range(30))
    assert len(set(drawn)) > 10 and any(one != other for one, other in pairwise(drawn))


# Said on the page.


@pytest.mark.parametrize(
    ("words", "of"),
    [
        (r"After a good play a case comes again after (\d+) days", lambda: gaps(GOOD)[0]),
        (r"at most (\d+) days", lambda: gaps(*[GOOD] * 12)[-1]),
        (r"for a wrong page, it is (\d+) day", lambda: gaps(GOOD, GOOD, BAD)[-1]),
        (r"(20) to 40 % of a week", lambda: round(100 * SHARES[WEEK][0])),
        (r"20 to (40) % of a week", lambda: round(100 * SHARES[WEEK][1])),
        (r"at (5) to 10 % of a year", lambda: round(100 * SHARES[YEAR][0])),
        (r"at 5 to (10) % of a year", lambda: round(100 * SHARES[YEAR][1])),
    ],
)
def test_the_page_tells_the_numbers_of_the_rule(words: str, of: Callable[[], int]) -> None:
    [told] = re.findall(words, " ".join(SPACING))
    assert int(told) == of()


def test_the_page_says_how_much_wider() -> None:
    one, other = gaps(GOOD, GOOD)
    assert other == 3 * one and "three times the gap before" in SPACING[0]
