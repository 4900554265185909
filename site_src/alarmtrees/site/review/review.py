"""For whoever answers for the library: what is due, what has changed since it was signed, what is withdrawn."""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Article, Calculator, Library, Tree
from ...model.addresses import CHECKS, REVIEW, SETTINGS, calculator_path, tree_path
from ...model.stamp import content_stamp
from ..markup import Page, View, block, esc, items, whole
from .checks import ASSETS

TITLE = "Review"

Reviewed = Tree | Article | Calculator


def is_stale(tree: Tree) -> bool:
    """Whether a tree says something else than what was signed; a withdrawn one need not be signed."""
    return tree.in_use and tree.review is not None and tree.review.content != content_stamp(tree)


def withdrawn(library: Library) -> list[Tree]:
    """The withdrawn trees, the latest first."""
    trees = (tree for tree in library.trees.values() if tree.is_withdrawn)
    return sorted(trees, key=lambda tree: (since(tree), tree.title.casefold()), reverse=True)


def since(tree: Tree) -> str:
    """The day since when a tree is withdrawn; "" where it does not say."""
    return tree.withdrawn.on if tree.withdrawn else ""


def recalled(view: View, tree: Tree) -> str:
    """A withdrawn tree in a line: since when, and why."""
    day = f" since {esc(since(tree))}" if since(tree) else ""
    why = f" {view.say(tree.withdrawn.why)}" if tree.withdrawn else ""
    return f'<a href="{view.to(tree_path(tree.id))}">{view.say(tree.title)}</a>: withdrawn{day}.{why}'


def review_page(library: Library) -> Page:
    """The overview of all reviews."""
    view = View(library, REVIEW)
    trees = library.trees.values()
    body = [
        f'<h1 id="_top">{TITLE}</h1>',
        _who(view),
        *_part(view, "Withdrawn", (recalled(view, tree) for tree in withdrawn(library)), "Nothing is withdrawn."),
        *_part(
            view,
            "Changed since it was signed",
            (f"{_link(view, tree)}: signed by the {_signed(tree)}" for tree in trees if is_stale(tree)),
            "Every page says what was signed.",
        ),
        *_part(
            view,
            "Not signed, or a draft",
            (f"{_link(view, page)}: {_lacking(page)}" for page in _pages(library) if _lacking(page)),
            "Nothing.",
        ),
        '<h2 class="part">Next reviews</h2>',
        "<p>The soonest first. What is overdue by the date of your device is marked.</p>",
        _due(view),
    ]
    description = "What is due for review, what has changed since it was signed, and what is withdrawn."
    return Page(REVIEW, TITLE, whole(body), description, boost=0, assets=ASSETS)


def _who(view: View) -> str:
    named = ", ".join(esc(role) for role in view.library.reviewers)
    may = f"A review is signed by: {named}." if named else "Anybody may sign a review; the settings name nobody."
    return (
        f'<p>{may} How far the checks go: <a href="{view.to(CHECKS)}">checked on every way</a>. '
        f'Numbers that are still those of an example: <a href="{view.to(SETTINGS)}">settings</a>.</p>'
    )


def _part(view: View, title: str, lines: Iterator[str], nothing: str) -> list[str]:
    found = list(lines)
    return [f'<h2 class="part">{title}</h2>', items("ul", found, "entries") if found else f"<p>{nothing}</p>"]


def _pages(library: Library) -> Iterator[Reviewed]:
    yield from library.in_use.values()
    yield from library.articles.values()
    yield from library.calculators.values()


def _lacking(page: Reviewed) -> str:
    draft = isinstance(page, Tree) and page.status == "draft"
    return ", ".join(["draft"] * draft + ["not signed"] * (page.review is None))


def _signed(page: Reviewed) -> str:
    return f"{esc(page.review.by)} on {esc(page.review.on)}" if page.review else ""


def _due(view: View) -> str:
    reviewed = [page for page in _pages(view.library) if page.review]
    reviewed.sort(key=lambda page: (page.review.next if page.review else "", page.title.casefold()))
    rows = (_row(view, page) for page in reviewed)
    head = "<thead><tr><th>Page</th><th>Next review</th><th>Signed</th></tr></thead>"
    return block("table", [head, "<tbody>", *rows, "</tbody>"], class_="cards") if reviewed else ""


def _row(view: View, page: Reviewed) -> str:
    day = esc(page.review.next) if page.review else ""
    late = f'<b data-due="{day}" hidden> overdue</b>'
    return (
        f'<tr><th scope="row">{_link(view, page)}</th><td data-name="Next review">{day}{late}</td>'
        f'<td data-name="Signed">{_signed(page)}</td></tr>'
    )


def _link(view: View, page: Reviewed) -> str:
    path = tree_path(page.id) if isinstance(page, Tree) else page.id
    if isinstance(page, Calculator):
        path = calculator_path(page.id)
    return f'<a href="{view.to(path)}">{view.say(page.title)}</a>'
