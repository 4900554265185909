"""The end `resolved` is reached, but the cause was not fixed.

The hurried reader would walk away from a pump that is still in trouble. Ask after the remedy whether
it held, with an answer `when: fixed`; let the other answers lead to a call.

Good:

```yaml
did-it-hold:
  ask: Does the balloon move with every beat?
  answers:
    - {say: It moves, to: done, when: fixed}
    - {say: It stands still, to: call-now}
```

Bad, because it may be said under every cause:

```yaml
did-it-hold:
  ask: Is the alarm off?
  answers:
    - {say: It is off, to: done}
    - {say: It sounds, to: call-now}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from ...proof.graph import Key, way_to
from ...proof.simulate import OPEN
from .base import Flaw, View, Way, faults_of_causes, tree_rule


@tree_rule("causes")
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Let every cause go through the tree, from its start and from where others enter it."""
    for start, node_id, mask, gate in faults_of_causes(view, tree, lambda run: run.unfixed_end):
        yield _finding(view, tree, start, node_id, mask, gate)


def _finding(view: View, tree: Tree, start: str, node_id: str, mask: int, gate: Key | None) -> Flaw:
    causes = view.causes(tree)
    names = causes.names(mask)
    told = ", ".join(f"`{name}`" for name in names)

    def way() -> Way:
        shown = way_to(causes.reach(start, names[0]), ((tree.id, node_id), OPEN), tree.id)
        return shown if gate is None else view.entered(gate, tree, shown)

    rest = f"says resolved, but the cause {told} was not fixed; ask after the remedy, `when: fixed`"
    if gate is None:
        return Flaw(tree.nodes[node_id].place, f"`{node_id}` {rest}", node_id, way)
    place = view.flow.nodes[gate].at("go")
    message = f"entered here, `{tree.id}/{node_id}` {rest}"
    return Flaw(place, message, gate[1], way)
