"""What an author edited in the steps of a tree: each step, answer and hand-on that differs, by its name.

Steps of both versions are put side by side and compared key by key. Ways only tell how a reader comes there; a
step that no way reaches is compared like any other.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from ..model import Answer, Node
from ..model.finding import Place
from ..model.wording import folded
from .advice import described
from .change import Change
from .fields import part_of
from .kinds import Weight
from .matching import Matching
from .ways import Ways, given

NODES, TO, THEN, START = "nodes", "to", "then", "start"
"""The parts that are edited where a step comes or goes, or what follows is another; see `Change`."""


def edits(matching: Matching, ways: Ways | None) -> Iterator[Change]:
    """All that differs in steps that both versions have, in answers offered at any time, and where ways begin.

    Args:
        matching: the two versions, side by side.
        ways: their ways; None where those cannot be told.
    """
    return _Edits(matching, ways).all()


@dataclass(frozen=True, slots=True)
class _Onward:
    """What followed a step, and what follows it now: by which answer, None where it goes on by itself."""

    answer: Answer | None
    before: str | None
    now: str | None
    place: Place


class _Edits:
    def __init__(self, matching: Matching, ways: Ways | None) -> None:
        self.matching, self.ways = matching, ways
        self.old, self.new = matching.old, matching.new

    def all(self) -> Iterator[Change]:
        for u, v in self.matching.forth.items():
            for found in self.matching.step(u, v):
                yield self._reached(found.at(self.new.id, v), u, v)
            if self.new.nodes[v].kind == "ask":
                yield from self._answers(u, v)
            yield from self._elsewhere(u, v)
        yield from self._anytime()
        yield from self._start()

    def _reached(self, change: Change, u: str, v: str) -> Change:
        if self.ways is None:
            return change
        ways = self.ways
        return replace(change, way_before=ways.to_old(u), way_now=ways.to_new(v), ways=ways.through_old(u))

    # ------------------------------------------------------------------ answers

    def _answers(self, u: str, v: str) -> Iterator[Change]:
        pairs, gone, new = self.matching.answer_pairs(v)
        tree, ways = self.new.id, self.ways
        for a, b in pairs:
            for found in self.matching.answer(a, b):
                change = found.at(tree, v)
                if ways:
                    before, now = given(ways.to_old(u), a), given(ways.to_new(v), b)
                    change = replace(change, way_before=before, way_now=now, ways=ways.by_old(u, a))
                yield change
        for a in gone:
            place = self.new.nodes[v].at("answers")
            message = f"the answer “{a.say}” is gone"
            change = Change("answer-gone", tree, message, place, node=v, before=a.say, part=part_of(a))
            if ways:
                before = given(ways.to_old(u), a)
                change = replace(change, way_before=before, way_now=ways.to_new(v), ways=ways.by_old(u, a))
            yield change
        for b in new:
            message = f"the answer “{b.say}” is new"
            change = Change("answer-added", tree, message, b.place, node=v, after=b.say, part=part_of(b))
            if ways:
                change = replace(change, way_now=given(ways.to_new(v), b), ways=ways.by_new(v, b))
            yield change
        alias, place = self.matching.answers(v), self.new.nodes[v].at("answers")
        asked = self.old.nodes[u].answers, self.new.nodes[v].answers
        for change in self._reordered(*asked, alias, place, "answers"):
            yield self._reached(replace(change, node=v), u, v)

    def _reordered(
        self, old: Sequence[Answer], new: Sequence[Answer], alias: Mapping[str, str], place: Place, part: str
    ) -> Iterator[Change]:
        before, now = [folded(a.say) for a in old], [alias.get(folded(b.say), "") for b in new]
        if [say for say in before if say in now] != [say for say in now if say in before]:
            was, is_now = (", ".join(answer.say for answer in answers) for answers in (old, new))
            message = "the answers stand in another order"
            yield Change("answers-reordered", self.new.id, message, place, before=was, after=is_now, part=part)

    def _anytime(self) -> Iterator[Change]:
        tree = self.new
        pairs, gone, new = self.matching.anytime_pairs()
        for a, b in pairs:
            yield from (found.at(tree.id, None) for found in self.matching.answer(a, b))
            if self.matching.forth.get(a.to) != b.to:
                onward = _Onward(b, a.to, b.to, _to(b))
                yield self._told([onward], None, part_of(b))
        for a in gone:
            message = f"the answer “{a.say}” is gone; it was offered at any time"
            place = tree.at("anytime")
            yield Change("answer-gone", tree.id, message, place, before=a.say, part=part_of(a))
        for b in new:
            message = f"the answer “{b.say}” is new, and offered at any time"
            yield Change("answer-added", tree.id, message, b.place, after=b.say, part=part_of(b))
        alias, place = self.matching.anytime, tree.at("anytime")
        yield from self._reordered(self.old.anytime, tree.anytime, alias, place, "anytime")

    # ------------------------------------------------------------------ what follows

    def _elsewhere(self, u: str, v: str) -> Iterator[Change]:
        a, b = self.old.nodes[u], self.new.nodes[v]
        if b.kind == "do" and (a.then is not None or b.then is not None) and self._lead_apart(a.then, b.then):
            onward = [_Onward(None, a.then, b.then, b.at(THEN))]
            yield self._reached(self._told(onward, v, THEN), u, v)
        elif b.kind == "ask":
            pairs, _, _ = self.matching.answer_pairs(v)
            onward = [_Onward(y, x.to, y.to, _to(y)) for x, y in pairs if self._lead_apart(x.to, y.to)]
            if onward:
                yield self._reached(self._told(onward, v, TO), u, v)

    def _lead_apart(self, before: str | None, now: str | None) -> bool:
        return before is None or now is None or self.matching.forth.get(before) != now

    def _start(self) -> Iterator[Change]:
        before, now = self.old.start, self.new.start
        if self.matching.forth.get(before) != now:
            yield self._told([_Onward(None, before, now, self.new.at(START))], None, START)

    def _told(self, onward: list[_Onward], node: str | None, part: str) -> Change:
        kind, weighs = self._weighed(onward, node)
        was, is_now = self._listed(onward, False), self._listed(onward, True)
        message = self._said(onward, part)
        place = onward[0].place
        return Change(kind, self.new.id, message, place, node=node, before=was, after=is_now, part=part, weighs=weighs)

    def _weighed(self, onward: list[_Onward], node: str | None) -> tuple[str, Weight | None]:
        if self.ways and self.ways.all_same(node):
            return "rewired", None
        exchanged = any(self._is_exchanged(step.before, step.now) for step in onward)
        return "leads-elsewhere", Weight.ERROR if exchanged else None

    def _is_exchanged(self, before: str | None, now: str | None) -> bool:
        """Whether something is done next that was not, and something that was is not."""
        old, new = _row(self.old.nodes, before), _row(self.new.nodes, now)
        forth = self.matching.forth
        gone = {folded(self.old.nodes[u].text) for u in old if forth.get(u) not in new}
        come = {folded(self.new.nodes[v].text) for v in new if self.matching.back.get(v) not in old}
        return bool(gone - come) and bool(come - gone)

    def _listed(self, onward: list[_Onward], is_now: bool) -> str:
        return "\n".join(
            (f"“{step.answer.say}”: " if step.answer else "") + self._target(step, is_now, False) for step in onward
        )

    def _target(self, step: _Onward, is_now: bool, in_short: bool = True) -> str:
        tree, name = (self.new, step.now) if is_now else (self.old, step.before)
        return described(tree.nodes.get(name) if name else None, in_short)

    def _said(self, onward: list[_Onward], part: str) -> str:
        first = onward[0]
        if part == START:
            return f"it begins with {self._target(first, True)} now; before, with {self._target(first, False)}"
        said = [
            (f"“{step.answer.say}”" if step.answer else "it") + f" now leads to {self._target(step, True)}"
            for step in onward
        ]
        if len(onward) == 1:
            return f"{said[0]}; before, to {self._target(first, False)}"
        if len(onward) == 2 and self._have_changed_places(*onward):
            names = " and ".join(f"“{step.answer.say}”" for step in onward if step.answer)
            return f"{names} have changed places: {'; '.join(said)}"
        return f"{len(onward)} answers lead elsewhere: {'; '.join(said)}"

    def _have_changed_places(self, one: _Onward, other: _Onward) -> bool:
        return not self._lead_apart(one.before, other.now) and not self._lead_apart(other.before, one.now)


def _to(answer: Answer) -> Place:
    return Place(answer.place.file, *answer.raw.value_at["to"])


def _row(nodes: Mapping[str, Node], name: str | None) -> list[str]:
    """The things to do from a step on, until something is asked or the way ends."""
    found: list[str] = []
    while name is not None and name in nodes and name not in found and nodes[name].kind == "do":
        found.append(name)
        name = nodes[name].then
    return found


# ---------------------------------------------------------------------- steps that one version has


def come_and_gone(matching: Matching, found: Iterable[Change], ways: Ways | None) -> Iterator[Change]:
    """What was found on the ways, with its part where a step comes or goes, and all other steps that come or go."""
    named: set[tuple[str, str | None]] = set()
    for change in found:
        how = change.kind.rpartition("-")[2]
        is_new = how == "added" and change.node not in matching.back
        is_old = how == "gone" and change.node in matching.old.nodes and change.node not in matching.forth
        if change.kind.startswith(("step-", "question-")) and (is_new or is_old):
            named.add((how, change.node))
            yield replace(change, part=NODES)
        else:
            yield change
    for name, node in matching.old.nodes.items():
        if name not in matching.forth and ("gone", name) not in named:
            yield _gone(matching, node, ways)
    for name, node in matching.new.nodes.items():
        if name not in matching.back and ("added", name) not in named:
            yield _come(matching, node, ways)


_CALLED = {"ask": "question", "do": "step", "end": "end"}


def _gone(matching: Matching, node: Node, ways: Ways | None) -> Change:
    name = _CALLED[node.kind]
    message = f"the {name} “{node.lines[0]}” no longer stands in the tree"
    place = matching.new.at("nodes")
    told = described(node) if node.kind == "end" else node.text
    change = Change(f"{name}-gone", matching.new.id, message, place, node=node.id, before=told, part=NODES)
    return replace(change, way_before=ways.to_old(node.id), ways=ways.through_old(node.id)) if ways else change


def _come(matching: Matching, node: Node, ways: Ways | None) -> Change:
    name = _CALLED[node.kind]
    message = f"the {name} “{node.lines[0]}” is new in the tree"
    told = described(node) if node.kind == "end" else node.text
    change = Change(f"{name}-added", matching.new.id, message, node.place, node=node.id, after=told, part=NODES)
    return replace(change, way_now=ways.to_new(node.id)) if ways else change
