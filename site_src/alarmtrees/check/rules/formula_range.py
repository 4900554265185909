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
from ...model.finding import Finding, Severity
from .base import View, wrong_formulas

ID = "formula-range"
FAMILY = "formulas"
SEVERITY = Severity.ERROR
SCOPE = "calculator"


def check(view: View, calculator: Calculator) -> Iterator[Finding]:
    """Pass on what lies out of range."""
    return wrong_formulas(view, calculator, ID, SEVERITY)
