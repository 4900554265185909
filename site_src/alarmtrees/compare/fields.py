"""How two versions of a step, an answer, or the head of a tree differ: field by field, whatever ways lead there."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from ..model import Answer, Map, Mark, Node, Tree
from ..model.finding import Place
from ..model.tree import DERIVED_MARKS
from ..model.wording import folded
from ..proof.acts import Grammar, told_in
from .advice import advice
from .alike import Vocabulary
from .change import Change, flat
from .harm import harm, have_little_in_common
from .kinds import Weight, weight_of


@dataclass(frozen=True, slots=True)
class Difference:
    """What differs between the two versions of a step, an answer or a tree; see `Change`."""

    kind: str
    message: str
    before: str | None
    after: str | None
    place: Place
    part: str
    weighs: Weight | None = None

    @property
    def counts(self) -> bool:
        """Whether a way on which it stands is no longer the same for the reader."""
        return weight_of(self.kind, self.weighs) is not Weight.NOTE

    def at(self, tree: str, node: str | None) -> Change:
        """The change that it is, at a step of a tree or at the tree itself."""
        return Change(
            self.kind,
            tree,
            self.message,
            self.place,
            node=node,
            before=self.before,
            after=self.after,
            weighs=self.weighs,
            part=self.part,
        )


@dataclass(frozen=True, slots=True)
class Known:
    """What is known besides the two versions of a step.

    Attributes:
        words: the words that the library uses.
        marks: the marks as the library before explains them.
        acts: the acts as the library before tells them.
        said: what the steps of the old version said, with their names.
    """

    words: Vocabulary
    marks: Mapping[str, Mark]
    acts: Grammar
    said: Mapping[str, list[str]]


# ---------------------------------------------------------------------- texts


def text_difference(name: str, before: str, after: str, place: Place, part: str, words: Vocabulary) -> Difference:
    """What is so where a text reads otherwise: a slip is mended, harm may be done, or it is other words.

    Args:
        name: what it is a text of: "step", "question", "why", "title".
        before: the text as it was.
        after: the text as it is.
        place: where it stands.
        part: the key that holds it.
        words: the words that the library uses.
    """
    if len(before.splitlines()) == len(after.splitlines()) and words.is_slip(before, after):
        return Difference("typo", f"a slip in the {name} is mended", before, after, place, part)
    found = harm(before, after, is_act=name == "step")
    if found is None:
        how = "changed" if name in ("title", "summary") else "reworded"
        return Difference(f"{name}-{how}", f"the {name} reads otherwise", before, after, place, part)
    kind, what = found
    weighs = None
    if name == "why":
        weighs = Weight.NOTE if kind == "limit-changed" else Weight.WARNING
    message = f"{what} in the {name} changed" if kind == "limit-changed" else f"in the {name}, {what}"
    return Difference(kind, message, before, after, place, part, weighs)


# ---------------------------------------------------------------------- steps

_ACTS = {"ask": "question", "do": "step", "end": "end"}


def step_differences(a: Node, b: Node, known: Known) -> Iterator[Difference]:
    """How two versions of a step differ in themselves, answers and what follows apart."""
    if a.raw == b.raw:
        return
    yield from _lines(a, b, known)
    yield from _text("meanwhile", a, b, known.words)
    yield from _text("why", a, b, known.words)
    yield from _marks(a.marks, b.marks, b.at("marks"), "marks")
    if a.call != b.call and (a.end, b.end) in ((None, None), ("call", "call")):
        message = (
            "another role is called" if a.call and b.call else f"somebody is {'no longer' if a.call else 'now'} called"
        )
        yield Difference("call", message, a.call, b.call, b.at("call"), "end" if b.end else "call")
    elif (a.end, a.call, a.go) != (b.end, b.call, b.go):
        was, is_now = (" ".join(filter(None, (n.end, n.call, n.go))) for n in (a, b))
        yield Difference("end-changed", "it ends otherwise", was, is_now, b.at("end"), "end")
    if a.pump != b.pump:
        yield Difference("pump", "it does something else to the pump", a.pump, b.pump, b.at("pump"), "pump")
    yield from _picture(a, b)
    yield from _cautions(a, b)
    for key in ("sources", "fixes", "takes"):
        before, after = a.raw.get(key), b.raw.get(key)
        if before != after:
            yield Difference(f"{key}-changed", f"`{key}` changed", flat(before), flat(after), b.at(key), key)


def _picture(a: Node, b: Node) -> Iterator[Difference]:
    before, after = a.picture, b.picture
    if before and after and before != after:
        message = f"it shows the picture `{after}` now; before, `{before}`"
        yield Difference("picture-changed", message, before, after, b.at("picture"), "picture")
    elif after != before:
        how, named = ("added", f"now shows the picture `{after}`") if after else ("gone", f"shows `{before}` no longer")
        yield Difference(f"picture-{how}", f"it {named}", before, after, b.at("picture"), "picture")


def _cautions(a: Node, b: Node) -> Iterator[Difference]:
    if a.cautions == b.cautions:
        return
    place = b.at("cautions")
    lost = ", ".join(c for c in a.cautions if c not in b.cautions)
    if lost:
        yield Difference("caution-gone", "a caution no longer stands here", lost, None, b.place, "cautions")
    else:
        before, after = flat(a.raw.get("cautions")), flat(b.raw.get("cautions"))
        yield Difference("cautions-changed", "`cautions` changed", before, after, place, "cautions")


def _lines(a: Node, b: Node, known: Known) -> Iterator[Difference]:
    if a.lines == b.lines:
        return
    key = b.kind if b.kind != "end" else "say"
    place = _first_other(a, b) if b.kind == "do" else b.at(key)
    for mark in _words_gone(a, b, known):
        message = f"no line speaks any longer of what `{mark}` means"
        yield Difference("safety-words-gone", message, a.text, b.text, place, key)
    other = next((name for name in known.said.get(folded(b.text), ()) if name != a.id), None)
    if other is not None and have_little_in_common(a.text, b.text):
        message = f"it says now what the step `{other}` said before"
        yield Difference("exchanged", message, a.text, b.text, place, key)
    elif _is_reordered(a, b):
        yield Difference("lines-reordered", "its lines stand in another order", a.text, b.text, place, key)
    else:
        yield text_difference(_ACTS[a.kind], a.text, b.text, place, key, known.words)


def _is_reordered(a: Node, b: Node) -> bool:
    before, after = [folded(line) for line in a.lines], [folded(line) for line in b.lines]
    return a.kind == "do" and before != after and sorted(before) == sorted(after)


def _words_gone(a: Node, b: Node, known: Known) -> Iterator[str]:
    if a.kind != "do":
        return
    before, after = folded(a.text), folded(b.text)
    for mark in known.marks.values():
        if any(w in before for w in mark.step_words) and not any(w in after for w in mark.step_words):
            yield mark.id
    told_before, told_after = (
        {one.act.id: one.act for _, one in told_in(known.acts, node.lines) if one.act} for node in (a, b)
    )
    yield from (act.marks[0] for name, act in told_before.items() if name not in told_after)


def _text(key: str, a: Node, b: Node, words: Vocabulary) -> Iterator[Difference]:
    before: str | None = getattr(a, key)
    after: str | None = getattr(b, key)
    if before == after:
        return
    if before and after:
        yield text_difference(key, before, after, b.at(key), key, words)
    else:
        how = "gone" if before else "added"
        yield Difference(f"{key}-{how}", f"`{key}` is {how}", before, after, b.at(key), key)


def _first_other(a: Node, b: Node) -> Place:
    """The first line of something to do that is another than before; the last where lines only went."""
    same = 0
    while same < min(len(a.lines), len(b.lines)) and a.lines[same] == b.lines[same]:
        same += 1
    return b.item_at("do", min(same, len(b.lines) - 1))


def _marks(before: frozenset[str], after: frozenset[str], place: Place, part: str) -> Iterator[Difference]:
    for mark in sorted(before.difference(after, DERIVED_MARKS)):
        yield Difference("mark-gone", f"the mark `{mark}` is gone", mark, None, place, part)
    for mark in sorted(after.difference(before, DERIVED_MARKS)):
        yield Difference("mark-added", f"the mark `{mark}` is new", None, mark, place, part)


# ---------------------------------------------------------------------- answers


def part_of(answer: Answer) -> str:
    """The part of a step or tree that an answer is; see `Change`."""
    return f"{'anytime' if answer.anytime else 'answers'}/{answer.say}"


def answer_differences(a: Answer, b: Answer, words: Vocabulary) -> Iterator[Difference]:
    """How two versions of an answer differ, where they lead apart."""
    if (a.say, a.marks, a.pump, a.when) == (b.say, b.marks, b.pump, b.when):
        return
    part = part_of(b)
    spot = b.raw.value_at.get("say")
    place = Place(b.place.file, *spot) if spot else b.place
    if a.say != b.say:
        if folded(a.say) == folded(b.say) or words.is_slip(a.say, b.say):
            yield Difference("typo", "a slip in an answer is mended", a.say, b.say, place, part)
        else:
            message = f"the answer “{a.say}” is gone; “{b.say}” takes its place and leads to the same step"
            yield Difference("answer-reworded", message, a.say, b.say, place, part)
    said = f"“{b.say}”: "
    for found in _marks(a.marks, b.marks, b.place, part):
        yield replace(found, message=said + found.message)
    if a.pump != b.pump:
        yield Difference("pump-seen", said + "what is seen of the pump", a.pump, b.pump, b.place, part)
    if a.when != b.when:
        yield Difference("when-changed", said + "`when` changed", flat(a.when), flat(b.when), b.place, part)


# ---------------------------------------------------------------------- the head of a tree

_TOLD = ("pump", "harm", "about", "aliases", "condition", "related", "sources")


def head_differences(old: Tree, new: Tree, words: Vocabulary) -> Iterator[Difference]:
    """What changes in a tree apart from its steps, and from the answers that it offers at any time."""
    yield from _status(old, new)
    for key in ("title", "summary"):
        if old.raw[key] != new.raw[key]:
            yield text_difference(key, old.raw[key], new.raw[key], new.at(key), key, words)
    for key in _TOLD:
        a, b = old.raw.get(key), new.raw.get(key)
        if a != b:
            yield Difference(f"{key}-changed", f"`{key}` changed", flat(a), flat(b), new.at(key), key)
    place = new.at("cautions")
    for caution in old.cautions:
        if caution not in new.cautions:
            message = f"the caution `{caution}` no longer stands on the page"
            yield Difference("caution-gone", message, caution, None, place, "cautions")
    for caution in new.cautions:
        if caution not in old.cautions:
            message = f"the caution `{caution}` is new on the page"
            yield Difference("caution-added", message, None, caution, place, "cautions")
    yield from _causes(old, new)


def _status(old: Tree, new: Tree) -> Iterator[Difference]:
    place = new.at("status")
    if old.status != new.status:
        message = {
            "withdrawn": "the tree is withdrawn: readers see only that, and whom to call",
            "in-use": "the tree is in use now",
            "draft": "the tree is a draft now: readers may not use it",
        }.get(new.status or "", "the tree has no status any longer")
        if new.is_withdrawn:
            yield Difference("withdrawn", message, old.status, new.status, place, "status")
        elif old.status != "in-use" and new.status != "draft":
            # Whoever put it in use answers for all that it says, not only for this word.
            yield Difference("status-changed", message, old.status, advice(new), place, "status", Weight.ERROR)
        else:
            yield Difference("status-changed", message, old.status, new.status, place, "status")
    was, is_now = (flat(tree.raw.get("withdrawn")) for tree in (old, new))
    if was != is_now:
        message = "since when, or why, the tree is withdrawn changed"
        yield Difference("withdrawal-changed", message, was, is_now, new.at("withdrawn"), "withdrawn")


def _causes(old: Tree, new: Tree) -> Iterator[Difference]:
    place = new.at("causes")
    for name, lost in old.causes.items():
        if name not in new.causes:
            yield Difference("cause-gone", f"the cause `{name}` is gone", lost.say, None, place, f"causes/{name}")
    for name, cause in new.causes.items():
        before: Map | None = old.raw["causes"].get(name) if old.causes else None
        now: Map = new.raw["causes"][name]
        part = f"causes/{name}"
        if before is None:
            yield Difference("cause-added", f"the cause `{name}` is new", None, cause.say, cause.place, part)
        elif before != now:
            message = f"the cause `{name}` changed"
            yield Difference("cause-changed", message, flat(before), flat(now), cause.place, part)
