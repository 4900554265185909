"""A `go` of a tree names, or an article or calculator names or links to, a tree that does not exist.

An article names the alarms that it serves under `trees`, and links to them as `alarms/<id>/index.md`, or with
`#` and a step behind.

Good:

```yaml
arrest: {end: go, go: cardiac-arrest, say: Cardiac arrest comes first.}
```

Bad:

```yaml
arrest: {end: go, go: arrest, say: Cardiac arrest comes first.}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Article, Calculator
from ...model.finding import Place
from ...reading.articles import links
from .base import Flaw, Page, View, guess, page_rule


@page_rule("references")
def check(view: View, page: Page) -> Iterator[Flaw]:
    """Look up every tree that is named; a tree whose file is broken does exist."""
    if isinstance(page, Article):
        yield from _named(view, page)
        return
    if isinstance(page, Calculator):
        yield from _listed(view, page)
        return
    for node in page.nodes.values():
        tree_id = (node.go or "").partition("/")[0]
        if node.go and tree_id not in view.library.known:
            yield _unknown(view, node.at("go"), tree_id, node.id)


def _listed(view: View, page: Article | Calculator) -> Iterator[Flaw]:
    for index, tree_id in enumerate(page.trees):
        if tree_id not in view.library.known:
            yield _unknown(view, page.item_at("trees", index), tree_id)


def _named(view: View, article: Article) -> Iterator[Flaw]:
    yield from _listed(view, article)
    for link in links(article):
        kind, tree_id, step = link.leads_to
        if kind != "tree":
            continue
        tree = view.library.trees.get(tree_id)
        if tree_id not in view.library.known:
            yield _unknown(view, article.place(link.start), tree_id)
        elif tree and step and step not in tree.nodes:
            message = f"the tree `{tree_id}` has no step `{step}`{guess(step, tree.nodes)}"
            yield Flaw(article.place(link.start), message)


def _unknown(view: View, place: Place, tree_id: str, node: str | None = None) -> Flaw:
    return Flaw(place, f"there is no tree `{tree_id}`{guess(tree_id, view.library.known)}", node)
