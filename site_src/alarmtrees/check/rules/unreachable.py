"""No way leads to this step.

It is either left over, or an answer that was meant to lead there leads elsewhere.

Good:

```yaml
start: look
nodes:
  look:
    do:
      - Look at the patient.
    then: done
  done: {end: resolved, say: Done.}
```

Bad, because nothing leads to `call`:

```yaml
start: look
nodes:
  look:
    do:
      - Look at the patient.
    then: done
  done: {end: resolved, say: Done.}
  call: {end: call, call: specialist-on-call, say: Call.}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from .base import Flaw, View, tree_rule


@tree_rule("shape")
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Follow all ways from the start, and from where other trees enter."""
    reached = view.graph.reachable(view.roots(tree))
    for node in tree.nodes.values():
        if (tree.id, node.id) not in reached:
            message = f"no way leads to `{node.id}`; let an answer or `then` lead here, or take the step out"
            yield Flaw(node.place, message, node.id)
