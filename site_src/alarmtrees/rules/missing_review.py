"""A tree does not say who reviewed it, when, and until when that holds.

Good:

```yaml
review: {by: lead perfusionist, on: 2026-09-14, next: 2027-09-14, content: 5f1c9a}
```

Bad: a tree without `review`.

```yaml
title: Gas line has come apart
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ..finding import Finding, Severity
from ..model import Tree
from .base import View

ID = "missing-review"
FAMILY = "words"
SEVERITY = Severity.ERROR
SCOPE = "tree"


def check(view: View, tree: Tree) -> Iterator[Finding]:
    """Look whether there is one."""
    if tree.review is None:
        message = "the tree has no `review`; have it reviewed, then run `alarmtrees sign`"
        yield Finding(ID, SEVERITY, tree.at("id"), message)
