"""A tree, step, article or calculator names a caution that `kb/cautions.yml` does not list.

Good:

```yaml
cautions: [balloon-must-not-rest]
```

Bad:

```yaml
cautions: [balloon-may-not-rest]
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model.finding import Finding, Severity
from .base import (
    Page,
    View,
    guess,
    listed,
)

ID = "unknown-caution"
FAMILY = "references"
SEVERITY = Severity.ERROR
SCOPE = "page"


def check(view: View, page: Page) -> Iterator[Finding]:
    """Look up every caution that is named."""
    known = view.library.cautions
    for place, node, name in listed(page, "cautions"):
        if name not in known:
            message = f"there is no caution `{name}` in kb/cautions.yml{guess(name, known)}"
            yield Finding(ID, SEVERITY, place, message, node)
