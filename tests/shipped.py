"""Trees of the shipped library compared with an edit made in memory."""

from __future__ import annotations

from functools import cache

from alarmtrees.compare.alike import Vocabulary
from alarmtrees.compare.matching import Matching
from alarmtrees.compare.trees import Compared, compare_trees
from alarmtrees.model import Tree
from alarmtrees.proof.graph import Graph
from alarmtrees.proof.resting import Times
from alarmtrees.reading.load import parse
from alarmtrees.reading.trees import build_tree
from small_library import REPOSITORY, shipped_library


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


def edited(name: str, *changes: tuple[str, str]) -> Tree:
    """A shipped tree with texts of its file replaced, each of which stands there."""
    file = shipped_library().trees[name].file
    text = (REPOSITORY / file).read_text("utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return build_tree(parse(text, file, name, "tree"))
