"""Something lies in `trees/` or `kb/` that may not lie there.

All of `kb/` is published with the site: Markdown, the known YAML files and pictures (`.png`, and `.svg` that only
draws) may lie there, and nothing else. A link could lead to any file of whoever builds the site, so none is followed.
A name with a sign that cannot be shown reads differently from what it is.

Good, in `kb/zeroing.md`:

```yaml
title: Zeroing
```

Bad, in `kb/zeroing.html`:

```yaml
title: Zeroing
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Source
from .base import Flaw, View, file_rule, passed_on


@file_rule("reading")
def check(view: View, source: Source) -> Iterator[Flaw]:
    """Pass on what was met in the folders."""
    return passed_on(source, "stray-file")
