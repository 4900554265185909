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
from ...model.finding import Finding, Severity
from .base import View

ID = "fill-in"
FAMILY = "words"
SEVERITY = Severity.ERROR
SCOPE = "tree"

SIGN = "(fill in)"


def check(view: View, tree: Tree) -> Iterator[Finding]:
    """Look for the sign in every text."""
    for text in view.texts(view.source_of(tree)):
        if SIGN in text.text:
            message = f"this text still waits for its author; write it in place of “{SIGN} …”"
            yield Finding(ID, SEVERITY, text.place, message, text.node)
