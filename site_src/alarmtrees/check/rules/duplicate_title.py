"""Two trees have the same title.

On the home page nobody could tell them apart.

Good: "Gas line has come apart" and "Gas line is kinked".

Bad: "Gas line" and "Gas line".

```yaml
title: Gas line
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from ...model.wording import folded
from .base import Flaw, View, library_rule, settled_first


@library_rule("library")
def check(view: View) -> Iterator[Flaw]:
    """Compare titles, ignoring case and white space."""
    first: dict[str, Tree] = {}
    for tree in (tree for trees in settled_first(view.library) for tree in trees):
        other = first.setdefault(folded(tree.title), tree)
        if other is not tree:
            message = f"{other.file} has the title “{other.title}” already; say how this alarm differs"
            yield Flaw(tree.at("title"), message)
