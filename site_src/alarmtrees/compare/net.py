"""A second net below the first: whatever differs between two versions of a tree, and no finding names.

It knows nothing of how findings are made. It puts the two files side by side key by key, as they were read, and
looks for each key that differs into what was found; and where ways changed it asks that some finding says so.
What it holds is a fault of the program, and an error, for nobody can tell what it does to a reader.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from ..model.finding import Place
from .change import Change, Counts, flat
from .kinds import Weight
from .matching import Matching

_UNCOMPARED = ("id", "nodes", "review")
"""Keys that are compared otherwise, or say nothing to a reader: a signature is looked at by the check."""

_IN_ANY_ORDER = ("marks", "cautions", "when")

_Key = tuple[str | None, str]
"""A step, None for the tree itself, and the part of it; see `Change`."""


def unexplained(matching: Matching, found: Iterable[Change], counts: Counts | None) -> Iterator[Change]:
    """What no finding names: parts of the tree that differ, and ways that changed.

    Args:
        matching: the two versions.
        found: all that was found.
        counts: how many ways there are and how many stay the same; None where they cannot be told.
    """
    new = matching.new
    named, weighty = set(), False
    for change in found:
        named.add((change.node, change.part))
        if change.kind in ("answer-reworded", "typo"):  # an answer is named by what it says now, and by what it said
            named.add((change.node, f"{(change.part or '').partition('/')[0]}/{change.before}"))
        weighty = weighty or (change.weight is not Weight.NOTE and _is_on_ways(change))
    for (node, part), before, now in _differing(matching):
        if (node, part) not in named:
            at = new.nodes[node].place if node is not None and node in new.nodes else new.at(part.partition("/")[0])
            message = f"`{part}` is another, and nothing above says what that means; read both versions"
            yield Change("unexplained", new.id, message, at, node=node, before=flat(before), after=flat(now), part=part)
    if counts and not weighty and not counts.before == counts.now == counts.same:
        lost, come = counts.before - counts.same, counts.now - counts.same
        message = f"{lost:,} ways are gone and {come:,} are new, and nothing above says why; read both versions"
        place = Place(new.file, 1, 1)
        yield Change("unexplained", new.id, message, place, before=str(lost), after=str(come))


def _is_on_ways(change: Change) -> bool:
    """Whether a change is one that ways may show: of a step, of an answer, or found on the ways."""
    part = change.part or "start"
    return change.node is not None or part == "start" or part.startswith("anytime/")


def _differing(matching: Matching) -> Iterator[tuple[_Key, Any, Any]]:
    """Each part that differs, with what it was and is; names of steps are taken as those of the new version."""
    old, new, forth = matching.old, matching.new, matching.forth
    # Steps that have another name now; one that is gone has a name that none has.
    names = {name: now for name in old.nodes if (now := forth.get(name, f"{name} ")) != name}
    yield from _in(None, old.raw, new.raw, names)
    for u, v in forth.items():
        yield from _in(v, old.raw["nodes"][u], new.raw["nodes"][v], names)
    yield from (((u, "nodes"), old.raw["nodes"][u], None) for u in old.nodes if u not in forth)
    yield from (((v, "nodes"), None, new.raw["nodes"][v]) for v in new.nodes if v not in matching.back)


def _in(
    node: str | None, old: Mapping[str, Any], new: Mapping[str, Any], names: Mapping[str, str]
) -> Iterator[tuple[_Key, Any, Any]]:
    if old == new and not names:
        return
    for key in dict.fromkeys([*old, *new]):
        before, now = old.get(key), new.get(key)
        if key in _UNCOMPARED and node is None:
            continue
        if key in ("answers", "anytime"):
            yield from _in_answers(node, key, before or [], now or [], names)
        elif key == "causes":
            for name in dict.fromkeys([*(before or ()), *(now or ())]):
                was, is_now = (before or {}).get(name), (now or {}).get(name)
                if was != is_now:
                    yield (node, f"{key}/{name}"), was, is_now
        elif _plain(key, before, names) != _plain(key, now, {}):
            # How a way ends is one thing: its sort, who is called, where it goes.
            yield (node, "end" if "end" in new and key in ("call", "go") else key), before, now


def _plain(key: str, value: Any, names: Mapping[str, str]) -> Any:
    """A value so that two that mean the same are the same."""
    if key in ("then", "start", "to"):
        return names.get(value, value)
    if key in _IN_ANY_ORDER:
        return sorted({value} if isinstance(value, str) else set(value or ()))
    return value


def _in_answers(
    node: str | None, key: str, old: list[Any], new: list[Any], names: Mapping[str, str]
) -> Iterator[tuple[_Key, Any, Any]]:
    """Answers that read otherwise, or lead elsewhere and read the same."""
    was = [{k: _plain(k, value, names) for k, value in answer.items()} for answer in old]
    is_now = [{k: _plain(k, value, {}) for k, value in answer.items()} for answer in new]
    if was == is_now:
        return
    told_before, told_now = Counter(map(_words, was)), Counter(map(_words, is_now))
    for answer, left in [*((a, told_now) for a in was), *((b, told_before) for b in is_now)]:
        if not left[_words(answer)]:
            yield (node, f"{key}/{answer['say']}"), answer, None
    targets = [{answer["say"]: answer["to"] for answer in answers} for answers in (was, is_now)]
    apart = [say for say in targets[0] if targets[1].get(say, targets[0][say]) != targets[0][say]]
    if apart and key == "answers":
        yield (node, "to"), None, ", ".join(apart)
    elif apart:
        yield from (((node, f"{key}/{say}"), None, say) for say in apart)
    is_reordered = [a["say"] for a in was] != [b["say"] for b in is_now]
    if not apart and told_before == told_now and is_reordered:
        yield (node, key), None, None


def _words(answer: Mapping[str, Any]) -> str:
    return repr(sorted((key, value) for key, value in answer.items() if key != "to"))
