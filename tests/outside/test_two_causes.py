"""Two causes at once, beside a reader who walks every way one by one.

What the states mean is laid down by this project's own design. The reader below reads plain dicts, follows one pair on
one way at a time, and shares nothing with the package's masks.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from hypothesis import HealthCheck, assume, example, given, settings
from random_trees import Doc, docs, tree_of

from alarmtrees.proof.graph import Graph
from alarmtrees.proof.pairs import Pairs
from alarmtrees.proof.simulate import Causes

States = dict[str, str]
"""For each of two causes "open", "done" (and not looked at), or "seen" to be gone."""


def _whens(answer: Doc) -> list[str] | None:
    when = answer.get("when")
    return [when] if isinstance(when, str) else when


def _given(node: Doc, answer: Doc, states: States) -> States | None:
    """The states once an answer has been given; None where it cannot be seen."""
    when = _whens(answer)
    if when and "fixed" in when:
        if any(state == "open" and cause not in when for cause, state in states.items()):
            return None
        if "done" not in states.values() and not set(when) & set(states):
            return None
        return {cause: "seen" if state == "done" else state for cause, state in states.items()}
    if when is not None and not set(when) & set(states):
        return None
    if not any("fixed" in (_whens(other) or ()) for other in node["answers"]):
        return states
    if "open" in states.values():
        return states
    if "done" in states.values():
        return {cause: "open" if state == "done" else state for cause, state in states.items()}
    return dict.fromkeys(states, "open")


def _walk(doc: Doc, pair: tuple[str, str]) -> Iterator[tuple[tuple[tuple[str, str | None], ...], str, States]]:
    """Every beginning of every way of the hurried reader under two causes: the steps before, the step, the states."""
    ahead: list[tuple[tuple[tuple[str, str | None], ...], str, States]] = [
        ((), doc["start"], dict.fromkeys(pair, "open"))
    ]
    while ahead:
        way, here, states = ahead.pop()
        yield way, here, states
        node = doc["nodes"][here]
        done = {cause: "done" if cause in node.get("fixes", ()) else state for cause, state in states.items()}
        if "then" in node:
            ahead.append(((*way, (here, None)), node["then"], done))
        for answer in node.get("answers", ()):
            if (after := _given(node, answer, done)) is not None:
                ahead.append(((*way, (here, answer["say"])), answer["to"], after))
        if "end" not in node:
            ahead += [((*way, (here, a["say"])), a["to"], done) for a in doc["anytime"] if a["to"] != here]


def _library(nodes: dict[str, Doc]) -> dict[str, Doc]:
    head = {"id": "t0", "title": "t0", "summary": "x", "about": "gas", "aliases": [], "condition": "technical"}
    rest = {"harm": {"severity": "minor", "onset": "prompt"}, "pump": "running", "anytime": [], "start": "n0"}
    return {"t0": head | rest | {"causes": {f"c{i}": {"say": f"c{i}"} for i in range(3)}, "nodes": nodes}}


def _first_helps() -> dict[str, Doc]:
    """The first remedy is not asked after, so that the second trouble is left."""
    return _library(
        {
            "n0": {
                "ask": "?",
                "answers": [
                    {"say": "0", "to": "n1", "when": ["c0"]},
                    {"say": "1", "to": "n2", "when": ["c1", "c2"]},
                ],
            },
            "n1": {"do": ["x"], "fixes": ["c0"], "then": "n3"},
            "n2": {"do": ["x"], "fixes": ["c1", "c2"], "then": "n4"},
            "n3": {"end": "resolved", "say": "x"},
            "n4": {"ask": "?", "answers": [{"say": "2", "to": "n3", "when": "fixed"}, {"say": "3", "to": "n5"}]},
            "n5": {"end": "call", "say": "x", "call": "who"},
        }
    )


@settings(
    max_examples=500,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large],
)
@example(_first_helps())
@given(docs(trees=1, most=8, causes=3))
def test_what_is_left_of_two(library: dict[str, Doc]) -> None:
    doc = library["t0"]
    graph = Graph({"t0": tree_of(doc)})
    assume(graph.ways(("t0", doc["start"])) <= 2000)
    pairs = Pairs(graph.trees["t0"], Causes(graph.trees["t0"], graph))
    found: dict[str, dict[tuple[str, str], list[tuple[tuple[str, str | None], ...]]]] = {}
    for pair in combinations(doc["causes"], 2):
        for way, here, states in _walk(doc, pair):
            if doc["nodes"][here].get("end") == "resolved" and "open" in states.values():
                found.setdefault(here, {}).setdefault(pair, []).append((*way, (here, None)))
    told = pairs.left_at_end(doc["start"])
    assert {end: set(pairs.names(mask)) for end, mask in told.items()} == {
        end: set(ways) for end, ways in found.items()
    }
    for end, ways in found.items():
        for pair, all_ways in ways.items():
            way = tuple((step.node, step.answer) for step in pairs.witness(doc["start"], end, pair))
            assert way in all_ways and len(way) == min(map(len, all_ways))


def test_the_first_remedy_is_not_all() -> None:
    """By hand: of the first cause together with another, the other is left."""
    tree = tree_of(_first_helps()["t0"])
    pairs = Pairs(tree, Causes(tree, Graph({"t0": tree})))
    told = pairs.left_at_end("n0")
    assert pairs.names(told["n3"]) == [("c0", "c1"), ("c0", "c2")]


def test_what_a_hand_over_leaves_behind() -> None:
    """By hand: the page that is entered is the remedy for the first cause, and whatever comes with it is left."""
    doc = _first_helps()
    doc["t0"]["nodes"]["n3"] = {"end": "go", "go": "t1", "say": "x", "fixes": ["c1"]}
    tree = tree_of(doc["t0"])
    pairs = Pairs(tree, Causes(tree, Graph({"t0": tree})))
    told = pairs.left_at_end("n0", "go")
    # c0 with c1: both are mended on the way by n1; c1 and c2 are mended together by n2.
    assert pairs.names(told["n3"]) == [("c0", "c2")]
