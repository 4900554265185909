"""What the outside checks share: a small library around each shipped tree, to be broken."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from tree_text import SOME, Bench, all_scripts, library_of, reading_once


@pytest.fixture(scope="module")
def benches(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Bench]]:
    """A small library around each shipped tree. A file that has not changed is read only once."""
    folder = tmp_path_factory.mktemp("libraries")
    scripts = all_scripts(folder / "stamped")
    with reading_once():
        yield {stem: library_of(stem, scripts, folder / stem) for stem in SOME}
