"""The day of the next review has passed.

Half of all guidelines are out of date after about six years, one in ten after less than four
(Shekelle 2001). Look again, then run `alarmtrees sign`.

Good, until that day:

```yaml
review: {by: lead perfusionist, on: 2026-09-14, next: 2027-09-14, content: 5f1c9a}
```

Bad, the day after:

```yaml
review: {by: lead perfusionist, on: 2025-09-14, next: 2026-09-14, content: 5f1c9a}
```
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from ..finding import Finding, Place, Severity
from ..model import Tree
from .base import View

ID = "review-overdue"
FAMILY = "review"
SEVERITY = Severity.WARNING
SCOPE = "tree"


def check(view: View, tree: Tree) -> Iterator[Finding]:
    """Compare the day of the next review with today."""
    if tree.review is None:
        return
    place = Place(tree.file, *tree.review.raw.value_at["next"])
    try:
        due = date.fromisoformat(tree.review.next)
    except ValueError:
        yield Finding(
            ID, SEVERITY, place, f"“{tree.review.next}” is no day of the calendar; write the day of the next review"
        )
        return
    if due < view.today:
        message = f"the next review was due on {due.isoformat()}; review the tree, then run `alarmtrees sign`"
        yield Finding(ID, SEVERITY, place, message)
