"""A tree's or calculator's `id` is not its file's name, or its file does not lie in its folder as `<id>.yml`.

Links, `go` and the address of the page use the id; the pull request shows the file. They must be one.

Good, in `trees/trigger-lost.yml`:

```yaml
id: trigger-lost
```

Bad, in `trees/trigger-lost.yml`:

```yaml
id: trigger-gone
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Source
from .base import Flaw, View, file_rule

_FOLDERS = {"tree": "trees", "calculator": "kb/calculators"}


@file_rule("reading")
def check(view: View, source: Source) -> Iterator[Flaw]:
    """Compare the id with the name, and the place with the folder."""
    if source.kind not in _FOLDERS:
        return
    folder = _FOLDERS[source.kind]
    if source.file != f"{folder}/{source.stem}.yml":
        message = f"{source.kind}s lie as {folder}/<id>.yml; move this file to {folder}/{source.stem}.yml"
        yield Flaw(source.place((1, 1)), message)
    written = source.data.get("id") if source.data else None
    if isinstance(written, str) and source.data and written and written != source.stem:
        message = f"`id` is “{written}”, the file is {source.stem}.yml; write `id: {source.stem}`, or rename the file"
        yield Flaw(source.place(source.data.value_at["id"]), message)
