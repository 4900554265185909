"""A tree shows a local value, or calls a role, that the hospital has not set.

The reader sees "not set here". Set it in `kb/settings.local.yml`.

Good:

```yaml
values:
  leak_watch: {say: How long to watch, value: 10, unit: min}
```

Bad:

```yaml
values:
  leak_watch: {say: How long to watch, unit: min}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ..finding import Finding, Severity
from ..model import Tree
from ..wording import names
from .base import View

ID = "unset"
FAMILY = "words"
SEVERITY = Severity.WARNING
SCOPE = "tree"


def check(view: View, tree: Tree) -> Iterator[Finding]:
    """Look up each value and each role's number at its first use in the tree."""
    settings, roles = view.library.settings, view.library.roles
    reported: set[str] = set()
    for text in view.texts(view.source_of(tree)):
        for name in names(text.text):
            if name in settings and settings[name].value is None and name not in reported:
                reported.add(name)
                message = f"`{name}` has no value, readers see “not set here”: set it in kb/settings.local.yml"
                yield Finding(ID, SEVERITY, text.place, message, text.node)
    for node in tree.nodes.values():
        role = roles.get(node.call or "")
        if role and role.phone is None and role.id not in reported:
            reported.add(role.id)
            message = f"the role `{role.id}` has no number, readers see so; set it in kb/settings.local.yml"
            yield Finding(ID, SEVERITY, node.at("call"), message, node.id)
