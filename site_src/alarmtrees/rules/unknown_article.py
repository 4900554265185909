"""`related` names an article that does not lie in `kb/` as `<name>.md`.

Good, with `kb/starting-up.md`:

```yaml
related: [starting-up]
```

Bad:

```yaml
related: [starting]
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ..finding import Finding, Severity
from ..model import Tree
from .base import View, guess

ID = "unknown-article"
FAMILY = "references"
SEVERITY = Severity.ERROR
SCOPE = "tree"


def check(view: View, tree: Tree) -> Iterator[Finding]:
    """Look up every article that is named."""
    known = view.library.articles
    for index, name in enumerate(tree.related):
        if name not in known:
            message = f"there is no article kb/{name}.md{guess(name, known)}"
            yield Finding(ID, SEVERITY, tree.item_at("related", index), message)
