"""Plays all traces of a library into the file that comes with the program; run after the model or a scene was changed.

.venv/bin/python -m alarmtrees.site.knowledge.ship_traces
"""

from __future__ import annotations

from pathlib import Path

from circulation.shipped import FILE, as_text

from ...reading.open import open_library
from ...reading.save import save
from .trace_scenes import scenes_of


def main() -> None:
    """Write the file for the library in this folder."""
    save(FILE, as_text(set(scenes_of(open_library(Path(), private=False)))))


if __name__ == "__main__":
    main()
