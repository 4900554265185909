"""Finds the tree that a command names: by its id in a library, or by its file, in a library or outside any."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from ..model import Library, Source, Tree
from ..model.finding import Finding
from .open import open_library, read_checked
from .trees import build_tree


@dataclass(frozen=True, slots=True)
class Named:
    """A tree's file, as a command names it.

    Attributes:
        path: the file.
        home: the folder of the library that it lies in; None outside any library.
        source: the file as read.
    """

    path: Path
    home: Path | None
    source: Source

    def library(self, private: bool = True) -> Library | None:
        """The library that the file lies in, with or without a hospital's own settings; None outside any."""
        return open_library(self.home, private) if self.home else None

    def tree(self) -> Tree:
        """The tree of the file.

        Raises:
            BrokenTree: it cannot be read, or does not fit its schema.
        """
        if self.source.problems:
            raise BrokenTree(f"{_at(self.path, *p.spot)}: {p.message} [{p.rule}]" for p in self.source.problems)
        return build_tree(self.source)

    def refuse(self, faults: Iterable[Finding]) -> None:
        """Say that the tree cannot be used for what was found in it.

        Raises:
            BrokenTree: there are faults.
        """
        lines = [f"{_at(self.path, f.place.line, f.place.column)}: {f.message} [{f.rule}]" for f in faults]
        if lines:
            raise BrokenTree(lines)


class BrokenTree(ValueError):
    """The tree cannot be used as it is. `lines` say why, one finding each."""

    def __init__(self, lines: Iterable[str]) -> None:
        self.lines = list(lines)
        super().__init__("\n".join(self.lines))


def find_tree(name: str, root: Path) -> Named:
    """The tree that a command names.

    Args:
        name: the id of a tree of the library at `root`, or a file, also one outside any library.
        root: the library's folder.

    Raises:
        FileNotFoundError: there is no such tree or file; the text lists the ids that there are.
    """
    path = Path(name)
    if not path.suffix and "/" not in name:
        path = root / "trees" / f"{name}.yml"
    if not path.is_file():
        trees = ", ".join(sorted(path.stem for path in (root / "trees").glob("*.yml")))
        raise FileNotFoundError(f"there is no tree “{name}”{f'; there are: {trees}' if trees else ''}")
    whole = path.resolve()
    home = whole.parents[1] if whole.parent.name == "trees" and (whole.parents[1] / "kb").is_dir() else None
    return Named(path, home, read_checked(whole, home or whole.parent, "tree"))


def _at(path: Path, line: int, column: int) -> str:
    return f"{path}:{line}:{column}: error"
