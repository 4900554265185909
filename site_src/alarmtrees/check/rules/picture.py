"""A picture is missing, stands nowhere, is too heavy, says too little of itself, or has words that nobody can read.

A step shows a line drawing by `picture: id`, an article by `<!-- picture: id -->` on a line of its own; it lies in
`kb/pictures/<id>.svg`. It is fetched at the bedside and shown on a small phone, in the dark and on paper, so it is
light, and its words are text, large, and inside its box in a wide font too. Its `<title>` is the caption, and its
`<desc>` says the same as the drawing for whoever cannot see it. No value can be filled in there, and a number with a
unit stands in each text that shows it: only there can it have a source. That it only draws, `stray-file` sees to.

Good, where `kb/pictures/look-for-blood.svg` lies:

```yaml
look-for-blood:
  ask: What is seen inside the whole gas line?
  picture: look-for-blood
```

Bad:

```yaml
look-for-blood:
  ask: What is seen inside the whole gas line?
  picture: look-for-blod
```
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import escape

from ...model import Article, Node, Picture, Tree
from ...model.finding import Place, Severity
from ...model.lettering import text_width
from ...model.quantities import quantities
from ...model.wording import spots
from ...reading.articles import pictures_in
from ...reading.drawings import Word, words_of
from .base import Flaw, View, guess, library_rule

MAX_BYTES = 6000
WIDTH = 360
LOWEST, HIGHEST = 200, 440
SIZE = 15
WIDE = 1.2
"""How much wider than Arial the widest common font is."""

TITLE, DESCRIPTION = (12, 60), (60, 900)
"""How many signs a title and a description have."""

# Of the size of type: how far letters reach above and below their base line.
_ABOVE, _BELOW = 0.8, 0.22


@library_rule("references")
def check(view: View) -> Iterator[Flaw]:
    """Look up every picture that is asked for, then look at each picture by itself."""
    yield from _asked(view)
    shown = _shown(view)
    # What a file that cannot be read would show, nobody knows.
    whole = not any(source.problems for source in view.library.sources_read)
    for picture in view.library.pictures.values():
        yield from _unused(picture, shown) if whole else ()
        yield from _light(picture)
        yield from _told(picture)
        for word in words_of(picture):
            yield from _read(picture, word)
        yield from _numbers(picture, shown.get(picture.id, []))


def _asked(view: View) -> Iterator[Flaw]:
    known = view.library.pictures
    for tree in view.library.trees.values():
        for node in tree.nodes.values():
            if node.picture is not None and node.picture not in known:
                yield Flaw(node.at("picture"), _missing(view, node.picture), node.id)
    for article in view.library.articles.values():
        for name, begin, end in pictures_in(article):
            if name not in known:
                yield Flaw(article.place(begin), _missing(view, name))
            before = article.text.rfind("\n", 0, begin) + 1
            behind = article.text.find("\n", end)
            if article.text[before:begin].strip() or article.text[end : None if behind < 0 else behind].strip():
                message = (
                    "a picture stands on a line of its own, or it would part a sentence; put an empty line round it"
                )
                yield Flaw(article.place(begin), message)


def _missing(view: View, name: str) -> str:
    return f"there is no kb/pictures/{name}.svg, so nothing would be shown{guess(name, view.library.pictures)}"


def _shown(view: View) -> dict[str, list[Tree | Article]]:
    """Where each picture stands."""
    found: dict[str, list[Tree | Article]] = {}
    pages: tuple[Tree | Article, ...] = (*view.library.trees.values(), *view.library.articles.values())
    for page in pages:
        for name in page.pictures:
            found.setdefault(name, []).append(page)
    return found


def _unused(picture: Picture, shown: dict[str, list[Tree | Article]]) -> Iterator[Flaw]:
    if picture.id not in shown:
        message = (
            f"nothing shows this picture; write `picture: {picture.id}` in a step or <!-- picture: {picture.id} --> "
            "in an article, or delete it"
        )
        yield Flaw(_at(picture), message, severity=Severity.WARNING)


def _light(picture: Picture) -> Iterator[Flaw]:
    size = len(picture.text.encode())
    if size > MAX_BYTES:
        message = (
            f"{size:,} bytes, and a phone fetches it at the bedside; {MAX_BYTES:,} at most: round numbers, draw less"
        )
        yield Flaw(_at(picture), message)
    if picture.width != WIDTH or not LOWEST <= picture.height <= HIGHEST:
        message = (
            f'pictures share one scale; write viewBox="0 0 {WIDTH} …", with a height of {LOWEST} to {HIGHEST} '
            "in place of the dots"
        )
        yield Flaw(_at(picture, "viewBox"), message)
    if re.search(r"\sstyle\s*=", picture.text):
        message = "`style` in a picture may not be read everywhere; write attributes such as stroke and font-size"
        yield Flaw(_at(picture, "style="), message)


def _told(picture: Picture) -> Iterator[Flaw]:
    for name, tag, said, (least, most) in (
        ("title", "title", picture.title, TITLE),
        ("description", "desc", picture.description, DESCRIPTION),
    ):
        if not least <= len(said) <= most:
            what = "what is to be seen" if tag == "title" else "all that the drawing tells, in sentences"
            message = f"the {name} has {len(said)} signs; say {what} in <{tag}>, in {least} to {most} of them"
            yield Flaw(_at(picture, f"<{tag}"), message)
    if picture.title.endswith("."):
        yield Flaw(_at(picture, "<title"), "the title ends in a full stop; it is a caption, so leave that out")
    if picture.description and not picture.description.endswith((".", "?", "!")):
        message = "the description does not end with a sentence; it is read aloud in place of the drawing"
        yield Flaw(_at(picture, "<desc"), message)


def _read(picture: Picture, word: Word) -> Iterator[Flaw]:
    place = _at(picture, escape(word.text, quote=False))
    if word.is_turned:
        message = (
            f"“{word.text}” is turned, scaled or set letter by letter; write it straight, moved by translate alone"
        )
        yield Flaw(place, message)
        return
    if word.size < SIZE:
        size = f"{word.size:g} units high" if word.size else "of no plain size"
        message = f"“{word.text}” is {size}; nobody reads that on a phone: font-size {SIZE} at least"
        yield Flaw(place, message)
        return
    wide = text_width(word.text, word.size) * WIDE
    left = word.x - {"middle": wide / 2, "end": wide}.get(word.anchor, 0.0)
    if left < 0 or left + wide > picture.width:
        message = (
            f"“{word.text}” reaches from {left:.0f} to {left + wide:.0f} in a wide font, and only 0 to "
            f"{picture.width:g} is seen; move it, or say it in fewer words"
        )
        yield Flaw(place, message)
    top, bottom = word.y - _ABOVE * word.size, word.y + _BELOW * word.size
    if top < 0 or bottom > picture.height:
        message = f"“{word.text}” stands out of the picture at its {'top' if top < 0 else 'foot'}; move it"
        yield Flaw(place, message)


def _numbers(picture: Picture, pages: list[Tree | Article]) -> Iterator[Flaw]:
    said = [picture.title, picture.description, *(word.text for word in words_of(picture))]
    for name in dict.fromkeys(name for text in said for name, _, _ in spots(text)):
        message = (
            f"{{{name}}} stays as it is in a picture, for nothing can be filled in there; leave the value to the text"
        )
        yield Flaw(_at(picture, "{"), message)
    for number in dict.fromkeys(number for text in said for number, _ in quantities(text)):
        for page in pages:
            if _spelt(number) not in _numbers_of(page):
                message = (
                    f"“{number}” does not stand in {page.file}, which shows this picture; say it there with its source"
                )
                yield Flaw(_at(picture, number), message)


def _numbers_of(page: Tree | Article) -> set[str]:
    text = page.plain if isinstance(page, Article) else "\n".join(map(_said, page.nodes.values()))
    return {_spelt(number) for number, _ in quantities(text)}


def _spelt(number: str) -> str:
    """A drawing has room for a sign where a text has a word."""
    return number.replace("°", " degrees")


def _said(node: Node) -> str:
    return f"{node.text}\n{node.why or ''}"


def _at(picture: Picture, words: str = "") -> Place:
    """Where some words stand first; the beginning of the file where they do not stand so."""
    found = picture.text.find(words) if words else -1
    before = picture.text[: max(found, 0)]
    return Place(picture.file, before.count("\n") + 1, len(before) - before.rfind("\n") if found > 0 else 1)
