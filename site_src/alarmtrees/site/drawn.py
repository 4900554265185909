"""A line drawing on a page: its file, shown as a picture and fetched only where somebody sees it."""

from __future__ import annotations

from urllib.parse import quote

from ..model import Picture
from ..model.addresses import picture_file
from .markup import UNSEARCHED, View, esc

_AS_IT_IS = " =:/.,;()!*+-"
"""Signs that an address of data may hold and a drawing has many of."""


def image(view: View, picture: Picture, alt: str, css: str = "") -> str:
    """The drawing alone.

    Args:
        view: the page it stands on.
        picture: what to show.
        alt: what is read aloud in its place; "" where the words beside it say the same.
        css: a class of its own.
    """
    source = f"{'../' * view.path.count('/')}{picture_file(picture.id)}"
    # How it loads goes first: a browser that copies an element asks for its file as soon as it has read where that is.
    return f'<img loading="lazy"{_class(css)} src="{esc(source)}" alt="{esc(alt)}" {_size(picture)}>'


def figure(view: View, picture: Picture) -> str:
    """The drawing with its title below it, open."""
    drawn = image(view, picture, picture.description)
    return f'<figure class="drawn">{drawn}<figcaption>{esc(picture.title)}</figcaption></figure>'


def folded(view: View, picture: Picture) -> str:
    """The drawing behind one press, which names it."""
    summary = f"<summary {UNSEARCHED}>Picture: {esc(_lower(picture.title))}</summary>"
    return f'<details class="drawn">{summary}{image(view, picture, picture.description)}</details>'


def embedded(picture: Picture, alt: str) -> str:
    """The drawing for a page that is one file and is kept as such."""
    data = esc(quote(picture.text, safe=_AS_IT_IS))
    return f'<img class="drawn" src="data:image/svg+xml,{data}" alt="{esc(alt)}" {_size(picture)}>'


def _size(picture: Picture) -> str:
    return f'width="{picture.width:g}" height="{picture.height:g}"'


def _class(css: str) -> str:
    return f' class="{css}"' if css else ""


def _lower(title: str) -> str:
    """A title behind a colon. A word that begins with two capitals, or is one letter, is a name of something.

    >>> _lower("Where to look for blood"), _lower("T wave counted"), _lower("ECG electrodes")
    ('where to look for blood', 'T wave counted', 'ECG electrodes')
    """
    return title if title[1:2].isupper() or title[1:2] == " " else title[:1].lower() + title[1:]
