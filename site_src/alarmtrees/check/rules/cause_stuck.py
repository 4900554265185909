"""Under a cause a question is reached that has no possible answer.

The hurried reader, who may give any answer that is possible, stands there with nothing to press. Add
the answer that is seen under that cause, or take its `when` away. If the question is not meant for that cause, the
answer that leads to it lacks a `when`: the finding names it.

Good:

```yaml
ask: Where is the line open?
answers:
  - {say: At a connector, to: reconnect, when: [connector-loose]}
  - {say: Nowhere to be seen, to: call-now}
```

Bad, when there is a third cause:

```yaml
ask: Where is the line open?
answers:
  - {say: At a connector, to: reconnect, when: [connector-loose]}
  - {say: In the tubing, to: call-now, when: [line-damaged]}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from ...model.finding import Step
from ...proof.graph import Key, way_to
from .base import Flaw, View, faults_of_causes, tree_rule


@tree_rule("causes")
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Let every cause go through the tree, from its start and from where others enter it."""
    for start, node_id, mask, gate in faults_of_causes(view, tree, lambda run: run.stuck):
        yield _finding(view, tree, start, node_id, mask, gate)


def _finding(view: View, tree: Tree, start: str, node_id: str, mask: int, gate: Key | None) -> Flaw:
    causes = view.causes(tree)
    names = causes.names(mask)
    told = ", ".join(f"`{name}`" for name in names)
    before = causes.reach(start, names[0])
    state = next(s for s in before if s[0][1] == node_id and not any(causes.possible(s, names[0])))
    way = way_to(before, state, tree.id)
    rest = f"no answer of `%s` is possible; add the one that is seen then{_led_by(tree, way)}"
    if gate is None:
        message = f"under the cause {told} {rest % node_id}"
        return Flaw(tree.nodes[node_id].place, message, node_id, way)
    message = f"entered here, under the cause {told} {rest % f'{tree.id}/{node_id}'}"
    place = view.flow.nodes[gate].at("go")
    return Flaw(place, message, gate[1], view.entered(gate, tree, way))


def _led_by(tree: Tree, way: tuple[Step, ...]) -> str:
    """Words that name the last answer before the question, where it is one that says nothing of causes."""
    for step in reversed(way[:-1]):
        answer = next((one for one in tree.nodes[step.node].answers if one.say == step.answer), None)
        if answer is not None:
            told = f", or say with `when` under which causes `{step.node}` is answered “{answer.say}”"
            return told if answer.when is None else ""
    return ""
