"""A step or an answer does not carry a mark that it must carry.

Four demands. A question with a mark that has `shows` must offer answers with those marks: who looks for blood must be
able to say "cannot tell". Where a mark says `anytime: yes`, every tree must offer an answer with it at any time: a
patient gets worse on any step. A line that holds one of a mark's `step_words`, or an answer that holds one of its
`answer_words`, must carry that mark. And a text that tells an act of `kb/acts.yml` ("restart the pump", "have the line
clamped", "by pressing the refill key") must carry one of the marks of that act: otherwise the safety rules would not
see it. What is forbidden, looked at, asked, or done by others, is no act.

Good:

```yaml
refill:
  do:
    - Renew the gas once.
  marks: [refill]
```

Bad, because the safety rules would not know that this is a refill:

```yaml
refill:
  do:
    - Renew the gas once.
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import DERIVED_MARKS, Answer, Mark, Node, Tree
from ...model.wording import folded
from ...proof.acts import Told
from .base import Flaw, View, answer_at, tree_rule

_WRITTEN = {"pump-starts": "`pump: starts`", "pump-stops": "`pump: stops`"}
"""How the marks that are never written come about."""


@tree_rule("safety")
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Look at what each mark shows, at the acts that are told, and at the phrases that demand a mark."""
    marks = view.library.marks
    in_steps = [(phrase, mark.id) for mark in marks.values() for phrase in mark.step_words]
    in_answers = [(phrase, mark.id) for mark in marks.values() for phrase in mark.answer_words]
    for node in tree.nodes.values():
        for index, name in enumerate(node.raw.get("marks", ())):
            yield from _shows(node, index, marks[name]) if name in marks else ()
        for index, line in enumerate(node.lines if node.kind == "do" else ()):
            for message in _phrased(line, node.marks, in_steps):
                yield Flaw(node.item_at("do", index), message, node.id)
        for text in view.told(node):
            demand = _demand(text.told, node.marks, node.kind)
            if demand:
                yield Flaw(text.place, demand, node.id)
        for answer in node.answers:
            yield from _answer(view, answer, in_answers, node.id)
    offered = frozenset(name for answer in tree.anytime for name in answer.marks)
    for mark in marks.values():
        if mark.anytime and mark.id not in offered:
            message = f"no answer at any time carries the mark `{mark.id}`; offer one under `anytime`"
            yield Flaw(tree.at("anytime" if tree.anytime else "id"), message)
    for answer in tree.anytime:
        yield from _answer(view, answer, in_answers, None)


def _shows(node: Node, index: int, mark: Mark) -> Iterator[Flaw]:
    offered = frozenset(name for answer in node.answers for name in answer.marks)
    for shown in mark.shows:
        if shown not in offered:
            message = f"`{mark.id}` demands an answer with the mark `{shown}`; add it, or mark the one that says it"
            yield Flaw(node.item_at("marks", index), message, node.id)


def _answer(view: View, answer: Answer, phrases: list[tuple[str, str]], node: str | None) -> Iterator[Flaw]:
    """What an answer says, or tells to do, without the mark of it."""
    for message in _phrased(answer.say, answer.marks, phrases):
        yield Flaw(answer_at(answer, "say"), message, node)
    for told in view.acts_in(answer.say):
        demand = _demand(told, answer.marks, "answer")
        if demand:
            yield Flaw(answer_at(answer, "say"), demand, node)


def _phrased(text: str, carried: frozenset[str], phrases: list[tuple[str, str]]) -> list[str]:
    """What to say of each phrase in a text whose mark is not carried."""
    low = folded(text)
    return [
        f"“{phrase}” means the mark `{mark}`; write it under `marks`, or say it in other words"
        for phrase, mark in phrases
        if phrase in low and mark not in carried
    ]


def _demand(told: Told, carried: frozenset[str], kind: str) -> str | None:
    """What to say of an act of which no mark is carried; None where one is, and where no table knows the act."""
    act, words = told.act, told.words
    if act is None:
        return None
    fitting = act.marks if kind == "do" else (*act.marks, *act.told)
    if not carried.isdisjoint(fitting):
        return None
    derived = [_WRITTEN[mark] for mark in fitting if mark in DERIVED_MARKS and kind == "do"]
    written = [f"`{mark}`" for mark in fitting if mark not in DERIVED_MARKS]
    if not derived and not written:
        return f"“{words}” is an act that only a step to do can carry, as {_WRITTEN[act.marks[0]]}; lead to such a step"
    named = f"the mark {written[0]}" if len(written) == 1 else f"one of the marks {', '.join(written)}"
    meant = " or ".join([*derived, named] if written else derived)
    return f"“{words}” means {meant}; without it no safety rule sees this"
