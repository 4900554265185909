"""A `fixes` or `when` names a cause that the tree does not list under `causes`.

What is proved about causes would be proved about another one than meant.

Good:

```yaml
causes:
  connector-loose: {say: A connector has come loose.}
# and in a step:
fixes: [connector-loose]
```

Bad:

```yaml
causes:
  connector-loose: {say: A connector has come loose.}
# and in a step:
fixes: [conector-loose]
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import FIXED, Answer, Tree
from .base import Flaw, View, guess, item_at, tree_rule


@tree_rule("references")
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Look up every cause that is named."""
    known = {*tree.causes, FIXED}
    for answer in tree.anytime:
        yield from _when(answer, None, known)
    for node in tree.nodes.values():
        for index, cause in enumerate(node.fixes):
            if cause not in tree.causes:
                message = f"there is no cause `{cause}` in this tree{guess(cause, tree.causes)}"
                yield Flaw(node.item_at("fixes", index), message, node.id)
        for answer in node.answers:
            yield from _when(answer, node.id, known)


def _when(answer: Answer, node: str | None, known: set[str]) -> Iterator[Flaw]:
    for index, cause in enumerate(answer.when or ()):
        if cause not in known:
            place = item_at(answer, "when", index)
            yield Flaw(place, f"there is no cause `{cause}` in this tree{guess(cause, known)}", node)
