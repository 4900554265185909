"""One version of a tree as a graph of stops: where a reader has to answer, and what is done in between.

Two ways differ where another answer is given. An answer offered at any time can be given at each step of a
row of things to do, with the same outcome; it counts once, where it comes last. So a stop is a question, an
end, or something to do behind which some answer is no longer offered.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass

from ..model import Answer, Node, Tree
from ..model.finding import Step
from ..model.wording import folded

NOWHERE = ""
"""The stop behind a step from which nothing leads on."""


class NotComparableError(ValueError):
    """The ways of a tree cannot be told: it has a loop, or leads to a step that is not there."""


@dataclass(frozen=True, slots=True)
class Move:
    """A move from one stop to the next.

    Attributes:
        letter: the answer without regard to case and white space; "" where it goes on by itself.
        answer: the answer, None where it goes on by itself.
        passed: what is done on the way, by id, in order.
        to: the next stop.
    """

    letter: str
    answer: Answer | None
    passed: tuple[str, ...]
    to: str

    @property
    def anytime(self) -> bool:
        """Whether the answer is one offered at any time."""
        return self.answer is not None and self.answer.anytime


class Stops:
    """The stops of one version of a tree.

    Args:
        tree: the tree.
        roots: the steps at which ways begin: its start, and where other trees enter it.
        halts: things to do that are stops as well, for they are in the version that this one is compared to.

    Raises:
        NotComparableError: see there.
    """

    def __init__(self, tree: Tree, roots: Iterable[str], halts: frozenset[str] = frozenset()) -> None:
        self.tree = tree
        self.nodes = tree.nodes
        self._halts = halts | halts_of(tree)
        self._leads_somewhere()
        self.moves: dict[str, dict[str, Move]] = {}
        self.entries = {root: self._follow("", None, root) for root in roots}
        self.order = self._sorted()
        self.ways = self._counted()

    def _leads_somewhere(self) -> None:
        nodes = self.tree.nodes
        targets = [self.tree.start, *(answer.to for answer in self.tree.anytime)]
        for node in nodes.values():
            targets += [answer.to for answer in node.answers]
            targets += [node.then] if node.then is not None else []
        lost = next((target for target in targets if target not in nodes), None)
        if lost is not None:
            raise NotComparableError(f"it leads to a step `{lost}` that is not there")

    def node(self, stop: str) -> Node | None:
        """The step of a stop; None behind a step from which nothing leads on."""
        return self.nodes.get(stop)

    def is_ask(self, stop: str) -> bool:
        """Whether a question is asked here."""
        return stop in self.nodes and self.nodes[stop].kind == "ask"

    def is_final(self, stop: str) -> bool:
        """Whether ways end here."""
        return not self.moves[stop]

    def _follow(self, letter: str, answer: Answer | None, target: str) -> Move:
        passed: dict[str, None] = {}
        at: str | None = target
        while at is not None and self.nodes[at].kind == "do":
            if at in passed:
                raise NotComparableError(f"it goes in a circle at step `{at}`")
            passed[at] = None
            if at in self._halts:
                return Move(letter, answer, tuple(passed), at)
            at = self.nodes[at].then
        return Move(letter, answer, tuple(passed), NOWHERE if at is None else at)

    def _moves_from(self, stop: str) -> dict[str, Move]:
        node = self.node(stop)
        if node is None or node.kind == "end":
            return {}
        if node.kind == "ask":
            offered = _offered(self.tree, node)
            return {letter: self._follow(letter, answer, answer.to) for letter, answer in offered.items()}
        by_itself = self._follow("", None, node.then) if node.then is not None else Move("", None, (), NOWHERE)
        only_here = _only_here(self.tree, node).items()
        return {"": by_itself, **{letter: self._follow(letter, answer, answer.to) for letter, answer in only_here}}

    def _sorted(self) -> list[str]:
        """The stops that ways reach, each before all that can follow it; without recursion."""
        done: list[str] = []
        state: dict[str, int] = {}
        ahead = [entry.to for entry in self.entries.values()]
        while ahead:
            stop = ahead[-1]
            if stop not in state:
                state[stop] = 1
                self.moves[stop] = self._moves_from(stop)
                for move in self.moves[stop].values():
                    if state.get(move.to) == 1:
                        raise NotComparableError(f"it goes in a circle at step `{move.to or stop}`")
                    if move.to not in state:
                        ahead.append(move.to)
                continue
            ahead.pop()
            if state[stop] == 1:
                state[stop] = 2
                done.append(stop)
        done.reverse()
        return done

    def _counted(self) -> dict[str, int]:
        """For each stop how many ways lead on from it."""
        counted: dict[str, int] = {}
        for stop in reversed(self.order):
            counted[stop] = sum(counted[move.to] for move in self.moves[stop].values()) or 1
        return counted

    def arriving(self, roots: Iterable[str]) -> dict[str, int]:
        """For each stop how many ways lead to it from some roots."""
        counted = dict.fromkeys(self.order, 0)
        for root in roots:
            counted[self.entries[root].to] += 1
        for stop in self.order:
            for move in self.moves[stop].values():
                counted[move.to] += counted[stop]
        return counted

    def shortest(self, roots: Iterable[str]) -> dict[str, tuple[str, Move] | None]:
        """For each stop the stop before it and the move, on a way with the fewest stops; None: a way begins there."""
        before: dict[str, tuple[str, Move] | None] = {self.entries[root].to: None for root in roots}
        ahead = deque(before)
        while ahead:
            stop = ahead.popleft()
            for move in self.moves[stop].values():
                if move.to not in before:
                    before[move.to] = (stop, move)
                    ahead.append(move.to)
        return before

    def told(self, entry: Move, row: Iterable[tuple[str, Move]], last: str | None) -> tuple[Step, ...]:
        """A way as steps with their answers.

        Args:
            entry: the move into the tree.
            row: stops and the moves taken there.
            last: the stop at which the way is left; None where it is left at the last step done.
        """
        steps = [Step(node, None) for node in entry.passed]
        for stop, move in row:
            if self.is_ask(stop):
                steps.append(Step(stop, move.answer.say if move.answer else None))
            elif move.answer is not None:  # given at something to do, which has been told already
                steps[-1] = Step(stop, move.answer.say)
            steps += [Step(node, None) for node in move.passed]
        if last and (not steps or steps[-1].node != last):
            steps.append(Step(last, None))
        return tuple(steps)

    def through(self, roots: Iterable[str]) -> dict[str, int]:
        """For each step how many ways from some roots lead through it."""
        roots = list(roots)
        arriving = self.arriving(roots)
        found = {stop: count * self.ways[stop] for stop, count in arriving.items() if count}
        for root in roots:
            for node in self.entries[root].passed:
                found[node] = found.get(node, 0) + self.ways[self.entries[root].to]
        for stop, count in arriving.items():
            for move in self.moves[stop].values() if count else ():
                for node in move.passed:
                    # At a stop that is itself something to do, all that arrives has been counted already.
                    if node != move.to:
                        found[node] = found.get(node, 0) + count * self.ways[move.to]
        return found

    def guide(self, roots: Iterable[str]) -> Guide:
        """What tells a shortest way from some roots to each step."""
        return Guide(self, list(roots))


class Guide:
    """Tells a shortest way to each step that ways reach from some roots.

    To a step that only longer moves pass, it is told by one of them from a stop that is reached soonest.
    """

    def __init__(self, side: Stops, roots: list[str]) -> None:
        self.side = side
        self._before = side.shortest(roots)
        self._entries = {side.entries[root].to: side.entries[root] for root in reversed(roots)}
        self._at: dict[str, tuple[str, Move] | None] = {}
        self._entered: dict[str, Move] = {}
        for stop, link in self._before.items():
            self._know(link, link[1] if link else self._entries[stop])
        for root in roots:
            self._know(None, side.entries[root])
        for stop in self._before:
            for move in side.moves[stop].values():
                self._know((stop, move), move)

    def _know(self, link: tuple[str, Move] | None, move: Move) -> None:
        for node in (*move.passed, move.to):
            if node not in self._at:
                self._at[node] = link
                if link is None:
                    self._entered[node] = move

    def __contains__(self, node: str) -> bool:
        return bool(node) and node in self._at

    def way_to(self, node: str) -> tuple[Step, ...] | None:
        """A shortest way to a step; None where no way reaches it."""
        if node not in self:
            return None
        row: list[tuple[str, Move]] = []
        link = self._at[node]
        entry, last = self._entered.get(node), node
        if link is None:
            assert entry is not None
            last = entry.to
        while link is not None:
            row.append(link)
            last = row[0][1].to
            entry = self._entries.get(link[0])
            link = self._before[link[0]]
        row.reverse()
        assert entry is not None
        told = self.side.told(entry, row, last or None)
        at = next(i for i in range(len(told) - 1, -1, -1) if told[i].node == node)
        return (*told[:at], Step(node, None))


def halts_of(tree: Tree, within: bool = False) -> frozenset[str]:
    """The things to do behind which some answer is no longer offered; with `within`, only where no end follows."""
    if not tree.anytime:
        return frozenset()
    found = (name for name, node in tree.nodes.items() if _only_here(tree, node))
    return frozenset(name for name in found if not within or _goes_on(tree, tree.nodes[name]))


def _goes_on(tree: Tree, node: Node) -> bool:
    return node.then is not None and tree.nodes[node.then].kind != "end"


def _offered(tree: Tree, node: Node) -> dict[str, Answer]:
    found: dict[str, Answer] = {}
    for answer in tree.answers_at(node):
        found.setdefault(folded(answer.say), answer)
    return found


def _only_here(tree: Tree, node: Node) -> dict[str, Answer]:
    """The answers offered at something to do, and no longer at what follows."""
    if node.kind != "do":
        return {}
    following = _offered(tree, tree.nodes[node.then]) if node.then and node.then in tree.nodes else {}
    return {letter: answer for letter, answer in _offered(tree, node).items() if letter not in following}
