"""A tree, a step, an article, a calculator or a fact names a source that `kb/sources.yml` does not list.

A number or a rule without a source that can be looked up is only a claim. In the text of an article a source
is cited as `[@weil-2007]`.

Good:

```yaml
sources: [weil-2007]
```

Bad:

```yaml
sources: [weil-2006]
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model.finding import Place
from ...reading.articles import sources_cited
from .base import Flaw, View, guess, library_rule, listed, named_in


@library_rule("references", needs="sources")
def check(view: View) -> Iterator[Flaw]:
    """Look up every source that is named in trees and facts."""
    known = view.library.sources
    for place, node, name in _named(view):
        if name not in known:
            message = f"there is no source `{name}` in kb/sources.yml{guess(name, known)}"
            yield Flaw(place, message, node)


def _named(view: View) -> Iterator[tuple[Place, str | None, str]]:
    for tree in view.library.trees.values():
        yield from listed(tree, "sources")
    for article in view.library.articles.values():
        yield from listed(article, "sources")
        for name, place in sources_cited(article):
            yield place, None, name
    for calculator in view.library.calculators.values():
        for owner, key, index, name in named_in(calculator.raw, "sources"):
            yield Place(calculator.file, *owner[key].item_at[index]), None, name
    for source in view.library.sources_read:
        if source.data is None or source.problems:
            continue
        if source.kind in ("safety", "cautions", "words"):
            for entry in source.data.values():
                for index, name in enumerate(entry.get("sources", ())):
                    yield source.place(entry["sources"].item_at[index]), None, name
        if source.kind == "waveforms":
            for entry in source.data["scenes"].values():
                for index, name in enumerate(entry["sources"]):
                    yield source.place(entry["sources"].item_at[index]), None, name
        if source.kind == "settings":
            for entry in source.data.get("values", {}).values():
                if "source" in entry:
                    yield source.place(entry.value_at["source"]), None, entry["source"]
                for index, name in enumerate(entry.get("range_sources", ())):
                    yield source.place(entry["range_sources"].item_at[index]), None, name
