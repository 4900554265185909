"""Plays a case, choice by choice: what may be chosen, what a choice does, and what is said of the play afterwards.

It knows nothing but the data of `tree_data`, and draws by `Draw`, so that the engine in the browser can be the same
function by function. Nothing here is changed in place: a choice gives a new state.

Time is the sum of what the steps take a calm reader. The balloon rests by the rules of `resting.py`, but on through a
call: there a call ends what one reader answers for, here the learner is told to count on until the balloon moves. The
cause is removed by the rules of `simulate.py`, safety rules are judged by those of `patterns.py`: an event is a step's
marks together, then its answer's, and "before" is strict. A rule broken by the case's answer alone is nobody's fault.
Nor does an answer ask for what was done already and still holds: who has put the pump on hold, and then finds blood,
need not do it again. What a learner's own step asks for has to come after it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from .cases import NOTHING_NEW
from .draw import Draw

RUNS, RESTS = 0, 1
"""States of the balloon: it moves; it rests."""

OPEN, DONE, SEEN = 0, 1, 2
"""States of the cause: there; removed and not looked at; removed and seen to be."""

UNSAFE, AS_THE_TREE, WELCOME = "unsafe", "as-the-tree", "welcome"
AHEAD, ASIDE, NO_USE, HELPS = "ahead", "aside", "no-use", "helps"
SOLVED, TOO_EARLY, CALLED_EARLY, WRONG_PAGE = "solved", "left-too-early", "called-early", "wrong-page"

OTHERS = 3
"""How many choices are offered beside the right one, at the most."""

_STRIDE = 0x9E3779B9
_PUMP = ("pump-stops", "pump-starts")


@dataclass(frozen=True, slots=True)
class Choice:
    """One choice made.

    Attributes:
        node: the step chosen.
        verdict: what is said of it.
        answer: index of the answer that the case gave, or `NOTHING_NEW`; None where nothing was asked.
        rule: id of the safety rule that it breaks; None where it breaks none.
        took: seconds it took.
        clock: seconds from the beginning of the case to its end.
    """

    node: str
    verdict: str
    answer: int | None
    rule: str | None
    took: float
    clock: float


@dataclass(frozen=True, slots=True)
class Memory:
    """What the safety rules remember of a play.

    Attributes:
        seen: of the rules of precedence those whose `first` has come, a bit each.
        active: of the rules of absence those that forbid something now.
        owed: of the rules of response and existence those that still ask for something.
        came: the marks that came so far, a bit each; `pump-stops` no more once the pump was started again.
    """

    seen: int
    active: int
    owed: int
    came: int


@dataclass(frozen=True, slots=True)
class State:
    """How far a play has come.

    Attributes:
        way: the choices made.
        done: the steps done.
        memory: what the safety rules remember.
        cause: state of the cause.
        pump: state of the balloon.
        rested: seconds of its present rest.
        longest: seconds of its longest rest so far.
        clock: seconds since the beginning.
        verdict: how the case ended; "" while it goes on.
    """

    way: tuple[Choice, ...]
    done: frozenset[str]
    memory: Memory
    cause: int
    pump: int
    rested: float
    longest: float
    clock: float
    verdict: str = ""

    @property
    def over(self) -> bool:
        """Whether the case has ended."""
        return bool(self.verdict)


@dataclass(frozen=True, slots=True)
class _Parts:
    """For one event the rules in which it plays each part, a bit a rule."""

    first: int = 0
    then: int = 0
    of: int = 0
    by: int = 0
    after: int = 0
    until: int = 0


class Tree:
    """A tree's data with its rules made ready, for all its cases.

    Args:
        data: what `tree_data` gives.
    """

    def __init__(self, data: Mapping[str, Any]) -> None:
        self.data = data
        self.nodes: Mapping[str, Mapping[str, Any]] = data["nodes"]
        self.words = {key: _words(node) for key, node in self.nodes.items()}
        self.before = _before(self.nodes)
        self.rules: Sequence[Mapping[str, Any]] = data["rules"]
        self._kind = {
            kind: _bits(i for i, rule in enumerate(self.rules) if rule["pattern"] == kind)
            for kind in ("precedence", "absence", "response", "existence")
        }
        self._any_then = _bits(i for i, rule in enumerate(self.rules) if rule["then"] is None)
        self._pays = [_bits(rule["by"] if rule["pattern"] == "response" else ()) for rule in self.rules]
        self._parts: dict[tuple[bool, tuple[int, ...]], _Parts] = {}
        self._stops, self._starts = (_bits([data["marks"].index(m)] if m in data["marks"] else []) for m in _PUMP)

    @cached_property
    def fresh(self) -> Memory:
        """What the rules remember before anything has come: some forbid from the start, some ask for something."""
        forbids = _bits(i for i, rule in enumerate(self.rules) if not rule["after"])
        return Memory(0, self._kind["absence"] & forbids, self._kind["existence"], 0)

    def parts(self, marks: Sequence[int], is_step: bool) -> _Parts:
        """In which rules some marks that come together play a part."""
        key = (is_step, tuple(marks))
        if key not in self._parts:
            held = set(marks)
            played = {
                part: _bits(i for i, rule in enumerate(self.rules) if held.intersection(rule[part] or ()))
                for part in ("first", "then", "of", "by", "after", "until")
            }
            if is_step:
                played["then"] |= self._any_then & ~played["first"]
            # What an existence rule asks for pays it.
            played["by"] |= played["of"] & self._kind["existence"]
            self._parts[key] = _Parts(**played)
        return self._parts[key]

    def is_early(self, done: frozenset[str], node_id: str) -> bool:
        """Whether a step is a question about what was done just before, and none of that was done."""
        before = self.before[node_id]
        return (
            self.nodes[node_id]["kind"] == "ask"
            and bool(before)
            and all(self.nodes[one]["kind"] == "do" and one not in done for one in before)
        )

    def is_near(self, done: frozenset[str], node_id: str) -> bool:
        """Whether the start or a step that was done leads to a step."""
        return not done.isdisjoint(self.before[node_id]) or self.data["start"] in (node_id, *self.before[node_id])

    def broken(self, state: State, node_id: str) -> int:
        """The rules that doing a step now would break, a bit each.

        A call is never wrong: a step that only calls breaks none, and an end that calls somebody breaks none by coming
        early, only by what it leaves undone.
        """
        node = self.nodes[node_id]
        if node["kind"] == "do" and node["welcome"]:
            return 0
        parts = self.parts(node["marks"], True)
        if node["end"] == "call":
            return self._owing(state.memory.owed, parts, 0)
        broken = self._kind["precedence"] & parts.then & ~state.memory.seen
        broken |= self._kind["absence"] & parts.of & state.memory.active
        if node["end"] == "resolved":
            broken |= self._owing(state.memory.owed, parts, 0)
        return broken

    def _owing(self, owed: int, parts: _Parts, settled: int) -> int:
        """What is owed after an event; the rules in `settled` ask for nothing new."""
        return (owed & ~parts.by) | (parts.of & self._kind["response"] & ~settled)

    def remember(self, memory: Memory, marks: Sequence[int], is_step: bool) -> Memory:
        """What the rules remember after a step's marks, or an answer's, have come together."""
        if not marks:
            return memory
        parts = self.parts(marks, is_step)
        settled = 0 if is_step else _bits(i for i, pays in enumerate(self._pays) if pays & memory.came)
        new = _bits(marks)
        came = memory.came | new
        return Memory(
            seen=memory.seen | parts.first,
            active=parts.after | (memory.active & ~parts.until),
            owed=self._owing(memory.owed, parts, settled),
            came=came & ~self._stops if self._starts & new else came,
        )


class Play:
    """One case, played with one seed.

    Args:
        tree: the tree's data made ready.
        case: one of its cases, as in the data.
        seed: any whole number; the same seed offers the same choices.
    """

    def __init__(self, tree: Tree, case: Mapping[str, Any], seed: int = 0) -> None:
        self.tree = tree
        self.case = case
        self.seed = seed
        self.way: Sequence[str] = case["way"]

    def begin(self) -> State:
        """The state before the first choice."""
        still = self.case["still"]
        rested = float(self.tree.data["before"] or 0) if still else 0.0
        return State(
            way=(),
            done=frozenset(),
            memory=self.tree.fresh,
            cause=OPEN,
            pump=RESTS if still else RUNS,
            rested=rested,
            longest=rested,
            clock=0.0,
        )

    def right(self, state: State) -> str:
        """The step that the tree asks for next: the first on the case's way that is not done.

        Raises:
            ValueError: the case is over.
        """
        if state.over:
            raise ValueError("the case is over")
        return next(node for node in self.way if node not in state.done)

    # What is offered.

    def offers(self, state: State) -> list[str]:
        """The steps to choose from: the right one and up to three others, in a drawn order.

        No two have the same words, and none the words of one that was chosen, but for the right one. One each is drawn,
        where there is any, from where the last question's other answers lead, from later steps of the way, and from
        the questions and remedies off it; of these, and to fill up, those first to which a step that was done leads.
        Where the right one breaks a rule by now, one that breaks none is among the others, if there is any.
        """
        right = self.right(state)
        draw = Draw(self.seed + _STRIDE * (len(state.way) + 1))
        left = self._others(state, right)
        chosen: list[str] = []
        for pool in (self._beside(right), self._later(right), self._near(state, self._aside(), left)):
            fit = [node for node in pool if node in left]
            if fit:
                chosen.append(draw.take(fit))
                left.remove(chosen[-1])
        while left and len(chosen) < OTHERS:
            chosen.append(draw.take(self._near(state, left, left)))
            left.remove(chosen[-1])
        return draw.shuffled([right, *self._with_a_way_out(state, right, chosen, left, draw)])

    def _with_a_way_out(self, state: State, right: str, chosen: list[str], left: list[str], draw: Draw) -> list[str]:
        """The others, one of them safe where the right one is not: nobody is led into a trap."""

        def is_safe(node: str) -> bool:
            return not self.tree.broken(state, node)

        if is_safe(right) or any(is_safe(node) for node in chosen):
            return chosen
        safe = [node for node in left if is_safe(node)]
        return [*chosen[:-1], draw.take(safe)] if safe else chosen

    def _others(self, state: State, right: str) -> list[str]:
        """All steps that can be offered beside the right one, in the order of their names.

        Each wording comes once: as the way has it, else as near as there is. Neither the case's own end nor one that
        calls all well is among them before half the way is done: it would name the cause before anybody has looked.
        Nor, if anything else is, a question about a step that was not done.
        """
        used = {self.tree.words[node] for node in (*(choice.node for choice in state.way), right)}
        halfway = 2 * sum(node in state.done for node in self.way) >= len(self.way)
        found = []
        every = sorted(self.tree.nodes)
        near = [node for node in every if self.tree.is_near(state.done, node)]
        for node in (*self._later(right), *near, *every):
            if self.tree.words[node] not in used:
                used.add(self.tree.words[node])
                if halfway or not (node == self.way[-1] or self.tree.nodes[node]["end"] == "resolved"):
                    found.append(node)
        return sorted([node for node in found if not self.tree.is_early(state.done, node)] or found)

    def _near(self, state: State, pool: list[str], left: list[str]) -> list[str]:
        """Of those left the ones that a step that was done leads to, if there are any."""
        fit = [node for node in pool if node in left]
        return [node for node in fit if self.tree.is_near(state.done, node)] or fit

    def _later(self, right: str) -> list[str]:
        return list(self.way[self.way.index(right) + 1 :])

    def _beside(self, right: str) -> list[str]:
        """Where the other answers of the question before a step lead, each once, in the order of the answers."""
        before = self.way[: self.way.index(right)]
        asked = next((node for node in reversed(before) if self.tree.nodes[node]["kind"] == "ask"), None)
        if asked is None:
            return []
        answers = self.tree.nodes[asked]["answers"]
        return list(dict.fromkeys(answer["to"] for answer in answers if not answer["anytime"]))

    def _aside(self) -> list[str]:
        """The questions and remedies off the way."""
        return [node for node in sorted(self.tree.nodes) if node not in self.way and not self.tree.nodes[node]["end"]]

    # What a choice does.

    def choose(self, state: State, node_id: str) -> State:
        """Choose a step.

        Args:
            state: a state of this play that is not over.
            node_id: a step of the tree that is not done.

        Returns:
            The state after it; the last choice of its `way` holds the verdict.

        Raises:
            ValueError: the case is over, or the step is done, or there is none of that name.
        """
        right = self.right(state)
        if node_id not in self.tree.nodes or node_id in state.done:
            raise ValueError(f"{node_id} cannot be chosen")
        node_id = self._known_as(state, right, node_id)
        broken = self.tree.broken(state, node_id)
        if broken:
            rule = self.tree.rules[(broken & -broken).bit_length() - 1]["id"]
            last = Choice(node_id, UNSAFE, None, rule, 0.0, state.clock)
            return replace(state, way=(*state.way, last), verdict=UNSAFE)
        return self._done(state, node_id, self._verdict(state, right, node_id))

    def _known_as(self, state: State, right: str, node_id: str) -> str:
        """The step of the way that has the same words, where there is one: the same words are the same choice."""
        same = [
            node
            for node in (right, *self._later(right))
            if node not in state.done and self.tree.words[node] == self.tree.words[node_id]
        ]
        return same[0] if same else node_id

    def _verdict(self, state: State, right: str, node_id: str) -> str:
        node = self.tree.nodes[node_id]
        if node["kind"] == "end":
            return SOLVED if node_id == right else self._early(node, node_id)
        if node_id == right:
            return AS_THE_TREE
        if node["welcome"]:
            return WELCOME
        if node_id in self.way:
            return AHEAD
        if node["kind"] == "ask":
            return ASIDE
        return HELPS if state.cause == OPEN and self.case["cause"] in node["fixes"] else NO_USE

    def _early(self, node: Mapping[str, Any], node_id: str) -> str:
        """What is said of an end that is not the right one, or not yet."""
        if node["end"] == "resolved":
            return TOO_EARLY
        return CALLED_EARLY if node["end"] == "call" or node_id == self.way[-1] else WRONG_PAGE

    def _done(self, state: State, node_id: str, verdict: str) -> State:
        """Do a step: its marks, its time, what it does to pump and cause, and what the case answers."""
        node = self.tree.nodes[node_id]
        took = float(node["takes"])
        memory = self.tree.remember(state.memory, node["marks"], True)
        pump, rested = after_step(node, state.pump, state.rested, took)
        longest = max(state.longest, rested)
        cause = DONE if self.case["cause"] in node["fixes"] else state.cause
        index = None
        if node["kind"] == "ask":
            index = self._answer(state, node_id, pump, cause)
        if index is not None and index != NOTHING_NEW:
            answer = node["answers"][index]
            memory = self.tree.remember(memory, answer["marks"], False)
            pump, rested = after_answer(answer, pump, rested, took)
            cause = _seen_to_hold(node, answer, cause)
        clock = state.clock + took
        return State(
            way=(*state.way, Choice(node_id, verdict, index, None, took, clock)),
            done=state.done if self._comes_again(node_id, verdict) else state.done | {node_id},
            memory=memory,
            cause=cause,
            pump=pump,
            rested=rested,
            longest=max(longest, rested),
            clock=clock,
            verdict=verdict if node["kind"] == "end" else "",
        )

    def _answer(self, state: State, node_id: str, pump: int, cause: int) -> int:
        """What the case answers: nothing new to a question about a step that was not done, nor against the balloon."""
        node = self.tree.nodes[node_id]
        index = int(self.case["world"][node_id][int(cause != OPEN)])
        if index == NOTHING_NEW or self.tree.is_early(state.done, node_id):
            return NOTHING_NEW
        against = node["answers"][index]["pump"] == ("still" if pump == RUNS else "moves")
        return NOTHING_NEW if against and node_id not in self.way else index

    def _comes_again(self, node_id: str, verdict: str) -> bool:
        """Whether a step has to be done once more: a look at the patient before its turn takes the place of none."""
        return verdict == WELCOME and node_id in self.way and self.tree.nodes[node_id]["kind"] == "ask"

    # What is said afterwards.

    @cached_property
    def tree_play(self) -> State:
        """The play that follows the tree to its end."""
        state = self.begin()
        while not state.over:
            state = self.choose(state, self.right(state))
        return state

    def debrief(self, state: State) -> dict[str, Any]:
        """The learner's way beside the tree's.

        Args:
            state: one that is over.

        Returns:
            `verdict`, `rule` (id or None), `grade`; `mine` and `tree`: both ways as choices; `missed`: the steps of
            the tree's way that were not done; `wrong`: the choices off it or out of turn, each with the seconds that it
            `cost`; `clock`, `rested`, `longest` in seconds, and the same with `tree_` for the tree's way.
        """
        tree = self.tree_play
        wrong = [choice for choice in state.way if choice.verdict in (AHEAD, ASIDE, NO_USE, HELPS)]
        return {
            "verdict": state.verdict,
            "rule": state.way[-1].rule,
            "grade": grade(state),
            "mine": [_told(choice) for choice in state.way],
            "tree": [_told(choice) for choice in tree.way],
            "missed": [node for node in self.way if node not in state.done],
            "wrong": [{**_told(choice), "cost": 0.0 if choice.verdict == AHEAD else choice.took} for choice in wrong],
            "clock": state.clock,
            "rested": state.rested,
            "longest": state.longest,
            "tree_clock": tree.clock,
            "tree_rested": tree.rested,
            "tree_longest": tree.longest,
        }


def grade(state: State) -> int:
    """How well a case went, from 5 (as the tree) to 0 (unsafe), for the spacing of the cases; the steps are ours.

    Raises:
        ValueError: the case is not over.
    """
    fixed = {UNSAFE: 0, TOO_EARLY: 1, WRONG_PAGE: 1, CALLED_EARLY: 3}
    if state.verdict in fixed:
        return fixed[state.verdict]
    if state.verdict != SOLVED:
        raise ValueError("the case is not over")
    verdicts = [choice.verdict for choice in state.way]
    strayed = sum(verdict in (ASIDE, AHEAD) for verdict in verdicts)
    if strayed > 1 or any(verdict in (NO_USE, HELPS) for verdict in verdicts):
        return 3
    return 5 - strayed


def after_step(node: Mapping[str, Any], pump: int, rested: float, took: float) -> tuple[int, float]:
    """The balloon's state and the seconds of its rest once a step has been done or asked."""
    if pump == RUNS and node["pump"] == "stops":
        pump, rested = RESTS, 0.0
    if pump == RESTS:
        rested += took
        if node["end"] == "resolved":
            return RUNS, rested
    return pump, rested


