"""Help for a cause comes later than its harm allows.

Counted is the longest that a calm, careful reader needs from opening the page until the step that removes the cause
begins, or somebody is called, whichever comes first. How long it may take depends on how soon harm comes: the settings
`help_immediate`, `help_prompt` and `help_delayed`. Put quick looks before slow ones, what kills first before what is
likeliest, and a call before a long wait.

Good, with a call before the wait:

```yaml
call-first:
  do:
    - Call, and go on here.
  call: specialist-on-call
  then: watch
watch:
  ask: "Watch for 10 minutes: what is seen?"
  takes: 10 min
```

Bad, where the first help comes behind that wait:

```yaml
watch:
  ask: "Watch for 10 minutes: what is seen?"
  takes: 10 min
  answers:
    - {say: It leaks, to: call-now, when: [leak]}
    - {say: Nothing, to: done}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from ...model.finding import Severity
from ...model.wording import lasting
from ...proof.economy import Remedies
from ...proof.resting import Times, setting_seconds
from .base import Flaw, View, tree_rule


@tree_rule("causes", Severity.WARNING)
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Hold the time to the first help for each cause against the hospital's limit."""
    name = f"help_{tree.harm.onset}"
    limit = setting_seconds(view.library.settings, name)
    if limit is None or not tree.causes:
        return
    remedies = Remedies(tree, view.causes(tree), Times.of(view.library.settings))
    for cause in tree.causes.values():
        first = remedies.help_after(cause.id)
        if first.seconds > limit:
            message = (
                f"under `{cause.id}` the first help comes after {lasting(first.seconds)}; at the most it may be "
                f"{lasting(limit)} (`{name}`); look or call earlier"
            )
            node = first.way[-1].node
            yield Flaw(tree.nodes[node].place, message, node, first.way)
