"""On some way the balloon rests for too long before somebody is called or it moves.

Past the setting `resting_warning` this is an error, past `call_by` a warning. The rest is counted from
the alarm that stopped the pump, or from the step that stops it, until the balloon is seen to move,
somebody is called, or the end `resolved`. A balloon that does not move forms clot.

Good:

```yaml
find-leak:
  do:
    - Call and go on.
  call: specialist-on-call
  then: look-along-line
```

Bad, when the balloon rests and the warning is 15 minutes:

```yaml
find-leak:
  do:
    - Look along the whole line.
  takes: 16 min
  then: look-again
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from ...model.finding import Severity
from ...proof.resting import setting_seconds
from .base import Flaw, View, tree_rule


@tree_rule("safety")
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Compare the longest rest with the hospital's limits."""
    longest = view.resting.longest(tree)
    for name, severity in (("resting_warning", Severity.ERROR), ("call_by", Severity.WARNING)):
        limit = setting_seconds(view.library.settings, name)
        if limit is not None and longest > limit:
            yield from _finding(view, tree, name, limit, severity)
            return


def _finding(view: View, tree: Tree, name: str, limit: float, severity: Severity) -> Iterator[Flaw]:
    rest = view.resting.witness(tree)
    key = next(key for key, rested in rest.during if rested > limit)
    gate = next((step.node for step in reversed(rest.way) if "/" not in step.node), tree.start)
    if key[0] != tree.id:
        if view.resting.longest(view.flow.trees[key[0]]) > limit:
            return  # the entered tree shows it alone
        place, node = tree.nodes[gate].at("go"), gate
    else:
        place, node = tree.nodes[key[1]].place, key[1]
    shown = view.library.settings[name].shown
    message = (
        f"the balloon rests for up to {rest.seconds:g} s on this way, longer than `{name}` ({shown}); "
        "call earlier, or look earlier whether it moves"
    )
    yield Flaw(place, message, node, rest.way, severity)
