"""Plays the stories of `kb/stories/`: which steps a reader meets there, when, and where that ends."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ..model import Answer, Node, Setting
from ..model.finding import Place, Step
from ..model.story import Demand, Given, Story
from ..model.wording import fill, folded, lasting
from .graph import Edge, Graph, Key, named
from .resting import Times

MOST_STEPS = 500
"""A story through trees that loop ends here."""


@dataclass(frozen=True, slots=True)
class Moment:
    """A step that a story meets.

    Attributes:
        key: the step.
        answer: the answer given there, None at a step to do and at the last.
        begins: the seconds since the page was opened.
        ends: when the step is done or the answer given, in seconds.
    """

    key: Key
    answer: Answer | None
    begins: float
    ends: float


@dataclass(frozen=True, slots=True)
class Fault:
    """Where a story does not come out as told: the place in its file, and what is wrong."""

    place: Place
    message: str


@dataclass(frozen=True, slots=True)
class Played:
    """A story, played.

    Attributes:
        story: the story.
        moments: the steps met, in order.
        end: the kind of end that was reached ("resolved", "call", "page"), None where it came to none.
        whom: the role called, or the tree that goes on, at that end.
        faults: all that is not as told.
    """

    story: Story
    moments: tuple[Moment, ...]
    end: str | None
    whom: str | None
    faults: tuple[Fault, ...]

    def way(self, home: str) -> tuple[Step, ...]:
        """The steps as a finding about the tree `home` tells them."""
        return tuple(Step(named(one.key, home), one.answer.say if one.answer else None) for one in self.moments)


class Stage:
    """Where stories are played: the trees, and what the hospital has set.

    Args:
        graph: the trees.
        settings: the local values, that stand in texts and count as times.
    """

    def __init__(self, graph: Graph, settings: Mapping[str, Setting]) -> None:
        self.graph = graph
        self.settings = settings
        self.times = Times.of(settings)

    def play(self, story: Story) -> Played | None:
        """Play a story; None where the page that it opens is not there. O(answers x answers offered + steps)."""
        here = self.graph.entry(story.opens)
        if here is None:
            return None
        moments: list[Moment] = []
        left = list(story.answers)
        seconds = 0.0
        fault: Fault | None = None
        end: tuple[str | None, str | None] = (None, None)
        while len(moments) < MOST_STEPS:
            node = self.graph.nodes[here]
            edge: Edge | None = None
            if node.kind == "ask" or (node.kind == "do" and not node.then):
                if left:
                    edge = self._given(here, left[0])
                    fault = None if edge else Fault(left[0].place, self._no_answer(here, left[0]))
                else:
                    fault = Fault(story.at("answers"), f"`{_name(here)}` needs an answer: {self._offered(here)}")
                left = left[1:]
            else:
                edge = next((one for one in self.graph.edges[here] if one.answer is None), None)
            until = seconds + self.times.takes(node)
            moments.append(Moment(here, edge.answer if edge else None, seconds, until))
            if node.end == "go" and story.end == "page" and not left:
                end = ("page", (node.go or "").partition("/")[0])
                break
            if edge is None:
                end = (None, None) if fault else _end_of(node)
                break
            seconds, here = until, edge.to
        if fault is None and left:
            fault = Fault(left[0].place, f"the way has ended at `{_name(moments[-1].key)}`; this answer is left over")
        faults = tuple([fault] if fault else self._otherwise(story, *end))
        return Played(story, tuple(moments), *end, (*faults, *self._missed(story, moments, fault is not None)))

    def _given(self, here: Key, given: Given) -> Edge | None:
        wanted = folded(fill(given.say, self.settings))
        for edge in self.graph.edges[here]:
            answer = edge.answer
            if answer and answer.anytime == given.anytime and folded(fill(answer.say, self.settings)) == wanted:
                return edge
        return None

    def _no_answer(self, here: Key, given: Given) -> str:
        kind = "answer offered at any time" if given.anytime else "answer"
        return f"`{_name(here)}` has no {kind} “{given.say}”; it offers {self._offered(here)}"

    def _offered(self, here: Key) -> str:
        answers = (edge.answer for edge in self.graph.edges[here] if edge.answer)
        return ", ".join(f"{'anytime ' * one.anytime}“{fill(one.say, self.settings)}”" for one in answers)

    @staticmethod
    def _otherwise(story: Story, end: str | None, whom: str | None) -> Iterator[Fault]:
        if (end, whom) != (story.end, story.whom):
            told = _end_told(story.end, story.whom)
            yield Fault(story.at("end"), f"it ends with {_end_told(end, whom)}, and was to end with {told}")

    def _missed(self, story: Story, moments: list[Moment], cut: bool) -> Iterator[Fault]:
        """What must be told and is not, or too late; what must never be told and is. A way cut off lacks nothing."""
        for demand in story.must:
            first = min(self._when(demand, moments), default=None)
            asked = f"`{demand.mark}`" if demand.mark else f"a call to `{demand.call}`"
            if first is None and not cut:
                yield Fault(demand.place, f"{asked} does not come on this way, and must")
            elif first is not None and demand.by is not None and first > demand.by:
                late = f"comes after {lasting(first)}, and must within {lasting(demand.by)}"
                yield Fault(demand.place, f"{asked} {late}")
        for index, mark in enumerate(story.never):
            for one in moments:
                if mark in self.graph.nodes[one.key].marks or (one.answer and mark in one.answer.marks):
                    yield Fault(story.never_at(index), f"`{mark}` comes at `{_name(one.key)}`, and never may")
                    break

    def _when(self, demand: Demand, moments: list[Moment]) -> Iterator[float]:
        """The times at which what is demanded is told: a step as it begins, an answer when it is given."""
        for one in moments:
            node = self.graph.nodes[one.key]
            if demand.call is not None:
                if node.call == demand.call:
                    yield one.begins
            elif demand.mark in node.marks:
                yield one.begins
            elif one.answer and demand.mark in one.answer.marks:
                yield one.ends


def _end_of(node: Node) -> tuple[str | None, str | None]:
    if node.end == "go":
        return "page", (node.go or "").partition("/")[0]
    return node.end, node.call


def _end_told(end: str | None, whom: str | None) -> str:
    if end == "resolved":
        return "the alarm answered"
    if end is None:
        return "no end"
    return f"a call to `{whom}`" if end == "call" else f"the page `{whom}`"


def _name(key: Key) -> str:
    return "/".join(key)
