"""A tree or article uses an abbreviation that `kb/words.yml` does not list.

Two departments mean two things by the same letters, and a new colleague knows neither. Write the word out, or
list the abbreviation in the glossary, as the word itself (`say`) or as another form of it (`also`). Other names of
an alarm (`aliases`) may hold any: they are what somebody types.

Good, with `ECG` in the glossary:

```yaml
ask: Is the ECG trace clear?
```

Bad:

```yaml
ask: Is the EKG trace clear?
```
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from ...model import Article
from ...model.finding import Place, Severity
from .base import Flaw, Page, View, library_rule

_SHAPE = re.compile(r"\b[A-Z]{2,}(?=s?\b)")
_PAGE = re.compile(r"\]\([^()\s]*\)|\[@[^\[\]\n]*\]")


@library_rule("words", Severity.WARNING, needs="words")
def check(view: View) -> Iterator[Flaw]:
    """Look up every run of two and more capitals, once a page."""
    names = [name for word in view.library.words.values() for name in (word["say"], *word.get("also", ()))]
    known = {match for name in names for match in _SHAPE.findall(name)}
    for page in view.pages:
        told = set(known)
        for place, node, name in _found(view, page):
            if name not in told:
                told.add(name)
                message = f"“{name}” is not in kb/words.yml; write the word out, or list it there"
                yield Flaw(place, message, node)


def _found(view: View, page: Page) -> Iterator[tuple[Place, str | None, str]]:
    for text in view.texts(view.source_of(page)):
        for name in _SHAPE.findall(text.text) if text.role != "aliases" else ():
            yield text.place, text.node, name
    if isinstance(page, Article):
        plain = _PAGE.sub(lambda found: " " * len(found.group()), page.plain)
        for match in _SHAPE.finditer(plain):
            yield page.place(match.start()), None, match.group()
