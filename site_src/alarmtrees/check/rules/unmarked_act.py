"""A text tells to do to pump, console, line or catheter what no table knows, and the step has no mark of an act.

`kb/acts.yml` knows the acts that safety rules speak of, and how they are told. Whatever else is done to one of the
things under `device` there may be as dangerous, and no safety rule sees it. Verbs that only look, say, fetch or leave
are listed there under `looks`, `says` and `stays`.

Good:

```yaml
knock:
  do:
    - Tap the gas line with a finger, so that the drops run together.
  marks: [line-freed]
```

Bad, because nothing says what this is to the safety rules:

```yaml
knock:
  do:
    - Milk the gas line towards the patient.
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from ...model.finding import Severity
from .base import Flaw, View, tree_rule


@tree_rule("safety", Severity.WARNING)
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Look at the verbs of each step that the table of acts does not know."""
    marks = frozenset(mark for act in view.library.acts.acts.values() for mark in (*act.marks, *act.told))
    for node in tree.nodes.values():
        if marks.isdisjoint(node.marks):
            for text in view.told(node):
                if text.told.act is None:
                    told = f"“{text.told.words}” changes something that safety rules guard"
                    message = f"{told}, and no mark says what; mark the step, or teach kb/acts.yml the verb"
                    yield Flaw(text.place, message, node.id)
