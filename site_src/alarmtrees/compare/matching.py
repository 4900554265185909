"""Which step of one version is which of the other, and how the two differ in what they say."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import cached_property

from ..model import Acts, Answer, Mark, Node, Tree
from ..model.wording import folded
from ..proof.acts import Grammar
from .alike import Vocabulary
from .fields import Difference, Known, answer_differences, step_differences
from .harm import have_little_in_common


class Matching:
    """The steps and answers of two versions of a tree, side by side.

    A step is the same as one that is so in all but what follows, under its name or another; else as one of its name
    and kind; where a name is new, as one that says the same, as a question whose answers all read the same and lead
    to the same steps, or as one that says much of the same in the same place. An answer is the same as one that
    reads the same, or nearly so; where it reads otherwise, as the one that alone takes its place: it leads to the
    same step, with the same marks.

    Args:
        old: the tree before.
        new: the tree now.
        words: the words that the library uses.
        marks: the marks as the library before explains them.
        acts: the acts as the library before tells them.
    """

    def __init__(
        self, old: Tree, new: Tree, words: Vocabulary, marks: Mapping[str, Mark], acts: Grammar | None = None
    ) -> None:
        self.old, self.new = old, new
        self.words = words
        self.marks = marks
        self.acts = acts or Grammar(Acts())
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
            lambda a, b: self.words.is_slip(a.say, b.say),
            self._takes_its_place,
        ]
        before, now = ({folded(a.say): a for a in _first_of_each(answers)} for answers in (old, new))
        yield from ((a, now[say]) for say, a in before.items() if say in now)
        left = [a for say, a in before.items() if say not in now]
        right = [b for say, b in now.items() if say not in before]
        for test in tests:
            for a in list(left):
                fits = [b for b in right if test(a, b)]
                if len(fits) == 1 and sum(test(other, fits[0]) for other in left) == 1:
                    yield a, fits[0]
                    left.remove(a)
                    right.remove(fits[0])

    def _takes_its_place(self, a: Answer, b: Answer) -> bool:
        return self.forth.get(a.to) == b.to and a.marks == b.marks and a.when == b.when and a.pump == b.pump

    @cached_property
    def _said_before(self) -> dict[str, list[str]]:
        """What the steps of the old version say, with their names."""
        found: dict[str, list[str]] = {}
        for name, node in self.old.nodes.items():
            found.setdefault(folded(node.text), []).append(name)
        return found

    # ------------------------------------------------------------------ what differs

    def step(self, old: str, new: str) -> tuple[Difference, ...]:
        """How two versions of a step differ in themselves, answers and what follows apart."""
        key = (old, new)
        if key not in self._steps_cache:
            a, b = self.old.nodes[old], self.new.nodes[new]
            known = Known(self.words, self.marks, self.acts, self._said_before)
            self._steps_cache[key] = tuple(step_differences(a, b, known))
        return self._steps_cache[key]

    def answer(self, a: Answer, b: Answer) -> tuple[Difference, ...]:
        """How two versions of an answer differ, where they lead apart."""
        return tuple(answer_differences(a, b, self.words))

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
    same = _unchanged(old, new)
    taken = set(same.values())
    for name, node in old.nodes.items():
        if name not in same and name in new.nodes and name not in taken and new.nodes[name].kind == node.kind:
            same[name] = name
            taken.add(name)
    left: dict[tuple[str, str], list[str]] = {}
    for name, node in new.nodes.items():
        if name not in taken:
            left.setdefault((node.kind, folded(node.text)), []).append(name)
    for name, node in old.nodes.items():
        fits = left.get((node.kind, folded(node.text)))
        if name not in same and fits:
            same[name] = fits.pop(0)
    same |= _asked_alike(old, new, same)
    return same | _in_the_same_place(old, new, same)


def _unchanged(old: Tree, new: Tree) -> dict[str, str]:
    """Steps that say and are the same, whatever follows them: under the same name, else under another."""
    same = {}
    left: dict[str, list[str]] = {}
    for name, node in new.nodes.items():
        before = old.nodes.get(name)
        if before is not None and (before.raw == node.raw or _content(before) == _content(node)):
            same[name] = name
        else:
            left.setdefault(_content(node), []).append(name)
    for name, node in old.nodes.items() if left else ():
        if name not in same and (fits := left.get(_content(node))):
            same[name] = fits.pop(0)
    return same


def _content(node: Node) -> str:
    """All of a step but what follows it."""
    own = {key: value for key, value in node.raw.items() if key not in ("then", "answers")}
    answers = [{key: value for key, value in answer.items() if key != "to"} for answer in node.raw.get("answers", ())]
    return repr((sorted(own.items()), answers))


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


def _in_the_same_place(old: Tree, new: Tree, same: Mapping[str, str]) -> dict[str, str]:
    """Steps of another name and wording that the same step leads to by the same answer, with most of their words."""
    found: dict[str, str] = {}
    taken = set(same.values())
    ahead = [(old.start, new.start)]
    ahead += [place for u, v in same.items() for place in _led_alike(old.nodes[u], new.nodes[v])]
    while ahead:
        u, v = ahead.pop()
        a, b = old.nodes.get(u), new.nodes.get(v)
        if a is None or b is None or u in same or u in found or v in taken or a.kind != b.kind:
            continue
        if not have_little_in_common(a.text, b.text):
            found[u] = v
            taken.add(v)
            ahead += _led_alike(a, b)
    return found


def _led_alike(a: Node, b: Node) -> Iterator[tuple[str, str]]:
    """Where two steps lead by themselves, or by the same answer."""
    if a.then is not None and b.then is not None:
        yield a.then, b.then
    after = {folded(answer.say): answer.to for answer in b.answers}
    yield from ((x.to, after[folded(x.say)]) for x in a.answers if folded(x.say) in after)
