"""An article lacks one of the six sections, or has it in another place, or empty.

A reader who knows one article finds the same thing in the same place in every other: Purpose, Steps, What you need,
What right looks like, What goes wrong, Why. What is needed may stand before the steps where nobody can begin without
it; on a phone it pushes them off the first screen. Sections of its own may stand between. Above them stands the
title, as in the front matter. A page to which the six do not fit carries `sections: free`.

Good, with all six sections below, or else:

```yaml
title: The whole job
sections: free
```

Bad, with no "What goes wrong" below:

```yaml
title: Timing
```
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from ...model import Article, Passage
from ...reading.articles import SECTIONS, heading
from .base import Flaw, Page, View, page_rule

_EITHER = ("What you need", "Steps")


@page_rule("words")
def check(view: View, page: Page) -> Iterator[Flaw]:
    """Look for the title and the six sections, in order and filled."""
    if not isinstance(page, Article):
        return
    yield from _title(page)
    if not page.free:
        yield from _sections(page)


def _title(article: Article) -> Iterator[Flaw]:
    first = article.passages[0] if article.passages else None
    if first is None or first.kind != "heading" or heading(first) != (1, article.title):
        place = article.place(first.start) if first else article.at("title")
        yield Flaw(place, f"the text must begin with the title; write `# {article.title}`")
    for passage in article.passages[1:]:
        if passage.kind == "heading" and heading(passage)[0] == 1:
            message = "a second title; write `##`, for an article has one"
            yield Flaw(article.place(passage.start), message)


def _sections(article: Article) -> Iterator[Flaw]:
    found: dict[str, Passage] = {}
    for passage, after in pairwise((*article.passages, None)):
        assert passage is not None
        level, words = heading(passage) if passage.kind == "heading" else (0, "")
        if level == 2 and words in SECTIONS and words not in found:
            found[words] = passage
            if after is None or (after.kind == "heading" and heading(after)[0] <= 2):
                message = f"the section “{words}” is empty; say something, if only that there is nothing"
                yield Flaw(article.place(passage.start), message)
    for words in SECTIONS:
        if words not in found:
            message = f"the section “{words}” is missing; write `## {words}`, or `sections: free` if the six do not fit"
            yield Flaw(article.at("title"), message)
    last = ""
    for words in found:
        if last and SECTIONS.index(words) < SECTIONS.index(last) and (last, words) != _EITHER:
            message = f"“{words}” stands behind “{last}”; the order is {', '.join(SECTIONS)}"
            yield Flaw(article.place(found[words].start), message)
        last = words
