"""The glossary."""

from __future__ import annotations

from ...model import Library, Map
from ...model.addresses import WORDS
from ..markup import Page, View, block, esc, whole


def words_page(library: Library) -> Page:
    """Every word with its meaning, in alphabetical order."""
    view = View(library, WORDS)
    words = sorted(library.words.items(), key=lambda word: word[1]["say"].casefold())
    entries = block("dl", (_entry(view, key, word) for key, word in words), class_="words")
    return Page(
        path=view.path,
        title="Words",
        body=whole(['<h1 id="_top">Words</h1>', entries]),
        description="The words of this library, and what they mean.",
        source="words.yml",
    )


def _entry(view: View, key: str, word: Map) -> str:
    others = [(other, view.library.words[other]) for other in word.get("see", ()) if other in view.library.words]
    links = ", ".join(f'<a href="#{esc(other)}">{view.say(entry["say"])}</a>' for other, entry in others)
    see = f" See {links}." if links else ""
    means = f"{view.say(word['means'])}{see} {view.rests_on(word.get('sources', ()))}"
    return f'<div><dt id="{esc(key)}">{view.say(word["say"])}</dt>\n<dd>{means}</dd></div>'
