"""Which item of a row became which of another: of passages of an article, or of a list in a file."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Hashable, Iterator, Sequence
from difflib import SequenceMatcher

from .alike import words_of

MOST_CELLS = 1_000_000
"""Two rows whose lengths multiply to more than this are told as gone and new where they differ."""

MOST_PAIRS = 2500
"""So many pairs of items are held against each other, word by word; beyond, items are taken in their order."""

IN_COMMON = 0.4
"""How much of their words two items share at least, where one became the other."""

Pairs = list[tuple[int, int]]
"""Places before and now of what is the same item, in the order of the row now."""


def paired(
    old: Sequence[str], new: Sequence[str], names: tuple[Sequence[str], Sequence[str]] | None = None
) -> tuple[Pairs, list[int], list[int]]:
    """Which item of one row became which of another.

    Items are the same where they say the same, else where they have the same name, else where they share most words.

    Args:
        old: the items before, in words.
        new: the items now.
        names: what the items of both rows are called, where they are called anything.

    Returns:
        The pairs; the places of what is gone; the places of what is new.

    >>> paired(["a b c", "d e"], ["d e", "a b f", "g"])
    ([(1, 0), (0, 1)], [], [2])
    """
    found = dict(_in_order(old, new))
    _by_key(found, old, new)
    if names:
        _by_key(found, *names)
    _by_words(found, old, new)
    gone, come = _left(found, old, new)
    return sorted(found.items(), key=lambda pair: pair[1]), gone, come


def moved(pairs: Pairs) -> set[int]:
    """The places now of the fewest items that have to change places to come from one order to the other.

    >>> moved([(2, 0), (0, 1), (1, 2)])
    {0}
    """
    ends: list[int] = []  # for each length the smallest place before at which a row of so many ends
    behind: list[int] = []
    length = []
    for before, _ in pairs:
        at = bisect_left(ends, before)
        ends[at : at + 1] = [before]
        length.append(at)
    wanted = len(ends) - 1
    stays = set()
    for at in range(len(pairs) - 1, -1, -1):
        if length[at] == wanted and (not behind or pairs[at][0] < behind[-1]):
            behind.append(pairs[at][0])
            stays.add(pairs[at][1])
            wanted -= 1
    return {now for _, now in pairs} - stays


def _left(found: dict[int, int], old: Sequence[str], new: Sequence[str]) -> tuple[list[int], list[int]]:
    taken = set(found.values())
    return [i for i in range(len(old)) if i not in found], [j for j in range(len(new)) if j not in taken]


def _in_order(old: Sequence[Hashable], new: Sequence[Hashable]) -> Iterator[tuple[int, int]]:
    """The places of what stays as it is and where it is."""
    least = min(len(old), len(new))
    begin = next((i for i in range(least) if old[i] != new[i]), least)
    end = next((i for i in range(least - begin) if old[-1 - i] != new[-1 - i]), least - begin)
    yield from ((i, i) for i in range(begin))
    yield from ((len(old) - 1 - i, len(new) - 1 - i) for i in range(end))
    before, now = old[begin : len(old) - end], new[begin : len(new) - end]
    if 0 < len(before) * len(now) <= MOST_CELLS:
        for block in SequenceMatcher(None, before, now, autojunk=False).get_matching_blocks():
            yield from ((begin + block.a + n, begin + block.b + n) for n in range(block.size))


def _by_key(found: dict[int, int], old: Sequence[str], new: Sequence[str]) -> None:
    gone, come = _left(found, old, new)
    places: dict[str, list[int]] = {}
    for j in reversed(come):
        places.setdefault(new[j], []).append(j)
    for i in gone:
        if places.get(old[i]):
            found[i] = places[old[i]].pop()


def _by_words(found: dict[int, int], old: Sequence[str], new: Sequence[str]) -> None:
    gone, come = _left(found, old, new)
    if not gone or not come:
        return
    if len(gone) * len(come) > MOST_PAIRS:
        found.update(zip(gone, come, strict=False))
        return
    before, now = {i: set(words_of(old[i])) for i in gone}, {j: set(words_of(new[j])) for j in come}
    shared = sorted((-_in_common(before[i], now[j]), abs(i - j), i, j) for i in gone for j in come)
    taken: set[int] = set()
    for common, _, i, j in shared:
        if -common >= IN_COMMON and i not in found and j not in taken:
            found[i] = j
            taken.add(j)
    # One thing that went, and one that came in its place: more than chance even if no word is shared.
    gone, come = _left(found, old, new)
    if len(gone) == len(come) == 1 and _is_between(gone[0], come[0], found):
        found[gone[0]] = come[0]


def _is_between(i: int, j: int, found: dict[int, int]) -> bool:
    """Whether two items stand between the same others."""
    before = found.get(i - 1, -1 if i == 0 else None)
    return before is not None and before == j - 1


def _in_common(a: set[str], b: set[str]) -> float:
    return 2 * len(a & b) / (len(a) + len(b)) if a or b else 1.0
