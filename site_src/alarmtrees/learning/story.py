"""The few sentences with which a case begins: who, when and where, and what is seen and heard."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ..model import Library, Telling, Tree
from ..model.wording import fill
from .draw import Draw, seed_of

_MINUTES = 5
_PER_DAY = 24 * 60 // _MINUTES


def story_of(library: Library, tree: Tree, case: str) -> list[str]:
    """The story of a case: the same each time, and neither the cause nor an answer is named in it.

    Args:
        library: holds the words, in `kb/practice.yml`; without them the alarm alone is named.
        tree: what the case is about.
        case: the case's id; who, when and where are drawn by it.
    """
    draw = Draw(seed_of(f"{tree.id}/{case}/story"))
    stories = library.stories
    told = [_one(draw, _fitting(stories.patients, tree))]
    place = _one(draw, stories.own_places.get(tree.id) or _fitting(stories.places, tree))
    hour, minute = divmod(draw.below(_PER_DAY) * _MINUTES, 60)
    told.append(f"It is {hour:02}:{minute:02}, {place}." if place else f"It is {hour:02}:{minute:02}.")
    told.append(stories.scenes.get(tree.id) or f"The alarm: {tree.title}.")
    return [fill(sentence, library.settings) for sentence in told if sentence]


def _fitting(tellings: Iterable[Telling], tree: Tree) -> list[str]:
    return [telling.say for telling in tellings if not telling.never & {tree.id, tree.about}]


def _one(draw: Draw, texts: Sequence[str]) -> str:
    return texts[draw.below(len(texts))] if texts else ""
