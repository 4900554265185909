"""What the outside checks share: a small library around each shipped tree, to be broken."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from tree_text import TREES, Bench, all_scripts, library_of

from alarmtrees import library as reading


@pytest.fixture(scope="module")
def benches(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Bench]]:
    """A small library around each shipped tree. A file that has not changed is read only once."""
    folder = tmp_path_factory.mktemp("libraries")
    scripts = all_scripts(folder / "stamped")
    known: dict[tuple[str, bytes], Any] = {}
    read = reading.read_checked

    def read_once(path: Path, root: Path, kind: str) -> Any:
        key = (path.relative_to(root).as_posix(), path.read_bytes())
        if key not in known:
            known[key] = read(path, root, kind)
        return known[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(reading, "read_checked", read_once)
        yield {stem: library_of(stem, scripts, folder / stem) for stem in TREES}
