"""A local value lies outside its range, or on the wrong side of another one.

A slip such as 150 for 15 would stand in every text that shows the value. `range` and `range_from` in `kb/settings.yml`
say between what a hospital's value lies and why; `below` and `at_most` name other values that are greater. A value in
another unit is turned into that of the range. A hospital whose policy lies outside changes the range itself, in
`kb/settings.yml`, where whoever reviews it sees that.

Good:

```yaml
values:
  leak_watch: {say: How long to watch, value: 10, unit: min, range: [2, 60], range_from: "common practice, no source"}
```

Bad:

```yaml
values:
  leak_watch: {say: How long to watch, value: 100, unit: min, range: [2, 60], range_from: "common practice, no source"}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...calc.plausible import crossed, implausible
from ...model import Setting
from ...model.finding import Place
from .base import Flaw, View, guess, library_rule


@library_rule("safety")
def check(view: View) -> Iterator[Flaw]:
    """Hold each value against its range, and against the values that it has to stay below."""
    settings = view.library.settings
    for setting in settings.values():
        if told := implausible(setting):
            yield Flaw(setting.value_at or setting.place, told)
        if setting.range and setting.range[0] >= setting.range[1]:
            yield Flaw(setting.place, f"the range of `{setting.id}` is empty: write the lower number first")
        for name in (*setting.below, *setting.at_most):
            if name not in settings:
                message = f"`{setting.id}` is held against `{name}`, and there is none{guess(name, settings)}"
                yield Flaw(setting.place, message)
    for one, other, told in crossed(settings):
        yield Flaw(_set_last(one, other), told)


def _set_last(one: Setting, other: Setting) -> Place:
    """Where to look: at the one that the hospital has set itself."""
    at = other if other.here and not one.here else one
    return at.value_at or at.place
