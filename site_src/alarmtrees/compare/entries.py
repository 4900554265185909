"""What differs between two versions of a file of entries: each place with what stood there and what stands there now.

Mappings are put side by side by their keys, items of a list as `rows` says.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from ..model import Map, Seq, Spot
from .change import flat
from .rows import moved, paired

NAMING = ("id", "page", "say", "ask", "title", "name", "when", "on", "by")
"""Keys that name an item of a list, the surest first."""

_SHORT = 6
_NAME = 60


@dataclass(frozen=True, slots=True)
class Edit:
    """One place of a file that says something else.

    Attributes:
        path: the keys that lead there, an item of a list by its name.
        key: the last key of a mapping on that path.
        before: what stood there, None where nothing did.
        after: what stands there, None where nothing does.
        spot: the place; in the version before where nothing stands there now.
    """

    path: tuple[str, ...]
    key: str
    before: str | None
    after: str | None
    spot: Spot

    @property
    def gone(self) -> bool:
        """Whether the place is one in the version before."""
        return self.after is None

    @property
    def how(self) -> str:
        """What became of the place: it is gone, new, or changed."""
        return "is gone" if self.after is None else "is new" if self.before is None else "changed"


def edits(old: Map, new: Map, but: frozenset[str] = frozenset()) -> Iterator[Edit]:
    """All that differs between two mappings; nothing where they are equal, and something where they are not.

    Args:
        old: the version before.
        new: the version now.
        but: keys at the top that are left out.
    """
    for key in (*old, *(k for k in new if k not in old)):
        if key not in but:
            spots = old.value_at.get(key, old.at), new.value_at.get(key, new.at)
            yield from _edits((key,), key, old.get(key), new.get(key), spots)


def _edits(path: tuple[str, ...], key: str, a: Any, b: Any, spots: tuple[Spot, Spot]) -> Iterator[Edit]:
    if a == b:
        return
    if isinstance(a, Map) and isinstance(b, Map):
        for name in (*a, *(k for k in b if k not in a)):
            inner = a.value_at.get(name, a.at), b.value_at.get(name, b.at)
            yield from _edits((*path, name), name, a.get(name), b.get(name), inner)
    elif isinstance(a, Seq) and isinstance(b, Seq) and any(isinstance(item, Map) for item in (*a, *b)):
        yield from _items(path, key, a, b, spots)
    elif isinstance(a, Seq) and isinstance(b, Seq) and max(len(a), len(b)) > _SHORT and set(a) != set(b):
        lost, come = [item for item in a if item not in set(b)], [item for item in b if item not in set(a)]
        yield Edit(path, key, flat(lost) or None, flat(come) or "", spots[1])
    else:
        yield Edit(path, key, told(a), told(b), spots[0] if b is None else spots[1])


def told(value: Any) -> str | None:
    """An entry in words: its own, or each of its keys with what stands there on a line of its own."""
    if isinstance(value, Map):
        return "\n".join(f"{key}: {flat(entry)}" for key, entry in value.items())
    return flat(value)


def _items(path: tuple[str, ...], key: str, a: Seq, b: Seq, spots: tuple[Spot, Spot]) -> Iterator[Edit]:
    rows = [[(flat(item) or "") for item in row] for row in (a, b)]
    pairs, gone, new = paired(rows[0], rows[1], ([_name(item) for item in a], [_name(item) for item in b]))
    for i, j in pairs:
        yield from _edits((*path, _name(b[j])), key, a[i], b[j], (a.item_at[i], b.item_at[j]))
    for i in gone:
        yield Edit((*path, _name(a[i])), key, told(a[i]), None, a.item_at[i])
    for j in new:
        yield Edit((*path, _name(b[j])), key, None, told(b[j]), b.item_at[j])
    if moved(pairs):
        before, now = (a[i] for i, _ in sorted(pairs)), (b[j] for _, j in pairs)
        yield Edit(path, key, "\n".join(map(_name, before)), "\n".join(map(_name, now)), spots[1])


def _name(item: Any) -> str:
    if isinstance(item, Map):
        item = next((item[key] for key in NAMING if isinstance(item.get(key), str)), flat(item))
    text = " ".join((flat(item) or "").split())
    return text if len(text) <= _NAME else text[: _NAME - 1] + "…"
