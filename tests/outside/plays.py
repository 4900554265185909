"""Scenes played once for all checks: playing one takes a third of a second."""

from __future__ import annotations

from functools import cache

from circulation.scene import Play, Scene, play
from circulation.strip import Strip, strip_of


@cache
def play_once(scene: Scene) -> Play:
    return play(scene)


@cache
def strip_once(scene: Scene) -> Strip:
    return strip_of(play_once(scene))
