"""What every format is given: one sound tree, in words as readers see them, without anything private."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from pathlib import Path

from ..check.rules import RULES, View
from ..check.run import alone, errors_in
from ..model import Answer, Library, Node, Source, Tree
from ..model.finding import Finding
from ..model.stamp import content_stamp
from ..model.wording import fill
from ..proof.graph import Graph
from ..proof.order import reading_order
from ..reading.find import find_tree

_ENDLESS = frozenset({"cycle", "dead-end"})
_WORD = re.compile(r"[a-z0-9]+")
MADE_BY = "Made from an alarm tree by `alarmtrees export`; change the tree, not this file."
FOR_WHOM = (
    "For trained staff. Reference and teaching, not a medical device; it diagnoses nothing and decides nothing. The "
    "maker's instructions for use and the hospital's policy come first."
)


def plain(text: str) -> str:
    """A text with one ordinary blank wherever white space of any kind stands.

    >>> plain("15\\u00a0min")
    '15 min'
    """
    return " ".join(text.split())


@dataclass(frozen=True, slots=True)
class Move:
    """One way on from a step.

    Attributes:
        key: a word for it that no other way on from this step has; it comes from what is seen, not from the order.
        say: what is seen, or "Done" behind a step to do.
        to: the step that follows.
        answer: the answer as the tree has it; None behind a step to do.
    """

    key: str
    say: str
    to: str
    answer: Answer | None


@dataclass(frozen=True)
class Subject:
    """A tree to be exported.

    Attributes:
        tree: the tree; its references hold and all its ways end.
        library: what it refers to, without a hospital's private settings; None for a file outside any library.
    """

    tree: Tree
    library: Library | None

    def say(self, text: str) -> str:
        """A text as readers see it, with ordinary blanks: some formats know no others."""
        return plain(fill(text, self.library.settings if self.library else None))

    def role(self, role_id: str) -> str:
        """Whom to call, in words. Phone numbers stay in the house."""
        role = self.library.roles.get(role_id) if self.library else None
        return plain(role.say) if role else role_id

    def title_of(self, go: str) -> str:
        """The title of the tree that a `go` leads to."""
        tree_id = go.partition("/")[0]
        tree = self.library.trees.get(tree_id) if self.library else None
        return self.say(tree.title) if tree else tree_id

    def caution(self, caution_id: str) -> str:
        """A caution in words."""
        caution = self.library.cautions.get(caution_id) if self.library else None
        return self.say(caution.say) if caution else caution_id

    def source(self, source_id: str) -> str:
        """A source as one line."""
        entry = self.library.sources.get(source_id) if self.library else None
        if entry is None:
            return source_id
        parts = [entry.get(key, "") for key in ("author", "title", "in", "year")]
        where = f"doi:{entry['doi']}" if entry.get("doi") else entry.get("address", "")
        told = (*parts, where, f"How it was read: {entry['read']}")
        return ". ".join(plain(str(part)).rstrip(".") for part in told if part)

    @cached_property
    def steps(self) -> tuple[Node, ...]:
        """The steps that can be reached, in the order of the page's numbers: each before all that follow it."""
        ahead = Graph({self.tree.id: self.tree}).reachable([(self.tree.id, self.tree.start)])
        return tuple(self.tree.nodes[key] for key in reading_order(self.tree) if (self.tree.id, key) in ahead)

    @cached_property
    def numbers(self) -> dict[str, int]:
        """The number of each step on the page, from 1."""
        return {node.id: number for number, node in enumerate(self.steps, 1)}

    def moves(self, node: Node) -> tuple[Move, ...]:
        """The ways on from a step: its own answers or "Done", then the answers that are offered at any time."""
        return self._moves[node.id]

    @cached_property
    def _moves(self) -> dict[str, tuple[Move, ...]]:
        return {node.id: tuple(self._told(node)) for node in self.steps}

    def _told(self, node: Node) -> Iterator[Move]:
        taken: set[str] = set()
        if node.then:
            taken.add("done")
            yield Move("done", "Done", node.then, None)
        for answer in self.tree.answers_at(node):
            key = word = "-".join(_WORD.findall(answer.say.lower()))[:60].strip("-") or "answer"
            count = 1
            while key in taken:
                count += 1
                key = f"{word}-{count}"
            taken.add(key)
            yield Move(key, self.say(answer.say), answer.to, answer)

    def comers(self, node: Node) -> tuple[tuple[Node, Move], ...]:
        """The steps that lead to a step, each with the way on that does."""
        return self._comers.get(node.id, ())

    @cached_property
    def _comers(self) -> dict[str, tuple[tuple[Node, Move], ...]]:
        found: dict[str, list[tuple[Node, Move]]] = {}
        for node in self.steps:
            for move in self.moves(node):
                found.setdefault(move.to, []).append((node, move))
        return {key: tuple(comers) for key, comers in found.items()}

    @property
    def stamp(self) -> str:
        """The stamp of the content, short enough to read out."""
        return content_stamp(self.tree)[:12]

    @property
    def is_reviewed(self) -> bool:
        """Whether the tree is in use, and its review is of this content."""
        review = self.tree.review
        return self.tree.status == "in-use" and review is not None and review.content == content_stamp(self.tree)

    @property
    def is_fictional(self) -> bool:
        """Whether the values in its texts are those of the invented hospital."""
        return self.library is None or self.library.fictional

    def notes(self, lost: tuple[str, ...]) -> list[str]:
        """What a file of any format says about itself, one sentence a line.

        Args:
            lost: what the format cannot hold, from its registry entry.
        """
        tree, review = self.tree, self.tree.review
        lines = [MADE_BY, FOR_WHOM]
        if self.is_fictional:
            lines.append("Values, roles and dates are those of an invented hospital; put your own in their place.")
        if self.is_reviewed and review:
            by = plain(review.by)
            lines.append(f"Content {self.stamp}, reviewed {review.on} by {by}; do not use after {review.next}.")
        else:
            lines.append(
                f"Content {self.stamp}, status {tree.status or 'not said'}, not reviewed as it stands; do not use."
            )
        return [*lines, *(f"Lost in this format: {sentence}." for sentence in lost)]


