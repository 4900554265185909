"""What rules look at."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property, wraps
from typing import Generic, TypeVar

from ...calc import trial
from ...calc.formula import Fault, Formula
from ...calc.reading import read_formula
from ...model import Answer, Article, Calculator, Library, Map, Node, Seq, Source, Spot, Tree
from ...model.facts import Acts
from ...model.finding import MOST, Finding, Place, Severity, Step, cut_way, cut_words
from ...model.wording import nearest
from ...proof.acts import Grammar, Told, told_in
from ...proof.analysis import Analysis
from ...proof.graph import Graph, Key
from ...proof.simulate import Simulation
from ...reading.facts import raw_part
from ...reading.texts import Text, texts

Page = Tree | Article | Calculator
"""What readers open, and what is reviewed."""

Way = tuple[Step, ...]
"""Steps of a tree, one after the other, with the answers given there."""

Subject = TypeVar("Subject")


class View(Analysis):
    """One library as the rules see it: what was proved on its trees, and what several rules need of its texts."""

    def __init__(self, library: Library, graph: Graph, today: date) -> None:
        """Begin with nothing worked out.

        Args:
            library: all that was read.
            graph: the trees whose references hold.
            today: the day on which the check is made.
        """
        super().__init__(library, graph)
        self.today = today

    @property
    def pages(self) -> tuple[Page, ...]:
        """All trees, articles and calculators."""
        library = self.library
        return (*library.trees.values(), *library.articles.values(), *library.calculators.values())

    @cached_property
    def formulas(self) -> dict[str, tuple[Formula, tuple[Fault, ...]]]:
        """Each calculator read, and all that is wrong with it: the trial only where it can be worked out."""
        read = {key: read_formula(one, self.library.settings) for key, one in self.library.calculators.items()}
        return {key: (one, one.faults or tuple(trial.faults(one))) for key, one in read.items()}

    def told(self, node: Node) -> list[TextTold]:
        """The acts that a step tells, in its lines and in what it says to do until help comes."""
        key = node.place.file, node.id
        if key not in self._told:
            found = [
                TextTold(node.item_at("do", index) if node.kind == "do" else node.at(part), told)
                for part, lines, is_order in _orders(node)
                for index, told in self._told_in(lines, is_order)
            ]
            self._told[key] = found
        return self._told[key]

    def acts_in(self, text: str) -> list[Told]:
        """The acts that an answer tells, by verbs that the table knows."""
        return [told for _, told in self._told_in((text,), False)]

    def _told_in(self, lines: tuple[str, ...], is_order: bool) -> list[tuple[int, Told]]:
        """The acts of some lines; what several trees say alike is read once."""
        if (lines, is_order) not in self._read:
            self._read[lines, is_order] = told_in(self.grammar, lines, noted=is_order, strange=is_order)
        return self._read[lines, is_order]

    @cached_property
    def _read(self) -> dict[tuple[tuple[str, ...], bool], list[tuple[int, Told]]]:
        return _kept(self.library.acts)[1]

    @cached_property
    def grammar(self) -> Grammar:
        """The table of acts, made ready once."""
        return _kept(self.library.acts)[0]

    @cached_property
    def _told(self) -> dict[tuple[str, str], list[TextTold]]:
        return {}

    def source_of(self, page: Page) -> Source:
        """The file of a tree, article or calculator."""
        return self._files[page.file]

    def texts(self, source: Source) -> list[Text]:
        """All texts of a file that readers see, in the order of the file."""
        if source.file not in self._texts:
            self._texts[source.file] = texts(source)
        return self._texts[source.file]

    @cached_property
    def _texts(self) -> dict[str, list[Text]]:
        return {}

    @cached_property
    def _files(self) -> dict[str, Source]:
        return {source.file: source for source in self.library.sources_read}


_Read = tuple[Grammar, dict[tuple[tuple[str, ...], bool], list[tuple[int, Told]]]]
_KEPT: list[tuple[Acts, _Read]] = []
_MOST_KEPT = 20_000
"""So many texts are kept as read, then they are forgotten: a served site is checked at each edit."""


def _kept(acts: Acts) -> _Read:
    """The table made ready, and what it has read, as long as the table stays the same from check to check."""
    if not _KEPT or _KEPT[0][0] != acts or len(_KEPT[0][1][1]) > _MOST_KEPT:
        _KEPT[:] = [(acts, (Grammar(acts), {}))]
    return _KEPT[0][1]


def _orders(node: Node) -> Iterator[tuple[str, tuple[str, ...], bool]]:
    """The texts of a step that may tell an act: key, lines, and whether they are there to tell what to do."""
    key = {"ask": "ask", "do": "do", "end": "say"}[node.kind]
    yield key, node.lines, node.kind == "do"
    if node.meanwhile:
        yield "meanwhile", (node.meanwhile,), True


@dataclass(frozen=True, slots=True)
class TextTold:
    """An act that a text of a step tells, and where the text stands."""

    place: Place
    told: Told


@dataclass(frozen=True, slots=True)
class Flaw:
    """What a rule has found; the engine says under which rule, and how much it weighs.

    Attributes:
        place: where to look in the source.
        message: what is wrong, why it matters, what to write instead.
        node: the step concerned, None where it is not about one step.
        way: the shortest way that shows it, or what finds it when it is told; None where it is not about a way.
        severity: how much it weighs, where that is not what the rule says of all of them.
    """

    place: Place
    message: str
    node: str | None = None
    way: Way | Callable[[], Way] | None = None
    severity: Severity | None = None


@dataclass(frozen=True, slots=True)
class Rule(Generic[Subject]):
    """One rule of the registry.

    Attributes:
        id: its kebab-case id, the name of its file.
        family: reading, references, shape, library, causes, safety, formulas, words or review.
        severity: the weight of its findings, unless one says otherwise.
        needs: the kind of fact file that it looks names up in: of a broken one nothing is known to be missing.
        doc: its documentation, Markdown.
        about: what it says of its own work.
        subjects: what it is asked about, one after the other.
        check: yields what is wrong with one of them.
    """

    id: str
    family: str
    severity: Severity
    needs: str | None
    doc: str
    about: str
    subjects: Callable[[View], Iterable[Subject]]
    check: Callable[[View, Subject], Iterable[Flaw]]

    def findings(self, view: View) -> Iterator[Finding]:
        """All that the rule finds, each with the rule's id and weight, by place.

        Only what is told of a file carries its way: a way is as long as the tree, and ways of thousands of
        findings would fill any memory.
        """
        if self.needs in view.library.broken:
            return
        flaws = [flaw for subject in self.subjects(view) for flaw in self.check(view, subject)]
        counts: dict[tuple[str, Severity], int] = {}
        for flaw in sorted(flaws, key=lambda flaw: (flaw.place, flaw.message)):
            severity = flaw.severity or self.severity
            kind = flaw.place.file, severity
            counts[kind] = counts.get(kind, 0) + 1
            way = None if counts[kind] > MOST + 1 else flaw.way() if callable(flaw.way) else flaw.way
            message = cut_words(flaw.message)
            yield Finding(self.id, severity, flaw.place, message, flaw.node, way and cut_way(way))


Ruling = Callable[[Callable[[View, Subject], Iterable[Flaw]]], Rule[Subject]]
"""Makes a rule of the function that checks."""


def _rule(
    family: str, severity: Severity, needs: str | None, subjects: Callable[[View], Iterable[Subject]]
) -> Ruling[Subject]:
    """A rule named by its file and documented by the file's head."""

    def ruling(check: Callable[[View, Subject], Iterable[Flaw]]) -> Rule[Subject]:
        module = sys.modules[check.__module__]
        name = module.__name__.rpartition(".")[2].replace("_", "-")
        return Rule(name, family, severity, needs, module.__doc__ or "", check.__doc__ or "", subjects, check)

    return ruling


