"""Plays scenes, and keeps their strips in a folder under a name that stands for code and scene."""

from __future__ import annotations

import json
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import asdict
from hashlib import sha256
from os import getpid
from pathlib import Path

from .scene import Scene, play
from .strip import Strip, strip_of

HERE = Path(__file__).parent


def code_hash() -> str:
    """What stands for the code and the values of this package."""
    total = sha256()
    for path in sorted(HERE.glob("*.py")):
        total.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
    return total.hexdigest()


class Keep:
    """Strips by scene. Each is played once for a code, then read from the folder.

    A folder that cannot be written is no fault: the strip is then played each time.
    """

    def __init__(self, folder: Path | None) -> None:
        """Keep strips in a folder; None keeps them in memory alone."""
        self._folder = folder
        self._code = code_hash()
        self._known: dict[Scene, Strip] = {}

    def strip(self, scene: Scene) -> Strip:
        """The strip of a scene.

        Raises:
            ArithmeticError: the solver gave up.
        """
        if scene not in self._known:
            self._known[scene] = self._read(scene) or self._played(scene)
        return self._known[scene]

    def path(self, scene: Scene) -> Path | None:
        """The file of a scene; None where nothing is kept in files."""
        if self._folder is None:
            return None
        name = sha256(f"{self._code} {json.dumps(asdict(scene), sort_keys=True)}".encode()).hexdigest()[:32]
        return self._folder / f"{name}.json"

    def clear(self, scenes: Iterable[Scene]) -> None:
        """Remove the files of all scenes but these: those of an older code, or of a scene that was changed."""
        if self._folder is None or not self._folder.is_dir():
            return
        wanted = {self.path(scene) for scene in scenes}
        for path in self._folder.glob("*.json"):
            if path not in wanted:
                path.unlink(missing_ok=True)

    def _read(self, scene: Scene) -> Strip | None:
        path = self.path(scene)
        try:
            return None if path is None else Strip.from_data(json.loads(path.read_text("utf-8")))
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def _played(self, scene: Scene) -> Strip:
        strip = strip_of(play(scene))
        path = self.path(scene)
        if path is not None:
            _write(path, json.dumps(strip.as_data(), separators=(",", ":")))
        return strip


def _write(path: Path, text: str) -> None:
    """Whole or not at all: two builds may run at once."""
    part = path.with_suffix(f".{getpid()}")
    with suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        part.write_text(text, encoding="utf-8")
        part.replace(path)
