"""What is made from one tree or one article, kept for the next build.

The pages of a tree are made by whoever knows that tree, all facts and articles, and of the other trees their names and
shapes alone. Nothing else is handed over, so nothing else can stand on the page; and from just that the name is made
under which the page is kept. An edit in one tree leaves the pages of the others as they are, unless its shape changes.
An article is made from facts, articles and shapes alone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, replace
from functools import cached_property
from pathlib import Path
from typing import Any

import circulation

from ..learning import ToldCase, told_cases
from ..learning.questions import Question, tree_questions
from ..model import Article, Choice, Library, Tree
from ..proof.ownership import unreviewed_count
from ..proof.shape import shapes_of
from ..reading.keep import Store, digest, digest_of_files, versions
from .bedside.sheet import Imprint
from .markup import Page, SiteFile
from .offline import is_changed

_MAKERS = ("networkx", "pygraphviz", "segno", "pint", "numpy", "scipy")

# Read when the program is, and not later: the code that runs is the one that counts.
CODE = digest(
    digest_of_files([Path(__file__).parents[1], Path(circulation.__file__).parent]),
    versions(*_MAKERS),
)
"""Stands for the code of pages, and for what they are drawn with."""


_APART = ("tree", "phrases")
"""Kinds of file that pages of a tree or article are made without; a tree's own text is named beside."""


class Kept:
    """Makes what one tree has of its own, or takes it from a store."""

    def __init__(self, library: Library, store: Store) -> None:
        self.library = library
        self.store = store
        self._shapes = shapes_of(library.trees)
        self._unreviewed, self._changed = unreviewed_count(library), is_changed(library)
        texts = [(source.file, source.text) for source in library.sources_read if source.kind not in _APART]
        self._facts = digest(
            texts, sorted(library.written), sorted(library.known), self._shapes, self._unreviewed, self._changed
        )
        self._texts = {source.file: source.text for source in library.sources_read if source.kind == "tree"}

    def page(self, tree: Tree, make: Callable[[Library, Tree, Imprint | None], Page], imprint: Imprint | None) -> Page:
        """A page of a tree."""
        inputs = [*self._inputs(tree), imprint and asdict(imprint)]
        kept = self.store.get(make.__name__, inputs, lambda: asdict(make(self._seen(tree), tree, imprint)))
        lists = {key: tuple(kept[key]) for key in ("tags", "assets", "at_once", "inline")}  # as JSON has no other
        return Page(**{**kept, **lists})

    def file(self, about: Tree | Article, make: Callable[[Library, Any], SiteFile]) -> SiteFile:
        """A file of a tree or an article."""
        inputs = self._inputs(about)
        return SiteFile(**self.store.get(make.__name__, inputs, lambda: asdict(make(self._seen(about), about))))

    def questions(self, tree: Tree) -> list[Question]:
        """What learners are asked about a tree."""
        kept = self.store.get("questions", self._inputs(tree), lambda: self._asked(tree))
        return [Question(**{**one, "choices": tuple(Choice(*choice) for choice in one["choices"])}) for one in kept]

    @cached_property
    def told(self) -> Mapping[str, list[ToldCase]]:
        """The bedsides to practise on: they lead through all trees, so they are made each time."""
        return told_cases(self.library)

    def _asked(self, tree: Tree) -> list[dict[str, Any]]:
        return [asdict(one) for one in tree_questions(self._seen(tree), tree)]

    def _inputs(self, about: Tree | Article) -> list[str]:
        return [self._facts, about.id, self._texts.get(about.file, "") if isinstance(about, Tree) else ""]

    def _seen(self, about: Tree | Article) -> Library:
        own = {about.id: about} if isinstance(about, Tree) else {}
        seen = replace(self.library, trees={**self._shapes, **own}, sources_read=(), phrases={})
        return replace(seen, unreviewed=self._unreviewed, changed=self._changed)
