"""A `go` of a tree leads to a withdrawn tree, or an article or calculator names, or links to, one.

The page of a withdrawn tree shows only that, and whom to call. Whoever is led there mid-way finds no step to go
on with, while the safety rules were proved on steps that nobody sees. Write what is to be done instead: a `go` to
another tree, or `end: call`.

A warning, not an error: wrong advice has to be off the site at once, and its page says whom to call until each way
there is changed.

Good:

```yaml
arrest: {end: call, call: arrest-team, say: Cardiac arrest comes first.}
```

Bad, with `status: withdrawn` in `trees/cardiac-arrest.yml`:

```yaml
arrest: {end: go, go: cardiac-arrest, say: Cardiac arrest comes first.}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Article, Tree
from ...model.finding import Place, Severity
from ...reading.articles import links
from .base import Flaw, Page, View, page_rule


@page_rule("references", Severity.WARNING)
def check(view: View, page: Page) -> Iterator[Flaw]:
    """Look up the status of every tree that is named; a withdrawn tree itself is not judged."""
    if isinstance(page, Tree):
        if not page.is_withdrawn:
            yield from _handed_over(view, page)
        return
    for index, tree_id in enumerate(page.trees):
        yield from _told(view, page.item_at("trees", index), tree_id)
    if isinstance(page, Article):
        for link in links(page):
            kind, tree_id, _ = link.leads_to
            if kind == "tree":
                yield from _told(view, page.place(link.start), tree_id)


def _handed_over(view: View, tree: Tree) -> Iterator[Flaw]:
    for node in tree.nodes.values():
        tree_id = (node.go or "").partition("/")[0]
        if node.go and _gone(view, tree_id):
            message = (
                f"`{tree_id}` is withdrawn, and its page shows only whom to call, so nobody can go on there; "
                "go to another tree, or write `end: call`"
            )
            yield Flaw(node.at("go"), message, node.id)


def _told(view: View, place: Place, tree_id: str) -> Iterator[Flaw]:
    if _gone(view, tree_id):
        message = f"`{tree_id}` is withdrawn, and its page shows only whom to call; name another tree, or none"
        yield Flaw(place, message)


def _gone(view: View, tree_id: str) -> bool:
    tree = view.library.trees.get(tree_id)
    return tree is not None and tree.is_withdrawn
