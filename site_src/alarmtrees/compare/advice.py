"""A whole tree as one text, for whoever has to answer for all of it at once."""

from __future__ import annotations

from collections.abc import Iterator

from ..model import Node, Tree
from ..model.stamp import content_stamp


def advice(tree: Tree) -> str:
    """What a tree tells to do, whom it calls and how it ends, a line each, and the stamp of all that it says.

    With the stamp, a fingerprint over this text ends where any word of the tree changes.
    """
    steps = [node for node in tree.nodes.values() if node.kind != "ask"]
    told = [line for node in sorted(steps, key=lambda node: node.kind) for line in _told(node)]
    return "\n".join([tree.title, *told, f"stamp: {content_stamp(tree)[:12]}"])


def _told(node: Node) -> Iterator[str]:
    called = f"calls {node.call}: " if node.call else ""
    if node.kind == "do":
        yield from (f"do: {called}{line}" if i == 0 else f"    {line}" for i, line in enumerate(node.lines))
    else:
        yield f"end: {called or f'goes to {node.go}: ' if node.call or node.go else ''}{node.text}"
        yield from [f"    until then: {node.meanwhile}"] if node.meanwhile else []


def described(node: Node | None, in_short: bool = False) -> str:
    """A step in words: what is asked or done, or how it ends; None is what stands behind the last step.

    With `in_short` only its first line.
    """
    if node is None:
        return "nothing further"
    text = f"“{node.lines[0] if in_short else node.text}{' …' if in_short and len(node.lines) > 1 else ''}”"
    if node.end == "call":
        return f"call to `{node.call}`, {text}"
    if node.end == "go":
        return f"on to `{node.go}`, {text}"
    return f"{node.end}, {text}" if node.end else text
