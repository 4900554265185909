"""A `call` names a role that `kb/settings.yml` does not list, or a review one that may not sign.

The reader would not know whom to call. Who may sign is listed as `reviewers` in the settings; without that list
anybody may.

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

from ...model.finding import Place
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
    yield from _reviewers(view)


def _reviewers(view: View) -> Iterator[Flaw]:
    for page in view.pages:
        if page.review and not view.library.may_sign(page.review.by):
            message = view.library.sign_refusal(page.review.by)
            yield Flaw(Place(page.file, *page.review.raw.value_at["by"]), message)
