"""Random small trees without loops, and a slow walk over all their ways.

The trees are plain dicts in the shape of a tree's YAML. The walk reads these dicts and nothing of the
package, so that it can stand as an independent reference.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from hypothesis import strategies as st

from alarmtrees.model import Tree
from alarmtrees.reading.load import parse
from alarmtrees.reading.trees import build_tree

Doc = dict[str, Any]
Key = tuple[str, str]
Place = tuple[Key, str | None]
"""A step, or an answer given there."""

MARKS = ("a", "b", "c")
DERIVED = ("call", "resolved", "pump-starts", "pump-stops")


@dataclass(frozen=True)
class Event:
    """What happens on a way at one moment: a step's marks together, or those of its answer."""

    place: Place
    marks: frozenset[str]
    step: int
    """Which step of the way, from 0."""


@dataclass(frozen=True)
class Way:
    """A way from a root to where no move leads on. `open`: it leaves for a tree that is not there."""

    steps: tuple[Place, ...]
    events: tuple[Event, ...]
    open: bool


def tree_of(doc: Doc) -> Tree:
    """The package's tree of a dict. JSON is YAML; what the loader says of its looks does not matter here."""
    return build_tree(parse(json.dumps(doc), f"trees/{doc['id']}.yml", doc["id"], "tree"))


def marks_of(node: Doc) -> frozenset[str]:
    """Written and derived marks of a step, as DEVELOPERS.md tells of them."""
    marks = set(node.get("marks", ()))
    if "pump" in node:
        marks.add(f"pump-{node['pump']}")
    if "call" in node:
        marks.add("call")
    if node.get("end") == "resolved":
        marks.add("resolved")
    return frozenset(marks)


def moves(docs: dict[str, Doc], key: Key) -> list[tuple[Doc | None, Key]]:
    """All moves from a step: by itself, by its own answers, by those at any time, into another tree."""
    doc, node = docs[key[0]], docs[key[0]]["nodes"][key[1]]
    if "end" in node:
        target = entered(docs, node)
        return [(None, target)] if target else []
    found: list[tuple[Doc | None, Key]] = [(None, (key[0], node["then"]))] if "then" in node else []
    found += [(answer, (key[0], answer["to"])) for answer in node.get("answers", ())]
    found += [(a, (key[0], a["to"])) for a in doc.get("anytime", ()) if a["to"] != key[1]]
    return found


def entered(docs: dict[str, Doc], node: Doc) -> Key | None:
    """The step of another tree that a `go` leads to; None where that tree is not there."""
    tree_id, _, node_id = node.get("go", "").partition("/")
    return (tree_id, node_id or docs[tree_id]["start"]) if tree_id in docs else None


def roots(docs: dict[str, Doc], tree_id: str) -> list[Key]:
    """Where ways enter a tree: its start, and where others `go` to."""
    targets = [entered(docs, node) for doc in docs.values() for node in doc["nodes"].values()]
    return list(dict.fromkeys([(tree_id, docs[tree_id]["start"]), *(t for t in targets if t and t[0] == tree_id)]))


def ways(docs: dict[str, Doc], root: Key) -> Iterator[Way]:
    """Every way from a step, one after the other."""

    def onward(key: Key, steps: tuple[Place, ...], events: tuple[Event, ...]) -> Iterator[Way]:
        node = docs[key[0]]["nodes"][key[1]]
        events += (Event((key, None), marks_of(node), len(steps)),)
        found = moves(docs, key)
        if not found:
            yield Way((*steps, (key, None)), events, "go" in node)
        for answer, to in found:
            say = answer["say"] if answer else None
            given = (Event((key, say), frozenset(answer.get("marks", ())), len(steps)),) if answer else ()
            yield from onward(to, (*steps, (key, say)), events + given)

    return onward(root, (), ())


@st.composite
def tangles(draw: st.DrawFn, trees: int, most: int) -> dict[str, Doc]:
    """Some trees whose steps lead anywhere: forwards, backwards, to themselves, into each other."""
    sizes = {f"t{i}": draw(st.integers(1, most)) for i in range(trees)}
    made = {}
    for name, size in sizes.items():
        made[name] = _doc(draw, name, {name: size}, 0)
        for node in made[name]["nodes"].values():
            _tangle(draw, node, name, sizes)
    return made


def _tangle(draw: st.DrawFn, node: Doc, tree: str, sizes: dict[str, int]) -> None:
    anywhere = st.integers(0, sizes[tree] - 1).map("n{}".format)
    for answer in node.get("answers", ()):
        answer["to"] = draw(anywhere)
    if "then" in node:
        node["then"] = draw(anywhere)
    if node.get("end") == "go":
        other = draw(st.sampled_from(list(sizes)))
        node["go"] = f"{other}/n{draw(st.integers(0, sizes[other] - 1))}"


