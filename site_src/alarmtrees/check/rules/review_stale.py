"""The content has changed since it was reviewed, or nobody can tell whether it has.

The stamp in `review: content` is the SHA-256 of what the page says. Comments and layout of a YAML file do not change
it, nor does where the page stands: the other names, related articles and the status of a tree, the alarms of an article
or calculator, the part and tasks of an article. Of an article's text every line counts. A withdrawn tree needs no
review. An article or calculator that was signed before these had stamps has to be signed again.

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

from ...model.finding import Place, Severity
from ...model.stamp import is_stale, is_unstamped
from .base import Flaw, Page, View, kind_of, page_rule


@page_rule("review", Severity.WARNING)
def check(view: View, page: Page) -> Iterator[Flaw]:
    """Compare the stamp with the content."""
    if page.review is None:
        return
    if is_stale(page):
        place = Place(page.file, *page.review.raw.value_at["content"])
        yield Flaw(place, "the content has changed since the review; review it, then run `alarmtrees sign`")
    elif is_unstamped(page):
        message = (
            f"the review of this {kind_of(page)[0]} has no stamp of its content, so nobody can see whether it changed "
            "since; look at it, then run `alarmtrees sign`"
        )
        yield Flaw(page.review.place, message)
