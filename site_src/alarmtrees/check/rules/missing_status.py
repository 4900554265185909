"""A tree does not say whether readers may use it.

Good:

```yaml
status: in-use
```

Bad: a tree without `status`.

```yaml
title: Gas line has come apart
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from ...model.finding import Finding, Severity
from .base import View

ID = "missing-status"
FAMILY = "words"
SEVERITY = Severity.ERROR
SCOPE = "tree"


def check(view: View, tree: Tree) -> Iterator[Finding]:
    """Look whether there is one."""
    if tree.status is None:
        message = "the tree has no `status`; write `status: draft` until it is reviewed, then `in-use`"
        yield Finding(ID, SEVERITY, tree.at("id"), message)
