"""One tree outside any library, as a test writes it."""

from __future__ import annotations

from pathlib import Path

from alarmtrees.model import Source, Tree
from alarmtrees.reading.open import read_checked
from alarmtrees.reading.trees import build_tree


def open_tree(path: Path) -> tuple[Source, Tree | None]:
    """The file as read, and the tree in it; None where the source has problems."""
    source = read_checked(path, path.parent, "tree")
    return source, None if source.problems else build_tree(source)
