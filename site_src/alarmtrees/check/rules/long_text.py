"""A step has more than 14 words, or a sentence more than 25.

Sentences of 14 words are understood by nine readers in ten, of 25 words by few, and nobody reads twice at
3 a.m. Say one thing at a time.

Good:

```yaml
do:
  - Push the connector home until it locks.
```

Bad:

```yaml
do:
  - Take the connector in both hands, make sure that it is dry, and push it home until you hear it lock.
```
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from ...model import Tree
from ...model.finding import Severity
from .base import Flaw, View, tree_rule

STEP_WORDS = 14
SENTENCE_WORDS = 25
ANSWER_WORDS = 10

_SENTENCE_END = re.compile(r"(?<=[.!?;])\s+")


@tree_rule("words", Severity.WARNING)
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Count the words of each step, answer and sentence."""
    for text in view.texts(view.source_of(tree)):
        limit = {"do": STEP_WORDS, "ask": STEP_WORDS, "answer": ANSWER_WORDS}.get(text.role)
        count = len(text.text.split())
        if limit and count > limit:
            message = f"{count} words; at most {limit} are taken in at 3 a.m.: split it, or say it shorter"
            yield Flaw(text.place, message, text.node)
            continue
        if count <= SENTENCE_WORDS:
            continue
        longest = max(len(sentence.split()) for sentence in _SENTENCE_END.split(text.text))
        if longest > SENTENCE_WORDS:
            message = f"a sentence of {longest} words; at most {SENTENCE_WORDS}: make it two"
            yield Flaw(text.place, message, text.node)
