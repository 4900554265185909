"""Trees of the shipped library compared with an edit made in memory."""

from __future__ import annotations

from functools import cache

from alarmtrees.compare.alike import Vocabulary
from alarmtrees.compare.matching import Matching
from alarmtrees.compare.trees import Compared, compare_trees
from alarmtrees.model import Tree
from alarmtrees.proof.graph import Graph
from alarmtrees.proof.resting import Times
from small_library import shipped_library


@cache
def _words() -> Vocabulary:
    return Vocabulary.of(shipped_library())


@cache
def _entries() -> dict[str, frozenset[str]]:
    return {name: frozenset(nodes) for name, nodes in Graph(shipped_library().trees).entries.items()}


def compared(new: Tree) -> Compared:
    """A tree compared with the shipped one of its name, and with no other."""
    library = shipped_library()
    entered = _entries().get(new.id, frozenset())
    matching = Matching(library.trees[new.id], new, _words(), library.marks)
    return compare_trees(matching, (entered, entered), str.__eq__, Times.of(library.settings))
