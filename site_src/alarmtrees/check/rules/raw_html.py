"""An article holds what is not plain Markdown: HTML, a picture, or the definition of a link.

The site is made by one generator today and by another tomorrow, and is printed too: only plain Markdown reads
the same in all. What looks like HTML could also carry a script into every ward. For a sign such as < write the
word.

Good:

```yaml
title: Pressure below the limit
```

Bad, with this line in the text of the article:

```yaml
line: Press <b>once</b>.
```
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from ...model import Article
from .base import Flaw, Page, View, page_rule

_SHAPES = (
    (re.compile(r"<[A-Za-z/!?]"), "this reads as HTML; write plain Markdown, or the word for the sign"),
    (re.compile(r"!\["), "pictures do not stand in articles; say it in words"),
    (re.compile(r"^ {0,3}\[[^\]\n]*\]:", re.MULTILINE), "write the address into the link: [words](other-article.md)"),
)


@page_rule("words")
def check(view: View, page: Page) -> Iterator[Flaw]:
    """Look for what is not plain, outside code and comments."""
    if not isinstance(page, Article):
        return
    for shape, message in _SHAPES:
        for match in shape.finditer(page.plain):
            yield Flaw(page.place(match.start()), message)
