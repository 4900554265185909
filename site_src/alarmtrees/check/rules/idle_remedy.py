"""A step says that it fixes a cause that can never be there.

The answers on every way to it say `when`, and that cause is in none of them; so it is fixed where it is not, and
perhaps not where it is. Either the remedy stands at the wrong step, or a `when` before it leaves a cause out.
Where another rule finds that a cause is stuck or not fixed, that comes first, and nothing is said here.

Good:

```yaml
what-is-seen:
  ask: What is seen?
  answers:
    - {say: The line is off, to: reconnect, when: [loose]}
    - {say: The line is bent, to: straighten, when: [bent]}
reconnect:
  do:
    - Push the connector home.
  fixes: [loose]
  then: did-it-hold
```

Bad, because a bent line never comes to this step:

```yaml
what-is-seen:
  ask: What is seen?
  answers:
    - {say: The line is off, to: reconnect, when: [loose]}
    - {say: The line is bent, to: straighten, when: [bent]}
reconnect:
  do:
    - Push the connector home.
  fixes: [bent]
  then: did-it-hold
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from ...model.finding import Severity
from .base import Flaw, View, tree_rule


@tree_rule("causes", Severity.WARNING)
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Collect which causes the hurried reader brings to each step, from the start and from where others enter."""
    if not tree.causes:
        return
    causes = view.causes(tree)
    runs = view.runs(tree)
    if causes.never_fixed() or any(run.stuck or run.unfixed_end for run in runs):
        return  # one slip often shows under several rules; the errors say more
    for node in tree.nodes.values():
        here = 0
        for run in runs:
            here |= run.met.get(node.id, 0)
        for index, cause in enumerate(node.fixes):
            if here and not here & causes.bit.get(cause, here):
                message = (
                    f"`{cause}` can never be there at this step, so nothing is fixed; move it to the step that removes "
                    "it, or correct the `when` of the answers before"
                )
                yield Flaw(node.item_at("fixes", index), message, node.id)
