"""Questions that learners ask themselves: those written in the articles, and those that the trees' own branches make.

A question about a tree stands where a wrong turn would break a safety rule: at a step, after an answer, what next?
The right answer is the step that the tree leads to, the wrong ones are those to which the step's other answers lead.
To call somebody is never offered as wrong.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from ..model import Answer, Choice, Library, Node, Pattern, SafetyRule, Tree
from ..model.quantities import quantities

WRONG = 3
"""How many wrong answers a question has, at the most."""


@dataclass(frozen=True, slots=True)
class Question:
    """One question. All texts are as written: with `{settings}`, and with sources cited as `[@key]`.

    Attributes:
        id: stays the same as long as its place does: article/number, or tree/step/number of the answer, from 1.
        about_kind: "article" or "tree".
        about: id of the article or tree.
        ask: the question.
        choices: its answers, the right one first, each with its reason.
    """

    id: str
    about_kind: str
    about: str
    ask: str
    choices: tuple[Choice, ...]


def questions(library: Library, kept: Callable[[Tree], Iterable[Question]] | None = None) -> list[Question]:
    """All questions: those of the articles, then those of the trees, each in the order of the library.

    Args:
        library: of one with errors, what can be read gives its questions.
        kept: makes the questions of a tree, or knows them from earlier.
    """
    found = [
        Question(f"{article.id}/{number}", "article", article.id, one.ask, one.choices)
        for article in library.articles.values()
        for number, one in enumerate(article.questions, start=1)
    ]
    for tree in library.in_use.values():
        found += kept(tree) if kept else tree_questions(library, tree)
    return found


def tree_questions(library: Library, tree: Tree) -> list[Question]:
    """The questions of one tree."""
    return list(_Asking(library, tree).questions())


class _Asking:
    """Makes the questions of one tree."""

    def __init__(self, library: Library, tree: Tree) -> None:
        self.library = library
        self.tree = tree
        rules = library.safety.values()
        self.rules = [rule for rule in rules if rule.holds_for(tree)]
        self.before = _marks_before(tree)

    def questions(self) -> Iterator[Question]:
        """Those in which a wrong answer breaks a safety rule."""
        for node in self.tree.nodes.values():
            for number, answer in enumerate(node.answers, start=1):
                right = self.tree.nodes.get(answer.to)
                wrong = self._wrong(node, answer, right) if right else []
                if right and any(by_rule for by_rule, _ in wrong):
                    # What breaks a rule is never left out for what does not.
                    kept = [choice for _, choice in sorted(wrong, key=lambda one: not one[0])][:WRONG]
                    ask = f"{self.tree.title}: you ask “{node.text}” and see “{answer.say}”. What next?"
                    reason = self._reason(node, answer, right)
                    why = _sourced(reason, (ask, node.sources), (f"{right.text} {reason}", right.sources))
                    yield Question(
                        id=f"{self.tree.id}/{node.id}/{number}",
                        about_kind="tree",
                        about=self.tree.id,
                        ask=ask,
                        choices=(Choice(self._words(right), True, why), *kept),
                    )

    def _wrong(self, node: Node, answer: Answer, right: Node) -> list[tuple[bool, Choice]]:
        """The wrong answers, each with whether a safety rule says so."""
        used, found = {self._words(right)}, []
        for other in node.answers:
            target = self.tree.nodes.get(other.to)
            if target is None or target.call or self._words(target) in used:
                continue
            used.add(self._words(target))
            broken = next((rule for rule in self.rules if self._breaks(rule, node, answer, right, target)), None)
            why = f"{broken.say} {broken.reason}" if broken else f"That follows where you see “{other.say}”."
            why = _sourced(why, (why, broken.sources if broken else ()), (target.text, target.sources))
            found.append((broken is not None, Choice(self._words(target), False, why)))
        return found

    def _reason(self, node: Node, answer: Answer, right: Node) -> str:
        """Why the right step is right: what the step says itself; else what a rule asks for after the answer."""
        asked = (
            f"{rule.say} {rule.reason}"
            for rule in self.rules
            if rule.pattern is Pattern.RESPONSE and rule.meets("of", answer.marks) and rule.meets("by", right.marks)
        )
        return right.why or next(asked, "") or node.why or f"So the page goes on where you see “{answer.say}”."

    def _breaks(self, rule: SafetyRule, node: Node, answer: Answer, right: Node, wrong: Node) -> bool:
        """Whether a step breaks a rule after an answer, on whatever way from the tree's start the answer is reached."""
        now = node.marks | answer.marks
        before = self.before.get(node.id, frozenset())
        if rule.pattern is Pattern.PRECEDENCE:
            reacts = not rule.meets("first", wrong.marks) if rule.for_any else rule.meets("then", wrong.marks)
            return reacts and not rule.meets("first", before | now)
        if rule.pattern is Pattern.ABSENCE:
            lifted = rule.meets("until", now)
            active = rule.meets("after", now) if rule.marks("after") else not rule.meets("until", before)
            return active and not lifted and rule.meets("of", wrong.marks)
        # What a page that is entered pays is not known here.
        owed = rule.pattern is Pattern.RESPONSE and not wrong.go and rule.meets("of", answer.marks)
        return owed and rule.meets("by", right.marks) and not rule.meets("by", wrong.marks)

    def _words(self, node: Node) -> str:
        """What a step says to whoever has to choose it."""
        words = " ".join(node.lines)
        role = self.library.roles.get(node.call or "")
        if node.end == "resolved":
            return f"Finish: {words}"
        if node.go:
            entered = self.library.trees.get(node.go.partition("/")[0])
            return f"Go to “{entered.title if entered else node.go}”: {words}"
        called = f"Call: {role.say if role else node.call}." if node.call else ""
        return " ".join(filter(None, (called, words) if node.end else (words, called)))


def _sourced(reason: str, *said: tuple[str, tuple[str, ...]]) -> str:
    """A reason with the sources of all texts that hold a number with a unit: none stands without where it is from."""
    keys = dict.fromkeys(key for text, sources in said if next(quantities(text), None) for key in sources)
    return " ".join((reason, *(f"[@{key}]" for key in keys)))


def _marks_before(tree: Tree) -> dict[str, frozenset[str]]:
    """For each step that can be reached the marks that may have come before it, on one way or another."""
    before = {tree.start: frozenset[str]()}
    ahead = [tree.start]
    while ahead:
        node = tree.nodes.get(ahead.pop())
        if node is None:
            continue
        here = before[node.id] | node.marks
        leads = [(answer.to, answer.marks) for answer in tree.answers_at(node)]
        leads += [(node.then, frozenset())] if node.then else []
        for to, marks in leads:
            known = before.get(to)
            there = (known or frozenset()) | here | marks
            if known is None or there != known:
                before[to] = there
                ahead.append(to)
    return before
