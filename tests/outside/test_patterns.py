"""The four safety patterns against a walk over all ways of random small trees.

The meaning of the patterns: Dwyer MB, Avrunin GS, Corbett JC, Property specification patterns for
finite-state verification (FMSP 1998; ICSE 1999). What they mean on trees (marks of a step together,
then its answer's; "before" and "after" strict; a breach that an entered tree shows alone is reported
there only) is laid down by this project's own design. The reference below decides each way by itself,
event after event, and shares nothing with the package's bits and backward pass.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from random_trees import DERIVED, MARKS, Doc, Event, Key, Place, Way, docs, entered, roots, told, tree_of, ways

from alarmtrees.model import Map, Pattern, SafetyRule
from alarmtrees.model.finding import Place as FilePlace
from alarmtrees.proof.graph import Graph
from alarmtrees.proof.patterns import Patterns

MOST_WAYS = 4000
Told = tuple[tuple[str, str | None], ...]
Spot = tuple[str, str | None, str | None]
"""Tree, step (None for an answer offered at any time), answer (None for the step itself)."""


@dataclass
class Found:
    """For each broken place the ways that show it, as findings tell them."""

    ways: dict[tuple[str, Spot], set[Told]] = field(default_factory=dict)
    late: dict[tuple[str, Spot], dict[Told, float]] = field(default_factory=dict)
    """Where what must follow comes too late: the ways that show it, and after how many seconds it comes."""

    def add(self, rule: str, place: Place, way: Told) -> None:
        self.ways.setdefault((rule, spot_of(place)), set()).add(way)

    def add_late(self, rule: str, place: Place, way: Told, seconds: float) -> None:
        ways = self.late.setdefault((rule, spot_of(place)), {})
        ways[way] = max(seconds, ways.get(way, 0.0))


def spot_of(place: Place) -> Spot:
    """Where a place stands in the source. An answer offered at any time stands there once for all steps."""
    (tree, node), say = place
    return tree, None if say and say.startswith("any") else node, say


# ------------------------------------------------------------------ the slow reference


def _has(event: Event, marks: frozenset[str]) -> bool:
    return bool(event.marks & marks)


def _is_then(event: Event, rule: SafetyRule) -> bool:
    """`then: any` is every step, but not an answer, without the `first` mark."""
    then, first = rule.slots["then"], rule.slots["first"]
    assert first is not None
    if then is None:
        return event.place[1] is None and not _has(event, first)
    return _has(event, then)


def _breaches_on(way: Way, rule: SafetyRule) -> Iterator[tuple[Event, bool]]:
    """The events of one way that break a rule; true where the whole way is needed to show it."""
    slots = {name: marks or frozenset() for name, marks in rule.slots.items()}
    if rule.pattern == "precedence":
        for event in way.events:
            if _is_then(event, rule):
                yield event, False
                return
            if _has(event, slots["first"]):
                return
    elif rule.pattern == "absence":
        active = "after" not in slots
        for event in way.events:
            if active and _has(event, slots["of"]):
                yield event, False
            if _has(event, slots.get("after", frozenset())):
                active = True
            elif _has(event, slots.get("until", frozenset())):
                active = False
    elif rule.pattern == "existence":
        if not way.open and not any(_has(event, slots["of"]) for event in way.events):
            yield way.events[-1], True
    else:
        for i, event in enumerate(way.events):
            answered = any(_has(later, slots["by"]) for later in way.events[i + 1 :])
            if not way.open and _has(event, slots["of"]) and not answered:
                yield event, True


def _too_late(library: dict[str, Doc], way: Way, rule: SafetyRule) -> Iterator[tuple[Event, Event, float]]:
    """The events of one way whose answer comes too late, with that answer, and after how long it comes.

    What asks is a step once it is done, or an answer given there; what answers is a step as it begins, or an answer,
    which is given when its question has been asked.
    """
    of, by = rule.slots.get("of") or frozenset(), rule.slots.get("by") or frozenset()
    takes = [float(library[key[0]]["nodes"][key[1]]["takes"].split()[0]) for key, _ in way.steps]
    for i, event in enumerate(way.events if rule.within is not None else ()):
        reply = next((later for later in way.events[i + 1 :] if _has(later, by)), None)
        if reply is None or not _has(event, of):
            continue
        until = reply.step + (reply.place[1] is not None)
        seconds = sum(takes[event.step + 1 : until])
        if seconds > (rule.within or 0.0):
            yield event, reply, seconds


def _told_until(way: Way, event: Event, whole: bool, home: str) -> Told:
    if whole:
        return told(way.steps, home)
    return told((*way.steps[: event.step], event.place), home)


def _applies(rule: SafetyRule, doc: Doc) -> bool:
    return not rule.only or doc["id"] in rule.only or doc["about"] in rule.only


def _starts(library: dict[str, Doc], tree: str, rule: SafetyRule) -> list[Key]:
    """Where a rule's ways begin: what must not come, or must follow, is judged from entries on as well."""
    found = roots(library, tree)
    return found if rule.pattern in ("absence", "response") else found[:1]


def _shown_alone(library: dict[str, Doc], tree: str, rule: SafetyRule) -> set[Spot]:
    if not _applies(rule, library[tree]):
        return set()
    starts = _starts(library, tree, rule)
    return {
        spot_of(event.place)
        for start in starts
        for way in ways(library, start)
        for event, *_ in (*_breaches_on(way, rule), *_too_late(library, way, rule))
    }


