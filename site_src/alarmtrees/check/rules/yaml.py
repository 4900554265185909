"""A file cannot be read as YAML, or holds what YAML files here never hold.

Refused are: anchors, aliases and tags (they can make a small file endless, or run code), control
characters, characters that turn the direction of writing, a second document, nesting deeper than
24 levels, files over 1 MiB, and text that is not UTF-8. All other files are still checked.

Good:

```yaml
say: "No pulse: start compressions"
```

Bad, because the second colon makes it a mapping inside a text:

```yaml
say: No pulse: start compressions
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Source
from .base import Flaw, View, file_rule, passed_on


@file_rule("reading")
def check(view: View, source: Source) -> Iterator[Flaw]:
    """Pass on what was met in reading."""
    return passed_on(source, "yaml")
