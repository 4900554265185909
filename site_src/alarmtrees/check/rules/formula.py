"""A formula of a calculator cannot be read, or one of its names is missing, used twice or not used.

Formulas are numbers, names, `+ - * / ** ( )`, comparisons, `and`, `or`, `not`, `a if b else c`, and `min max exp log
sqrt floor ceil abs`. Nothing else is read, and nothing is ever run. A name is made above the place where it is used:
inputs, the hospital's values, constants, steps, outputs. What nothing uses was forgotten somewhere.

Good:

```yaml
is: max(0, amount - kept) / one
```

Bad, because the formula would not stay what a reader can check:

```yaml
is: "open('/etc/passwd')"
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Calculator
from .base import Flaw, View, calculator_rule, wrong_formulas


@calculator_rule("formulas")
def check(view: View, calculator: Calculator) -> Iterator[Flaw]:
    """Pass on what was met in reading the formulas."""
    return wrong_formulas(view, calculator, "formula")
