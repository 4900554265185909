"""A text of a new tree still waits for its author.

`alarmtrees new` writes a whole tree and leaves (fill in) wherever only its author knows the words. Such a text says
nothing at the bedside.

Good:

```yaml
ask: What does the gauge show?
```

Bad:

```yaml
ask: (fill in) a question that is answered by looking
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from .base import Flaw, View, tree_rule

SIGN = "(fill in)"


@tree_rule("words")
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Look for the sign in every text."""
    for text in view.texts(view.source_of(tree)):
        if SIGN in text.text:
            message = f"this text still waits for its author; write it in place of “{SIGN} …”"
            yield Flaw(text.place, message, text.node)
