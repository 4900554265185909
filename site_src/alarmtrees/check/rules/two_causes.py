"""Of two causes at once one is left where the tree says that the alarm is answered.

The first remedy helps a little, and the reader walks away from the second trouble. Ask after the remedy whether all
is well again, `when: fixed`: that can be seen only where neither cause is left.

Good:

```yaml
straighten:
  do:
    - Straighten the line.
  fixes: [kinked]
  then: does-it-move
does-it-move:
  ask: Does the balloon move with every beat?
  answers:
    - {say: It moves, to: done, when: fixed}
    - {say: It does not, to: open-where}
```

Bad, because a line may be kinked and open:

```yaml
straighten:
  do:
    - Straighten the line.
  fixes: [kinked]
  then: done
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from ...proof.pairs import Pairs
from .base import Flaw, View, tree_rule


@tree_rule("causes")
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Let every pair of causes go through the tree, from its start and from where others enter it."""
    if len(tree.causes) < 2:
        return
    causes = view.causes(tree)
    pairs = Pairs(tree, causes)
    told: dict[str, int] = {}
    for start in dict.fromkeys([tree.start, *(entry for entry, _ in view.gates(tree))]):
        for end, mask in pairs.left_at_end(start).items():
            # What one cause shows by itself is told as a wrong remedy.
            alone = set(causes.names(causes.run(start).unfixed_end.get(end, 0)))
            new = mask & ~told.get(end, 0)
            told[end] = told.get(end, 0) | mask
            names = [pair for pair in pairs.names(new) if alone.isdisjoint(pair)]
            if names:
                yield Flaw(tree.nodes[end].place, _told(end, names), end, pairs.witness(start, end, names[0]))


def _told(end: str, names: list[tuple[str, str]]) -> str:
    first, second = names[0]
    more = f", and so of {len(names) - 1} other pairs" if len(names) > 1 else ""
    return (
        f"`{end}` says resolved, but of `{first}` and `{second}` together one may be left{more}; "
        "ask after the remedy, `when: fixed`"
    )
