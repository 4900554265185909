"""When a case comes again: the algorithm SM-2, and which case is next.

P. A. Wozniak, "Optimization of learning", master's thesis, University of Technology in Poznan, 1990, chapter 3.2:
I(1) = 1 day, I(2) = 6 days, I(n) = I(n-1) * EF, rounded up. EF begins at 2.5 and changes by
0.1 - (5 - q) * (0.08 + (5 - q) * 0.02) with the grade q from 0 to 5, never below 1.3. Below grade 3 the repetitions
begin anew and EF stays. The interval is reckoned with the EF from before the grade, as in the programs in use.

An item is a cause of a tree, whichever of its cases was played. EF is kept in hundredths: all that it can be is a whole
number of them, so that Python and the browser round alike. How the next case is weighed is ours: common practice,
without a source. Times are whole seconds since 1970-01-01 UTC.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from .draw import Draw

SOURCE = "SM-2: P. A. Wozniak, Optimization of learning, University of Technology in Poznan, 1990, chapter 3.2"
DAY = 86_400
START, LOWEST = 250, 130
FIRST, SECOND = 1, 6

_LATEST = 30
"""Days late beyond which an item weighs no more."""

_NEW = {"high": 4, "medium": 2, "low": 1}


@dataclass(frozen=True, slots=True)
class Item:
    """What is remembered of one item.

    Attributes:
        id: `<tree>/<cause>`.
        harm: priority of the tree: "high", "medium" or "low".
        ef: easiness factor, in hundredths.
        interval: days from the last play to the next.
        reps: plays in a row with a grade of 3 or more.
        plays: how often it was played.
        seen: when it was last played.
        due: when it is to come again.
        grade: the last grade.
    """

    id: str
    harm: str = "low"
    ef: int = START
    interval: int = 0
    reps: int = 0
    plays: int = 0
    seen: int = 0
    due: int = 0
    grade: int = 5


def graded(item: Item, grade: int, now: int) -> Item:
    """The item after a play.

    Args:
        item: what was remembered before.
        grade: from 0 to 5.
        now: when the play ended.

    Raises:
        ValueError: there is no such grade.
    """
    if grade not in range(6):
        raise ValueError(f"a grade is 0 to 5, not {grade}")
    ef, reps = item.ef, 0
    interval = FIRST
    if grade >= 3:
        reps = item.reps + 1
        interval = (FIRST, SECOND)[reps - 1] if reps <= 2 else -(-item.interval * item.ef // 100)
        ef = max(LOWEST, item.ef + 10 - (5 - grade) * (8 + (5 - grade) * 2))
    return replace(
        item,
        ef=ef,
        interval=interval,
        reps=reps,
        plays=item.plays + 1,
        seen=now,
        due=now + interval * DAY,
        grade=grade,
    )


def next_item(items: Sequence[Item], now: int, seed: int) -> str | None:
    """The item to play next; None where there are none.

    Those that are due come first, drawn by how late they are and how badly they went; then those never played, drawn by
    priority; then the one that was played longest ago.

    Args:
        items: all that could be played, in any order.
        now: the present time.
        seed: any whole number; the same draws the same.
    """
    ordered = sorted(items, key=lambda item: item.id)
    due = [(item.id, _urgency(item, now)) for item in ordered if item.plays and item.due <= now]
    new = [(item.id, _NEW[item.harm]) for item in ordered if not item.plays]
    if due or new:
        return _drawn(due or new, Draw(seed))
    return min(ordered, key=lambda item: item.seen).id if ordered else None


def _urgency(item: Item, now: int) -> int:
    """The weight of an item that is due: days late, times what went wrong."""
    late = min((now - item.due) // DAY, _LATEST)
    return (1 + late) * (6 - item.grade)


def _drawn(weighted: Sequence[tuple[str, int]], draw: Draw) -> str:
    place = draw.below(sum(weight for _, weight in weighted))
    for name, weight in weighted:
        place -= weight
        if place < 0:
            return name
    raise AssertionError("weights are positive")
