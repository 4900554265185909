"""A role's `phone` is not one number: pages show it, but nobody is dialled by pressing it.

A link that puts the digits of two numbers together calls a stranger. What is no number may still be right to read, so
this is a warning. Blanks, `-` and `.` may stand between digits, one `+` before them; `*` and `#` count as digits.

Good:

```yaml
roles:
  specialist-on-call: {phone: "+44 20 7946 0000"}
```

Bad:

```yaml
roles:
  specialist-on-call: {phone: "1234 (day), 5678 (night)"}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model.dialling import dialled, undialled
from ...model.finding import Severity
from .base import Flaw, View, library_rule

_SHOWN = 40


@library_rule("words", Severity.WARNING)
def check(view: View) -> Iterator[Flaw]:
    """Read the number of each role; an invented one is never dialled."""
    for role in view.library.roles.values():
        if role.phone is None or role.fictional or dialled(role.phone):
            continue
        text = "".join(sign if sign.isprintable() else f"<U+{ord(sign):04X}>" for sign in role.phone[:_SHOWN])
        message = (
            f"`{role.id}` cannot be called by pressing “{text}{'…' if role.phone[_SHOWN:] else ''}”: "
            f"{undialled(role.phone)}; write one number, as 5 5501 or +44 20 7946 0000, and give a second its own role"
        )
        yield Flaw(role.place, message)
