"""A file does not have the shape that its schema in `schema/` describes.

A key that does not exist here, a value of the wrong kind, or a key that is missing. The message names
the keys or values that are allowed. An editor that knows the schemas shows the same while you write.

Good:

```yaml
about: gas
```

Bad, because there is no such group:

```yaml
about: helium
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Source
from .base import Flaw, View, file_rule, passed_on


@file_rule("reading")
def check(view: View, source: Source) -> Iterator[Flaw]:
    """Pass on what was met in reading."""
    return passed_on(source, "schema")
