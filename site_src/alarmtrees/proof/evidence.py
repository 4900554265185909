"""What the checks looked at, to be shown: how many ways, which steps carry which safety rule, what causes answer.

A library is judged by its rules, in `check/`; here is told on what. Trees with a loop have no such evidence: of all
their ways nothing can be said.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import cached_property
from typing import Any

from ..model import Answer, Library, Node, SafetyRule, Tree
from ..model.finding import Step
from ..reading.keep import Store, digest
from .analysis import Analysis
from .economy import Advice, Adviser, Remedy, advice_of
from .graph import Graph
from .resting import Rest
from .shape import shapes_of
from .simulate import Causes

HOLDS, IDLE, APART, BROKEN = "holds", "idle", "apart", "broken"
"""A rule in a tree: it is put to the test and holds; the tree has nothing that it speaks of; it is not for this tree;
it does not hold."""

Carrier = tuple[str, str | None]
"""A step, or one of its answers."""

_Marked = tuple[Carrier, frozenset[str]]
"""One of these, and the marks that it bears."""


@dataclass(frozen=True, slots=True)
class Carried:
    """A safety rule in a tree.

    Attributes:
        state: one of `HOLDS`, `IDLE`, `APART`, `BROKEN`.
        subjects: the steps and answers whose marks it speaks of; none where it speaks of every step.
        guards: the steps and answers that keep it.
    """

    rule: str
    state: str
    subjects: tuple[Carrier, ...]
    guards: tuple[Carrier, ...]


@dataclass(frozen=True, slots=True)
class Seen:
    """What may be answered to a question under one cause: places of answers; `named` where one names the cause."""

    answers: tuple[int, ...]
    named: bool


class Evidence:
    """The evidence of one library, worked out as it is asked for."""

    def __init__(self, library: Library, store: Store | None = None, analysis: Analysis | None = None) -> None:
        """Begin with nothing worked out but what the check has.

        Args:
            library: trees with a loop are left out.
            store: keeps what takes long for the next time; nothing is kept without it.
            analysis: of the library, where there is one already.
        """
        self.library = library
        self.store = store or Store(None)
        self.analysis = analysis or Analysis(library)
        self.graph = self.analysis.flow
        self.adviser = Adviser(library, self.graph)
        self._carried: dict[str, dict[str, Carried]] = {}
        self._advice: dict[str, Advice] = {}
        self._remedies: dict[str, tuple[dict[str, Remedy], Remedy | None, Remedy | None]] = {}

    @cached_property
    def trees(self) -> Mapping[str, Tree]:
        """The trees that have evidence, withdrawn ones and drafts left out: nobody is to follow them."""
        return {key: tree for key, tree in self.graph.trees.items() if tree.in_use}

    def ways(self, tree: Tree) -> int:
        """How many ways lead from the first step to an end, on through the trees that are handed over to."""
        return self.graph.ways((tree.id, tree.start))

    def rest(self, tree: Tree) -> Rest:
        """The longest rest of the balloon on any way, and a way with it."""
        return self.analysis.resting.witness(tree)

    def usual(self, tree: Tree, cause: str) -> Remedy | None:
        """The usual way to the remedy of a cause; None where it is not in reach."""
        return self._remedies_of(tree)[0].get(cause)

    def expected(self, tree: Tree) -> float | None:
        """The mean time to the remedy in seconds, causes counted by their shares; None without causes."""
        return self.advice(tree).expected

    def longest(self, tree: Tree) -> Remedy | None:
        """The longest way to a remedy; None without causes."""
        return self._remedies_of(tree)[1]

    def first_help(self, tree: Tree) -> Remedy | None:
        """The longest way to the first help, a remedy begun or a call, over all causes; None without causes."""
        return self._remedies_of(tree)[2]

    def _remedies_of(self, tree: Tree) -> tuple[dict[str, Remedy], Remedy | None, Remedy | None]:
        """The usual ways by their causes, the longest of all, and the longest to the first help."""
        if tree.id not in self._remedies:
            kept = self.store.get("remedies", [self._on_shapes[1], tree.id], lambda: self._timed(tree.id))
            usual = {one.cause: one for one in map(_remedy, kept["usual"])}
            longest, first = (_remedy(one) if one else None for one in (kept["longest"], kept["first"]))
            self._remedies[tree.id] = usual, longest, first
        return self._remedies[tree.id]

    def _timed(self, tree_id: str) -> dict[str, Any]:
        adviser = self._on_shapes[0]
        tree = adviser.graph.trees[tree_id]
        remedies = adviser.remedies(tree)
        usual = [way for cause in tree.causes if (way := remedies.usual(cause))]
        longest = remedies.longest_of_all()
        first = max(map(remedies.help_after, tree.causes), key=lambda way: way.seconds, default=None)
        return {
            "usual": [asdict(way) for way in usual],
            "longest": longest and asdict(longest),
            "first": first and asdict(first),
        }

    def advice(self, tree: Tree) -> Advice:
        """What is known of the order of a tree's questions; worked out once, for it takes its time."""
        if tree.id not in self._advice:
            adviser, inputs = self._on_shapes
            kept = self.store.get(
                "advice", [inputs, tree.id], lambda: asdict(adviser.advice(adviser.graph.trees[tree.id]))
            )
            self._advice[tree.id] = advice_of(kept)
        return self._advice[tree.id]

    @cached_property
    def _on_shapes(self) -> tuple[Adviser, str]:
        """What gives advice without knowing a word of the trees, and what stands for all that it knows."""
        graph = Graph(shapes_of(self.graph.trees))
        return Adviser(self.library, graph), digest(graph.trees, self.library.safety, self.library.settings)

    def carried(self, tree: Tree) -> Mapping[str, Carried]:
        """All safety rules in a tree, by their ids."""
        if tree.id not in self._carried:
            broken = {breach.rule for breach in self.analysis.patterns.breaches(tree)}
            marked = _marked(tree)
            self._carried[tree.id] = {
                rule.id: self._one(tree, marked, rule, rule.id in broken) for rule in self.library.safety.values()
            }
        return self._carried[tree.id]

    def _one(self, tree: Tree, marked: Sequence[_Marked], rule: SafetyRule, broken: bool) -> Carried:
        if not rule.holds_for(tree):
            return Carried(rule.id, APART, (), ())
        subjects = [_carriers(marked, marks) for marks in rule.spoken_of]
        guards = _carriers(marked, rule.marks(rule.pattern.guard))
        state = BROKEN if broken else (HOLDS if all(subjects) else IDLE)
        return Carried(rule.id, state, tuple(dict.fromkeys(c for found in subjects for c in found)), guards)

    def coverage(self, tree: Tree) -> dict[str, dict[str, Seen]]:
        """For each cause the questions that a hurried reader can come to, each with what can be answered there."""
        kept = self.store.get("coverage", [self._on_shapes[1], tree.id], lambda: self._covered(tree.id))
        return {
            cause: {node: Seen(tuple(answers), named) for node, (answers, named) in kept[cause].items()}
            for cause in tree.causes
        }

    def _covered(self, tree_id: str) -> dict[str, dict[str, tuple[tuple[int, ...], bool]]]:
        graph = self._on_shapes[0].graph
        tree = graph.trees[tree_id]
        causes = Causes(tree, graph)
        found = {cause: self._seen(tree, causes, cause) for cause in tree.causes}
        return {cause: {key: (one.answers, one.named) for key, one in seen.items()} for cause, seen in found.items()}

    def _seen(self, tree: Tree, causes: Causes, cause: str) -> dict[str, Seen]:
        seen: dict[str, set[int]] = {}
        for state in causes.reach(tree.start, cause):
            node = tree.nodes[state[0][1]]
            if node.kind == "ask":
                given = seen.setdefault(node.id, set())
                possible = [id(answer) for answer in causes.possible(state, cause)]
                given |= {place for place, answer in enumerate(node.answers) if id(answer) in possible}
        return {
            node: Seen(tuple(sorted(given)), any(_names(tree.nodes[node].answers[i], cause) for i in given))
            for node, given in seen.items()
        }


def _remedy(kept: dict[str, Any]) -> Remedy:
    """A remedy as `asdict` and JSON have left it."""
    return Remedy(kept["cause"], kept["seconds"], tuple(Step(**step) for step in kept["way"]))


def telling(node: Node) -> bool:
    """Whether a question tells causes apart, or whether a remedy has held."""
    return any(answer.when is not None for answer in node.answers)


def _names(answer: Answer, cause: str) -> bool:
    return answer.when is not None and cause in answer.when


def _marked(tree: Tree) -> list[_Marked]:
    """The steps and answers that bear marks; those offered at any time once, under no step."""
    found: list[_Marked] = []
    for node in tree.nodes.values():
        found.append(((node.id, None), node.marks))
        found += [((node.id, answer.say), answer.marks) for answer in node.answers]
    found += [(("", answer.say), answer.marks) for answer in tree.anytime]
    return [(carrier, marks) for carrier, marks in found if marks]


def _carriers(marked: Sequence[_Marked], marks: frozenset[str]) -> tuple[Carrier, ...]:
    """Those that bear one of some marks."""
    if not marks:
        return ()
    return tuple(carrier for carrier, borne in marked if not marks.isdisjoint(borne))
