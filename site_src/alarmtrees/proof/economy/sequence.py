"""The best order of some things to look at, one of which shows the cause.

Each look finds some causes and tells nothing of the others. Under a cause that it finds, the way goes on to the
remedy and the search is over; under any other it only costs time. What counts is the expected time to the remedy.

Where each look costs the same whatever the cause, and each cause is found by one look, the order by share over time is
the best (Smith WE, Naval Res Logist Q 1956;3:59-66; with some looks bound to come before others, Kadane JB & Simon HA,
Cogn Psychol 1977;9:489-505). Neither is given here: a failed remedy costs time under some causes only, and the last
candidate may be inferred. So the best order is found by dynamic programming over the sets of looks done, and that is
over the sets of causes still possible: exact, in 2^n sets for n looks.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

MOST = 12
"""Up to so many looks the best order is found exactly; above, only a bound is known."""

Order = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Look:
    """Something to look at.

    Attributes:
        name: what it is known by.
        found: the causes that it finds, each with the seconds from the beginning of the look to the remedy.
        passed: the seconds it costs under each cause that it does not find. A cause may be in both: then it is passed
            on where something behind the look finds it as well.
        asks: the seconds of looking alone, saved where the look is the last and its finding is inferred.
    """

    name: str
    found: Mapping[str, float]
    passed: Mapping[str, float]
    asks: float = 0.0


class Looks:
    """Some looks whose order is free.

    Args:
        looks: the looks; a cause that several find is found by the first of them. Causes that none finds are
            found behind them all, and pay for each.
        shares: how likely each cause is; any positive numbers.
        behind: the causes that are found behind all looks, even if one of them could find them.
        last_inferred: whether the last look can be left out, where all that is still possible would be found by it.
    """

    def __init__(
        self,
        looks: Sequence[Look],
        shares: Mapping[str, float],
        behind: frozenset[str] = frozenset(),
        last_inferred: bool = False,
    ) -> None:
        self.looks = tuple(looks)
        self.behind = behind
        self.shares = dict(shares)
        self.last_inferred = last_inferred
        self.all = (1 << len(looks)) - 1

    def times(self, order: Order) -> dict[str, float]:
        """For each cause the seconds that an order costs until the remedy, or until all looks are done."""
        times = dict.fromkeys(self.shares, 0.0)
        done = 0
        for i in order:
            for cause, seconds in self._spent(done, i):
                times[cause] += seconds
            done |= 1 << i
        return times

    def cost(self, order: Order) -> float:
        """The expected seconds of an order, times the sum of all shares."""
        return sum(self.shares[cause] * seconds for cause, seconds in self.times(order).items())

    def _spent(self, done: int, i: int) -> Iterator[tuple[str, float]]:
        """What the look `i` costs under each cause still possible once the looks `done` have been done."""
        look = self.looks[i]
        possible = [cause for cause in self.shares if not self._gone(cause, done)]
        settled = done | 1 << i == self.all and all(self._gone(cause, self.all) for cause in possible)
        inferred = self.last_inferred and settled
        for cause in possible:
            seconds = look.found[cause] if self._gone(cause, done | 1 << i) else look.passed[cause]
            yield cause, seconds - look.asks * inferred

    def _gone(self, cause: str, done: int) -> bool:
        """Whether a cause has been found once some looks have been done, in whatever order."""
        able, at_once = self._finders[cause]
        if cause in self.behind or not able:
            return bool(at_once & done)
        return bool(at_once & done) or able & ~done == 0

    @cached_property
    def _finders(self) -> dict[str, tuple[int, int]]:
        """For each cause the looks that can find it, and those of them that pass it on in no case."""
        finders = {}
        for cause in self.shares:
            able = [i for i, look in enumerate(self.looks) if cause in look.found]
            at_once = [i for i in able if cause not in self.looks[i].passed]
            finders[cause] = (sum(1 << i for i in able), sum(1 << i for i in at_once))
        return finders

    @cached_property
    def _ahead(self) -> list[float]:
        """For each set of looks done the least that is still to be paid: V(D) = min over i of cost(D, i) + V(D + i)."""
        ahead = [0.0] * (self.all + 1)
        for done in range(self.all - 1, -1, -1):
            ahead[done] = min(self._step(done, i) + ahead[done | 1 << i] for i in self._left(done))
        return ahead

    def _left(self, done: int) -> Iterator[int]:
        return (i for i in range(len(self.looks)) if not done >> i & 1)

    def _step(self, done: int, i: int) -> float:
        return sum(self.shares[cause] * seconds for cause, seconds in self._spent(done, i))

    @property
    def exact(self) -> bool:
        """Whether the best order can be found, and not only a bound."""
        return len(self.looks) <= MOST

    @property
    def least(self) -> float:
        """The cost of the best order; where there are too many looks, a bound below it."""
        return self._ahead[0] if self.exact else self._bound()

    def cheapest_first(self) -> Iterator[Order]:
        """All orders, the cheapest first; of two as cheap, the one nearer to the order given.

        Best first, led by what is still to be paid at the least, so that only as many orders are built as are asked
        for. Where there are too many looks for that, the order given and one found by exchanges alone.
        """
        if not self.exact:
            yield from sorted({self._by_exchange(), tuple(range(len(self.looks)))}, key=self.cost)
            return
        ahead: list[tuple[float, Order, int, float]] = [(self._ahead[0], (), 0, 0.0)]
        while ahead:
            _, order, done, paid = heapq.heappop(ahead)
            if done == self.all:
                yield order
            for i in self._left(done):
                so_far = paid + self._step(done, i)
                least = round(so_far + self._ahead[done | 1 << i], 9)  # sums in another order differ in the last digit
                heapq.heappush(ahead, (least, (*order, i), done | 1 << i, so_far))

    def _bound(self) -> float:
        """A bound below every order's cost: each two looks stand in the order that is better for the two.

        Each cause pays for the look that finds it, and for those before that one: a sum over pairs of looks.
        """
        finders = {cause: [i for i, look in enumerate(self.looks) if cause in look.found] for cause in self.shares}
        total = 0.0
        before: dict[tuple[int, int], float] = {}
        for cause, found_by in finders.items():
            share = self.shares[cause]
            through = sum(look.passed.get(cause, math.inf) for look in self.looks)
            if not found_by:
                total += share * through
                continue
            least = min(self.looks[i].found[cause] - self.looks[i].asks * self.last_inferred for i in found_by)
            total += share * min(least, through)
            if len(found_by) == 1 and cause not in self.behind:
                for i, look in enumerate(self.looks):
                    if i != found_by[0]:
                        before[i, found_by[0]] = before.get((i, found_by[0]), 0.0) + share * look.passed[cause]
        pairs = {(min(pair), max(pair)) for pair in before}
        return total + sum(min(before.get((i, j), 0.0), before.get((j, i), 0.0)) for i, j in pairs)

    def _by_exchange(self) -> Order:
        """An order that no exchange of two neighbours makes better, begun with the order given."""
        order = list(range(len(self.looks)))
        better = True
        while better:
            better = False
            for i in range(len(order) - 1):
                other = [*order[:i], order[i + 1], order[i], *order[i + 2 :]]
                if self.cost(tuple(other)) < self.cost(tuple(order)) - 1e-9:
                    order, better = other, True
        return tuple(order)


def gain_range(gains: Mapping[str, float], shares: Mapping[str, float], factor: float = 2.0) -> tuple[float, float]:
    """The least and the most that a change gains, where each share may be off by a factor in either direction.

    Args:
        gains: what is gained under each cause, in seconds; negative where it is lost.
        shares: how likely each cause is, any positive numbers.
        factor: how far each share may be off, 1 or more; the shares are then made to add up again.

    Returns:
        The mean gain at the worst and at the best shares. A mean is a ratio of linear functions of the shares, so
        it is least and greatest where each share is at one of its two limits, split at one value of the gain.

    >>> low, high = gain_range({"a": 10.0, "b": -5.0}, {"a": 0.5, "b": 0.5})
    >>> low, high
    (-2.0, 7.0)
    """
    by_gain = sorted(gains, key=lambda cause: gains[cause])
    means = []
    for split in range(len(by_gain) + 1):
        for low, high in ((factor, 1 / factor), (1 / factor, factor)):
            weights = {c: shares[c] * (low if i < split else high) for i, c in enumerate(by_gain)}
            total = sum(weights.values())
            means.append(sum(weight * gains[c] for c, weight in weights.items()) / total if total else 0.0)
    return min(means), max(means)
