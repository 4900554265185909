"""A line, question, answer or sentence of a step holds no word.

Blanks that a file does not show, or a lone dot, leave a reader before an empty line: a step that was to be written,
or one whose words were lost.

Good:

```yaml
hold:
  do:
    - Put the pump on hold.
    - Call the specialist.
```

Bad:

```yaml
hold:
  do:
    - Put the pump on hold.
    - "."
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from ...model.finding import Place
from .base import Flaw, View, answer_at, tree_rule

_KEYS = ("ask", "say", "meanwhile", "why")


@tree_rule("words")
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Look for a letter or digit in each text of a step, and of what is offered at any time."""
    for node in tree.nodes.values():
        texts: list[tuple[str, Place]] = [
            (line, node.item_at("do", k)) for k, line in enumerate(node.raw.get("do", ()))
        ]
        texts += [(node.raw[key], node.at(key)) for key in _KEYS if key in node.raw]
        texts += [(answer.say, answer_at(answer, "say")) for answer in node.answers]
        for text, place in texts:
            yield from _wordless(text, place, node.id)
    for answer in tree.anytime:
        yield from _wordless(answer.say, answer_at(answer, "say"), None)


def _wordless(text: str, place: Place, node: str | None) -> Iterator[Flaw]:
    if not any(letter.isalnum() for letter in text):
        yield Flaw(place, "this line holds no word, so a reader stands before nothing; write it, or take it out", node)
