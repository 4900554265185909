"""The day of the next review has passed.

Half of all guidelines are out of date after about six years, one in ten after less than four
(Shekelle 2001). Look again, then run `alarmtrees sign`. A withdrawn tree needs no review.

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

from ...model import Tree
from ...model.finding import Place, Severity
from .base import Flaw, Page, View, kind_of, page_rule


@page_rule("review", Severity.WARNING)
def check(view: View, page: Page) -> Iterator[Flaw]:
    """Compare the day of the next review with today, and with the day of this one."""
    if page.review is None or (isinstance(page, Tree) and page.is_withdrawn):
        return  # nobody is to follow a withdrawn tree, so nobody has to review it
    days: dict[str, date] = {}
    for key, written in (("on", page.review.on), ("next", page.review.next)):
        try:
            days[key] = date.fromisoformat(written)
        except ValueError:
            message = f"“{written}” is no day of the calendar; write the day as 2026-09-14"
            yield Flaw(Place(page.file, *page.review.raw.value_at[key]), message)
    if len(days) < 2:
        return
    place = Place(page.file, *page.review.raw.value_at["next"])
    if days["next"] < view.today:
        again = f"review the {kind_of(page)[0]}, then run `alarmtrees sign`"
        yield Flaw(place, f"the next review was due on {days['next']}; {again}")
    elif days["next"] < days["on"]:
        yield Flaw(place, f"the next review is before this one ({days['on']}); write a later day")