def after_answer(answer: Mapping[str, Any], pump: int, rested: float, took: float) -> tuple[int, float]:
    """The balloon's state and the seconds of its rest once the case has answered."""
    if answer["pump"] == "moves":
        return RUNS, 0.0
    if answer["pump"] == "still" and pump == RUNS:
        return RESTS, took
    return pump, rested


def _seen_to_hold(node: Mapping[str, Any], answer: Mapping[str, Any], cause: int) -> int:
    """The cause's state once the case has answered.

    Where a question asks whether the remedy held, every other answer means that it did not.
    """
    if answer["anytime"] or not any(other["held"] for other in node["answers"]):
        return cause
    return SEEN if answer["held"] and cause != OPEN else OPEN


def play_through(play: Play, pick: Callable[[State, list[str]], str]) -> State:
    """Play a case to its end, each choice picked from what is offered."""
    state = play.begin()
    while not state.over:
        state = play.choose(state, pick(state, play.offers(state)))
    return state


def _told(choice: Choice) -> dict[str, Any]:
    return {
        "node": choice.node,
        "answer": choice.answer,
        "verdict": choice.verdict,
        "took": choice.took,
        "clock": choice.clock,
    }


def _words(node: Mapping[str, Any]) -> str:
    """What a step says to a learner who has to choose."""
    return "\n".join((node["kind"], node["text"], node["call"], node["goto"]))


def _before(nodes: Mapping[str, Mapping[str, Any]]) -> dict[str, list[str]]:
    """For each step those that lead to it, in the order of their names."""
    before: dict[str, list[str]] = {key: [] for key in nodes}
    for key in sorted(nodes):
        for to in (nodes[key]["then"], *(answer["to"] for answer in nodes[key]["answers"])):
            if to in before and key not in before[to]:
                before[to].append(key)
    return before


def _bits(numbers: Iterable[int]) -> int:
    return sum(1 << number for number in numbers)
