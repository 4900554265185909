"""Two answers offered at one step read the same.

The reader cannot choose between them. Answers under `anytime` stand on every step and count as well.

Good:

```yaml
answers:
  - {say: It moves, to: done}
  - {say: It stands still, to: call-now}
```

Bad:

```yaml
answers:
  - {say: It moves, to: done}
  - {say: it moves, to: call-now}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Answer, Tree
from ...model.wording import folded
from .base import Flaw, View, answer_at, tree_rule


@tree_rule("shape")
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Compare the answers of each step, ignoring case and white space."""
    yield from _twice(tree.anytime, None)
    anytime = {folded(answer.say): answer for answer in tree.anytime}
    for node in tree.nodes.values():
        yield from _twice(node.answers, node.id)
        for answer in node.answers:
            if folded(answer.say) in anytime:
                line = anytime[folded(answer.say)].place.line
                message = (
                    f"“{answer.say}” is offered at any time already (line {line}); take one out, or say how they differ"
                )
                yield Flaw(answer_at(answer, "say"), message, node.id)


def _twice(answers: tuple[Answer, ...], node: str | None) -> Iterator[Flaw]:
    seen: dict[str, int] = {}
    for answer in answers:
        name = folded(answer.say)
        if name in seen:
            message = f"“{answer.say}” stands twice (first in line {seen[name]}); say what is seen differently"
            yield Flaw(answer_at(answer, "say"), message, node)
        seen.setdefault(name, answer.place.line)
