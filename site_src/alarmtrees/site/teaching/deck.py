"""A set of slides as one HTML file that needs no other: style and script stand in it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from ...model import Article, Library, Tree
from ..markup import STRIP, SiteFile, View, esc, hospital_named, invented_told
from ..offline import content_date, is_changed
from ..policy import policy
from .pieces import ROOM, Piece, balanced, once, title_lines, written

SAID = f"Reference and teaching for {STRIP[0].lower()}{STRIP[1:].replace(' only;', ';')}"
"""What stands below every slide."""

_WAYSIDE = re.compile(r"/\*.*?\*/\n?|^\s*//[^\n]*\n|\s+//[^\n]*$|^\s+", re.DOTALL | re.MULTILINE)
_ASSETS = Path(__file__).parent / "assets"


@dataclass(frozen=True, slots=True)
class Slide:
    """One slide.

    Attributes:
        title: its heading, as HTML.
        body: what stands below it, as HTML.
        kicker: a word or two above the heading, as HTML.
        kind: "first" for the one that names the set, "drawn" where a drawing is what it shows, "beside" where one
            stands beside its words, else "".
        pieces: what its body was written from, where that is pieces and nothing else.
    """

    title: str
    body: str
    kicker: str = ""
    kind: str = ""
    pieces: tuple[Piece, ...] = ()


def slides_of(title: str, pieces: Sequence[Piece], kicker: str = "") -> Iterator[Slide]:
    """As many slides as the pieces need, each under the title; from the second on it says that they go on."""
    lost = title_lines(title) - title_lines("") + (1 if kicker else 0)
    for place, some in enumerate(balanced(pieces, ROOM - lost)):
        more = ' <span class="quiet">(continued)</span>' if place else ""
        yield Slide(f"{title}{more}", written(some), kicker)


def deck(view: View, about: Tree | Article, slides: Sequence[Slide], build: str, others: str) -> SiteFile:
    """The file of a set of slides.

    Args:
        view: where it lies.
        about: what it is about.
        slides: the first one names the set.
        build: which build of the site it belongs to.
        others: the path of the list of all sets, which every slide leads to.
    """
    whose = esc(hospital_named(view.library))
    title, review = view.say(about.title), about.review
    until = f"do not use after {esc(review.next)}" if review else "not reviewed"
    foot = f"<footer><p>{title} · {whose} · {until} · build {esc(build)}</p><p>{SAID}</p></footer>"
    shown = once("\n".join(_section(slide, number, len(slides)) for number, slide in enumerate(slides, start=1)))
    return SiteFile(
        f"{view.path}.html",
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy([_asset("slides.js")])}">\n'
        '<meta name="viewport" content="width=device-width,initial-scale=1">\n'
        '<meta name="color-scheme" content="light dark">\n<meta name="referrer" content="no-referrer">\n'
        '<meta name="format-detection" content="telephone=no">\n'
        f'<meta name="build" content="{esc(build)}">\n<link rel="icon" href="data:,">\n'
        f"<title>{title} – slides</title>\n<style>{_asset('slides.css')}</style>\n"
        f"</head>\n<body>\n<main>\n{shown}\n</main>\n{foot}\n"
        '<nav aria-label="Slides"><button type="button" data-back>Previous</button>'
        f'<a href="{view.to(others)}">All slides</a><button type="button" data-on>Next</button></nav>\n'
        f"<script>{_asset('slides.js')}</script>\n</body>\n</html>\n",
    )


def whence(library: Library, build: str) -> str:
    """Whose numbers a set holds, and which content it was made of: once it is kept, nothing else says so."""
    dated, (what, more) = esc(content_date(library)), invented_told(library)
    invented = f"<b>{esc(what)}</b> {esc(more)} " if what else ""
    since = ", changed since" if is_changed(library) else ""
    of = f'Content of <time datetime="{dated}">{dated}</time>{since}, build' if dated else "Build"
    return f'<p class="quiet">{invented}{of} <code data-build>{esc(build)}</code>.</p>'


def _section(slide: Slide, number: int, count: int) -> str:
    level = "h1" if slide.kind == "first" else "h2"
    name = f"_{number}"
    kicker = f'<p class="kicker">{slide.kicker}</p>' if slide.kicker else ""
    css = f"slide slide--{slide.kind}" if slide.kind else "slide"
    return (
        f'<section class="{css}" id="{number}" tabindex="-1" aria-labelledby="{name}">\n{kicker}'
        f'<{level} id="{name}">{slide.title}</{level}>\n<div>{slide.body}</div>\n'
        f'<p class="count">{number} of {count}</p>\n</section>'
    )


@cache
def _asset(name: str) -> str:
    """A style or script without its comments and indents: it stands in every set."""
    return _WAYSIDE.sub("", (_ASSETS / name).read_text(encoding="utf-8"))
