"""A question has only one answer.

Then it is no question. Write a step to do, or the answer that is missing: what else may be seen?

Good:

```yaml
ask: Does the balloon move?
answers:
  - {say: It moves, to: done}
  - {say: It stands still, to: call-now}
```

Bad:

```yaml
ask: Does the balloon move?
answers:
  - {say: It moves, to: done}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from .base import Flaw, View, tree_rule


@tree_rule("shape")
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Count each question's own answers."""
    for node in tree.nodes.values():
        if node.kind == "ask" and len(node.answers) == 1:
            message = f"`{node.id}` has one answer only; add what else may be seen, or make it a `do`"
            yield Flaw(node.place, message, node.id)
