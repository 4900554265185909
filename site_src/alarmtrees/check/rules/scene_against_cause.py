"""The scene of a tree in `kb/practice.yml` cannot be true of all its practice cases.

Every case of a tree begins with the same scene, whatever its cause. A machine sees two slips: the scene has the balloon
move where the tree has the pump stand still, or the other way round; and it speaks of one leg where a cause shows in
both. Write what is met with every cause; the rest is for the eyes of whoever reads all causes beside the scene.

Good, in `kb/practice.yml`, of a tree with a cause “A clot cuts off both legs”:

```yaml
scenes:
  limb-cold: {say: At the hourly check the limbs do not feel as they did the last time.}
```

Bad:

```yaml
scenes:
  limb-cold: {say: At the hourly check one leg feels other than the last time.}
```
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from ...model import Tree
from ...model.finding import Severity
from .base import Flaw, View, library_rule

_STILL = re.compile(r"\b(?:balloon|pump)\b[^.,;]*\b(?:stopped|stands still|does not move)\b", re.IGNORECASE)
_MOVES = re.compile(r"\b(?:balloon|pump|it)\b[^.,;]*\b(?:moves|goes on|thumps on|still runs|follows)\b", re.IGNORECASE)
_ONE = re.compile(r"\b(?:one|left|right) (leg|arm|foot|hand|limb|lung)\b", re.IGNORECASE)
_MANY = {"legs": "leg", "arms": "arm", "feet": "foot", "hands": "hand", "limbs": "limb", "lungs": "lung"}
_ALL = re.compile(rf"\b(?:both|all) ({'|'.join(_MANY)})\b", re.IGNORECASE)
_LIMBS = frozenset({"leg", "arm", "foot", "hand", "limb"})


@library_rule("library", Severity.WARNING, needs="practice")
def check(view: View) -> Iterator[Flaw]:
    """Hold what each scene says of the balloon and of single limbs to its tree and causes."""
    scenes = view.library.stories.scenes
    for tree in view.library.in_use.values():
        if tree.causes and (scene := scenes.get(tree.id)):
            yield from _of_the_balloon(tree, scene)
            yield from _of_one_limb(tree, scene)


def _of_the_balloon(tree: Tree, scene: str) -> Iterator[Flaw]:
    wrong = _MOVES if tree.pump == "stopped" else _STILL
    if wrong.search(scene) and not (_STILL if wrong is _MOVES else _MOVES).search(scene):
        state = "has stopped" if tree.pump == "stopped" else "runs"
        message = (
            f"the scene in kb/practice.yml says “{scene}”, and the pump of this tree {state}; "
            "leave the balloon out of the scene, or write what fits"
        )
        yield Flaw(tree.at("pump"), message)


def _of_one_limb(tree: Tree, scene: str) -> Iterator[Flaw]:
    for one in _ONE.findall(scene):
        for cause in tree.causes.values():
            many = {_MANY[word.lower()] for word in _ALL.findall(cause.say)}
            if one.lower() in many or ("limb" in many and one.lower() in _LIMBS):
                message = (
                    f"the scene in kb/practice.yml speaks of one {one.lower()}, and this cause says “{cause.say}”; "
                    "write what is met with every cause"
                )
                yield Flaw(cause.place, message)
