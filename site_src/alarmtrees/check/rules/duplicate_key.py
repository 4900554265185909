"""A key stands twice in one mapping, so one of the two would silently win.

Two steps with one name, or one step with two `then`: what the author meant cannot be known.

Good:

```yaml
nodes:
  look: {end: resolved, say: Done.}
  look-again: {end: resolved, say: Done again.}
```

Bad:

```yaml
nodes:
  look: {end: resolved, say: Done.}
  look: {end: resolved, say: Done again.}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Source
from .base import Flaw, View, file_rule, passed_on


@file_rule("reading")
def check(view: View, source: Source) -> Iterator[Flaw]:
    """Pass on what was met in reading."""
    return passed_on(source, "duplicate-key")
