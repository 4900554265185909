"""A number with a unit stands in a text, and nothing says where it comes from.

A reader acts on numbers. A value that is local policy is a `{setting}`, so that each hospital puts its own; a
published one stands where a source is named: on the step of a tree (for its title, summary and causes: on the
tree), in an article in the same paragraph, list item or table row as `[@weil-2007]`, in a question for learners
in the same answer or its reason. Plain `common-practice` and `from-memory` are sources too. Ratios such as 1:2,
counts, and numbers in code, links and headings do not count.

Good:

```yaml
say: At {resting_warning} without movement do not restart.
```

Bad:

```yaml
say: At 15 min without movement do not restart.
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Article, Tree
from ...model.quantities import quantities
from ...reading.articles import asked_in, cited
from .base import Flaw, Page, View, kind_of, page_rule

_UNREAD = ("aliases",)
"""Words that somebody may type; nobody acts on them."""


@page_rule("words")
def check(view: View, page: Page) -> Iterator[Flaw]:
    """Look for numbers with units where no source is named."""
    if isinstance(page, Article):
        yield from _in_article(page)
        return
    for text in view.texts(view.source_of(page)):
        node = page.nodes.get(text.node or "") if isinstance(page, Tree) else None
        if text.role in _UNREAD or (node.sources if node else page.sources):
            continue
        for number, _ in quantities(text.text):
            where = "this step has no `sources`" if node else f"the {kind_of(page)[0]} has no `sources`"
            message = f"“{number}” comes from nowhere: write a {{setting}} for it; or is it published? {where}"
            yield Flaw(text.place, message, text.node)


def _in_article(article: Article) -> Iterator[Flaw]:
    for passage in article.passages:
        if passage.kind == "heading" or next(cited(passage.text), None):
            continue
        for number, start in quantities(passage.text):
            yield Flaw(article.place(passage.start + start), _uncited(number))
    for together in asked_in(article):
        if any(next(cited(text), None) for text, _ in together):
            continue
        for text, place in together:
            yield from (Flaw(place, _uncited(number)) for number, _ in quantities(text))


def _uncited(number: str) -> str:
    return f"“{number}” comes from nowhere: write a {{setting}} for it, or cite its source, [@key], beside it"
