"""Every value of every shipped tree, changed one by one: `compare` names each, with its tree, step and part.

One tree is compared each time, as it lies in memory. One edit in sixty-four is tried, `EVERY=1` tries all.
"""

from __future__ import annotations

import os
from collections import Counter
from zlib import crc32

import pytest

from alarmtrees.compare.change import Change
from alarmtrees.model import Tree
from shipped import compared
from small_library import shipped_library
from tree_edits import Edit, edits_of

ONE_IN = 1 if os.environ.get("EVERY") else 64

ALL = [(tree, edit) for tree in shipped_library().trees.values() for edit in edits_of(tree)]


def _counted() -> dict[str, int]:
    """How many texts of each sort the library has, counted from its trees and not from their files."""
    trees = shipped_library().trees.values()
    nodes = [node for tree in trees for node in tree.nodes.values()]
    return {
        "title": len(trees),
        "summary": len(trees),
        "aliases": sum(len(tree.aliases) for tree in trees),
        "ask": sum(node.kind == "ask" for node in nodes),
        "do": sum(len(node.lines) for node in nodes if node.kind == "do"),
        "say": sum(node.kind == "end" for node in nodes) + sum(len(tree.causes) for tree in trees),
        "answer": sum(len(node.answers) for node in nodes) + sum(len(tree.anytime) for tree in trees),
        "why": sum(node.why is not None for node in nodes),
        "meanwhile": sum(node.meanwhile is not None for node in nodes),
        "takes": sum(node.takes is not None for node in nodes),
        "call": sum(node.call is not None for node in nodes),
        "go": sum(node.go is not None for node in nodes),
        "then": sum(node.then is not None for node in nodes),
        "cautions": sum(len(node.cautions) for node in nodes) + sum(len(tree.cautions) for tree in trees),
        "fixes": sum(len(node.fixes) for node in nodes),
        "start": len(trees),
    }


def test_there_is_an_edit_for_each_text() -> None:
    edits = Counter(edit.sort for _, edit in ALL)
    assert {sort: edits[sort] for sort in _counted()} == _counted()


@pytest.mark.parametrize("sort", sorted({edit.sort for _, edit in ALL}))
def test_each_edit_is_named(sort: str) -> None:
    of_sort = [(tree, edit) for tree, edit in ALL if edit.sort == sort]
    tried = of_sort[crc32(sort.encode()) % min(ONE_IN, len(of_sort)) :: ONE_IN]
    missed = [(tree.id, edit) for tree, edit in tried if not _is_named(tree, edit)]
    print(f"{sort}: {len(tried) - len(missed)} of {len(tried)} edits are named; the library has {len(of_sort)}")
    assert not missed


def _is_named(tree: Tree, edit: Edit) -> bool:
    changes = compared(edit.made(tree)).changes
    headlines = [change for change in changes if change.follows is None]
    return any(_names(change, tree, edit) for change in headlines) and not any(
        change.kind == "unexplained" for change in changes
    )


def _names(change: Change, tree: Tree, edit: Edit) -> bool:
    return change.tree == tree.id and change.node == edit.node and change.part is not None
