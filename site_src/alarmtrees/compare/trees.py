"""What changes in one tree that both versions have."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from ..model import Answer, Map, Tree
from ..model.finding import Place, Step
from ..proof.resting import Times
from .change import Change, Counts, Way, flat
from .judge import Judge
from .kinds import Weight
from .matching import Difference, Matching
from .product import Product
from .stops import Guide, NotComparableError, Stops, halts_of

STATES_A_STEP = 60
STATES_AT_LEAST = 1000
"""States of the product that are looked at for each step, and besides; two versions that need more are rewritten."""


@dataclass(frozen=True, slots=True)
class Compared:
    """One tree compared: its changes and its counts (None where its ways cannot be told)."""

    changes: tuple[Change, ...]
    counts: Counts | None


def compare_trees(
    matching: Matching,
    entered: tuple[frozenset[str], frozenset[str]],
    same_go: Callable[[str, str], bool],
    times: Times,
) -> Compared:
    """Compare two versions of a tree.

    Args:
        matching: the two versions, side by side.
        entered: the steps at which other trees enter it, before and now.
        same_go: whether two hand-overs lead to the same step of another tree.
        times: how long steps take where the tree says nothing.
    """
    old, new = matching.old, matching.new
    if old.raw == new.raw:
        return Compared((), _unchanged(new))
    found = list(_about(matching))
    pairs = _roots(matching, entered)
    try:
        halts_now = frozenset(matching.forth[u] for u in halts_of(old, True) if u in matching.forth)
        halts_before = frozenset(matching.back[v] for v in halts_of(new, True) if v in matching.back)
        before, now = Stops(old, [u for u, _ in pairs], halts_before), Stops(new, [v for _, v in pairs], halts_now)
    except NotComparableError as fault:
        return Compared((*found, _not_comparable(old, new, fault)), None)
    most = STATES_A_STEP * (len(old.nodes) + len(new.nodes)) + STATES_AT_LEAST
    product = Product(before, now, matching, pairs, same_go, most)
    seen: dict[tuple[str, str | None, str | None, str | None], Change] = {}
    same = 0
    for start in product.starts:
        judge = Judge(product, start, times)
        for change in judge.changes():
            seen.setdefault((change.kind, change.node, change.before, change.after), change)
        if start is product.starts[0]:
            same = judge.same()
    found += seen.values()
    found += _in_steps(matching, before, now, [u for u, _ in pairs], [v for _, v in pairs])
    counts = Counts(
        new.id, before.ways[before.entries[old.start].to], now.ways[now.entries[new.start].to], same, product.complete
    )
    if not product.complete:
        found.append(_rewritten(new))
    return Compared(tuple(found), counts)


def _unchanged(tree: Tree) -> Counts | None:
    try:
        stops = Stops(tree, [tree.start])
    except NotComparableError:
        return None  # as it was before; the check speaks of it
    ways = stops.ways[stops.entries[tree.start].to]
    return Counts(tree.id, ways, ways, ways)


def _roots(matching: Matching, entered: tuple[frozenset[str], frozenset[str]]) -> list[tuple[str, str]]:
    """Where ways begin in both versions: the start, then the steps at which other trees enter."""
    old, new = matching.old, matching.new
    pairs = [(old.start, new.start)]
    here = {**{node: node for node in old.nodes if node in new.nodes}, **matching.forth}
    pairs += [(u, v) for u, v in here.items() if (u in entered[0] or v in entered[1]) and (u, v) not in pairs]
    return pairs


def _not_comparable(old: Tree, new: Tree, fault: NotComparableError) -> Change:
    try:
        Stops(new, [new.start])
    except NotComparableError:
        return Change(
            "not-comparable",
            new.id,
            f"its ways cannot be compared: {fault}; see `alarmtrees check`",
            Place(new.file, 1, 1),
            after=str(fault),
        )
    return Change(
        "not-comparable",
        new.id,
        f"its ways cannot be compared: in the version before, {fault}",
        Place(new.file, 1, 1),
        before=str(fault),
        weighs=Weight.WARNING,
    )


def _rewritten(new: Tree) -> Change:
    message = "the two versions differ in so many places that not all their ways were put side by side; read it anew"
    return Change("rewritten", new.id, message, Place(new.file, 1, 1))


# ---------------------------------------------------------------------- steps and answers


def _in_steps(
    matching: Matching, before: Stops, now: Stops, old_roots: list[str], new_roots: list[str]
) -> Iterator[Change]:
    guide_before, guide_now = before.guide(old_roots), now.guide(new_roots)
    through_before, through_now = before.through(old_roots[:1]), now.through(new_roots[:1])
    tree = matching.new.id
    for u, v in matching.forth.items():
        if u not in guide_before and v not in guide_now:
            continue
        for found in matching.step(u, v):
            change = _change(tree, v, found)
            yield replace(
                change, way_before=guide_before.way_to(u), way_now=guide_now.way_to(v), ways=through_before.get(u)
            )
        if now.is_ask(v) and before.is_ask(u):
            at = _At(v, guide_before, guide_now, before, now, u)
            yield from _in_answers(matching, at, through_before.get(u, 0), through_now.get(v, 0))
    yield from _in_anytime(matching)


@dataclass(frozen=True, slots=True)
class _At:
    """A question that both versions have."""

    node: str
    guide_before: Guide
    guide_now: Guide
    before: Stops
    now: Stops
    old: str

    @property
    def way_before(self) -> Way | None:
        """The shortest way to it in the old version."""
        return self.guide_before.way_to(self.old)

    @property
    def way_now(self) -> Way | None:
        """The shortest way to it in the new version."""
        return self.guide_now.way_to(self.node)


def _in_answers(matching: Matching, at: _At, arriving_before: int, arriving_now: int) -> Iterator[Change]:
    pairs, gone, new = matching.answer_pairs(at.node)
    tree = matching.new.id
    for a, b in pairs:
        for found in matching.answer(a, b):
            change = _change(tree, at.node, found)
            ways = _share(at.before, at.old, a, arriving_before)
            yield replace(change, way_before=_given(at.way_before, a), way_now=_given(at.way_now, b), ways=ways)
    for a in gone:
        place = matching.new.nodes[at.node].at("answers")
        message = f"the answer “{a.say}” is gone"
        ways = _share(at.before, at.old, a, arriving_before)
        yield Change(
            "answer-gone",
            tree,
            message,
            place,
            node=at.node,
            before=a.say,
            way_before=_given(at.way_before, a),
            way_now=at.way_now,
            ways=ways,
        )
    for b in new:
        message = f"the answer “{b.say}” is new"
        ways = _share(at.now, at.node, b, arriving_now)
        yield Change(
            "answer-added",
            tree,
            message,
            b.place,
            node=at.node,
            after=b.say,
            way_now=_given(at.way_now, b),
            ways=ways,
        )


def _share(side: Stops, stop: str, answer: Answer, through: int) -> int | None:
    """How many of the ways through a question lead on by one of its answers."""
    if stop not in side.moves or not side.ways[stop]:
        return None
    move = next((m for m in side.moves[stop].values() if m.answer is answer), None)
    return through // side.ways[stop] * side.ways[move.to] if move else None


def _given(way: Way | None, answer: Answer) -> Way | None:
    return None if way is None else (*way[:-1], Step(way[-1].node, answer.say))


def _in_anytime(matching: Matching) -> Iterator[Change]:
    tree = matching.new
    pairs, gone, new = matching.anytime_pairs()
    for a, b in pairs:
        yield from (_change(tree.id, None, found) for found in matching.answer(a, b))
    for a in gone:
        message = f"the answer “{a.say}” is gone; it was offered at any time"
        place = tree.at("anytime")
        yield Change("answer-gone", tree.id, message, place, before=a.say)
    for b in new:
        message = f"the answer “{b.say}” is new, and offered at any time"
        yield Change("answer-added", tree.id, message, b.place, after=b.say)


def _change(tree: str, node: str | None, found: Difference) -> Change:
    return Change(
        found.kind,
        tree,
        found.message,
        found.place,
        node=node,
        before=found.before,
        after=found.after,
        weighs=found.weighs,
    )


# ---------------------------------------------------------------------- the tree itself

_TOLD = ("title", "summary", "pump", "harm", "about", "aliases", "condition", "related", "sources")


def _about(matching: Matching) -> Iterator[Change]:
    """What changes in a tree apart from its steps."""
    old, new = matching.old, matching.new
    yield from _status(old, new)
    for key in _TOLD:
        a, b = old.raw.get(key), new.raw.get(key)
        if a == b:
            continue
        slip = key in ("title", "summary") and matching.words.is_slip(str(a), str(b))
        yield Change(
            f"{key}-changed",
            new.id,
            f"`{key}` changed",
            new.at(key),
            before=flat(a),
            after=flat(b),
            weighs=Weight.NOTE if slip else None,
        )
    lost = [caution for caution in old.cautions if caution not in new.cautions]
    come = [caution for caution in new.cautions if caution not in old.cautions]
    for caution in lost:
        message = f"the caution `{caution}` no longer stands on the page"
        yield Change("caution-gone", new.id, message, new.at("cautions"), before=caution)
    for caution in come:
        message = f"the caution `{caution}` is new on the page"
        yield Change("caution-added", new.id, message, new.at("cautions"), after=caution)
    yield from _causes(old, new)


def _status(old: Tree, new: Tree) -> Iterator[Change]:
    if old.status == new.status:
        return
    weighs = Weight.NOTE if new.status == "in-use" and not old.is_withdrawn else None
    message = {
        "withdrawn": "the tree is withdrawn: readers see only that, and whom to call",
        "in-use": "the tree is in use now",
        "draft": "the tree is a draft now: readers may not use it",
    }.get(new.status or "", "the tree has no status any longer")
    kind = "withdrawn" if new.is_withdrawn else "status-changed"
    yield Change(kind, new.id, message, new.at("status"), before=old.status, after=new.status, weighs=weighs)


def _causes(old: Tree, new: Tree) -> Iterator[Change]:
    for name, lost in old.causes.items():
        if name not in new.causes:
            message = f"the cause `{name}` is gone"
            yield Change("cause-gone", new.id, message, new.at("causes"), before=lost.say)
    for name, cause in new.causes.items():
        before: Map | None = old.raw["causes"].get(name) if old.causes else None
        now: Map = new.raw["causes"][name]
        if before is None:
            yield Change("cause-added", new.id, f"the cause `{name}` is new", cause.place, after=cause.say)
        elif before != now:
            message = f"the cause `{name}` changed"
            yield Change("cause-changed", new.id, message, cause.place, before=flat(before), after=flat(now))
