"""Which step of one version is which of the other, and how the two differ in what they say."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from ..model import Answer, Mark, Node, Tree
from ..model.finding import Place
from ..model.wording import folded
from .alike import Vocabulary, numbers
from .change import flat
from .kinds import Weight, weight_of


@dataclass(frozen=True, slots=True)
class Difference:
    """What differs between the two versions of one step or answer; see `Change`."""

    kind: str
    message: str
    before: str | None
    after: str | None
    place: Place
    weighs: Weight | None = None

    @property
    def counts(self) -> bool:
        """Whether a way on which it stands is no longer the same for the reader."""
        return weight_of(self.kind, self.weighs) is not Weight.NOTE


class Matching:
    """The steps and answers of two versions of a tree, side by side.

    A step is the same as one of the same name and kind; where a name is new, as one that says the same, or a
    question whose answers all read the same and lead to the same steps. An answer is the same as one that reads
    the same, or nearly so; where it reads otherwise, as the one that alone takes its place: it leads to the same
    step, with the same marks.

    Args:
        old: the tree before.
        new: the tree now.
        words: the words that the library uses.
        marks: the marks as the library before explains them.
    """

    def __init__(self, old: Tree, new: Tree, words: Vocabulary, marks: Mapping[str, Mark]) -> None:
        self.old, self.new = old, new
        self.words = words
        self.marks = marks
        self.forth = _steps(old, new)
        self.back = {v: u for u, v in self.forth.items()}
        self._steps_cache: dict[tuple[str, str], tuple[Difference, ...]] = {}
        self._answers_cache: dict[str, dict[str, str]] = {}

    def answers(self, ask: str) -> dict[str, str]:
        """For a question of the new version: its answers that answer for one of another wording in the old."""
        if ask not in self._answers_cache:
            pairs = self._pair(self.old.nodes[self.back[ask]].answers, self.new.nodes[ask].answers)
            self._answers_cache[ask] = {folded(b.say): folded(a.say) for a, b in pairs}
        return self._answers_cache[ask]

    @cached_property
    def anytime(self) -> dict[str, str]:
        """The same for the answers offered at any time."""
        return {folded(b.say): folded(a.say) for a, b in self._pair(self.old.anytime, self.new.anytime)}

    def _pair(self, old: tuple[Answer, ...], new: tuple[Answer, ...]) -> Iterator[tuple[Answer, Answer]]:
        """The answers that go together, each taken once."""
        tests: list[Callable[[Answer, Answer], bool]] = [
            lambda a, b: folded(a.say) == folded(b.say),
            lambda a, b: self.words.is_slip(a.say, b.say),
            self._takes_its_place,
        ]
        left, right = _first_of_each(old), _first_of_each(new)
        for test in tests:
            for a in list(left):
                fits = [b for b in right if test(a, b)]
                if len(fits) == 1 and sum(test(other, fits[0]) for other in left) == 1:
                    yield a, fits[0]
                    left.remove(a)
                    right.remove(fits[0])

    def _takes_its_place(self, a: Answer, b: Answer) -> bool:
        return self.forth.get(a.to) == b.to and a.marks == b.marks and a.when == b.when and a.pump == b.pump

    # ------------------------------------------------------------------ what differs

    def step(self, old: str, new: str) -> tuple[Difference, ...]:
        """How two versions of a step differ in themselves, answers and what follows apart."""
        key = (old, new)
        if key not in self._steps_cache:
            a, b = self.old.nodes[old], self.new.nodes[new]
            self._steps_cache[key] = tuple(self._step(a, b))
        return self._steps_cache[key]

    def _step(self, a: Node, b: Node) -> Iterator[Difference]:
        yield from self._lines(a, b)
        yield from self._text("meanwhile", a, b)
        yield from self._text("why", a, b)
        yield from _marks(a.marks, b.marks, b.at("marks"))
        if a.kind == "do" and a.call != b.call:
            yield Difference("call", "another role is called", a.call, b.call, b.at("call"))
        if a.pump != b.pump:
            yield Difference("pump", "it does something else to the pump", a.pump, b.pump, b.at("pump"))
        if set(a.cautions) - set(b.cautions):
            lost = ", ".join(c for c in a.cautions if c not in b.cautions)
            yield Difference("caution-gone", "a caution no longer stands here", lost, None, b.place)
        for key in ("cautions", "sources", "fixes", "takes"):
            before, after = a.raw.get(key), b.raw.get(key)
            if before != after and not (key == "cautions" and set(a.cautions) - set(b.cautions)):
                yield Difference(f"{key}-changed", f"`{key}` changed", flat(before), flat(after), b.at(key))

    def _lines(self, a: Node, b: Node) -> Iterator[Difference]:
        if a.lines == b.lines:
            return
        place = _first_other(a, b) if b.kind == "do" else b.at("ask" if b.kind == "ask" else "say")
        for mark in self._words_gone(a, b):
            message = f"no line speaks any longer of what `{mark}` means"
            yield Difference("safety-words-gone", message, a.text, b.text, place)
        name = {"ask": "question", "do": "step", "end": "end"}[a.kind]
        if a.kind == "do" and sorted(map(folded, a.lines)) == sorted(map(folded, b.lines)) and len(a.lines) > 1:
            same = [folded(line) for line in a.lines] == [folded(line) for line in b.lines]
            if not same:
                message = "its lines stand in another order"
                yield Difference("lines-reordered", message, a.text, b.text, place)
                return
        yield self._reworded(name, a.text, b.text, place)

    def _words_gone(self, a: Node, b: Node) -> Iterator[str]:
        if a.kind != "do":
            return
        before, after = folded(a.text), folded(b.text)
        for mark in self.marks.values():
            if any(w in before for w in mark.step_words) and not any(w in after for w in mark.step_words):
                yield mark.id

    def _reworded(self, name: str, before: str, after: str, place: Place) -> Difference:
        if len(before.splitlines()) == len(after.splitlines()) and self.words.is_slip(before, after):
            return Difference("typo", f"a slip in the {name} is mended", before, after, place)
        if numbers(before) != numbers(after):
            message = f"a number or setting in the {name} changed"
            weighs = Weight.NOTE if name == "why" else None
            return Difference("limit-changed", message, before, after, place, weighs)
        return Difference(f"{name}-reworded", f"the {name} reads otherwise", before, after, place)

    def _text(self, key: str, a: Node, b: Node) -> Iterator[Difference]:
        before: str | None = getattr(a, key)
        after: str | None = getattr(b, key)
        if before == after:
            return
        if before and after:
            yield self._reworded(key, before, after, b.at(key))
        else:
            how = "gone" if before else "added"
            yield Difference(f"{key}-{how}", f"`{key}` is {how}", before, after, b.at(key))

    def answer(self, a: Answer, b: Answer) -> Iterator[Difference]:
        """How two versions of an answer differ, where they lead apart."""
        spot = b.raw.value_at.get("say")
        place = Place(b.place.file, *spot) if spot else b.place
        if a.say != b.say:
            if folded(a.say) == folded(b.say) or self.words.is_slip(a.say, b.say):
                yield Difference("typo", "a slip in an answer is mended", a.say, b.say, place)
            else:
                message = f"the answer “{a.say}” is gone; “{b.say}” takes its place and leads to the same step"
                yield Difference("answer-reworded", message, a.say, b.say, place)
        said = f"“{b.say}”: "
        for found in _marks(a.marks, b.marks, b.place):
            yield replace(found, message=said + found.message)
        if a.pump != b.pump:
            yield Difference("pump-seen", said + "what is seen of the pump", a.pump, b.pump, b.place)
        if a.when != b.when:
            yield Difference("when-changed", said + "`when` changed", flat(a.when), flat(b.when), b.place)

    def answer_pairs(self, ask: str) -> tuple[list[tuple[Answer, Answer]], list[Answer], list[Answer]]:
        """For a question of the new version: answers that go together, those gone, those new."""
        return self._sides(self.old.nodes[self.back[ask]].answers, self.new.nodes[ask].answers, self.answers(ask))

    def anytime_pairs(self) -> tuple[list[tuple[Answer, Answer]], list[Answer], list[Answer]]:
        """The same for the answers offered at any time."""
        return self._sides(self.old.anytime, self.new.anytime, self.anytime)

    @staticmethod
    def _sides(
        old: tuple[Answer, ...], new: tuple[Answer, ...], alias: Mapping[str, str]
    ) -> tuple[list[tuple[Answer, Answer]], list[Answer], list[Answer]]:
        before = {folded(a.say): a for a in _first_of_each(old)}
        pairs = [(before[alias[folded(b.say)]], b) for b in _first_of_each(new) if folded(b.say) in alias]
        taken = {id(a) for a, _ in pairs}
        gone = [a for a in before.values() if id(a) not in taken]
        return pairs, gone, [b for b in _first_of_each(new) if folded(b.say) not in alias]


def _first_of_each(answers: Iterable[Answer]) -> list[Answer]:
    found: dict[str, Answer] = {}
    for answer in answers:
        found.setdefault(folded(answer.say), answer)
    return list(found.values())


def _steps(old: Tree, new: Tree) -> dict[str, str]:
    """The steps of the new version that are the same as one of the old."""
    same = {n: n for n, node in old.nodes.items() if n in new.nodes and new.nodes[n].kind == node.kind}
    left: dict[tuple[str, str], list[str]] = {}
    for name, node in new.nodes.items():
        if name not in same:
            left.setdefault((node.kind, folded(node.text)), []).append(name)
    for name, node in old.nodes.items():
        fits = left.get((node.kind, folded(node.text)))
        if name not in same and fits:
            same[name] = fits.pop(0)
    return {**same, **_asked_alike(old, new, same)}


def _asked_alike(old: Tree, new: Tree, same: dict[str, str]) -> dict[str, str]:
    """Questions of another name and wording whose answers read the same and lead to the same steps."""

    def led(node: Node, names: Mapping[str, str]) -> frozenset[tuple[str, str]]:
        return frozenset((folded(answer.say), names.get(answer.to, answer.to)) for answer in node.answers)

    taken = set(same.values())
    left: dict[frozenset[tuple[str, str]], list[str]] = {}
    for name, node in new.nodes.items():
        if node.kind == "ask" and name not in taken:
            left.setdefault(led(node, {}), []).append(name)
    found = {}
    for name, node in old.nodes.items():
        if node.kind == "ask" and name not in same and (fits := left.get(led(node, same))):
            found[name] = fits.pop(0)
    return found


def _first_other(a: Node, b: Node) -> Place:
    """The first line of something to do that is another than before; the last where lines only went."""
    same = 0
    while same < min(len(a.lines), len(b.lines)) and a.lines[same] == b.lines[same]:
        same += 1
    return b.item_at("do", min(same, len(b.lines) - 1))


def _marks(before: frozenset[str], after: frozenset[str], place: Place) -> Iterator[Difference]:
    ignored = {"call", "end-resolved", "resolved", "pump-starts", "pump-stops"}  # these follow from what the step does
    for mark in sorted(before - after - ignored):
        yield Difference("mark-gone", f"the mark `{mark}` is gone", mark, None, place)
    for mark in sorted(after - before - ignored):
        yield Difference("mark-added", f"the mark `{mark}` is new", None, mark, place)
