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

from collections.abc import Iterator, Mapping

from ...model import Mark, Node, Tree
from ...model.finding import Place
from ...model.wording import folded
from .base import Flaw, View, answer_at, tree_rule


@tree_rule("safety")
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Look at what each mark shows, and at the phrases that demand a mark."""
    marks = view.library.marks
    for node in tree.nodes.values():
        for index, name in enumerate(node.raw.get("marks", ())):
            yield from _shows(node, index, marks[name]) if name in marks else ()
        if node.kind == "do":
            for index, line in enumerate(node.lines):
                yield from _demanded(line, node.marks, marks, node.item_at("do", index), node.id, "step_words")
        for answer in node.answers:
            place = answer_at(answer, "say")
            yield from _demanded(answer.say, answer.marks, marks, place, node.id, "answer_words")
    offered = frozenset(name for answer in tree.anytime for name in answer.marks)
    for mark in marks.values():
        if mark.anytime and mark.id not in offered:
            message = f"no answer at any time carries the mark `{mark.id}`; offer one under `anytime`"
            yield Flaw(tree.at("anytime" if tree.anytime else "id"), message)
    for answer in tree.anytime:
        yield from _demanded(answer.say, answer.marks, marks, answer_at(answer, "say"), None, "answer_words")


def _shows(node: Node, index: int, mark: Mark) -> Iterator[Flaw]:
    offered = frozenset(name for answer in node.answers for name in answer.marks)
    for shown in mark.shows:
        if shown not in offered:
            message = f"`{mark.id}` demands an answer with the mark `{shown}`; add it, or mark the one that says it"
            yield Flaw(node.item_at("marks", index), message, node.id)


def _demanded(
    text: str, carried: frozenset[str], marks: Mapping[str, Mark], place: Place, node: str | None, words: str
) -> Iterator[Flaw]:
    low = folded(text)
    for mark in marks.values():
        for phrase in getattr(mark, words):
            if phrase in low and mark.id not in carried:
                message = f"“{phrase}” means the mark `{mark.id}`; write it under `marks`, or say it in other words"
                yield Flaw(place, message, node)
