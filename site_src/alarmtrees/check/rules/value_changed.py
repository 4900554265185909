"""A page is shown with other local values than those it was reviewed with.

Its text is the same, but a time, a limit or an angle in it, in its cautions, or in what is counted for it has been set
to another value since. The stamp in `review: values` is made from these values; a review without one was made with the
shipped values. Look at the page as readers see it now, then run `alarmtrees sign`.

Good, after `alarmtrees sign`:

```yaml
review: {by: lead perfusionist, on: 2026-09-14, next: 2027-09-14, content: 5f1c9a, values: 07d2e4, house: 88ab3c}
```

Bad: the same line, after `leak_watch` was set to another value.

```yaml
review: {by: lead perfusionist, on: 2026-09-14, next: 2027-09-14, content: 5f1c9a, values: 07d2e4, house: 88ab3c}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model.finding import Place, Severity
from ...proof.reviewed import is_revalued, others_than_shipped, values_of
from .base import Flaw, Page, View, kind_of, page_rule

_NAMED = 4


@page_rule("review", Severity.WARNING, needs="settings")
def check(view: View, page: Page) -> Iterator[Flaw]:
    """Compare the stamp of the values with those that readers see."""
    if page.review is None or not is_revalued(view.library, page):
        return
    settings = view.library.settings
    if changed := others_than_shipped(view.library, page):
        told = [f"`{name}` {settings[name].shown} (shipped: {settings[name].shipped})" for name in changed]
    else:
        told = [f"`{name}` {settings[name].shown}" for name in values_of(view.library, page)]
    more = f" and {len(told) - _NAMED} more" if len(told) > _NAMED else ""
    shown = f"{', '.join(told[:_NAMED])}{more}".replace("\u00a0", " ")
    message = (
        f"value changed since reviewed: this {kind_of(page)[0]} shows or counts with {shown or 'none any more'}; "
        "look at it, then run `alarmtrees sign`"
    )
    raw = page.review.raw
    yield Flaw(Place(page.file, *raw.value_at["values" if "values" in raw else "on"]), message)
