"""A tree, article or calculator names no source, or an article cites one that it does not list.

Advice says where it comes from: a publication, or plainly `common-practice`. The list is what readers find at
the end of the page; it may hold more than the text cites.

Good:

```yaml
sources: [weil-2007, common-practice]
```

Bad: a tree without `sources`.

```yaml
title: Gas line has come apart
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Article
from ...model.finding import Severity
from ...reading.articles import sources_cited
from .base import Flaw, Page, View, kind_of, page_rule


@page_rule("words", Severity.WARNING)
def check(view: View, page: Page) -> Iterator[Flaw]:
    """Look whether there are any, and whether all that are cited are listed."""
    if not page.sources:
        kind, key = kind_of(page)
        message = f"the {kind} names no source; write `sources:` with ids from kb/sources.yml"
        yield Flaw(page.at(key), message)
    elif isinstance(page, Article):
        yield from _unlisted(page)


def _unlisted(article: Article) -> Iterator[Flaw]:
    told = set(article.sources)
    for key, place in sources_cited(article):
        if key not in told:
            told.add(key)
            message = f"`{key}` is cited, but `sources` does not list it; add it there"
            yield Flaw(place, message)
