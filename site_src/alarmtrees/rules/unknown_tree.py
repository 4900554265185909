"""A `go` names a tree that does not exist.

Good:

```yaml
arrest: {end: go, go: cardiac-arrest, say: Cardiac arrest comes first.}
```

Bad:

```yaml
arrest: {end: go, go: arrest, say: Cardiac arrest comes first.}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ..finding import Finding, Severity
from ..model import Tree
from .base import View, guess

ID = "unknown-tree"
FAMILY = "references"
SEVERITY = Severity.ERROR
SCOPE = "tree"


def check(view: View, tree: Tree) -> Iterator[Finding]:
    """Look up every tree that is named; a tree whose file is broken does exist."""
    for node in tree.nodes.values():
        tree_id = (node.go or "").partition("/")[0]
        if node.go and tree_id not in view.library.known:
            message = f"there is no tree `{tree_id}`{guess(tree_id, view.library.known)}"
            yield Finding(ID, SEVERITY, node.at("go"), message, node.id)
