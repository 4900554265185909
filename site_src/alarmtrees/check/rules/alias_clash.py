"""Two trees have the same other name, or one's other name is the other's title.

Who types it gets two answers, one of them wrong.

Good:

```yaml
aliases: [hose off, connector out]
```

Bad, when another tree has `hose off` too:

```yaml
aliases: [hose off, line unplugged]
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from ...model.finding import Severity
from ...model.wording import folded
from .base import Flaw, View, library_rule


@library_rule("library", Severity.WARNING)
def check(view: View) -> Iterator[Flaw]:
    """Compare other names and titles of all trees, ignoring case and white space."""
    titles = {folded(tree.title): tree for tree in view.library.trees.values()}
    first: dict[str, Tree] = {}
    for tree in view.library.trees.values():
        for index, alias in enumerate(tree.aliases):
            name = folded(alias)
            other = titles.get(name) or first.setdefault(name, tree)
            if other is not tree or name in map(folded, tree.aliases[:index]):
                message = f"“{alias}” stands for {other.file} already; take it out of one of them"
                yield Flaw(tree.item_at("aliases", index), message)
