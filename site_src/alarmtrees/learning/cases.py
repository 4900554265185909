"""Cases to practise on: for each cause of a tree a world that answers every question as that cause would.

A case's way is the tree's own way in its world. The main case of a cause takes the answers of the careful reader, with
nothing alarming beyond what the cause itself shows. A twist differs in one answer on that way, one that the safety
rules care about: the way then rightly ends in a call or on another page, or calls on its way to the remedy.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from heapq import heappop, heappush

from ..model import FIXED, Answer, Library, Node, SafetyRule, Tree
from ..proof.graph import Edge, Graph
from ..proof.resting import RESTS, RUNS, answer_state, step_state
from ..proof.simulate import DONE, OPEN, Causes, single, state_of
from .draw import Draw, seed_of

TWISTS = 2
"""How many cases beside the main one a cause has; one or two more where something would not be shown at all."""

CALLS = frozenset({"call", "doctor-called", "team-called", "leader-told"})
"""The marks that say who was told, and nothing more."""

_UNSURE = re.compile(
    r"\b(cannot|can't|not sure|nobody|unknown|not known|no picture|not trained|or not|no order|sedated)\b", re.I
)
"""The words of an answer that tells nothing of the cause, but of the reader or of another patient."""

_AMISS = re.compile(r"\b(none of|none|nothing|no cause|as before|at notch)\b", re.I)
"""The words of an answer that says that nothing is amiss."""

NOTHING_NEW = -1
"""In place of an answer: the question has none that is true of the case."""

Looks = Mapping[str, frozenset[str]]
"""By the mark of a look that can be had at any time the signs that it may show."""

World = dict[str, tuple[int, int]]
"""For each question which answer is given: as long as the cause is there, and once it was removed."""


@dataclass(frozen=True, slots=True)
class Case:
    """One case.

    Attributes:
        id: the cause; for a twist the cause, "+", and the step whose answer differs.
        cause: its id.
        world: for each question of the tree the two answers, as indices into `Tree.answers_at`, or `NOTHING_NEW`.
        way: the steps from the start to the end, as the tree leads in this world.
        solves: whether the way removes the cause.
        still: whether the balloon stands still when the case begins.
        shows: the marks that are the point of a twist; none in a main case.
    """

    id: str
    cause: str
    world: Mapping[str, tuple[int, int]]
    way: tuple[str, ...]
    solves: bool
    still: bool
    shows: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class _At:
    """A step as arrived at: the cause's state and the balloon's."""

    node: str
    cause: int
    pump: int


@dataclass(frozen=True, slots=True)
class _Move:
    """An answer that can be given (None: a step that leads on by itself), where it leads, and how odd it is.

    `alarms` counts its marks that the safety rules react to and that the cause does not explain, `odd` is 1 where the
    balloon is said to move or to stand against what is known of it.
    """

    index: int | None
    to: _At
    alarms: int
    odd: int


@dataclass(frozen=True, slots=True)
class _Way:
    """A way to an end: each step as arrived at with the answer given there, and whether the cause was removed."""

    steps: tuple[tuple[_At, int | None], ...]
    solves: bool


def cases_of(tree: Tree, rules: Iterable[SafetyRule], looks: Looks | None = None) -> list[Case]:
    """All cases of a tree, those of a cause together, the main one first.

    Args:
        tree: without loops and without references that fail.
        rules: the safety rules; what they react to is what twists show.
        looks: what is looked at again and again; without it such a question is like any other.

    Raises:
        ValueError: a cause that no careful reader's way removes; `check` finds it as `cause-unfixed`.
    """
    maker = _Maker(tree, rules, looks)
    main = {cause: maker.main(cause) for cause in tree.causes}
    twists = maker.twists(main)
    made: list[Case] = []
    for cause, way in main.items():
        made.append(maker.case(cause, way))
        made += twists[cause]
    return made


def main_cases(tree: Tree, rules: Iterable[SafetyRule]) -> dict[str, Case]:
    """The main case of each cause of a tree, as in `cases_of`, without the twists.

    Raises:
        ValueError: as `cases_of`.
    """
    maker = _Maker(tree, rules)
    return {cause: maker.case(cause, maker.main(cause)) for cause in tree.causes}


def main_way(tree: Tree, rules: Iterable[SafetyRule], cause: str) -> tuple[str, ...]:
    """The steps of the main case of one cause.

    Raises:
        ValueError: as `cases_of`.
    """
    return _steps_of(_Maker(tree, rules).main(cause))


def looks_of(library: Library) -> Looks:
    """The looks of a library that can be had at any time: those whose mark says which signs they may show."""
    return {mark.id: frozenset(mark.shows) for mark in library.marks.values() if mark.shows}


def seen_at(
    tree: Tree,
    rules: Iterable[SafetyRule],
    looks: Looks,
    given: Mapping[str, Answer],
    marks: frozenset[str],
    cause: str,
    still: bool,
) -> dict[str, int]:
    """What is seen at the questions of a tree that a told bedside does not answer, or `NOTHING_NEW`.

    Args:
        tree: the tree.
        rules: the safety rules.
        looks: what is looked at again and again.
        given: the answers that are told, by question.
        marks: those of all answers that are told, on other pages too.
        cause: what is the matter; "" where no one cause is named.
        still: whether the balloon stands still at the beginning.
    """
    maker = _Maker(tree, rules, looks)
    said = {tree.nodes[key].text: answer.say for key, answer in given.items()}
    known = _Known(frozenset(), given, said, marks, still)
    return {node.id: maker.seen(node, cause, known) for node in tree.nodes.values() if node.kind == "ask"}


def _steps_of(way: _Way) -> tuple[str, ...]:
    return tuple(at.node for at, _ in way.steps)


def alarming(rules: Iterable[SafetyRule]) -> frozenset[str]:
    """The marks that safety rules react to: what asks for a response, and after what something is forbidden."""
    return frozenset[str]().union(*(rule.alarms for rule in rules))


def only_calls(node: Node) -> bool:
    """Whether a step to do does no more than tell somebody: it mends nothing, and starts or stops nothing."""
    return node.kind == "do" and bool(node.call) and not node.fixes and node.marks <= CALLS


@dataclass(frozen=True, slots=True)
class _Option:
    """A twist that a cause may have: at which place of its main way, which answer, and what that shows."""

    place: int
    index: int
    anytime: bool
    shows: frozenset[str]


class _Spread:
    """Chooses which twists the causes of a tree have.

    Args:
        options: for each cause what its twists may be, in a drawn order.
    """

    def __init__(self, options: Mapping[str, list[_Option]]) -> None:
        self.options = options
        self.chosen: dict[str, list[_Option]] = {cause: [] for cause in options}
        self.shown: dict[str, int] = {mark: 0 for own in options.values() for one in own for mark in one.shows}

    def give_out(self, most: int) -> None:
        """Let each mark that was not shown yet be shown by a cause that has fewer than `most` twists."""
        can = {mark: [c for c, own in self.options.items() if any(mark in o.shows for o in own)] for mark in self.shown}
        for mark in sorted(self.shown, key=lambda one: (len(can[one]), one)):
            for cause in sorted(can[mark], key=lambda one: len(self.chosen[one])):
                if not self.shown[mark] and len(self.chosen[cause]) < most:
                    self._choose(cause, mark)

    def fill_up(self, most: int) -> None:
        """Give each cause one more twist, of what was shown least so far, up to `most`."""
        for cause, chosen in self.chosen.items():
            if len(chosen) < most:
                self._choose(cause)

    def _choose(self, cause: str, mark: str | None = None) -> None:
        """Choose one more twist of a cause, of a mark if one is given; no two at one step or of one kind."""
        taken = {option.place for option in self.chosen[cause]}
        known = {option.shows for option in self.chosen[cause]}
        fit = [o for o in self.options[cause] if o.place not in taken and o.shows not in known]
        fit = [option for option in fit if mark is None or mark in option.shows]
        if fit:
            option = min(fit, key=self._weight)
            self.chosen[cause].append(option)
            for one in option.shows:
                self.shown[one] += 1

    def _weight(self, option: _Option) -> tuple[int, int, bool]:
        """What was shown least comes first; then what a question itself asks for, before what is said at any time."""
        new = sum(not self.shown[mark] for mark in option.shows)
        return -new, min(self.shown[mark] for mark in option.shows), option.anytime


class _Maker:
    """Makes the cases of one tree."""

    def __init__(self, tree: Tree, rules: Iterable[SafetyRule], looks: Looks | None = None) -> None:
        self.tree = tree
        self.looks = looks or {}
        self.causes = Causes(tree, Graph({tree.id: tree}))
        self.alarming = alarming(rules)

    def main(self, cause: str) -> _Way:
        """The careful reader's way that removes a cause: the fewest alarms, then resolved, then by a
        remedy of the reader's own, then the shortest.

        Raises:
            ValueError: there is none.
        """
        start = _At(self.tree.start, OPEN, RESTS if self.tree.pump == "stopped" else RUNS)
        way = self._best(cause, start, must_solve=True)
        if way is None:
            raise ValueError(f"{self.tree.id}: no careful way removes the cause {cause}")
        return way

    def case(
        self, cause: str, way: _Way, main: _Way | None = None, shows: frozenset[str] = frozenset(), step: str = ""
    ) -> Case:
        """The case whose tree's way is this one, with an answer for every question of the tree.

        Args:
            cause: its id.
            way: the way in this case.
            main: that of the cause's main case, for a twist.
            shows: the marks that are the point of a twist.
            step: where a twist differs.
        """
        ids = _steps_of(way)
        still = self._stands_still(cause, way, main or way)
        world = self._world(cause, way, shows, step, still)
        return Case(f"{cause}+{step}" if step else cause, cause, world, ids, way.solves, still, shows)

    def _stands_still(self, cause: str, way: _Way, main: _Way) -> bool:
        """Whether the balloon stands still at the beginning: as the case tells, else its cause's main case, else so."""
        if self.tree.pump != "stopped":
            return False
        told = (self._first_seen(cause, one) for one in (way, main))
        return next((seen for seen in told if seen), "still") == "still"

    def _first_seen(self, cause: str, way: _Way) -> str | None:
        """What a way first tells of the balloon, before a step or a remedy has changed it."""
        for at, index in way.steps:
            node = self.tree.nodes[at.node]
            if node.pump or cause in node.fixes:
                return None
            seen = self.tree.answers_at(node)[index].pump if index is not None else None
            if seen:
                return seen
        return None

    # The search for a way.

    def _best(self, cause: str, start: _At, must_solve: bool = False) -> _Way | None:
        """The best way from a step to an end, by Dijkstra's algorithm over steps with the two states."""
        best: dict[_At, tuple[int, int, int]] = {start: (0, 0, 0)}
        came: dict[_At, tuple[_At, int | None]] = {}
        ahead: list[tuple[tuple[int, int, int], int, _At]] = [((0, 0, 0), 0, start)]
        ends: list[tuple[tuple[int | bool, ...], _At]] = []
        drawn = 0
        while ahead:
            cost, _, here = heappop(ahead)
            if cost > best[here]:
                continue
            node = self.tree.nodes[here.node]
            if node.kind == "end":
                unsolved = not self._removed(node, here, cause)
                if not (must_solve and unsolved):
                    # A remedy of the reader's own shows more of the cause than a call that hands it to somebody else.
                    handed = here.cause == OPEN
                    ends.append(((cost[0], unsolved, node.end != "resolved", handed, *cost[1:]), here))
                continue
            for move in self._moves(here, cause):
                there = (cost[0] + move.alarms, cost[1] + move.odd, cost[2] + 1)
                if move.to not in best or there < best[move.to]:
                    best[move.to], came[move.to] = there, (here, move.index)
                    drawn += 1
                    heappush(ahead, (there, drawn, move.to))
        if not ends:
            return None
        _, last = min(ends, key=lambda end: end[0])
        return _Way(_steps(came, last), self._removed(self.tree.nodes[last.node], last, cause))

    def _removed(self, end: Node, at: _At, cause: str) -> bool:
        return at.cause != OPEN or cause in end.fixes

    def _moves(self, here: _At, cause: str) -> Iterator[_Move]:
        """The careful reader's moves from a step."""
        node = self.tree.nodes[here.node]
        state, pump = self._after_step(node, here, cause)
        if node.then:
            yield _Move(None, _At(node.then, state, pump), 0, 0)
            return
        possible = self._possible(node, state, cause)
        for index in _careful(node, possible):
            yield self._given(node, index, possible[index], state, pump, cause)

    def _after_step(self, node: Node, here: _At, cause: str) -> tuple[int, int]:
        pump, _ = step_state(node, here.pump, 0.0, 0.0)
        return state_of(self.causes.after_step(node, single(self.causes.bit[cause], here.cause))), pump

    def _possible(self, node: Node, state: int, cause: str) -> dict[int, int]:
        """A question's own answers that are possible, each with the cause's state once it has been given."""
        masks = single(self.causes.bit[cause], state)
        after = {i: self.causes.after_answer(node, answer, masks) for i, answer in enumerate(node.answers)}
        return {i: state_of(leaving) for i, leaving in after.items() if any(leaving)}

    def _given(self, node: Node, index: int, after: int, state: int, pump: int, cause: str) -> _Move:
        answer = self.tree.answers_at(node)[index]
        seen, _ = answer_state(Edge(answer, (self.tree.id, answer.to)), pump, 0.0, 0.0)
        told = answer.when is not None
        odd = not told and (answer.pump == "moves") == (pump != RUNS) and answer.pump is not None
        alarms = 0 if told else len(answer.marks & self.alarming)
        return _Move(index, _At(answer.to, after, seen), alarms, int(odd and state == OPEN))

    # Twists.

    def twists(self, main: Mapping[str, _Way]) -> dict[str, list[Case]]:
        """Up to two further cases a cause, so spread that every mark that can be shown on these ways is shown.

        What few causes can show is given out first, to the cause with the fewest twists so far. A third one stands only
        where something would be left out.
        """
        spread = _Spread({cause: self._options(cause, way) for cause, way in main.items()})
        for most in (TWISTS, TWISTS + 1, TWISTS + 2):
            spread.give_out(most)
        for _ in range(TWISTS):
            spread.fill_up(TWISTS)
        return {cause: [self._twist(cause, main[cause], option) for option in spread.chosen[cause]] for cause in main}

    def _options(self, cause: str, way: _Way) -> list[_Option]:
        """What could differ on a way, in an order drawn by the cause's name."""
        found = []
        for place, (at, given) in enumerate(way.steps):
            node = self.tree.nodes[at.node]
            if node.kind != "ask":
                continue
            state, _ = self._after_step(node, at, cause)
            possible = self._possible(node, state, cause)
            for index, answer in enumerate(self.tree.answers_at(node)):
                shows = answer.marks & self.alarming
                explained = answer.when is not None
                if shows and index != given and not explained and (answer.anytime or index in possible):
                    found.append(_Option(place, index, answer.anytime, shows))
        return Draw(seed_of(f"{self.tree.id}/{cause}")).shuffled(found)

    def _twist(self, cause: str, way: _Way, option: _Option) -> Case:
        at, _ = way.steps[option.place]
        node = self.tree.nodes[at.node]
        state, pump = self._after_step(node, at, cause)
        after = state if option.anytime else self._possible(node, state, cause)[option.index]
        move = self._given(node, option.index, after, state, pump, cause)
        rest = self._best(cause, move.to)
        if rest is None:
            raise ValueError(f"{self.tree.id}: no way leads on from {node.id} by “{move.to.node}”")
        steps = (*way.steps[: option.place], (at, option.index), *rest.steps)
        return self.case(cause, _Way(steps, rest.solves), way, option.shows, node.id)

    # What the world answers.

    def _world(self, cause: str, way: _Way, shows: frozenset[str], step: str, still: bool) -> World:
        world = {
            at.node: self._given_twice(cause, at, index, shows, step) for at, index in way.steps if index is not None
        }
        known = self._known(way, still)
        for key, (before, after) in world.items():
            # A look can be had before its turn too.
            if before == NOTHING_NEW and _held(self.tree.nodes[key]) is None:
                world[key] = self._looked(self.tree.nodes[key], cause, known), after
        arrivals = {calling: self._arrivals(cause, known, calling) for calling in (False, True)}
        undone = {node.then for node in self.tree.nodes.values() if node.id not in known.steps}
        for node in self.tree.nodes.values():
            if node.kind == "ask" and node.id not in world:
                # What is true of the cause needs no call first; what somebody says, or what was found since, does.
                told = any(answer.when is not None for answer in node.answers) and node.id not in undone
                came = arrivals[told].get(node.id, set())
                world[node.id] = self._off_the_way(node, cause, known, came, node.id in undone)
        return {node.id: world[node.id] for node in self.tree.nodes.values() if node.kind == "ask"}

    def _given_twice(self, cause: str, at: _At, index: int, shows: frozenset[str], step: str) -> tuple[int, int]:
        """The two answers of a question on the way.

        What names the cause is not true once it was removed, and what is seen after the remedy not before.
        """
        node = self.tree.nodes[at.node]
        answers = self.tree.answers_at(node)
        if node.id == step:
            return index, index
        is_open = self._after_step(node, at, cause)[0] == OPEN
        held = _held(node)
        if held is None:
            told = answers[index].when is not None
            return (index, NOTHING_NEW if told else index) if is_open else (NOTHING_NEW, index)
        shown = next((i for i, a in enumerate(node.answers) if shows and shows <= a.marks), held)
        return (index, shown) if is_open else (NOTHING_NEW, index)

    def _known(self, way: _Way, still: bool) -> _Known:
        asked = [(self.tree.nodes[at.node], index) for at, index in way.steps if index is not None]
        given = {node.id: self.tree.answers_at(node)[index] for node, index in asked}
        return _Known(
            steps=frozenset(at.node for at, _ in way.steps),
            given=given,
            said={node.text: given[node.id].say for node, _ in asked},
            marks=frozenset().union(*(answer.marks for answer in given.values())),
            still=still,
        )

    def _arrivals(self, cause: str, known: _Known, calling: bool) -> dict[str, set[int]]:
        """The questions that make sense in a case, each with the states of the cause in which one comes to it.

        They are those that a reader comes to who does nothing that the way does not do and is told nothing that does
        not fit. Any other speaks of a step that nobody took, or of a sign that nobody saw.

        Args:
            cause: the case's.
            known: what its way tells.
            calling: whether the reader may call as well.
        """
        found: dict[str, set[int]] = {}
        ahead = [(self.tree.start, OPEN)]
        while ahead:
            step, arriving = ahead.pop()
            if arriving in found.setdefault(step, set()):
                continue
            found[step].add(arriving)
            node = self.tree.nodes[step]
            state, _ = self._after_step(node, _At(step, arriving, RUNS), cause)
            if node.then and (step in known.steps or (calling and only_calls(node))):
                ahead.append((node.then, state))
            for index, after in self._possible(node, state, cause).items():
                if self._fits(node, node.answers[index], known):
                    ahead.append((node.answers[index].to, after))
        return found

    def _fits(self, node: Node, answer: Answer, known: _Known) -> bool:
        """Whether an answer says nothing that the way does not bear out."""
        given = known.given.get(node.id)
        if given is None:
            odd = answer.pump == ("moves" if known.still else "still")
        else:
            odd = given.pump is not None and answer.pump not in (None, given.pump)
        strange = (answer.marks & self.alarming) - known.marks
        return answer is given or answer.when is not None or not (strange or odd)

    def _off_the_way(self, node: Node, cause: str, known: _Known, arriving: set[int], undone: bool) -> tuple[int, int]:
        """The two answers of a question off the way.

        Args:
            node: the question.
            cause: the case's.
            known: what its way tells.
            arriving: the states of the cause in which a reader comes to it; none where it makes no sense here.
            undone: whether it follows on a step that the way does not take.
        """
        held = _held(node)
        if held is not None:
            # Nobody has looked whether a remedy held that nobody tried.
            return NOTHING_NEW, held if DONE in arriving else NOTHING_NEW
        if self._shows(node) and self._told(node, known):
            return NOTHING_NEW, NOTHING_NEW  # the sign comes where the way has it: nobody is led into a trap
        looked = self._looked(node, cause, known)
        if looked == NOTHING_NEW and not arriving and not undone:
            looked = self._sure(node, cause, known)
        if looked != NOTHING_NEW:
            return looked, NOTHING_NEW if node.answers[looked].when is not None else looked
        if not arriving:
            return NOTHING_NEW, NOTHING_NEW
        index = self._fitting(node, cause, known, min(arriving))
        if index == NOTHING_NEW:
            index = self._sure(node, cause, known)
        if OPEN not in arriving:
            return NOTHING_NEW, index
        return index, NOTHING_NEW if index == NOTHING_NEW or node.answers[index].when is not None else index

    def seen(self, node: Node, cause: str, known: _Known) -> int:
        """What is seen at a question of which the way tells nothing."""
        if _held(node) is not None:
            return NOTHING_NEW
        alike = [i for i, answer in enumerate(node.answers) if answer.say == known.said.get(node.text)]
        if alike:
            return alike[0]
        looked = self._looked(node, cause, known)
        return looked if looked != NOTHING_NEW or not cause else self._sure(node, cause, known)

    def _looked(self, node: Node, cause: str, known: _Known) -> int:
        """The answer of a look that can be had at any time: what the way tells of it, else that nothing is amiss."""
        if not self._shows(node) or self._told(node, known):
            return NOTHING_NEW
        fit = self._true_of(node, cause, known)
        return min(fit, key=lambda i: (-len(node.answers[i].marks & known.marks), i), default=NOTHING_NEW)

    def _told(self, node: Node, known: _Known) -> frozenset[str]:
        """The signs of a look that the way tells of somewhere."""
        signs = self._shows(node)
        alike = [given for key, given in known.given.items() if self._shows(self.tree.nodes[key]) & signs]
        return signs.union(*(given.marks for given in alike)) & known.marks & self.alarming

    def _shows(self, node: Node) -> frozenset[str]:
        return frozenset[str]().union(*(self.looks.get(mark, frozenset()) for mark in node.marks))

    def _sure(self, node: Node, cause: str, known: _Known) -> int:
        """The answer of a question that tells causes apart, if only one can be true: it names this cause, or none."""
        if all(answer.when is None for answer in node.answers):
            return NOTHING_NEW
        fit = self._true_of(node, cause, known)
        sure = [i for i in fit if node.answers[i].when is not None or _AMISS.search(node.answers[i].say)]
        return sure[0] if len(sure) == 1 and len(fit) == 1 else NOTHING_NEW

    def _true_of(self, node: Node, cause: str, known: _Known) -> list[int]:
        """The answers that can be true of a cause that is there: never what another cause shows, nor not knowing."""
        no_cause = [i for i, answer in enumerate(node.answers) if answer.when is None]
        possible = _careful(node, self._possible(node, OPEN, cause)) if cause else no_cause
        fit = [i for i in possible if self._fits(node, node.answers[i], known)]
        said = [i for i, answer in enumerate(node.answers) if answer.say == known.said.get(node.text)]
        if said:
            return [i for i in fit if i in said]
        return [i for i in fit if node.answers[i].when is not None or not _UNSURE.search(node.answers[i].say)]

    def _fitting(self, node: Node, cause: str, known: _Known, state: int) -> int:
        """The answer that is true of the cause and fits what the way tells, if there is one."""
        possible = _careful(node, self._possible(node, state, cause))
        if all(node.answers[i].when is None for i in possible) and any(a.when is not None for a in node.answers):
            return NOTHING_NEW  # the question tells other causes apart
        said = known.said.get(node.text)
        if any(answer.say == said for answer in node.answers):
            possible = [i for i in possible if node.answers[i].say == said]
        fit = [i for i in possible if self._fits(node, node.answers[i], known)]
        return min(fit, key=lambda i: (-len(node.answers[i].marks & known.marks), i), default=NOTHING_NEW)


@dataclass(frozen=True, slots=True)
class _Known:
    """What a case's way tells: its steps, the answers given at them and by question, all their marks; and whether the
    balloon stands still at the beginning.
    """

    steps: frozenset[str]
    given: Mapping[str, Answer]
    said: Mapping[str, str]
    marks: frozenset[str]
    still: bool


def _held(node: Node) -> int | None:
    """Which answer says that a remedy held; None where the question does not ask for it."""
    return next((i for i, answer in enumerate(node.answers) if FIXED in (answer.when or ())), None)


def _careful(node: Node, possible: Iterable[int]) -> list[int]:
    """Of the possible answers those that the careful reader gives: where some name the cause, only these."""
    every = list(possible)
    return [index for index in every if node.answers[index].when is not None] or every


def _steps(came: Mapping[_At, tuple[_At, int | None]], last: _At) -> tuple[tuple[_At, int | None], ...]:
    """The way that a search took, from its start."""
    steps: list[tuple[_At, int | None]] = [(last, None)]
    while steps[-1][0] in came:
        steps.append(came[steps[-1][0]])
    return tuple(reversed(steps))
