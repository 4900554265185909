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
from .base import Flaw, View, tree_rule


@tree_rule("words")
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Look whether there is one."""
    if tree.status is None:
        message = "the tree has no `status`; write `status: draft` until it is reviewed, then `in-use`"
        yield Flaw(tree.at("id"), message)
