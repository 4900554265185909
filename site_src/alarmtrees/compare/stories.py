"""Plays the bedside stories of both versions: whom a change of a tree leads otherwise."""

from __future__ import annotations

from collections.abc import Iterator

from ..model import Library
from ..proof.bedside import Played, Stage
from ..proof.graph import Graph
from .change import Change


def compare_stories(old: Library, new: Library) -> Iterator[Change]:
    """What the stories that both versions have meet otherwise now.

    A story that fails in both versions, or is new, is for the check to tell.
    """
    if not old.bedsides or not new.bedsides:
        return
    stages = Stage(Graph(old.trees), old.settings), Stage(Graph(new.trees), new.settings)
    known = {(tree, story.id): story for tree, stories in old.bedsides.items() for story in stories}
    for tree, stories in new.bedsides.items():
        for story in stories:
            one = known.get((tree, story.id))
            before, now = stages[0].play(one) if one else None, stages[1].play(story)
            if before is None or now is None or before.faults:
                continue
            ways = before.way(tree), now.way(tree)
            if now.faults:
                told = f"the story `{story.id}` no longer comes out: {now.faults[0].message}"
                yield Change(
                    "story-fails", tree, told, now.faults[0].place, before=story.id, after=now.faults[0].message
                )
            elif _met(stages[0], before) != _met(stages[1], now):
                told = f"the story `{story.id}` is led another way; it still comes out as told"
                yield Change(
                    "story-led-otherwise", tree, told, story.place, before=story.id, way_before=ways[0], way_now=ways[1]
                )


def _met(stage: Stage, played: Played) -> list[tuple[tuple[str, ...], str | None]]:
    """The words of the steps met, each with the answer given."""
    return [(stage.graph.nodes[one.key].lines, one.answer.say if one.answer else None) for one in played.moments]