def _handed_to(library: dict[str, Doc], tree: str) -> set[str]:
    """The trees that a tree hands over to, at once or through others."""
    targets = {t[0] for node in library[tree]["nodes"].values() if (t := entered(library, node))}
    return targets | {further for target in targets for further in _handed_to(library, target)}


def reference(library: dict[str, Doc], tree: str, rules: list[SafetyRule]) -> Found:
    """All that breaks a rule on ways that begin in a tree, but for what a tree entered from it shows alone."""
    found = Found()
    for rule in rules:
        if not _applies(rule, library[tree]):
            continue
        alone = {place for other in _handed_to(library, tree) for place in _shown_alone(library, other, rule)}
        for root in _starts(library, tree, rule):
            for way in ways(library, root):
                for event, whole in _breaches_on(way, rule):
                    place = event.place
                    if place[0][0] != tree:
                        if spot_of(place) in alone:
                            continue
                        place = ([key for key, _ in way.steps[: event.step] if key[0] == tree][-1], None)
                    found.add(rule.id, place, _told_until(way, event, whole, tree))
                for event, reply, seconds in _too_late(library, way, rule):
                    place = event.place
                    if place[0][0] != tree:
                        if spot_of(place) in alone:
                            continue
                        place = ([key for key, _ in way.steps[: event.step] if key[0] == tree][-1], None)
                    found.add_late(rule.id, place, _told_until(way, reply, False, tree), seconds)
    return found


# ------------------------------------------------------------------ random rules


@st.composite
def safety_rules(draw: st.DrawFn) -> list[SafetyRule]:
    some = st.sets(st.sampled_from(MARKS + DERIVED), min_size=1, max_size=2).map(frozenset)
    rules = []
    for i in range(draw(st.integers(1, 5))):
        pattern = draw(st.sampled_from(["precedence", "absence", "response", "existence"]))
        slots: dict[str, Any] = {"of": draw(some)}
        if pattern == "precedence":
            slots = {"first": draw(some), "then": draw(st.one_of(st.none(), some))}
        elif pattern == "response":
            slots["by"] = draw(some)
        elif pattern == "absence":
            slots |= {place: draw(some) for place in ("after", "until") if draw(st.booleans())}
        only = draw(st.sampled_from([(), (), ("t0",), ("t1",), ("gas",), ("power", "t0")]))
        here = FilePlace("kb/safety.yml", 1, 1)
        within = draw(st.one_of(st.none(), st.integers(0, 80).map(float))) if pattern == "response" else None
        rules.append(
            SafetyRule(f"r{i}", "", Pattern(pattern), slots, frozenset(only), "", (), Map((1, 1)), here, within)
        )
    return rules


# ------------------------------------------------------------------ the comparison


def _compare(library: dict[str, Doc], rules: list[SafetyRule]) -> None:
    trees = {name: tree_of(doc) for name, doc in library.items()}
    graph = Graph(trees)
    assume(max(graph.ways(root) for name in library for root in roots(library, name)) <= MOST_WAYS)
    patterns = Patterns(graph, rules)
    told = {breach.rule for tree in trees.values() for breach in patterns.breaches(tree)}
    assert set().union(*(patterns.broken(tree) for tree in trees.values())) == told, "nobody tells it"
    for name, tree in trees.items():
        found = reference(library, name, rules)
        expected, late = found.ways, {place: ways for place, ways in found.late.items() if place not in found.ways}
        breaches = list(patterns.breaches(tree))
        places = [(b.rule, spot_of((b.key, b.answer.say if b.answer else None))) for b in breaches]
        assert len(places) == len(set(places)), "one place is reported twice"
        assert set(places) == set(expected) | set(late)
        for place, breach in zip(places, breaches, strict=True):
            way = tuple((step.node, step.answer) for step in breach.way())
            assert (breach.seconds is not None) == (place in late)
            if place in late:
                assert late[place][way] == breach.seconds, "the time is not that of the way"
                if breach.answer is None and "go" not in library[name]["nodes"][breach.key[1]]:
                    assert breach.seconds == max(late[place].values()), "a longer way is there"
                continue
            assert way in expected[place], "no such way, or it does not show the breach"
            assert len(way) == min(map(len, expected[place])), "a shorter way shows it"


SLOW = [HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large]


@settings(max_examples=400, deadline=None, derandomize=True, suppress_health_check=SLOW)
@given(docs(trees=1, most=7), safety_rules())
def test_one_tree(library: dict[str, Doc], rules: list[SafetyRule]) -> None:
    """Every place, and a shortest way to it, in one tree."""
    _compare(library, rules)


@settings(max_examples=400, deadline=None, derandomize=True, suppress_health_check=SLOW)
@given(docs(trees=2, most=5), safety_rules())
def test_two_trees_that_hand_over(library: dict[str, Doc], rules: list[SafetyRule]) -> None:
    """The same where one tree hands over to another by `go`, to its start or into its middle."""
    _compare(library, rules)


@settings(max_examples=250, deadline=None, derandomize=True, suppress_health_check=SLOW)
@given(docs(trees=3, most=4), safety_rules())
def test_three_trees_that_hand_over(library: dict[str, Doc], rules: list[SafetyRule]) -> None:
    """The same through a second `go`."""
    _compare(library, rules)
