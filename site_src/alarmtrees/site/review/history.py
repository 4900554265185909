"""The changes that the page of an alarm has been through: the day, what was said of the change, and who signed it."""

from __future__ import annotations

from collections.abc import Sequence

from ...model import Library, Tree
from ...reading.history import Change
from ..markup import (
    Page,
    View,
    esc,
    items,
    tree_path,
    whole,
)
from .checks import checks_path


def history_path(tree_id: str) -> str:
    """Where the page with the changes of a tree lies."""
    return f"history/{tree_id}/index"


def history_page(library: Library, tree: Tree, changes: Sequence[Change]) -> Page:
    """The page with the changes of a tree, the newest first."""
    view = View(library, history_path(tree.id))
    title = f"Changes: {view.plain(tree.title)}"
    body = [
        f'<h1 id="_top">{esc(title)}</h1>',
        f'<p class="quiet"><a href="{view.to(tree_path(tree.id))}">The alarm’s own page</a>; '
        f'<a href="{view.to(checks_path(tree.id))}">what was checked</a>.</p>',
        items("ol", map(_change, changes), "entries"),
        '<p class="quiet">From the records of the files, the newest first. Persons are not named, only roles.</p>',
    ]
    return Page(
        view.path, title, whole(body), f"The changes of “{view.plain(tree.title)}”.", f"../{tree.file}", boost=0
    )


def _change(change: Change) -> str:
    signed = f' <span class="quiet">Signed by the {esc(change.signed)}.</span>' if change.signed else ""
    return f'<time datetime="{esc(change.day)}">{esc(change.day)}</time>: {esc(change.subject)}{signed}'
