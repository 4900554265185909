"""All pictures on one page, for whoever teaches, prints or draws: what each shows, and where it stands."""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Library, Picture
from ...model.addresses import PICTURES, tree_path
from ...proof.order import reading_order
from ..drawn import image
from ..markup import LOOKED_UP, Page, View, block, esc, items, whole

TITLE = "Pictures"


def pictures_page(library: Library) -> Page | None:
    """Each drawing with its title, its description, and the steps and articles that show it; None without any."""
    if not library.pictures:
        return None
    view = View(library, PICTURES)
    told = (
        f"<p>{len(library.pictures)} drawings of our own. Each says in words what it shows. They may be printed and "
        "put on slides, as all of this site.</p>"
    )
    shown = sorted(library.pictures.values(), key=lambda picture: picture.title.casefold())
    return Page(
        path=PICTURES,
        title=TITLE,
        description="All drawings, what each shows, and where it stands.",
        body=whole([f'<h1 id="_top">{TITLE}</h1>', told, *(_entry(view, picture) for picture in shown)]),
        boost=LOOKED_UP,
        assets=("pictures.css",),
    )


def _entry(view: View, picture: Picture) -> str:
    where = list(_where(view, picture))
    parts = [
        f"<h2>{esc(picture.title)}</h2>",
        f'<figure class="drawn">{image(view, picture, "")}</figure>',
        f"<p>{esc(picture.description)}</p>",
        items("ul", where, "links") if where else "<p>It stands nowhere yet.</p>",
    ]
    return block("section", parts, id=esc(picture.id), class_="drawn__entry")


def _where(view: View, picture: Picture) -> Iterator[str]:
    for tree in view.library.in_use.values():
        numbers = {node_id: number for number, node_id in enumerate(reading_order(tree), start=1)}
        for node_id, number in numbers.items():
            if tree.nodes[node_id].picture == picture.id:
                href = view.to(tree_path(tree.id), node_id)
                yield f'<a href="{href}">{view.say(tree.title)}, step {number}</a>'
    for article in view.library.articles.values():
        if picture.id in article.pictures:
            yield f'<a href="{view.to(article.id)}">{view.say(article.title)}</a>'
