"""A tree in use with causes has no scene in `kb/practice.yml`, with which its practice cases begin.

A case then begins with the alarm's title, which nobody at a bedside is told. Write in one or two sentences what is met
there: what is seen and heard, without naming a cause. A library without scenes lacks none; a draft is not practised.

Good, in `kb/practice.yml`:

```yaml
scenes:
  gas-line-disconnected: {say: The pump sounds its alarm. Under the bed something hisses.}
```

Bad: a tree `gas-line-disconnected` with causes, and scenes of other trees alone.

```yaml
scenes:
  resting-balloon: {say: The pump is silent. The balloon does not move.}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model.finding import Severity
from .base import Flaw, View, library_rule


@library_rule("library", Severity.WARNING, needs="practice")
def check(view: View) -> Iterator[Flaw]:
    """Look for a scene of every tree of which there are cases."""
    scenes = view.library.stories.scenes
    for tree in view.library.in_use.values():
        if scenes and tree.causes and tree.id not in scenes:
            message = (
                "kb/practice.yml has no scene for this tree, so its practice cases begin with its title; "
                f"put `{tree.id}` under `scenes`, with what is met at the bedside"
            )
            yield Flaw(tree.at("id"), message)
