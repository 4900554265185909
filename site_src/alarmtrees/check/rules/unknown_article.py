"""A tree or calculator names, or an article links to, a page that does not exist.

`related` of a tree names articles in `kb/` without their ending. A link in an article leads to another
article (`starting-up.md`), to the page of an alarm (`alarms/pump-stopped/index.md`), to a page of this site
(`settings/index.md`), or to an address on the web. All else would lead nowhere, here or on paper.

Good, with `kb/starting-up.md`:

```yaml
related: [starting-up]
```

Bad:

```yaml
related: [starting]
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Article
from ...reading.articles import links
from .base import Flaw, Page, View, guess, page_rule

_ALLOWED = "`other-article.md`, `alarms/some-alarm/index.md`, `settings/index.md` or an address on the web"


@page_rule("references")
def check(view: View, page: Page) -> Iterator[Flaw]:
    """Look up every article that is named, and every page that is linked to."""
    known = view.library.written
    if isinstance(page, Article):
        yield from _links(view, page)
        return
    for index, name in enumerate(page.related):
        if name not in known:
            message = f"there is no article kb/{name}.md{guess(name, known)}"
            yield Flaw(page.item_at("related", index), message)


def _links(view: View, article: Article) -> Iterator[Flaw]:
    known = view.library.written
    for link in links(article):
        kind, name, _ = link.leads_to
        if kind == "article" and name not in known:
            message = f"there is no article kb/{name}.md{guess(name, known)}"
            yield Flaw(article.place(link.start), message)
        elif kind == "calculator" and name not in view.library.calculators:
            message = f"there is no calculator kb/calculators/{name}.yml{guess(name, view.library.calculators)}"
            yield Flaw(article.place(link.start), message)
        elif kind == "odd":
            message = f"“{link.target[:60]}” leads nowhere here; link to {_ALLOWED}"
            yield Flaw(article.place(link.start), message)
