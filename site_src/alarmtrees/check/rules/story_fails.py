"""A story of `kb/stories/` does not come out as told.

Stories are bedsides told by somebody who has not written the tree, with what must be done there and by when, what must
never be told, and where it ends. When a tree changes so that a story fails, either the tree has become worse, or
the story's answers read otherwise now; change the answers, never the demands, to make it pass.

Good, where that question is asked and answered so:

```yaml
- id: tripped-over-the-line
  say: A visitor has tripped over the line. The gas alarm sounds, and the patient talks to you as before.
  opens: gas-line-disconnected
  answers: [As before the alarm]
  must:
    - {mark: blood-check, by: 1 min}
  never: [limit-lowered]
  end: resolved
```

Bad, because no such answer is offered:

```yaml
- id: tripped-over-the-line
  say: A visitor has tripped over the line. The gas alarm sounds.
  opens: gas-line-disconnected
  answers: [All is well]
  end: resolved
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model.finding import Place
from ...model.story import Story
from ...proof.bedside import Stage
from .base import Flaw, View, guess, library_rule


@library_rule("stories")
def check(view: View) -> Iterator[Flaw]:
    """Play every story, on through the pages that it comes to."""
    stage = Stage(view.graph, view.library.settings)
    for tree_id, stories in view.library.bedsides.items():
        if tree_id not in view.library.known:
            message = f"there is no tree `{tree_id}`; name the file after the tree{guess(tree_id, view.library.known)}"
            yield Flaw(Place(stories[0].place.file, 1, 1), message)
        seen: set[str] = set()
        for story in stories:
            if story.id in seen:
                yield Flaw(story.at("id"), f"a story before has the id `{story.id}`; put another")
            seen.add(story.id)
            yield from _names(view, story)
            played = stage.play(story)
            for fault in played.faults if played else ():
                yield Flaw(fault.place, f"`{story.id}`: {fault.message}", way=played.way(tree_id) if played else None)


def _names(view: View, story: Story) -> Iterator[Flaw]:
    """Names that are not there: nothing could be held against them."""
    library = view.library
    opened, _, step = story.opens.partition("/")
    tree = library.trees.get(opened)
    if opened not in library.known:
        yield Flaw(story.at("opens"), f"there is no tree `{opened}`{guess(opened, library.known)}")
    elif tree and step and step not in tree.nodes:
        yield Flaw(story.at("opens"), f"`{opened}` has no step `{step}`{guess(step, tree.nodes)}")
    marks = {*library.marks, "pump-starts", "pump-stops", "call", "end-resolved"}
    asked: list[tuple[str | None, Place]] = [(one.mark, one.place) for one in story.must]
    asked += [(mark, story.never_at(index)) for index, mark in enumerate(story.never)]
    for mark, place in asked:
        if mark and mark not in marks and "marks" not in library.broken:
            yield Flaw(place, f"there is no mark `{mark}`{guess(mark, marks)}")
    for role, place in [(one.call, one.place) for one in story.must] + [(story.whom, story.at("end"))]:
        called = role and (place != story.at("end") or story.end == "call")
        if called and role not in library.roles and "settings" not in library.broken:
            yield Flaw(place, f"there is no role `{role}`{guess(role or '', library.roles)}")
    for cause in story.causes:
        if tree and cause not in tree.causes:
            yield Flaw(story.at("causes"), f"`{opened}` has no cause `{cause}`{guess(cause, tree.causes)}")
