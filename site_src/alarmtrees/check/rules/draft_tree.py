"""A tree in use hands over to a draft, or an article links to one.

A draft is not for use at the bedside, and nobody has to have reviewed it. Nobody may be led to it mid-way. Put the
draft in use first, or write another `go` or a call; name it in an article when it is in use. Drafts may hand over to
each other. In an article this is a warning: the page that it leads to says that it is a draft.

Good:

```yaml
too-hot: {end: call, call: specialist-on-call, say: The console is too hot to touch.}
```

Bad, with `status: draft` in `trees/console-hot.yml`:

```yaml
too-hot: {end: go, go: console-hot, say: The console is too hot to touch.}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Article, Tree
from ...model.finding import Severity
from ...reading.articles import links
from .base import Flaw, Page, View, page_rule


@page_rule("references")
def check(view: View, page: Page) -> Iterator[Flaw]:
    """Look up the status of every tree that is handed over or linked to."""
    if isinstance(page, Article):
        for link in links(page):
            kind, tree_id, _ = link.leads_to
            if kind == "tree" and _is_draft(view, tree_id):
                message = f"`{tree_id}` is a draft, and not for use at the bedside; link to it when it is in use"
                yield Flaw(page.place(link.start), message, severity=Severity.WARNING)
    elif isinstance(page, Tree) and page.in_use:
        for node in page.nodes.values():
            tree_id = (node.go or "").partition("/")[0]
            if node.go and _is_draft(view, tree_id):
                message = (
                    f"`{tree_id}` is a draft, and nobody may be led to it; "
                    "go to another tree, write `end: call`, or put the draft in use first"
                )
                yield Flaw(node.at("go"), message, node.id)


def _is_draft(view: View, tree_id: str) -> bool:
    tree = view.library.trees.get(tree_id)
    return tree is not None and tree.is_draft
