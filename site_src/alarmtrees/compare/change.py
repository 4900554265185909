"""What a comparison finds: changes, each with its weight, its witness, and a fingerprint.

One slip of an author shows in many places: a step put first means that others come later, that help comes later,
that a mark is met on another way. So a change may name another one in `follows`: the headline that it is a
consequence of. A headline follows nothing, so nobody has to go further than one. A report tells headlines, and
under each, folded, what follows; `Comparison.headlines` gives both. A headline says what the author did, and may
weigh less than what follows from it: whoever folds shows the heaviest weight of the two (`Headline.weight`).
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from ..model.finding import Place, Step
from .kinds import ORDER, Weight, weight_of

Way = tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class Change:
    """One change between two versions of a library.

    Attributes:
        kind: the id of the kind of change, one of `KINDS`.
        tree: the tree concerned, None where it is about what trees share.
        message: what changes for the reader.
        place: where to look; in the head's files where the thing still stands there.
        gone: whether the place is one in the base's files.
        node: the step concerned.
        part: the key of the tree or step that was edited, "answers/" and what it says for an answer; None where the
            change is not an edit, and only shows on the ways.
        entry: what of a file that is no tree is concerned: an entry, or a heading of an article.
        before: the text that goes, or the name of what goes.
        after: the text that comes.
        way_before: the shortest way that shows the change, as the base has it.
        way_now: the same answers, as the head has it.
        ways: on how many ways it is met, None where that says nothing.
        weighs: its weight, where that is not what its kind usually weighs.
        follows: the fingerprint of the headline that it is a consequence of; None where it is one itself.
    """

    kind: str
    tree: str | None
    message: str
    place: Place
    gone: bool = False
    node: str | None = None
    before: str | None = None
    after: str | None = None
    way_before: Way | None = None
    way_now: Way | None = None
    ways: int | None = None
    weighs: Weight | None = None
    part: str | None = None
    follows: str | None = None
    entry: str | None = None

    @property
    def weight(self) -> Weight:
        """Error, warning or note."""
        return weight_of(self.kind, self.weighs)

    @property
    def fingerprint(self) -> str:
        """A short hash that stays the same as long as the change does: 16 hexadecimal digits.

        Line numbers, counts, the names of steps and what it follows do not enter; the tree, the kind, the texts and the
        answers of the witness do. An approval given to it so outlives edits elsewhere.
        """
        content = [self.tree, self.kind, self.before, self.after, _answers(self.way_before), _answers(self.way_now)]
        content += [self.entry] if self.entry else []
        text = json.dumps(content, ensure_ascii=False, separators=(",", ":"))
        return hashlib.sha256(text.encode()).hexdigest()[:16]

    @property
    def sort_key(self) -> tuple[int, str, Place, str, str, str]:
        """The order of a report: by weight, then tree, place and kind."""
        return (ORDER[self.weight], self.tree or "", self.place, self.kind, self.message, self.fingerprint)


def flat(value: Any) -> str | None:
    """A value of a file as one text: lists and mappings on a line, None as None."""
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, Mapping):
        return ", ".join(f"{key}: {flat(entry)}" for key, entry in value.items())
    if isinstance(value, (set, frozenset)):
        value = sorted(value)
    return ", ".join(flat(item) or "" for item in value)


def _answers(way: Way | None) -> list[str] | None:
    return None if way is None else [step.answer for step in way if step.answer is not None]


@dataclass(frozen=True, slots=True)
class Counts:
    """The ways of one tree, told apart by their answers: before, now, and those that stay the same.

    `complete` is False where the two versions differ in so many places that they could not be put side by
    side; `same` then counts too few.
    """

    tree: str
    before: int
    now: int
    same: int
    complete: bool = True


@dataclass(frozen=True, slots=True)
class Headline:
    """A change that follows no other, and those that follow it."""

    change: Change
    followed_by: tuple[Change, ...] = ()

    @property
    def weight(self) -> Weight:
        """The heaviest weight of it and of what follows."""
        return min((c.weight for c in (self.change, *self.followed_by)), key=lambda weight: ORDER[weight])


@dataclass(frozen=True, slots=True)
class Approval:
    """One change that somebody approved: its fingerprint, the version it was read in, the role, the day, the reason."""

    change: str
    version: str
    by: str
    on: str
    why: str


_RESTED_ON = ("kb/safety.yml", "kb/marks.yml", "kb/settings.yml", "kb/cautions.yml")


def _reach(change: Change) -> int:
    """How far a change reaches: 0 into all trees, 1 into one, 2 into what is read beside them."""
    return 1 if change.tree is not None else 0 if change.place.file in _RESTED_ON else 2


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two versions of a library and all that changes between them.

    Attributes:
        base: the name of the version before.
        head: the name of the version now.
        changes: sorted by weight, tree and place.
        counts: the ways of each tree that both versions have, by id.
        pictures: for each tree with a changed way the picture of it, as Mermaid text.
        names: what roles and trees are called, by id.
        approvals: what somebody approved, of this version and of others.
        may_not_sign: the roles among them that may not sign a review, and so approve nothing.
        versions: for each file with a change what names its version in an approval.
    """

    base: str
    head: str
    changes: tuple[Change, ...]
    counts: tuple[Counts, ...]
    pictures: dict[str, str] = field(default_factory=dict)
    names: Mapping[str, str] = field(default_factory=dict)
    approvals: tuple[Approval, ...] = ()
    may_not_sign: frozenset[str] = frozenset()
    versions: Mapping[str, str] = field(default_factory=dict)

    def version(self, change: Change) -> str:
        """What names the version of a change in an approval; "" where nothing can be approved."""
        return self.versions.get(change.place.file, "")

    def approval(self, change: Change) -> Approval | None:
        """Who approved a change in this version; None where nobody has who may."""
        named = (change.fingerprint, self.version(change))
        fitting = (one for one in self.approvals if (one.change, one.version) == named)
        return next((one for one in fitting if one.by not in self.may_not_sign), None)

    def outlived(self, change: Change) -> Approval | None:
        """The last approval of a change that does not count: it is of another version, or of somebody who may not."""
        others = [one for one in self.approvals if one.change == change.fingerprint]
        return others[-1] if others and not self.approval(change) else None

    @property
    def headlines(self) -> tuple[Headline, ...]:
        """The changes that follow no other, each with those that follow it.

        Sorted by the heaviest weight of both; then what all trees rest on, the trees, and what is read beside them.
        """
        following: dict[tuple[str | None, str], list[Change]] = {}
        for change in self.changes:
            if change.follows is not None:
                following.setdefault((change.tree, change.follows), []).append(change)
        found = [
            Headline(change, tuple(following.pop((change.tree, change.fingerprint), ())))
            for change in self.changes
            if change.follows is None
        ]
        return tuple(sorted(found, key=lambda headline: (ORDER[headline.weight], _reach(headline.change))))

    def open(self, weight: Weight) -> int:
        """How many changes of a weight nobody has approved."""
        return sum(c.weight is weight and self.approval(c) is None for c in self.changes)

    @property
    def stale(self) -> list[str]:
        """The changes of approvals that fit nothing in this version."""
        used = {approval for change in self.changes if (approval := self.approval(change))}
        return sorted(one.change for one in self.approvals if one not in used)