def told(steps: tuple[Place, ...], home: str) -> tuple[tuple[str, str | None], ...]:
    """A way as findings tell it: steps of other trees are named tree/step."""
    return tuple((key[1] if key[0] == home else "/".join(key), say) for key, say in steps)


@st.composite
def docs(draw: st.DrawFn, trees: int, most: int, causes: int = 0) -> dict[str, Doc]:
    """Some trees of at most `most` steps; each hands over only to trees behind it, so no way has a loop.

    With `causes`, steps fix and answers name them.
    """
    made = {f"t{i}": draw(st.integers(2, most)) for i in range(trees)}
    return {name: _doc(draw, name, made, causes) for name in made}


def _doc(draw: st.DrawFn, name: str, sizes: dict[str, int], causes: int) -> Doc:
    size = sizes[name]
    names = [f"n{i}" for i in range(size)]
    nodes = {node: _node(draw, name, i, sizes, causes) for i, node in enumerate(names)}
    ends = [node for node in names if "end" in nodes[node]]
    anytime = [
        {"say": f"any {i}", "to": draw(st.sampled_from(ends)), **_some_marks(draw), **_seen(draw)}
        for i in range(draw(st.integers(0, 2)))
    ]
    order = draw(st.permutations(names))  # the order in the file must not matter
    return {
        "id": name,
        "title": name,
        "summary": name,
        "about": draw(st.sampled_from(["gas", "power"])),
        "aliases": [],
        "condition": "technical",
        "harm": {"severity": "minor", "onset": "prompt"},
        "pump": draw(st.sampled_from(["running", "stopped"])),
        "causes": {f"c{i}": {"say": f"c{i}"} for i in range(causes)},
        "anytime": anytime,
        "start": "n0",
        "nodes": {node: nodes[node] for node in order},
    }


def _node(draw: st.DrawFn, tree: str, i: int, sizes: dict[str, int], causes: int) -> Doc:
    size = sizes[tree]
    node: Doc = {**_some_marks(draw), "takes": f"{draw(st.integers(1, 40))} s"}
    kinds = ["ask", "ask", "ask", "do", "do", "end"] if causes else ["ask", "ask", "do", "end"]
    kind = "end" if i == size - 1 else draw(st.sampled_from(kinds))
    # The next step often: ways with several questions tell more.
    later = st.one_of(st.just(i + 1), st.integers(i + 1, size - 1)).map("n{}".format)
    if kind == "ask":
        node["ask"] = "?"
        node["answers"] = [
            {"say": f"{i}.{j}", "to": draw(later), **_some_marks(draw), **_seen(draw), **_when(draw, causes)}
            for j in range(draw(st.integers(1, 3)))
        ]
    elif kind == "do":
        node |= {"do": ["x"], **_fixes(draw, causes)}
        if draw(st.integers(0, 9)):  # one in ten leads nowhere
            node["then"] = draw(later)
        if act := draw(st.sampled_from([None, "starts", "stops"])):
            node["pump"] = act
        if draw(st.integers(0, 3)) == 0:
            node["call"] = "who"
    else:
        node |= _end(draw, tree, sizes, causes)
    return node


def _end(draw: st.DrawFn, tree: str, sizes: dict[str, int], causes: int) -> Doc:
    behind = [name for name in sizes if name > tree]
    targets = [t for name in behind for t in (name, *(f"{name}/n{k}" for k in range(sizes[name])))]
    how = draw(st.sampled_from(["resolved", "call", "go", "go"] if behind else ["resolved", "call", "go"]))
    if how == "go":
        return {"end": "go", "say": "x", "go": draw(st.sampled_from([*targets, "lost"]))}
    if how == "call":
        return {"end": "call", "say": "x", "call": "who", **_fixes(draw, causes)}
    return {"end": "resolved", "say": "x"}


def _some_marks(draw: st.DrawFn) -> Doc:
    marks = draw(st.sampled_from([(), (), *((m,) for m in MARKS), ("a", "b"), ("b", "c")]))
    return {"marks": list(marks)} if marks else {}


def _seen(draw: st.DrawFn) -> Doc:
    seen = draw(st.sampled_from([None, None, "moves", "still"]))
    return {"pump": seen} if seen else {}


def _fixes(draw: st.DrawFn, causes: int) -> Doc:
    """Few steps fix anything: else every cause would find its remedy, and nothing would be compared."""
    if not causes or draw(st.integers(0, 2)):
        return {}
    return {"fixes": [f"c{i}" for i in draw(st.sets(st.integers(0, causes - 1), min_size=1, max_size=2))]}


def _when(draw: st.DrawFn, causes: int) -> Doc:
    if not causes:
        return {}
    named = [f"c{i}" for i in range(causes) if draw(st.booleans())]
    options: list[Any] = [None, "fixed"]
    if named:
        options += [named, named, [*named, "fixed"]]
    when = draw(st.sampled_from(options))
    return {"when": when} if when else {}
