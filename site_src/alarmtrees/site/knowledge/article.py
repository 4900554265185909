"""The page of an article: its Markdown with everything filled in, cautions at the top, sources at the end."""

from __future__ import annotations

import re
from collections.abc import Iterator

from ...learning.minutes import article_words, minutes
from ...learning.path import place_of
from ...model import Article, Library
from ...model.addresses import LEARN, SETTINGS, SOURCES
from ...reading.articles import ITEM, cited, comments, heading, pictures_in, settings_in, traces_in
from ..drawn import figure
from ..markup import (
    SAID,
    UNSEARCHED,
    View,
    alarm_link,
    block,
    calculators_for,
    esc,
    items,
    review_line,
    review_notices,
    short_source,
    slides_link,
    strip,
    until,
    whole,
)
from .form_links import forms_of
from .traces import asked_for

ASSETS = ("article.css", "ticks.js")
"""What the page of an article wants, as `Page.assets` of a page that is made."""

_MANY = 3
"""So many traces have a list of their own at the top of an article."""

_BRACES = re.compile(r"\{\{")

Edit = tuple[int, int, str]
"""Where a part of the text begins and ends, and what takes its place."""


def article_markdown(library: Library, article: Article) -> str:
    """The article as the site's generator takes it: plain Markdown with HTML that holds no mark-up of its own.

    Args:
        library: holds what the article names.
        article: an article without findings; what is not known in another stays as written.
    """
    view = View(library, article.id)
    return whole([*_head(view, article), _body(view, article), *_foot(view, article)]) + "\n"


def _head(view: View, article: Article) -> list[str]:
    own = [key for key in article.cautions if key not in SAID]
    cautions = ["<h2>Cautions</h2>", items("ul", map(view.caution, own), found=False)]
    return [
        f'<h1 id="_top">{view.say(article.title)}</h1>',
        until(view.library, article),
        *review_notices(view.library, article),
        strip(),
        f"<p>{view.say(article.description)}</p>",
        _jump(view, article),
        block("section", cautions, class_="cautions", id="_cautions") if own else "",
    ]


def _jump(view: View, article: Article) -> str:
    """Where on the page each section begins, and the sheet to write on, where there is one."""
    named = [heading(passage) for passage in article.passages if passage.kind == "heading"]
    links = [f'<a href="#{_anchor(words)}">{esc(words)}</a>' for level, words in named if level == 2]
    links += [f'<a href="{href}">Sheet to write on</a>' for href, _ in forms_of(view, article)]
    if len(links) < 2:
        return ""
    lists = [items("ul", links), _drawings(view, article)]
    return block("nav", lists, class_="jump", **{"data-search-exclude": "yes", "aria-label": "On this page"})


def _drawings(view: View, article: Article) -> str:
    """Where each trace stands, folded up; nothing where a reader finds them without."""
    known = view.library.waveforms
    asked = [name for kind, name, _, _ in traces_in(article) if kind == "trace" and name in known]
    if len(asked) < _MANY:
        return ""
    links = (f'<a href="#trace-{esc(name)}">{view.say(known[name].title)}</a>' for name in asked)
    return block("details", [f"<summary>Drawings: {len(asked)}</summary>", items("ul", links)])


def _anchor(words: str) -> str:
    """The place of a heading, as Markdown readers name it."""
    return "-".join(re.sub(r"[^\w\s-]", "", words.lower()).split())


def _foot(view: View, article: Article) -> list[str]:
    trees = [tree for key in article.trees if (tree := view.library.trees.get(key))]
    serves = ["<h2>Alarms this serves</h2>", items("ul", (alarm_link(view, tree) for tree in trees), "alarms")]
    worked_out = calculators_for(view, article)
    sums = ["<h2>Numbers to work out</h2>", items("ul", worked_out, "links")]
    sources = ["<h2>Sources</h2>", f"<p {UNSEARCHED}>{view.sources(article.sources)}.</p>"]
    path = view.to(LEARN, place_of(view.library, article.id))
    time = minutes(article_words(view.library, article))
    learn = f'<p class="edit" {UNSEARCHED}><a href="{path}">Learn: your path</a>: {time} min to read</p>'
    review = ["<h2>Review</h2>", review_line(view.library, article), slides_link(view, article), learn]
    return [
        block("section", serves, class_="part", id="_alarms") if trees else "",
        block("section", sums, class_="part", id="_numbers") if worked_out else "",
        block("section", sources, class_="part", id="_sources") if article.sources else "",
        block("section", review, class_="part", id="_review"),
    ]


def _body(view: View, article: Article) -> str:
    """The text behind the title, with settings, citations and boxes in their places."""
    edits = sorted([*_title(article), *_settings(view, article), *_citations(view, article), *_boxes(article)])
    shown = {begin: asked_for(view.library, kind, name) for kind, name, begin, _ in traces_in(article)}
    shown |= {begin: figure(view, article.pictures[name]) for name, begin, _ in _pictures(article)}
    edits += [(begin, end, shown.get(begin, "")) for begin, end in comments(article.text, article.body_at)]
    kept, done = [], article.body_at
    for begin, end, put in sorted(edits):
        if begin >= done:  # what stands inside a comment goes with it
            kept += [article.text[done:begin], put]
            done = end
    return "".join([*kept, article.text[done:]]).strip("\n")


def _pictures(article: Article) -> Iterator[tuple[str, int, int]]:
    return (one for one in pictures_in(article) if one[0] in article.pictures)


def _title(article: Article) -> Iterator[Edit]:
    first = article.passages[0] if article.passages else None
    if first and first.kind == "heading" and heading(first)[0] == 1:
        yield first.start, first.start + len(first.text), ""


def _settings(view: View, article: Article) -> Iterator[Edit]:
    settings = view.library.settings
    for name, begin, end in settings_in(article):
        if name in settings:
            href = view.to(SETTINGS, name)
            shown = f'<a class="setting" href="{href}">{_still(settings[name].shown)}</a>'
            yield begin, end, shown
        else:  # left as written, in signs that no Markdown reader takes for mark-up
            yield begin, end, _still(article.text[begin:end])
    for match in _BRACES.finditer(article.plain, article.body_at):
        yield match.start(), match.end(), _still("{")


def _citations(view: View, article: Article) -> Iterator[Edit]:
    for key, begin, end in cited(article.plain):
        entry = view.library.sources.get(key)
        name = _still(short_source(entry, key) if entry else key)
        link = f'<a href="{view.to(SOURCES, key)}">{name}</a>' if entry else name
        yield begin, end, f'<span class="cite">({link})</span>'


def _boxes(article: Article) -> Iterator[Edit]:
    """Boxes to tick, that work without a script: the whole line ticks its box."""
    for passage in article.passages:
        begun = ITEM.match(passage.text) if passage.kind == "item" else None
        if begun and begun["box"]:
            words = passage.start + begun.end()
            end = passage.start + len(passage.text.rstrip())
            yield passage.start + begun.start("box"), words, '<label class="tick"><input type="checkbox"> <span>'
            yield end, end, "</span></label>"


def _still(text: str) -> str:
    """The text in signs that mean nothing to HTML or Markdown."""
    return "".join(sign if sign.isalnum() or sign in " \u00a0" else f"&#{ord(sign)};" for sign in text)
