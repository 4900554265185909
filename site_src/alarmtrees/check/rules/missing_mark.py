"""A step or an answer does not carry a mark that it must carry.

Three demands, all from `kb/marks.yml`. A question with a mark that has `shows` must offer answers with
those marks: who looks for blood must be able to say "cannot tell". Where a mark says `anytime: yes`, every tree must
offer an answer with it at any time: a patient gets worse on any step. And a line or answer that holds one
of a mark's phrases must carry that mark: otherwise the safety rules would not see it.

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

from ...model import Mark, Node, Tree
from ...model.wording import folded
from .base import Flaw, View, answer_at, tree_rule


@tree_rule("safety")
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Look at what each mark shows, and at the phrases that demand a mark."""
    marks = view.library.marks
    in_steps = [(phrase, mark.id) for mark in marks.values() for phrase in mark.step_words]
    in_answers = [(phrase, mark.id) for mark in marks.values() for phrase in mark.answer_words]
    for node in tree.nodes.values():
        for index, name in enumerate(node.raw.get("marks", ())):
            yield from _shows(node, index, marks[name]) if name in marks else ()
        if node.kind == "do":
            for index, line in enumerate(node.lines):
                for message in _demanded(line, node.marks, in_steps):
                    yield Flaw(node.item_at("do", index), message, node.id)
        for answer in node.answers:
            for message in _demanded(answer.say, answer.marks, in_answers):
                yield Flaw(answer_at(answer, "say"), message, node.id)
    offered = frozenset(name for answer in tree.anytime for name in answer.marks)
    for mark in marks.values():
        if mark.anytime and mark.id not in offered:
            message = f"no answer at any time carries the mark `{mark.id}`; offer one under `anytime`"
            yield Flaw(tree.at("anytime" if tree.anytime else "id"), message)
    for answer in tree.anytime:
        for message in _demanded(answer.say, answer.marks, in_answers):
            yield Flaw(answer_at(answer, "say"), message)


def _shows(node: Node, index: int, mark: Mark) -> Iterator[Flaw]:
    offered = frozenset(name for answer in node.answers for name in answer.marks)
    for shown in mark.shows:
        if shown not in offered:
            message = f"`{mark.id}` demands an answer with the mark `{shown}`; add it, or mark the one that says it"
            yield Flaw(node.item_at("marks", index), message, node.id)


def _demanded(text: str, carried: frozenset[str], phrases: list[tuple[str, str]]) -> list[str]:
    """What to say of each phrase in a text whose mark is not carried."""
    low = folded(text)
    return [
        f"“{phrase}” means the mark `{mark}`; write it under `marks`, or say it in other words"
        for phrase, mark in phrases
        if phrase in low and mark not in carried
    ]