def file_rule(family: str, severity: Severity = Severity.ERROR, needs: str | None = None) -> Ruling[Source]:
    """A rule that is given every file as read."""
    return _rule(family, severity, needs, lambda view: view.library.sources_read)


def tree_rule(family: str, severity: Severity = Severity.ERROR, needs: str | None = None) -> Ruling[Tree]:
    """A rule that is given every tree of which its family can say something."""

    def trees(view: View) -> Iterable[Tree]:
        if family in ("causes", "safety"):  # these speak of all ways, and a loop has no end of them
            return view.flow.trees.values()
        return (view.graph.trees if family == "shape" else view.library.trees).values()

    return _rule(family, severity, needs, trees)


def page_rule(family: str, severity: Severity = Severity.ERROR, needs: str | None = None) -> Ruling[Page]:
    """A rule that is given every tree, article and calculator."""
    return _rule(family, severity, needs, lambda view: view.pages)


def calculator_rule(family: str, severity: Severity = Severity.ERROR, needs: str | None = None) -> Ruling[Calculator]:
    """A rule that is given every calculator."""
    return _rule(family, severity, needs, lambda view: view.library.calculators.values())


def library_rule(
    family: str, severity: Severity = Severity.ERROR, needs: str | None = None
) -> Callable[[Callable[[View], Iterable[Flaw]]], Rule[Library]]:
    """A rule that looks at the library as a whole."""

    def ruling(check: Callable[[View], Iterable[Flaw]]) -> Rule[Library]:
        @wraps(check)
        def whole(view: View, _: Library) -> Iterable[Flaw]:
            return check(view)

        return _rule(family, severity, needs, lambda view: (view.library,))(whole)

    return ruling


