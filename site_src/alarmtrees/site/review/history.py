"""The changes that the page of an alarm has been through, as a reader notices them."""

from __future__ import annotations

from ...model import Library, Told, Tree
from ...model.addresses import checks_path, history_path, tree_path
from ...model.stamp import is_stale
from ..markup import Page, View, esc, items, whole
from .checks import ASSETS


def history_page(library: Library, tree: Tree) -> Page:
    """The page with the changes of a tree, the newest first."""
    view = View(library, history_path(tree.id))
    title = f"Changes: {view.plain(tree.title)}"
    body = [
        f'<h1 id="_top">{esc(title)}</h1>',
        f'<p class="quiet"><a href="{view.to(tree_path(tree.id))}">The alarm’s own page</a>; '
        f'<a href="{view.to(checks_path(tree.id))}">what was checked</a>.</p>',
        items("ol", (_change(change, tree) for change in library.changes[tree.id]), "entries"),
        '<p class="quiet">What a reader is asked or told otherwise than before, the newest first.</p>',
    ]
    return Page(
        view.path,
        title,
        whole(body),
        f"The changes of “{view.plain(tree.title)}”.",
        "changes.yml",
        boost=0,
        assets=ASSETS,
    )


def _change(change: Told, tree: Tree) -> str:
    unsigned = is_stale(tree) and tree.review is not None and change.on >= tree.review.on
    mark = " <b>Not signed yet.</b>" if unsigned else ""
    return f'<time datetime="{esc(change.on)}">{esc(change.on)}</time>: {esc(change.say)}{mark}'
