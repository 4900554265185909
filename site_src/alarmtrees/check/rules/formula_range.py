"""A value of a calculator lies outside the range of its input, or a formula gives no number inside the ranges.

Defaults, examples, tables, plots and the hospital's values must be values that a person could fill in. Every
formula is tried at the ends and in the middle of all ranges: there must be a number, or a reason to give none.

Good:

```yaml
range: [0, 200]
default: 120
```

Bad:

```yaml
range: [0, 200]
default: 250
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Calculator
from .base import Flaw, View, calculator_rule, wrong_formulas


@calculator_rule("formulas")
def check(view: View, calculator: Calculator) -> Iterator[Flaw]:
    """Pass on what lies out of range."""
    return wrong_formulas(view, calculator, "formula-range")
