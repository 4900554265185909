"""Which scene of the model an entry of `kb/waveforms.yml` describes, and where its trace comes from.

The model knows nothing of the library. It is asked only where a page shows a trace that neither came with the program
nor was played before; what it answers is kept in the library's `.cache/`.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import asdict, replace
from functools import lru_cache
from pathlib import Path

from circulation.scene import Scene, play
from circulation.shipped import code_hash, shipped
from circulation.strip import Strip, strip_of

from ...model import Library, Map
from ...reading.keep import Store

CACHE = ".cache/traces"
"""Where played traces are kept, below the library's folder; git ignores it."""


def tidy(library: Library) -> None:
    """Remove kept traces that no page of the library can show any more."""
    unplayed(library)
    _played(library.root).clear()


def unplayed(library: Library) -> int:
    """How many traces have yet to be played, half a second each."""
    return sum(1 for scene in set(scenes_of(library)) if _played(library.root).find(scene) is None)


def scenes_of(library: Library) -> list[Scene]:
    """All scenes that the library's pages can show."""
    scenes = [scene_of(waveform.raw) for waveform in library.waveforms.values()]
    for series in library.waveform_series.values():
        usual = scene_of(library.waveforms[series.of].raw)
        scenes += [replace(usual, every=0), *(moved(usual, series.moves, step.by) for step in series.steps)]
    return scenes


def scene_of(raw: Map) -> Scene:
    """The scene that an entry of `kb/waveforms.yml` describes."""
    line = raw.get("line", {})
    return Scene(
        every=int(raw["balloon"].rpartition(":")[2]) if "balloon" in raw else 0,
        rate=_number(raw.get("rate", "90 a minute")),
        rhythm=raw.get("rhythm", "even"),
        trigger=raw.get("trigger", "ecg"),
        fill=seconds(raw.get("fill", "0 ms")),
        empty=seconds(raw.get("empty", "0 ms")),
        volume=_number(raw["size"]) if "size" in raw else None,
        passage=_number(raw.get("passage", "100 %")) / 100.0,
        gas=_number(raw.get("gas", "100 %")) / 100.0,
        water=_number(raw.get("water", "0 %")) / 100.0,
        leak=_number(raw.get("leak", "0 %")) / 100.0,
        resistance=_number(raw.get("resistance", "100 %")) / 100.0,
        stiffness=_number(raw.get("strength", "100 %")) / 100.0,
        at=line.get("at", "tip"),
        frequency=_number(line.get("frequency", "0 Hz")),
        damping=_number(line.get("damping", "0")),
        flush="flush" in line,
    )


def moved(scene: Scene, what: str, by: str) -> Scene:
    """The scene with filling ("fill") or emptying ("empty") moved."""
    return replace(scene, fill=seconds(by)) if what == "fill" else replace(scene, empty=seconds(by))


def seconds(shift: str) -> float:
    """How far something is moved, in s; earlier is negative.

    >>> seconds("40 ms earlier"), seconds("120 ms later"), seconds("0 ms")
    (-0.04, 0.12, 0.0)
    """
    size = _number(shift) / 1000.0
    return -size if shift.endswith("earlier") else size


def _number(text: str) -> float:
    return float(text.split()[0])


class Played:
    """Strips by scene: those that came with the program, then those kept in a folder; else they are played."""

    def __init__(self, folder: Path | None) -> None:
        """Keep strips in a folder; None keeps them in memory alone."""
        self._store = Store(folder, code_hash())
        self._known: dict[Scene, Strip] = {}

    def strip(self, scene: Scene) -> Strip:
        """The strip of a scene.

        Raises:
            ArithmeticError: the solver gave up.
        """
        return self.find(scene) or self._play(scene)

    def find(self, scene: Scene) -> Strip | None:
        """The strip of a scene where it need not be played."""
        if scene not in self._known:
            found = shipped(scene)
            if found is None and (kept := self._store.find("trace", asdict(scene))):
                with suppress(KeyError, TypeError, ValueError, AttributeError):  # no strip: it is played anew
                    found = Strip.from_data(kept[0])
            if found is None:
                return None
            self._known[scene] = found
        return self._known[scene]

    def clear(self) -> None:
        """Remove what nobody has asked for."""
        self._store.clear()

    def _play(self, scene: Scene) -> Strip:
        strip = strip_of(play(scene))
        self._store.put("trace", asdict(scene), strip.as_data())
        self._known[scene] = strip
        return strip


@lru_cache(maxsize=8)
def _played(root: str) -> Played:
    return Played(Path(root) / CACHE)


def strip_for(library: Library, scene: Scene) -> Strip:
    """The strip of a scene; played only where nobody has played it before."""
    return _played(library.root).strip(scene)
