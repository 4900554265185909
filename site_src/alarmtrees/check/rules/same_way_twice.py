"""Every answer to a question leads to the same step.

Then the question costs time and decides nothing.

Good:

```yaml
ask: Is a connector loose?
answers:
  - {say: One is loose, to: reconnect}
  - {say: All are tight, to: look-at-line}
```

Bad:

```yaml
ask: Is a connector loose?
answers:
  - {say: One is loose, to: look-at-line}
  - {say: All are tight, to: look-at-line}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from .base import Flaw, View, tree_rule


@tree_rule("shape")
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Compare where each question's own answers lead."""
    for node in tree.nodes.values():
        if len(node.answers) > 1 and len({answer.to for answer in node.answers}) == 1:
            message = (
                f"every answer of `{node.id}` leads to `{node.answers[0].to}`; let them lead apart, or take it out"
            )
            yield Flaw(node.place, message, node.id)
