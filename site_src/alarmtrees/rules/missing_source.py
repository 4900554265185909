"""A tree names no source.

Advice says where it comes from: a publication, or plainly `common-practice`.

Good:

```yaml
sources: [weil-2007, common-practice]
```

Bad: a tree without `sources`.

```yaml
title: Gas line has come apart
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ..finding import Finding, Severity
from ..model import Tree
from .base import View

ID = "missing-source"
FAMILY = "words"
SEVERITY = Severity.WARNING
SCOPE = "tree"


def check(view: View, tree: Tree) -> Iterator[Finding]:
    """Look whether there are any."""
    if not tree.sources:
        message = "the tree names no source; write `sources:` with ids from kb/sources.yml"
        yield Finding(ID, SEVERITY, tree.at("id"), message)
