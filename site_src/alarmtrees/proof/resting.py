"""How long the balloon rests on the ways through a tree, at the longest.

A rest begins with the alarm that stopped the pump (then the time before the page counts too), with a
step that stops it (from the step's beginning), or with the question at whose answer it is seen still.
It ends when the balloon is seen to move, when somebody is called, or with the end `resolved`. A
restart that nobody looked at ends nothing. While it lasts, asking and doing count in full.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ..model import Node, Setting, Tree
from ..model.finding import Step
from ..model.wording import seconds
from .graph import Edge, Graph, Key, named

COUNTED = ("resting_warning", "call_by", "before_page", "ask_takes", "do_takes")
"""Settings that are times, and that rests are counted with or compared to."""

RUNS, RESTS, CALLED = 0, 1, 2
"""States of the balloon on a way: it moves; it rests; it rests, and somebody has been called."""


@dataclass(frozen=True, slots=True)
class Times:
    """The hospital's times in seconds: before the page is read, for a question, for a line to do."""

    before_page: float
    ask: float
    do: float

    @classmethod
    def of(cls, settings: Mapping[str, Setting] | None) -> Times:
        """The times of the settings; 0 where one is not set, or there are no settings."""
        names = ("before_page", "ask_takes", "do_takes")
        return cls(*(setting_seconds(settings, name) or 0.0 for name in names))

    def takes(self, node: Node) -> float:
        """The longest a calm reader needs for a step, in seconds; an end takes only what it says."""
        if node.takes is not None:
            return node.takes
        if node.kind == "ask":
            return self.ask
        return self.do * len(node.lines) if node.kind == "do" else 0.0


def setting_seconds(settings: Mapping[str, Setting] | None, name: str) -> float | None:
    """A setting that is a time, in seconds; None where it is not set or is no time."""
    setting = (settings or {}).get(name)
    if setting is None or setting.value is None or setting.unit not in ("s", "min", "h"):
        return None
    try:
        return seconds(f"{setting.value} {setting.unit}")
    except ValueError:
        return None


@dataclass(frozen=True, slots=True)
class Rest:
    """A rest: its length in seconds, the way on which it happens, and the steps while it lasts."""

    seconds: float
    way: tuple[Step, ...]
    during: tuple[tuple[Key, float], ...]


def step_state(node: Node, state: int, rested: float, takes: float, call_ends: bool = True) -> tuple[int, float]:
    """The balloon's state and the length of its rest once a step has been done or asked."""
    if state == RUNS and node.pump == "stops":
        state, rested = RESTS, 0.0
    if state == RESTS:
        rested += takes
        if node.end == "resolved":
            return RUNS, rested
        if node.call and call_ends:
            return CALLED, rested
    return state, rested


def answer_state(edge: Edge, state: int, rested: float, takes: float) -> tuple[int, float]:
    """The balloon's state and the length of its rest once an answer has been given."""
    seen = edge.answer.pump if edge.answer else None
    if seen == "moves":
        return RUNS, 0.0
    if seen == "still" and state == RUNS:
        return RESTS, takes
    return state, rested


class Resting:
    """The longest rests from every step of a graph without loops, in one pass backwards.

    Args:
        graph: the trees.
        times: the hospital's times.
        call_ends: whether a call ends a rest; without it the time until the balloon moves is counted.
        near: the same on a graph that differs in few trees: what lies ahead alike is taken from there.
    """

    def __init__(self, graph: Graph, times: Times, call_ends: bool = True, near: Resting | None = None) -> None:
        self.graph = graph
        self.times = times
        self.call_ends = call_ends
        # For a step as arrived at, by state: how much longer the present rest can last.
        self._more: dict[Key, float] = {}
        # And how long the longest rest can be that begins there or later in the same tree.
        self._begun: dict[Key, tuple[float, ...]] = {}
        same = {name for name, tree in graph.trees.items() if near and near.graph.trees.get(name) is tree}
        other: set[Key] = set()
        for key in graph.backwards:
            if near and key[0] in same and other.isdisjoint(edge.to for edge in graph.edges[key]):
                self._more[key], self._begun[key] = near._more[key], near._begun[key]
                continue
            lasts = [self._step(key, state) for state in (RUNS, RESTS, CALLED)]
            self._more[key], self._begun[key] = lasts[RESTS][0], tuple(begun for _, begun in lasts)
            if near and (self._more[key], self._begun[key]) != (near._more.get(key), near._begun.get(key)):
                other.add(key)

    def _step(self, key: Key, state: int) -> tuple[float, float]:
        """How much longer the present rest lasts, and the longest that begins here or later."""
        node = self.graph.nodes[key]
        takes = self.times.takes(node)
        after, rested = step_state(node, state, 0.0, takes, self.call_ends)
        fresh = state == RUNS and node.pump == "stops"
        present, begun = rested, 0.0
        for edge in self.graph.edges[key]:
            to_state, to_rested = answer_state(edge, after, rested, takes)
            if to_state == RESTS:
                length = to_rested + self._more[edge.to]
                if after == RESTS:
                    present = max(present, length)
                else:
                    begun = max(begun, length)
            if edge.to[0] == key[0]:  # rests that begin in an entered tree belong to that tree
                begun = max(begun, self._begun[edge.to][to_state])
        return (0.0, max(begun, present)) if fresh or state != RESTS else (present, begun)

    def longest(self, tree: Tree) -> float:
        """The longest rest on any way that begins in the tree and in it, in seconds."""
        start = (tree.id, tree.start)
        if tree.pump != "stopped":
            return self._begun[start][RUNS]
        return max(self.times.before_page + self._more[start], self._begun[start][RESTS])

    def witness(self, tree: Tree) -> Rest:
        """A way with the longest rest; where two are as long, the answer shown first is taken."""
        start = (tree.id, tree.start)
        target = self.longest(tree)
        stopped = tree.pump == "stopped"
        state, rested = (RESTS, self.times.before_page) if stopped else (RUNS, 0.0)
        steps: list[Step] = []
        during: list[tuple[Key, float]] = []
        key: Key | None = start
        while key is not None:
            node = self.graph.nodes[key]
            takes = self.times.takes(node)
            was = state
            state, rested = step_state(node, state, rested, takes, self.call_ends)
            if was == RESTS or state == RESTS:
                during = during if was == RESTS else []
                during.append((key, rested))
            edge = None
            if not (rested >= target and state in (RESTS, CALLED) and was != CALLED):
                edge = self._on_the_way(key, state, rested, takes, target)
            steps.append(Step(named(key, tree.id), edge.answer.say if edge and edge.answer else None))
            if edge:
                before = state
                state, rested = answer_state(edge, state, rested, takes)
                if state == RESTS and before == RUNS:
                    during = [(key, rested)]
            key = edge.to if edge else None
        return Rest(target, tuple(steps), tuple(during))

    def _on_the_way(self, key: Key, state: int, rested: float, takes: float, target: float) -> Edge | None:
        """The move that leads to a rest of the target's length."""
        for edge in self.graph.edges[key]:
            to_state, to_rested = answer_state(edge, state, rested, takes)
            reaches = to_state == RESTS and to_rested + self._more[edge.to] >= target
            if reaches or (edge.to[0] == key[0] and self._begun[edge.to][to_state] >= target):
                return edge
        return None