def settled_first(library: Library) -> tuple[list[Tree], list[Tree]]:
    """The trees that are signed and no drafts, and all others, drafts last: of two that clash, the newer errs."""
    trees = library.trees.values()
    settled = [tree for tree in trees if tree.review and not tree.is_draft]
    others = [tree for tree in trees if not tree.review or tree.is_draft]
    return settled, sorted(others, key=lambda tree: tree.is_draft)


def kind_of(page: Page) -> tuple[str, str]:
    """What a page is called, and the key to show where it lacks something."""
    if isinstance(page, Article):
        return "article", "title"
    return "tree" if isinstance(page, Tree) else "calculator", "id"


def wrong_formulas(view: View, calculator: Calculator, rule: str) -> Iterator[Flaw]:
    """What is wrong with a calculator, under one rule."""
    for fault in view.formulas[calculator.id][1]:
        if fault.rule == rule:
            yield Flaw(fault.place, fault.message)


def listed(page: Page, key: str) -> Iterator[tuple[Place, str | None, str]]:
    """The ids under a key of a page, and of the steps of a tree: place, step, id."""
    for index, name in enumerate(page.raw.get(key, ())):
        yield page.item_at(key, index), None, name
    for node in page.nodes.values() if isinstance(page, Tree) else ():
        for index, name in enumerate(node.raw.get(key, ())):
            yield node.item_at(key, index), node.id, name


def named_in(owner: Map, key: str) -> Iterator[tuple[Map, str, int, str]]:
    """Every item of every list under a key, however deep: its mapping, the key, its index, the item."""
    for name, value in owner.items():
        if name == key and isinstance(value, Seq):
            yield from ((owner, name, index, item) for index, item in enumerate(value))
            continue
        for part in value if isinstance(value, Seq) else (value,):
            if isinstance(part, Map):
                yield from named_in(part, key)


def strange_names(view: View, part: str) -> Iterator[Flaw]:
    """Names that the hospital's own settings give a value to, but the shipped ones do not know."""
    files = {source.file: source for source in view.library.sources_read if source.kind == "settings"}
    base, own = files.get("kb/settings.yml"), files.get("kb/settings.local.yml")
    if base is None or own is None:
        return
    known, given = raw_part(base, part), raw_part(own, part)
    for name in given:
        if name not in known:
            message = f"kb/settings.yml has no `{name}`, so nothing uses this{guess(name, known)}"
            yield Flaw(own.place(given.key_at[name]), message)


def faults_of_causes(
    view: View, tree: Tree, part: Callable[[Simulation], Mapping[str, int]]
) -> Iterator[tuple[str, str, int, Key | None]]:
    """What causes meet in a tree, from its start and from where others enter it.

    Yields where the causes began, the step, the causes as a mask, and the `go` that led in; None
    at the tree's own start. What the start shows is not told again for an entry.
    """
    if not tree.causes:
        return
    causes = view.causes(tree)
    own = part(causes.run(tree.start))
    yield from ((tree.start, node_id, mask, None) for node_id, mask in own.items())
    for entry, gate in view.gates(tree):
        for node_id, mask in part(causes.run(entry)).items():
            if new := mask & ~own.get(node_id, 0):
                yield entry, node_id, new, gate


def passed_on(source: Source, rule: str) -> Iterator[Flaw]:
    """The problems met in reading a file, under one rule."""
    for problem in source.problems:
        if problem.rule == rule:
            yield Flaw(source.place(problem.spot), problem.message)


def answer_at(answer: Answer, key: str) -> Place:
    """Where the value of a key of an answer stands."""
    return Place(answer.place.file, *answer.raw.value_at.get(key, answer.raw.at))


def item_at(answer: Answer, key: str, index: int) -> Place:
    """Where an item of a list of an answer stands; the value where it is a single word."""
    value = answer.raw[key]
    spot = value.item_at[index] if isinstance(value, Seq) else answer.raw.value_at[key]
    return Place(answer.place.file, *spot)


def item_spot(owner: Map, key: str, name: str) -> Spot:
    """Where a name stands under a key that holds one name or a list of names."""
    value = owner[key]
    spot: Spot = value.item_at[value.index(name)] if isinstance(value, Seq) else owner.value_at[key]
    return spot


def guess(name: str, known: Iterable[str]) -> str:
    """Words that offer the nearest known name, or nothing."""
    close = nearest(name, known)
    return f"; did you mean `{close}`?" if close else ""
