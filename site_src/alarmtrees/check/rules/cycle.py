"""Steps lead back to themselves.

A reader in a loop never gets help, and nothing can be proved about ways without an end. "Once more"
is written out as a second step, and then somebody is called.

Good:

```yaml
did-it-hold:
  ask: Does the balloon move?
  answers:
    - {say: It moves, to: done}
    - {say: It stands still, to: call-now}
```

Bad, because the way leads back for ever:

```yaml
did-it-hold:
  ask: Does the balloon move?
  answers:
    - {say: It moves, to: done}
    - {say: It stands still, to: reconnect}
reconnect:
  do:
    - Push the connector home.
  then: did-it-hold
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from ...model.finding import Step
from ...proof.graph import Graph, loop_in
from .base import Flaw, View, tree_rule


@tree_rule("shape")
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Find the groups of steps that lead to each other, each told from its first step in the file."""
    if tree.id not in view.graph.looping:
        return
    alone = Graph({tree.id: tree})
    for knot in alone.knots:
        if any(alone.nodes[key].go and any(edge.to in knot for edge in alone.edges[key]) for key in knot):
            continue  # through `go`: that is cross-tree-cycle
        first = min(knot, key=lambda key: alone.nodes[key].place)
        loop = loop_in(alone, knot, first)
        told = " → ".join([*(key[1] for key in loop), first[1]])
        way = tuple(Step(key[1], said) for key, said in alone.told([*loop, first]))
        message = f"these steps lead back to each other: {told}; write “once more” out, then call"
        yield Flaw(alone.nodes[first].place, message, first[1], way)
