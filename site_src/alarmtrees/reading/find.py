"""Finds the page that a command names: by its id in a library, or by its file, in a library or outside any."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from ..model import Article, Calculator, Library, Source, Tree
from ..model.finding import Finding
from .articles import build_article
from .open import open_library, pictures_of, read_checked, read_checked_article
from .trees import build_calculator, build_tree


@dataclass(frozen=True, slots=True)
class Named:
    """The file of a tree, article or calculator, as a command names it.

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
        return self._tree_of(self.source)

    def _tree_of(self, source: Source) -> Tree:
        return build_tree(source, pictures=pictures_of(self.home) if self.home else {})

    def page(self) -> Tree | Article | Calculator:
        """The tree, article or calculator of the file.

        Raises:
            ValueError: it cannot be read, or does not fit its schema.
        """
        if self.source.problems:
            first = self.source.problems[0]
            raise ValueError(f"{self.path}:{first.spot[0]}:{first.spot[1]}: {first.message}; mend that first")
        return self.built(self.source)

    def built(self, source: Source) -> Tree | Article | Calculator:
        """The page of another source of the same kind, which fits its schema, as it is in this library."""
        if source.kind == "article":
            return build_article(source, pictures_of(self.home) if self.home else {})
        return build_calculator(source) if source.kind == "calculator" else self._tree_of(source)

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
    home = _home(whole, "tree")
    return Named(path, home, read_checked(whole, home or whole.parent, "tree"))


_FOLDERS = {"tree": "trees", "article": "kb", "calculator": "kb/calculators"}
"""Where pages of each kind lie in a library."""


def find_page(name: str, root: Path) -> Named:
    """The tree, article or calculator that a command is to write to.

    Args:
        name: its id in the library at `root`, or a file; a tree's also one outside any library.
        root: the library's folder.

    Returns:
        The page, `path` the file itself where a link was named.

    Raises:
        FileNotFoundError: there is no such page or file; the text lists the ids that there are.
        ValueError: the id is that of several pages, a link leads out of the library, or nobody reviews such a file.
    """
    path, kind = _named(name, root)
    whole = path.resolve()
    written = _home(path.absolute(), kind)  # the library in which it seems to lie
    if written is not None and not whole.is_relative_to(written.resolve()):
        raise ValueError(f"{path} is a link that leads out of the library; put the file itself there")
    home = _home(whole, kind)
    if kind == "article":
        source = read_checked_article(whole, home or whole.parent)
        if source is None:
            raise ValueError(f"{path} is a page without the front matter of an article; nobody has to review it")
    else:
        source = read_checked(whole, home or whole.parent, kind)
    return Named(path, home, source)


def _named(name: str, root: Path) -> tuple[Path, str]:
    """The file that a name stands for, and the kind of page in it."""
    path = Path(name)
    if path.suffix or "/" in name:
        if path.is_file():
            calculator = path.absolute().parent.name == "calculators"
            return path, "article" if path.suffix == ".md" else "calculator" if calculator else "tree"
    else:
        of_kind = {kind: root / folder / f"{name}{_ENDING[kind]}" for kind, folder in _FOLDERS.items()}
        found = [(path, kind) for kind, path in of_kind.items() if path.is_file()]
        if len(found) > 1:
            kinds, files = " and ".join(f"a {kind}" for _, kind in found), " or ".join(str(path) for path, _ in found)
            raise ValueError(f"“{name}” is {kinds.replace('a article', 'an article')}; name the file, {files}")
        if found:
            return found[0]
    raise FileNotFoundError(_missing(name, root))


_ENDING = {"tree": ".yml", "article": ".md", "calculator": ".yml"}


def _missing(name: str, root: Path) -> str:
    ids = {
        kind: ", ".join(sorted(path.stem for path in (root / folder).glob(f"*{_ENDING[kind]}")))
        for kind, folder in _FOLDERS.items()
    }
    told = [f"there are: {ids['tree']}"] if ids["tree"] else []
    told += [f"articles: {ids['article']}"] if ids["article"] else []
    told += [f"calculators: {ids['calculator']}"] if ids["calculator"] else []
    return "; ".join([f"there is no tree “{name}”", *told])


def _home(path: Path, kind: str) -> Path | None:
    """The folder of the library in which a file of a kind lies; None outside any."""
    folder = path.parent.parent if kind == "calculator" else path.parent
    inside = {"tree": "trees", "article": "kb", "calculator": "kb"}[kind]
    beside = "kb" if inside == "trees" else "trees"
    return folder.parent if folder.name == inside and (folder.parent / beside).is_dir() else None


def _at(path: Path, line: int, column: int) -> str:
    return f"{path}:{line}:{column}: error"
