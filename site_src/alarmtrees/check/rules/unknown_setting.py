"""A text holds `{name}`, or a calculator counts with a setting, but `kb/settings.yml` has no such value.

The reader would see the bare name. For a brace in a text write `{{`.

Good:

```yaml
say: At {resting_warning} without movement do not restart.
```

Bad:

```yaml
say: At {rest_warning} without movement do not restart.
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...calc.formula import counted
from ...model.finding import Place
from ...model.wording import names
from ...reading.articles import settings_in
from .base import Flaw, View, guess, library_rule, strange_names


@library_rule("references", needs="settings")
def check(view: View) -> Iterator[Flaw]:
    """Look up every setting that a text of trees, articles and facts names."""
    yield from strange_names(view, "values")
    for place, node, name in _named(view):
        if name not in view.library.settings:
            message = (
                f"there is no setting `{name}` in kb/settings.yml{guess(name, view.library.settings)}"
                if name
                else "a brace stands alone; write {{ for a brace, or {name} for a setting"
            )
            yield Flaw(place, message, node)


def _named(view: View) -> Iterator[tuple[Place, str | None, str]]:
    for source in view.library.sources_read:
        if source.data is None or source.problems or source.kind in ("settings", "sources"):
            continue
        for text in view.texts(source):
            for name in names(text.text):
                yield text.place, text.node, name
    for calculator in view.library.calculators.values():
        for raw, name in counted(calculator):
            yield Place(calculator.file, *raw.value_at["setting"]), None, name
    for article in view.library.articles.values():
        for name, start, _ in settings_in(article):
            yield article.place(start), None, name
