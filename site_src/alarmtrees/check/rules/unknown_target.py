"""A `start`, `to` or `then` names a step that this tree does not have, or `go` one that the other tree does not have.

The reader would stand before a link that leads nowhere. Where a step has been given another name, the finding offers
it: the one to which nothing leads any more.

Good:

```yaml
start: look-at-patient
nodes:
  look-at-patient: {end: resolved, say: Done.}
```

Bad:

```yaml
start: look-at-patent
nodes:
  look-at-patient: {end: resolved, say: Done.}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Tree
from ...model.finding import Place
from .base import Flaw, View, answer_at, guess, tree_rule


@tree_rule("references")
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Look up every step that is named."""
    named = {target for _, _, target in _targets(tree)}
    for place, asker, target in _targets(tree):
        if target not in tree.nodes:
            meant = guess(target, tree.nodes) or _renamed(tree, named)
            yield Flaw(place, f"there is no step `{target}` in this tree{meant}", asker)
    for node in tree.nodes.values():
        tree_id, _, target = (node.go or "").partition("/")
        other = view.library.trees.get(tree_id)
        if target and other and target not in other.nodes:
            message = f"the tree `{tree_id}` has no step `{target}`{guess(target, other.nodes)}"
            yield Flaw(node.at("go"), message, node.id)


def _renamed(tree: Tree, named: set[str]) -> str:
    """Words that offer the only step to which nothing leads, where there is just one."""
    left = [name for name in tree.nodes if name not in named]
    return f"; did you mean `{left[0]}`, to which nothing leads?" if len(left) == 1 else ""


def _targets(tree: Tree) -> Iterator[tuple[Place, str | None, str]]:
    yield tree.at("start"), None, tree.start
    for answer in tree.anytime:
        yield answer_at(answer, "to"), None, answer.to
    for node in tree.nodes.values():
        if node.then:
            yield node.at("then"), node.id, node.then
        for answer in node.answers:
            yield answer_at(answer, "to"), node.id, answer.to
