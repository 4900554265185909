"""The content has changed since it was reviewed.

The stamp in `review: content` is the SHA-256 of what the tree says. Comments, layout, other names,
related articles and the status do not change it. A withdrawn tree needs no review.

Good, after `alarmtrees sign`:

```yaml
review: {by: lead perfusionist, on: 2026-09-14, next: 2027-09-14, content: 5f1c9a}
```

Bad: the same line, after a step was changed.

```yaml
review: {by: lead perfusionist, on: 2026-09-14, next: 2027-09-14, content: 5f1c9a}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from ...model.finding import Place, Severity
from ...model.stamp import content_stamp
from .base import Flaw, View, tree_rule


@tree_rule("review", Severity.WARNING)
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Compare the stamp with the content."""
    if tree.is_withdrawn:
        return  # nobody is to follow it, so nobody has to review it
    if tree.review is not None and tree.review.content != content_stamp(tree):
        place = Place(tree.file, *tree.review.raw.value_at["content"])
        message = "the content has changed since the review; review it, then run `alarmtrees sign`"
        yield Flaw(place, message)
