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
from ...model.finding import Finding, Severity
from .base import View

ID = "too-few-aliases"
FAMILY = "library"
SEVERITY = Severity.WARNING
SCOPE = "tree"


ENOUGH = 8


def check(view: View, tree: Tree) -> Iterator[Finding]:
    """Count the other names."""
    if len(tree.aliases) < ENOUGH:
        message = (
            f"{len(tree.aliases)} other names; write at least {ENOUGH}, in the words of somebody who sees or hears it"
        )
        yield Finding(ID, SEVERITY, tree.at("aliases"), message)
