"""One tree outside any library, as a test writes it."""

from __future__ import annotations

from pathlib import Path

from alarmtrees.model import Article, Calculator, Source, Tree
from alarmtrees.model.stamp import content_stamp
from alarmtrees.reading.articles import build_article
from alarmtrees.reading.open import pictures_of, read_checked, read_checked_article
from alarmtrees.reading.trees import build_calculator, build_tree


def open_tree(path: Path) -> tuple[Source, Tree | None]:
    """The file as read, and the tree in it with the pictures of its library; None where the source has problems."""
    source = read_checked(path, path.parent, "tree")
    return source, None if source.problems else build_tree(source, pictures=pictures_of(path.parents[1]))


def stamp_of(path: Path) -> str | None:
    """The content stamp of the tree, article or calculator in a file; None where it holds none that is whole."""
    kind = {"kb": "article", "calculators": "calculator"}.get(path.parent.name, "tree")
    source = read_checked_article(path, path.parent) if kind == "article" else read_checked(path, path.parent, kind)
    if source is None or source.problems:
        return None
    page: Tree | Article | Calculator
    pictures = pictures_of(path.parents[1])
    if kind == "article":
        page = build_article(source, pictures)
    else:
        page = build_calculator(source) if kind == "calculator" else build_tree(source, pictures=pictures)
    return content_stamp(page)
