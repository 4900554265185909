"""A look that many trees ask for is asked or answered in other words than elsewhere.

Who is led from one page to another meets the same look again, and knows it by its words: another question looks like
another thing to look for. So the words of such a look stand once, under `look` of its mark in `kb/marks.yml`: how it is
asked, and what its answers say, by the mark that an answer carries. A question with that mark uses these words and no
others; where a page truly needs its own, they are put there too, for all to see. To put it better, put it better there;
then this rule names each place that still has the old words.

Good, where `kb/marks.yml` has `blood-check: {look: {asks: [What is seen inside?], answers: {blood-seen: [Blood]}}}`:

```yaml
look-for-blood:
  ask: What is seen inside?
  marks: [blood-check]
  answers:
    - {say: Blood, to: stop, marks: [blood-seen]}
```

Bad:

```yaml
look-for-blood:
  ask: Any red in the line?
  marks: [blood-check]
  answers:
    - {say: "Yes, some", to: stop, marks: [blood-seen]}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Answer, Node, Tree
from ...model.facts import Look
from ...model.finding import Severity
from .base import Flaw, View, answer_at, tree_rule

UNMARKED = "unmarked"
"""Where the answers stand that carry none of the marks of their look."""


@tree_rule("words", Severity.WARNING, needs="marks")
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Hold the questions with the mark of a look, and their answers, to its words."""
    marks = view.library.marks
    for node in tree.nodes.values():
        looks = {name: look for name in node.marks if name in marks and (look := marks[name].look)}
        if node.kind == "ask" and looks:
            yield from _asked(node, looks)


def _asked(node: Node, looks: dict[str, Look]) -> Iterator[Flaw]:
    """One question that asks for one look, or for several at once."""
    told = list(looks.values())
    named = " and ".join(f"`{name}`" for name in sorted(looks))
    asks = [text for look in told for text in look.asks]
    if node.text not in asks:
        yield Flaw(node.at("ask"), f"other trees ask {named} in other words; {_write(asks)}", node.id)
    for answer in node.answers:
        fitting = _fitting(answer, told)
        if answer.say not in fitting:
            message = f"other trees answer {named} in other words; {_write(fitting)}"
            yield Flaw(answer_at(answer, "say"), message, node.id)


def _fitting(answer: Answer, looks: list[Look]) -> list[str]:
    """What an answer with these marks may say."""
    by_mark = [text for look in looks for name, said in look.answers.items() if name in answer.marks for text in said]
    return by_mark or [text for look in looks for text in look.answers.get(UNMARKED, ())]


def _write(texts: list[str]) -> str:
    """What to write instead; the first words are the usual ones."""
    if not texts:
        return "this look has none with these marks, so put the words under `look` in kb/marks.yml"
    told = " or ".join(f"“{text}”" for text in texts[:2])
    return f"write {told}{', or others of kb/marks.yml' if len(texts) > 2 else ''}"
