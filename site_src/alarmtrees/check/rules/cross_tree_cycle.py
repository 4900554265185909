"""Trees hand over to each other in a circle.

A new and different alarm is no `go`: every page links home.

Good:

```yaml
# in trees/trigger-lost.yml
arrest: {end: go, go: cardiac-arrest, say: Cardiac arrest comes first.}
```

Bad, when `trees/cardiac-arrest.yml` says at the same time:

```yaml
no-beat: {end: go, go: trigger-lost, say: Find the trigger.}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model.finding import Step
from ...proof.graph import loop_in, named
from .base import Flaw, View, library_rule


@library_rule("shape")
def check(view: View) -> Iterator[Flaw]:
    """Find the groups of steps that lead to each other through `go`, one finding a group."""
    graph = view.graph
    for knot in graph.knots:
        gates = [key for key in knot if graph.nodes[key].go and any(edge.to in knot for edge in graph.edges[key])]
        if not gates:
            continue
        first = min(gates, key=lambda key: graph.nodes[key].at("go"))
        loop = loop_in(graph, knot, first)
        trees = list(dict.fromkeys(key[0] for key in [*loop, first]))
        way = tuple(Step(named(key, first[0]), said) for key, said in graph.told([*loop, first]))
        told = " → ".join([*trees, trees[0]])
        message = f"these trees hand over in a circle: {told}; let one of them end with a call"
        yield Flaw(graph.nodes[first].at("go"), message, first[1], way)
