"""Compares two versions of a library: whose advice changes, and how much that weighs.

Each way through a tree is known by its answers; what is compared is what the reader meets on it and where it
ends. Ways are counted, and never listed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path

from ..model import Library
from ..model.finding import Place
from ..proof.acts import Grammar
from ..proof.graph import Graph
from ..proof.resting import Times
from .advice import advice
from .alike import Vocabulary
from .approvals import approvals_changed, approvals_from, read_approvals, versions_of
from .articles import compare_pages
from .change import Change, Comparison, Counts
from .facts import compare_facts
from .kinds import Weight
from .matching import Matching
from .mermaid import picture
from .stories import compare_stories
from .trees import compare_trees
from .versions import read_version

__all__ = ["Change", "Comparison", "Counts", "Weight", "compare", "compare_libraries"]


def compare(
    base: str, head: str | None, root: Path, approved: Path | None = None, approved_from: str | None = None
) -> Comparison:
    """Compare two versions of a library.

    Args:
        base: the version before: a git revision, or a folder that holds a library.
        head: the version now; None for the library as it lies in `root`.
        root: the library, and where git is asked for revisions.
        approved: a file of approvals.
        approved_from: a git revision whose file of approvals counts as well; it may not be part of the proposal.

    Raises:
        FileNotFoundError: there is no library in a version, or no file of approvals.
        ValueError: a version is neither a folder nor a revision; approvals cannot be read, or are the proposal's own.
    """
    before, now = read_version(base, root), read_version(head, root)
    approvals = read_approvals(approved) if approved else ()
    if approved_from is not None:
        approvals += approvals_from(approved_from, before, now, root)
    may_not_sign = frozenset(one.by for one in approvals if not before.library.may_sign(one.by))
    pages = before.pages, now.pages
    compared = compare_libraries(before.library, now.library, before.name, now.name, pages)
    changes = sorted([*compared.changes, *approvals_changed(before, now, root)], key=lambda change: change.sort_key)
    compared = replace(compared, changes=tuple(changes))
    versions = versions_of((change.place.file for change in compared.changes), before, now, root)
    return replace(compared, approvals=approvals, may_not_sign=may_not_sign, versions=versions)


def compare_libraries(
    old: Library,
    new: Library,
    base: str = "base",
    head: str = "head",
    pages: tuple[Mapping[str, str], Mapping[str, str]] = ({}, {}),
) -> Comparison:
    """Compare two libraries that have been read, and the pages of kb/ that are no articles; see `compare`."""
    words = Vocabulary.of(old)
    changes = [*_added_and_removed(old, new), *compare_facts(old, new, words), *compare_pages(*pages, words)]
    counts, pictures = [], {}
    acts = Grammar(old.acts)
    matchings = {
        name: Matching(tree, new.trees[name], words, old.marks, acts)
        for name, tree in old.trees.items()
        if name in new.trees
    }
    entries = Graph(old.trees).entries, Graph(new.trees).entries
    times = Times.of(new.settings)

    def same_go(a: str, b: str) -> bool:
        (tree_a, node_a), (tree_b, node_b) = _target(a, old), _target(b, new)
        if tree_a != tree_b:
            return False
        return node_a == node_b or (tree_a in matchings and matchings[tree_a].forth.get(node_a) == node_b)

    for name, matching in matchings.items():
        entered = frozenset(entries[0].get(name, ())), frozenset(entries[1].get(name, ()))
        compared = compare_trees(matching, entered, same_go, times)
        changes += compared.changes
        counts += [compared.counts] if compared.counts else []
        shown = picture(matching, [c for c in compared.changes if c.weight is not Weight.NOTE])
        if shown:
            pictures[name] = shown
    changes += compare_stories(old, new)
    unique = {(c.fingerprint, c.place, c.message): c for c in changes}
    ordered = tuple(sorted(unique.values(), key=lambda change: change.sort_key))
    return Comparison(base, head, ordered, tuple(counts), pictures, _names(old, new))


def _names(old: Library, new: Library) -> dict[str, str]:
    """What readers call the trees and roles of two versions, by id; as they are called now where both have them."""
    libraries = (old, new)
    roles = {name: f"the {role.say}" for library in libraries for name, role in library.roles.items()}
    return {**roles, **{name: tree.title for library in libraries for name, tree in library.trees.items()}}


def _target(go: str, library: Library) -> tuple[str, str]:
    tree, _, node = go.partition("/")
    return tree, node or (library.trees[tree].start if tree in library.trees else "")


def _added_and_removed(old: Library, new: Library) -> Iterator[Change]:
    for name in sorted(new.known):
        tree = new.trees.get(name)
        if tree is None:
            message = "the tree cannot be read; see `alarmtrees check`"
            place = Place(_file(new, name), 1, 1)
            yield Change("not-comparable", name, message, place, after="unreadable")
        elif name not in old.known:
            place, weighs = Place(tree.file, 1, 1), Weight.WARNING if tree.status == "draft" else None
            yield Change("tree-added", name, "the tree is new", place, after=advice(tree), weighs=weighs)
        elif name not in old.trees:
            message = "its ways cannot be compared: the version before cannot be read"
            place = Place(tree.file, 1, 1)
            yield Change("not-comparable", name, message, place, before="unreadable", weighs=Weight.WARNING)
    for name in sorted(old.known - new.known):
        place = Place(_file(old, name), 1, 1)
        title = old.trees[name].title if name in old.trees else name
        message = "the tree is removed: whoever meets this alarm finds no advice"
        yield Change("tree-gone", name, message, place, gone=True, before=title)


def _file(library: Library, name: str) -> str:
    return next(s.file for s in library.sources_read if s.kind == "tree" and s.stem == name)
