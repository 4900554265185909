"""An answer that no cause allows at that place.

Its `when` names causes that were told apart before, or it says `when: fixed` though no step before
fixed anything. Either the answer stands at the wrong question, or a remedy at the wrong step.

Good:

```yaml
reconnect:
  do:
    - Push the connector home.
  fixes: [connector-loose]
  then: did-it-hold
did-it-hold:
  ask: Does the balloon move?
  answers:
    - {say: It moves, to: done, when: fixed}
    - {say: It stands still, to: call-now}
```

Bad, because the step before fixes nothing:

```yaml
reconnect:
  do:
    - Push the connector home.
  then: did-it-hold
did-it-hold:
  ask: Does the balloon move?
  answers:
    - {say: It moves, to: done, when: fixed}
    - {say: It stands still, to: call-now}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from .base import Flaw, View, tree_rule


@tree_rule("causes")
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Collect what every cause allows, from the start and from where others enter the tree."""
    if not tree.causes:
        return
    runs = view.runs(tree)
    for node in tree.nodes.values():
        met = any(node.id in run.met for run in runs)
        for index, answer in enumerate(node.answers):
            if met and not any((node.id, index) in run.given for run in runs):
                message = (
                    f"no cause allows “{answer.say}” here; correct its `when`, or what the steps before say they fix"
                )
                yield Flaw(answer.place, message, node.id)
