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

from .base import Flaw, Page, View, guess, listed, page_rule


@page_rule("references", needs="cautions")
def check(view: View, page: Page) -> Iterator[Flaw]:
    """Look up every caution that is named."""
    known = view.library.cautions
    for place, node, name in listed(page, "cautions"):
        if name not in known:
            message = f"there is no caution `{name}` in kb/cautions.yml{guess(name, known)}"
            yield Flaw(place, message, node)
