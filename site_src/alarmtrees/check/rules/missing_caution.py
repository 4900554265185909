"""A tree, article or calculator names no caution.

Every page that could be acted on shows the usual cautions.

Good:

```yaml
cautions: [patient-first, trained-staff-only, policy-first]
```

Bad: a tree without `cautions`.

```yaml
title: Gas line has come apart
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model.finding import Severity
from .base import Flaw, Page, View, kind_of, page_rule


@page_rule("words", Severity.WARNING)
def check(view: View, page: Page) -> Iterator[Flaw]:
    """Look whether there are any."""
    if not page.cautions:
        kind, key = kind_of(page)
        message = f"the {kind} names no caution; write `cautions:` with ids from kb/cautions.yml"
        yield Flaw(page.at(key), message)
