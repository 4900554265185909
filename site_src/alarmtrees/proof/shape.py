"""A tree without its words: what decides where its ways lead, and how the tree is called.

What is worked out on shapes alone cannot depend on a word, so it need not be worked out anew where only words change.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from ..model import Answer, Node, Tree
from ..model.finding import Place
from ..model.source import Map

_NOWHERE = Place("", 1, 1)
_NOTHING = Map((1, 1))


def shape_of(tree: Tree) -> Tree:
    """The tree with its steps, answers, causes, marks and times, but without what they say.

    Answers keep their words, for these tell one from another.
    """
    return replace(
        tree,
        summary="",
        causes={key: replace(cause, say="", place=_NOWHERE) for key, cause in tree.causes.items()},
        anytime=tuple(map(_answer, tree.anytime)),
        nodes={key: _node(node) for key, node in tree.nodes.items()},
        cautions=(),
        related=(),
        sources=(),
        review=None,
        raw=_NOTHING,
        pictures={},
    )


def shapes_of(trees: Mapping[str, Tree]) -> dict[str, Tree]:
    """The shapes of some trees, in their order."""
    return {key: shape_of(tree) for key, tree in trees.items()}


def _node(node: Node) -> Node:
    return replace(
        node,
        lines=("",) * len(node.lines),
        answers=tuple(map(_answer, node.answers)),
        why=None,
        meanwhile=None,
        cautions=(),
        sources=(),
        picture=None,
        raw=_NOTHING,
        place=_NOWHERE,
    )


def _answer(answer: Answer) -> Answer:
    return replace(answer, raw=_NOTHING, place=_NOWHERE)
