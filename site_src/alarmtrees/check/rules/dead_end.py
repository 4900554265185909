"""From this step no end can be reached.

A step that says what to do needs a `then`; otherwise the reader stands there alone.

Good:

```yaml
reconnect:
  do:
    - Push the connector home.
  then: did-it-hold
```

Bad:

```yaml
reconnect:
  do:
    - Push the connector home.
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from .base import Flaw, View, tree_rule


@tree_rule("shape")
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Find the steps that lead nowhere; those before them end there too and need no word of their own."""
    for node in tree.nodes.values():
        if node.kind != "end" and not node.answers and node.then is None:
            message = f"`{node.id}` leads nowhere; write `then:` and the step that follows"
            yield Flaw(node.place, message, node.id)
