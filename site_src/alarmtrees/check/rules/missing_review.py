"""A tree in use, an article or a calculator does not say who reviewed it, when, and until when that holds.

A draft needs no review yet: its page says that it has none, and nobody is led there.

Good:

```yaml
review: {by: lead perfusionist, on: 2026-09-14, next: 2027-09-14, content: 5f1c9a}
```

Bad: a tree in use without `review`.

```yaml
title: Gas line has come apart
status: in-use
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from .base import Flaw, Page, View, kind_of, page_rule


@page_rule("words")
def check(view: View, page: Page) -> Iterator[Flaw]:
    """Look whether there is one."""
    if page.review is None and not (isinstance(page, Tree) and page.is_draft):
        kind, key = kind_of(page)
        yield Flaw(page.at(key), f"the {kind} has no `review`; have it reviewed, then run `alarmtrees sign`")
