"""For a cause there is no remedy that a careful reader can reach.

The careful reader gives, where answers name the cause, only such. Then some step must fix it, or some
call must be its remedy. Answers that are offered at any time do not count: they speak of the patient.

Good:

```yaml
causes:
  line-damaged: {say: The line is broken.}
# and in a step:
call-now: {end: call, call: specialist-on-call, fixes: [line-damaged], say: Only a specialist can mend it.}
```

Bad, when no step says `fixes: [line-damaged]`:

```yaml
causes:
  line-damaged: {say: The line is broken.}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from .base import Flaw, View, tree_rule


@tree_rule("causes")
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Let the careful reader look for each cause's remedy."""
    for cause in view.causes(tree).never_fixed() if tree.causes else ():
        message = f"a careful reader finds no remedy for the cause `{cause}`; let a step or call say `fixes: [{cause}]`"
        yield Flaw(tree.causes[cause].place, message)
