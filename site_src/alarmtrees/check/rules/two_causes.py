"""Of two causes at once one is left where the tree says that the alarm is answered.

The first remedy helps a little, and the reader walks away from the second trouble. Ask after the remedy whether all
is well again, `when: fixed`: that can be seen only where neither cause is left.

Where a tree hands over to another, the second trouble stays behind, and the tree that is entered knows nothing of it.
So its end `resolved` sends back whoever came from another page. It says so, and carries a mark that has
`sends_back: yes` in `kb/marks.yml`; without such a mark nothing is asked.

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

from collections.abc import Callable, Iterator

from ...model import Tree
from ...model.finding import Step
from ...proof.graph import Key, way_to
from ...proof.pairs import Pair
from .base import Flaw, View, tree_rule


@tree_rule("causes")
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Let every pair of causes go through the tree, from its start and from where others enter it."""
    yield from _entered(view, tree)
    if len(tree.causes) < 2:
        return
    causes, pairs = view.causes(tree), view.pairs(tree)
    told: dict[str, int] = {}
    for start in view.starts(tree):
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


def _entered(view: View, tree: Tree) -> Iterator[Flaw]:
    """Ends that say resolved to a reader who left a second trouble behind in another tree."""
    back = {mark.id for mark in view.library.marks.values() if mark.sends_back}
    if not back:
        return
    told: set[str] = set()
    for entry, gates in view.flow.entries.get(tree.id, {}).items():
        met = view.causes(tree).run(entry).met
        ends = [end for end in met if tree.nodes[end].end == "resolved" and back.isdisjoint(tree.nodes[end].marks)]
        for gate in gates:
            left = view.left_behind(gate)
            for end in ends if left else ():
                if end not in told:
                    told.add(end)
                    yield Flaw(
                        tree.nodes[end].place,
                        _behind(end, gate, left[0], back),
                        end,
                        _way(view, tree, gate, entry, end),
                    )


def _behind(end: str, gate: Key, pair: Pair, back: set[str]) -> str:
    return (
        f"`{end}` says resolved to who came from `{gate[0]}`, where of `{pair[0]}` and `{pair[1]}` together one may be "
        f"left; send the reader back there, and mark it `{min(back)}`"
    )


def _way(view: View, tree: Tree, gate: Key, entry: str, end: str) -> Callable[[], tuple[Step, ...]]:
    """What finds the shortest way from the tree that was left to an end of the one that is entered."""

    def found() -> tuple[Step, ...]:
        causes = view.causes(tree)
        cause = causes.names(causes.run(entry).met[end])[0]
        before = causes.reach(entry, cause)
        state = next(state for state in before if state[0] == (tree.id, end))
        return view.entered(gate, tree, way_to(before, state, tree.id))

    return found
