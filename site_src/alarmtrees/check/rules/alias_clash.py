"""Two trees have the same other name, or one's other name is the other's title.

Who types it gets two answers, one of them wrong. Of a draft or a tree that nobody has signed and another one, the
finding stands in the former, for it is new.

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
from .base import Flaw, View, library_rule, settled_first


@library_rule("library", Severity.WARNING)
def check(view: View) -> Iterator[Flaw]:
    """Compare other names and titles of all trees, ignoring case and white space."""
    first: dict[str, tuple[Tree, str]] = {}
    for trees in settled_first(view.library):
        for tree in trees:
            other, kind = first.setdefault(folded(tree.title), (tree, "title"))
            if other is not tree and kind == "alias":
                yield Flaw(tree.at("title"), _message(tree.title, other))
        for tree in trees:
            own = set[str]()
            for index, alias in enumerate(tree.aliases):
                name = folded(alias)
                other, kind = first.setdefault(name, (tree, "alias"))
                if other is not tree:
                    yield Flaw(tree.item_at("aliases", index), _message(alias, other))
                elif name in own or kind == "title":
                    message = f"“{alias}” stands in this tree twice; take one out"
                    yield Flaw(tree.item_at("aliases", index), message)
                own.add(name)


def _message(name: str, other: Tree) -> str:
    return f"“{name}” is in {other.file} too, so whoever types it is led to both; leave it in one of them"
