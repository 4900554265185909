"""Every value of a tree, changed one at a time in memory: another value, and where it stands."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from alarmtrees.model import Map, Source, Tree
from alarmtrees.reading.load import PROSE
from alarmtrees.reading.trees import build_tree

Path = tuple[str | int, ...]

TURNED = {
    "pump": {"starts": "stops", "stops": "starts", "moves": "still", "still": "moves", "running": "stopped"},
    "severity": {"irreversible": "minor", "reversible": "minor", "minor": "reversible"},
    "onset": {"immediate": "delayed", "prompt": "delayed", "delayed": "prompt"},
    "condition": {"technical": "physiological", "physiological": "technical"},
    "status": {"in-use": "draft", "draft": "in-use"},
    "about": {},
}
"""Values of which only some are allowed, each with another."""


@dataclass(frozen=True)
class Edit:
    """One value of a tree, and another in its place.

    `sort` is what the value is: the key that holds it, "answer" for what an answer says. `node` is the step in which
    it stands.
    """

    sort: str
    node: str | None
    path: Path
    value: Any

    def made(self, tree: Tree) -> Tree:
        """The tree with the edit."""
        raw = _with(tree.raw, self.path, self.value)
        return build_tree(Source(tree.file, "tree", tree.id, "", raw, ()))


GONE = object()
"""Instead of a value: the item or key goes."""


def _with(owner: Any, path: Path, value: Any) -> Any:
    made = copy.copy(owner)
    key = path[0]
    if len(path) > 1:
        made[key] = _with(owner[key], path[1:], value)
    elif value is GONE:
        del made[key]
        if isinstance(key, int):
            made.item_at = [*owner.item_at[:key], *owner.item_at[key + 1 :]]
    else:
        if key not in owner and isinstance(owner, Map):
            made.key_at, made.value_at = {**owner.key_at, key: owner.at}, {**owner.value_at, key: owner.at}
        made[key] = value
    return made


def edits_of(tree: Tree) -> Iterator[Edit]:
    """An edit for each value of a tree; how it is signed, and what it is called, apart."""
    ends = [name for name, node in tree.nodes.items() if node.kind == "end"]
    for path, value in _leaves(tree.raw, ()):
        if path[0] in ("id", "review") or path[-1] == "end":
            continue
        node = str(path[1]) if path[0] == "nodes" else None
        keys = [key for key in path if isinstance(key, str)]
        sort = "answer" if keys[-1] == "say" and isinstance(path[-2], int) else keys[-1]
        yield Edit(sort, node, path, _other(sort, path, value, ends))


def _leaves(owner: Any, path: Path) -> Iterator[tuple[Path, str]]:
    items = owner.items() if isinstance(owner, dict) else enumerate(owner)
    for key, value in items:
        if isinstance(value, str):
            yield (*path, key), value
        else:
            yield from _leaves(value, (*path, key))


def _other(sort: str, path: Path, value: str, ends: list[str]) -> Any:
    if sort in PROSE or sort == "answer":
        return f"{value} Anyway."
    if sort in ("to", "then", "start"):
        return next(end for end in (*ends, "") if end != value)
    if isinstance(path[-1], int):
        return GONE
    if sort == "share":
        return f"{int(value) + 7}"
    if sort == "takes":
        number, unit = value.split()
        return f"{int(number) + 7} {unit}"
    return TURNED.get(sort, {}).get(value, f"other-{value}")