Writer = Callable[[Subject, tuple[str, ...]], str]
"""Writes a subject; is told what its format loses."""


@dataclass(frozen=True, slots=True)
class Format:
    """One open format.

    Attributes:
        name: what `--to` takes.
        say: what it is.
        lost: what of a tree it cannot hold, a sentence each.
        write: the text of a whole file, the same every time.
    """

    name: str
    say: str
    lost: tuple[str, ...]
    write: Writer


def open_subject(name: str, root: Path) -> Subject:
    """Read the tree that is to be exported.

    Args:
        name: the id of a tree of the library at `root`, or a file, also one outside any library.
        root: the library's folder.

    Raises:
        FileNotFoundError: there is no such tree or file.
        BrokenTree: it cannot be read, or a reference does not hold, or a way does not end.
        ValueError: it is withdrawn.
    """
    named = find_tree(name, root)
    tree = named.tree()
    library = named.library(private=False)
    named.refuse(_faults(tree, named.source, library))
    if tree.is_withdrawn:
        raise ValueError(f"the tree “{tree.id}” is withdrawn; nobody is to walk it, so it is not exported")
    return Subject(tree, library)


def _faults(tree: Tree, source: Source, library: Library | None) -> list[Finding]:
    """References of this tree that do not hold; where they all do, ways that do not end."""
    by_itself = alone(tree, source)
    if library is None:
        return errors_in(tree, by_itself, {"unknown-target"}) or errors_in(tree, by_itself, _ENDLESS)
    references = {rule.id for rule in RULES if rule.family == "references"}
    whole = View(library, Graph(library.trees), date.today())
    within = View(library, by_itself.graph, date.today())
    return errors_in(tree, whole, references) or errors_in(tree, within, _ENDLESS)
