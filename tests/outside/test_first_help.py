"""The time to the first help, beside all ways of the careful reader walked one by one.

What counts as help (the step that removes the cause, a call, the end of the page) and how the careful reader answers is
laid down by this project's own design; the reader below reads plain dicts and shares nothing with the package.
"""

from __future__ import annotations

from collections.abc import Iterator

from hypothesis import HealthCheck, assume, given, settings
from random_trees import Doc, docs, tree_of

from alarmtrees.proof.economy import Remedies
from alarmtrees.proof.graph import Graph
from alarmtrees.proof.resting import Times
from alarmtrees.proof.simulate import Causes


def _when(answer: Doc) -> list[str] | None:
    when = answer.get("when")
    return [when] if isinstance(when, str) else when


def _ways(doc: Doc, cause: str) -> Iterator[tuple[float, tuple[tuple[str, str | None], ...]]]:
    """Every way of the careful reader to the first help, with the seconds until that step begins."""
    ahead: list[tuple[float, tuple[tuple[str, str | None], ...], str]] = [(0.0, (), doc["start"])]
    while ahead:
        seconds, way, here = ahead.pop()
        node = doc["nodes"][here]
        answers = node.get("answers", [])
        named = any(cause in (_when(answer) or ()) for answer in answers)
        given = [a for a in answers if (cause in (_when(a) or ()) if named else _when(a) is None)]
        onward = [(a["say"], a["to"]) for a in given] + ([(None, node["then"])] if "then" in node else [])
        if cause in node.get("fixes", ()) or "call" in node or not onward:
            yield seconds, (*way, (here, None))
            continue
        takes = float(node["takes"].split()[0])
        ahead += [(seconds + takes, (*way, (here, say)), to) for say, to in onward]


@settings(
    max_examples=400,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large],
)
@given(docs(trees=1, most=8, causes=2))
def test_the_longest_time_to_the_first_help(library: dict[str, Doc]) -> None:
    doc = library["t0"]
    tree = tree_of(doc)
    graph = Graph({"t0": tree})
    assume(graph.ways(("t0", doc["start"])) <= 2000)
    remedies = Remedies(tree, Causes(tree, graph), Times(0.0, 0.0, 0.0))
    for cause in doc["causes"]:
        ways = {way: seconds for seconds, way in _ways(doc, cause)}
        told = remedies.help_after(cause)
        assert told.seconds == max(ways.values())
        assert ways[tuple((step.node, step.answer) for step in told.way)] == told.seconds
