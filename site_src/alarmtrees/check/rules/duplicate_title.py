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
from ...model.finding import Finding, Severity
from ...model.wording import folded
from .base import View

ID = "duplicate-title"
FAMILY = "library"
SEVERITY = Severity.ERROR
SCOPE = "library"


def check(view: View) -> Iterator[Finding]:
    """Compare titles, ignoring case and white space."""
    first: dict[str, Tree] = {}
    for tree in view.library.trees.values():
        other = first.setdefault(folded(tree.title), tree)
        if other is not tree:
            message = f"{other.file} has the title “{other.title}” already; say how this alarm differs"
            yield Finding(ID, SEVERITY, tree.at("title"), message)
