"""What the box has learned from phrases: a linear model over pieces of words, made when the site is built.

A phrase is taken apart into its words, its pairs of words, and all rows of three letters; each of these pieces falls
into one of `BUCKETS` by its hash, so no piece has to be named in the browser. A page's weights of the pieces that were
typed are added up: the greater the sum, the likelier the page. The weights are those of a multinomial logistic
regression. Most of them say nothing and are left out; the others are kept in four bits. `finder-guess.js` reads them.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]

BUCKETS = 8192
"""How many kinds of pieces are told apart: with a quarter of it the figures of `bench_finder.py` fall by two points."""

KEPT = 100_000
"""How many weights are kept, the greatest. With half as many the figures fall by two points, with all they stay."""

LEVELS = 7
"""Sizes of a weight on either side of none."""

ROUNDS = 50
REACH = 0.6
"""How far weights may go: the variance of the normal distribution that they are drawn to."""


def said(text: str) -> list[str]:
    """The words of a text as the finder reads them: small letters, no accents; `1:2` is one.

    >>> said("Can't see 1:2 — ÉCG?")
    ['cant', 'see', '1:2', 'ecg']
    """
    plain = unicodedata.normalize("NFKD", text.lower())
    plain = re.sub("[\u0300-\u036f'’`]", "", plain)
    return [word for part in re.split(r"[^\w:]+|_+", plain) if (word := part.strip(":"))]


def pieces(text: str) -> set[int]:
    """The buckets of a text's pieces."""
    words = said(text)
    found = {hashed(f" {word}") for word in words}
    found.update(hashed(f"{one} {two}") for one, two in pairwise(words))
    for word in words:
        found.update(hashed(row) for row in _rows(f"^{word}$"))
    return found


def _rows(word: str) -> Iterator[str]:
    return (word[at : at + 3] for at in range(len(word) - 2))


@cache
def hashed(piece: str) -> int:
    """The bucket of a piece: FNV-1a in 32 bits over its UTF-16 units, as the browser counts them."""
    value = 0x811C9DC5
    for unit in memoryview(piece.encode("utf-16-le")).cast("H"):
        value = (value ^ unit) * 0x01000193 & 0xFFFFFFFF
    return value % BUCKETS


def learn(texts: Sequence[tuple[str, str]]) -> dict[str, Any]:
    """The weights that tell the pages of these texts apart. The same texts give the same weights.

    Args:
        texts: phrases, each with its page.

    Returns:
        `pages`: their names; `scale`: the greatest weight; `weights`: for each page a line, see `_line`.
    """
    import numpy as np  # here, for nobody who draws no home page waits for them
    from scipy.sparse import csr_array

    names = sorted({page for _, page in texts})
    place = {page: number for number, page in enumerate(names)}
    found = [sorted(pieces(text)) for text, _ in texts]
    flat = np.array([one for some in found for one in some], np.int32)
    ends = np.cumsum([0, *map(len, found)], dtype=np.int32)
    often = np.bincount(flat, minlength=BUCKETS)
    worth = np.log(len(texts) / np.maximum(often, 1)).astype(np.float32)
    lengths = np.repeat([max(len(some), 1) ** -0.5 for some in found], [len(some) for some in found])
    held = csr_array((worth[flat] * lengths.astype(np.float32), flat, ends), shape=(len(texts), BUCKETS))
    weights = _fitted(held, np.array([place[page] for _, page in texts]), len(names))
    weights = (weights - weights.mean(axis=1, keepdims=True)) * worth[:, None]
    scale, small = _rounded(weights)
    return {"pages": names, "scale": round(scale, 4), "weights": [_line(column) for column in small.T]}


def _fitted(held: Any, right: NDArray[np.int64], count: int) -> Floats:
    """Multinomial logistic regression by accelerated gradients (Nesterov), each piece with a step of its own.

    The step is the inverse of a bound of the curvature (Böhning 1992), so the loss falls without a search.
    """
    import numpy as np

    turned = held.T.tocsr()
    sums = np.asarray(held.sum(axis=1)).ravel()
    bound = (0.5 * (turned @ sums) + 1 / REACH)[:, None].astype(np.float32)
    rows = np.arange(len(right))
    weights = ahead = np.zeros((held.shape[1], count), np.float32)
    speed = 1.0
    for _ in range(ROUNDS):
        odds = held @ ahead
        odds -= odds.max(axis=1, keepdims=True)
        np.exp(odds, out=odds)
        odds /= odds.sum(axis=1, keepdims=True)
        odds[rows, right] -= 1
        after = ahead - (turned @ odds + ahead / np.float32(REACH)) / bound
        faster = (1 + (1 + 4 * speed * speed) ** 0.5) / 2
        ahead = after + np.float32((speed - 1) / faster) * (after - weights)
        weights, speed = after, faster
    return weights


def _rounded(weights: Floats) -> tuple[float, NDArray[np.int8]]:
    """What the greatest step stands for, and the greatest weights in steps that grow with their square, others as 0."""
    import numpy as np

    sizes = np.abs(weights)
    kept = min(KEPT, sizes.size)
    least = np.partition(sizes, sizes.size - kept, axis=None)[sizes.size - kept]
    sizes[sizes < least] = 0
    scale = float(np.quantile(sizes[sizes > 0], 0.998)) if sizes.any() else 1.0
    steps = np.minimum(np.round(np.sqrt(sizes / scale) * LEVELS), LEVELS)
    return scale, (np.sign(weights) * steps).astype(np.int8)


def _line(column: Iterable[int]) -> str:
    """A page's weights as letters: `A` to `G` above 0, `a` to `g` below; before each how many are 0.

    >>> _line([0, 0, 3, -1, 0])
    '2Ca'
    """
    letters, empty = [], 0
    for weight in map(int, column):
        if not weight:
            empty += 1
            continue
        letters.append(_gap(empty) + chr((64 if weight > 0 else 96) + abs(weight)))
        empty = 0
    return "".join(letters)


def _gap(count: int) -> str:
    return str(count) if count else ""
