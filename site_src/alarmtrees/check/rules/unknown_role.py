"""A `call` names a role that `kb/settings.yml` does not list.

The reader would not know whom to call.

Good:

```yaml
call: specialist-on-call
```

Bad:

```yaml
call: specialist
```
"""

from __future__ import annotations

from collections.abc import Iterator

from .base import Flaw, View, guess, library_rule, strange_names


@library_rule("references", needs="settings")
def check(view: View) -> Iterator[Flaw]:
    """Look up every role that is named in trees, and in the hospital's own settings."""
    known = view.library.roles
    yield from strange_names(view, "roles")
    for tree in view.library.trees.values():
        for node in tree.nodes.values():
            if node.call and node.call not in known:
                message = f"there is no role `{node.call}` in kb/settings.yml{guess(node.call, known)}"
                yield Flaw(node.at("call"), message, node.id)
