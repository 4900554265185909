"""A text was cut without a word: YAML took a part of it for something else.

A `#` behind a blank begins a comment, a comma inside `{ }` or `[ ]` begins a new item. The reader at
the bedside would see half a sentence. Put the text in quotes; put a comment on its own line.

Good:

```yaml
answers:
  - {say: "Cold, pale leg", to: limb-cold}
```

Bad, because the answer says only "Cold":

```yaml
answers:
  - {say: Cold, pale leg, to: limb-cold}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Source
from .base import Flaw, View, file_rule, passed_on


@file_rule("reading")
def check(view: View, source: Source) -> Iterator[Flaw]:
    """Pass on what was met in reading."""
    return passed_on(source, "lost-text")
