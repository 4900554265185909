"""A tree, article or calculator shows a local value, or a tree calls a role, that the hospital has not set.

The reader sees "not set here". Set it in `kb/settings.local.yml`.

Good:

```yaml
values:
  leak_watch: {say: How long to watch, value: 10, unit: min}
```

Bad:

```yaml
values:
  leak_watch: {say: How long to watch, unit: min}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...calc.formula import counted
from ...model import Article, Calculator, Tree
from ...model.finding import Place, Severity
from ...model.wording import names
from ...proof.resting import COUNTED
from ...reading.articles import settings_in
from .base import Flaw, Page, View, library_rule


@library_rule("words", Severity.WARNING)
def check(view: View) -> Iterator[Flaw]:
    """Look up what the checks count with, and each value and number at its first use in a tree or article."""
    for name in COUNTED:
        setting = view.library.settings.get(name)
        if setting and setting.value is None:
            message = f"`{name}` has no value, so nothing is compared with it; set it in kb/settings.local.yml"
            yield Flaw(setting.place, message)
    for tree in view.library.trees.values():
        yield from _values(view, tree)
        yield from _numbers(view, tree)
    for article in view.library.articles.values():
        yield from _values(view, article)
    for calculator in view.library.calculators.values():
        yield from _values(view, calculator)


def _values(view: View, page: Page) -> Iterator[Flaw]:
    settings = view.library.settings
    reported: set[str] = set()
    for place, node, name in _named(view, page):
        if name in settings and settings[name].value is None and name not in reported:
            reported.add(name)
            message = f"`{name}` has no value, readers see “not set here”: set it in kb/settings.local.yml"
            yield Flaw(place, message, node)


def _named(view: View, page: Page) -> Iterator[tuple[Place, str | None, str]]:
    for text in view.texts(view.source_of(page)):
        for name in names(text.text):
            yield text.place, text.node, name
    for raw, name in counted(page) if isinstance(page, Calculator) else ():
        yield Place(page.file, *raw.value_at["setting"]), None, name
    if isinstance(page, Article):
        for name, start, _ in settings_in(page):
            yield page.place(start), None, name


def _numbers(view: View, tree: Tree) -> Iterator[Flaw]:
    reported: set[str] = set()
    for node in tree.nodes.values():
        role = view.library.roles.get(node.call or "")
        if role and role.phone is None and role.id not in reported:
            reported.add(role.id)
            message = f"the role `{role.id}` has no number, readers see so; set it in kb/settings.local.yml"
            yield Flaw(node.at("call"), message, node.id)
