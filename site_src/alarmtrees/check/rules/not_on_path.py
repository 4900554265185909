"""A tree or article stands in no stage of the path for new colleagues, `kb/learning.yml`.

Nobody who learns by the path would ever be led to it. Put it where it belongs, with one sentence why. A library
without that file has no path, and nothing is missing from it. Drafts and withdrawn trees are not for learners.

Good:

```yaml
pages:
  - {page: gas-line-disconnected, why: "A line that came apart looks easy to mend, and blood is looked for first."}
```

Bad: a tree `gas-line-disconnected`, and a path that leaves it out.

```yaml
pages:
  - {page: resting-balloon, why: "Every alarm page rests on it."}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Article, Tree
from ...model.finding import Severity
from .base import Flaw, View, kind_of, library_rule


@library_rule("library", Severity.WARNING)
def check(view: View) -> Iterator[Flaw]:
    """Look for every tree in use and every article in the stages."""
    library = view.library
    named = {page for stage in library.path for page, _ in stage.pages}
    if not named:
        return
    pages: list[Tree | Article] = [*library.trees.values(), *library.articles.values()]
    for one in pages:
        if one.id not in named and not (isinstance(one, Tree) and not one.in_use):
            kind, key = kind_of(one)
            message = f"no stage of kb/learning.yml has this {kind}, so no learner is led to it; put `{one.id}` there"
            yield Flaw(one.at(key), message)
