"""A formula misses one of its check values, or gives a number where it was to give none.

Check values come from a source outside the file. A formula that misses one is wrong, or the value is.

Good:

```yaml
checks:
  - {say: Two litres, given: {bottles: 2}, gives: {litres: 2}, within: 0.001, sources: [arithmetic]}
```

Bad:

```yaml
checks:
  - {say: Two litres, given: {bottles: 2}, gives: {litres: 20}, within: 0.001, sources: [arithmetic]}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Calculator
from .base import Flaw, View, calculator_rule, wrong_formulas


@calculator_rule("formulas")
def check(view: View, calculator: Calculator) -> Iterator[Flaw]:
    """Pass on what came out otherwise."""
    return wrong_formulas(view, calculator, "formula-check")
