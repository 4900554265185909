"""For whoever answers for the library: what is due, what has changed since it was signed, what is withdrawn."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from ...model import Article, Calculator, Library, Tree
from ...model.addresses import CHANGES, CHECKS, REVIEW, SETTINGS, calculator_path, tree_path
from ...model.stamp import is_foreign, is_stale, is_unstamped
from ...proof.reviewed import is_revalued
from ..markup import Page, View, block, esc, items, whole
from .checks import ASSETS

TITLE = "Review"

Reviewed = Tree | Article | Calculator


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
    """The overview of all reviews of a library whose drafts are set apart."""
    view = View(library, REVIEW)
    pages, drafts = list(_pages(library)), list(library.drafts.values())
    body = [
        f'<h1 id="_top">{TITLE}</h1>',
        _who(view),
        *_part(view, "Withdrawn", (recalled(view, tree) for tree in withdrawn(library)), "Nothing is withdrawn."),
        *_part(
            view,
            "Changed since it was signed",
            (_changed(view, page) for page in pages if is_stale(page)),
            "Every page says what was signed.",
        ),
        *_part(view, "Not signed", (_link(view, page) for page in pages if page.review is None), "Nothing."),
        *_some(
            view,
            "Not reviewed by anybody of this house",
            "They were signed in another house, or by a role that may not sign here, and say so.",
            [page for page in pages if is_foreign(library, page)],
        ),
        *_some(
            view,
            "A value is another one than when it was signed",
            "Look at them as readers see them now, and sign them.",
            [page for page in pages if is_revalued(library, page)],
        ),
        *_some(
            view,
            "Signed without a stamp of the content",
            "Nobody can see whether they have changed since. The next signature stamps them.",
            [page for page in pages if is_unstamped(page)],
        ),
        *(_part(view, "Drafts", (_draft(view, tree) for tree in drafts), "") if drafts else []),
        '<h2 class="part">Next reviews</h2>',
        "<p>The soonest first. What is overdue by the date of your device is marked.</p>",
        _due(view, pages),
    ]
    description = "What is due for review, what has changed since it was signed, and what is withdrawn."
    return Page(REVIEW, TITLE, whole(body), description, boost=0, assets=ASSETS)


def _who(view: View) -> str:
    named = ", ".join(esc(role) for role in view.library.reviewers)
    may = f"A review is signed by: {named}." if named else "Anybody may sign a review; the settings name nobody."
    return (
        f'<p>{may} How far the checks go: <a href="{view.to(CHECKS)}">checked on every way</a>. '
        f'What weighs how much in a proposal: <a href="{view.to(CHANGES)}">kinds of change</a>. '
        f'Numbers that are still those of an example: <a href="{view.to(SETTINGS)}">settings</a>.</p>'
    )


def _part(view: View, title: str, lines: Iterable[str], nothing: str) -> list[str]:
    found = list(lines)
    return [f'<h2 class="part">{title}</h2>', items("ul", found, "entries") if found else f"<p>{nothing}</p>"]


def _some(view: View, title: str, told: str, pages: list[Reviewed]) -> list[str]:
    """A part that may hold nearly all pages, and then is closed at first; nothing where it holds none."""
    if not pages:
        return []
    count = "1 page" if len(pages) == 1 else f"{len(pages)} pages"
    listed = items("ul", (f"{_link(view, page)}: {_signed(page)}" for page in pages), "entries")
    return [
        f'<h2 class="part">{title}</h2>',
        f"<p>{told}</p>",
        f"<details><summary>{count}</summary>\n{listed}\n</details>",
    ]


def _changed(view: View, page: Reviewed) -> str:
    """A page that has changed: who signed it, and what is told of the changes since."""
    signed = page.review.on if page.review else ""
    changes = view.library.changes.get(page.id, ()) if isinstance(page, Tree) else ()
    since = [change for change in changes if change.on >= signed]
    told = items("ul", (f"{esc(change.on)}: {esc(change.say)}" for change in since)) if since else ""
    untold = isinstance(page, Tree) and not since
    nothing = " What a reader finds changed is written down nowhere." if untold else ""
    return f"{_link(view, page)}: signed by the {_signed(page)}.{nothing}{told}"


def _pages(library: Library) -> Iterator[Reviewed]:
    yield from library.in_use.values()
    yield from library.articles.values()
    yield from library.calculators.values()


def _draft(view: View, tree: Tree) -> str:
    if tree.review is None:
        return f"{_link(view, tree)}: not read by anybody yet"
    changed = "changed since it was " if is_stale(tree) else ""
    return f"{_link(view, tree)}: {changed}read by the {_signed(tree)}, not yet in use"


def _signed(page: Reviewed) -> str:
    return f"{esc(page.review.by)} on {esc(page.review.on)}" if page.review else ""


def _due(view: View, pages: list[Reviewed]) -> str:
    reviewed = [page for page in pages if page.review]
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
    kind = {Article: "article", Calculator: "calculator"}.get(type(page))
    # An article and a calculator of one subject may bear one title.
    named = f' <span class="quiet">{kind}</span>' if kind else ""
    return f'<a href="{view.to(path)}">{view.say(page.title)}</a>{named}'
