"""A tree or article does not say who reviewed it, when, and until when that holds.

Good:

```yaml
review: {by: lead perfusionist, on: 2026-09-14, next: 2027-09-14, content: 5f1c9a}
```

Bad: a tree without `review`.

```yaml
title: Gas line has come apart
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from .base import Flaw, Page, View, kind_of, page_rule


@page_rule("words")
def check(view: View, page: Page) -> Iterator[Flaw]:
    """Look whether there is one."""
    if page.review is None and isinstance(page, Tree):
        message = "the tree has no `review`; have it reviewed, then run `alarmtrees sign`"
        yield Flaw(page.at("id"), message)
    elif page.review is None:
        kind, key = kind_of(page)
        message = f"the {kind} has no `review`; have it reviewed, then write who did, when, and when next"
        yield Flaw(page.at(key), message)
