"""A tree has fewer than eight other names.

At 3 a.m. people type what they see or hear. Write what a nurse would say; misspellings belong to the search.

Good:

```yaml
aliases: [hose off, connector out, tubing pulled off, line unplugged, hissing, came apart, line open, plug out]
```

Bad:

```yaml
aliases: [hose off]
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from ...model.finding import Severity
from .base import Flaw, View, tree_rule

ENOUGH = 8


@tree_rule("library", Severity.WARNING)
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Count the other names."""
    if len(tree.aliases) < ENOUGH:
        message = (
            f"{len(tree.aliases)} other names; write at least {ENOUGH}, in the words of somebody who sees or hears it"
        )
        yield Flaw(tree.at("aliases"), message)
