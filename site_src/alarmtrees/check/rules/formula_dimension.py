"""A formula adds or compares things of different kinds, or a result is not what its unit says.

Each input, value and constant has a unit. The dimensions are followed through every formula and condition, so
that a pressure is only added to a pressure, and hours come out as a time. A zero may stand for any of them.

Good, where both are pressures:

```yaml
is: pressure + ambient
```

Bad, where one of them is a volume:

```yaml
is: pressure + cylinder
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Calculator
from .base import Flaw, View, calculator_rule, wrong_formulas


@calculator_rule("formulas")
def check(view: View, calculator: Calculator) -> Iterator[Flaw]:
    """Pass on where dimensions do not fit."""
    return wrong_formulas(view, calculator, "formula-dimension")
