"""Links the words of the glossary where they are used, in HTML that is whole already."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from ...model import Library, Map
from ...model.addresses import WORDS
from ..markup import View, esc

_TAG = re.compile(r"(<[^>]*>)")
_NAME = re.compile(r"</?([a-z0-9]+)", re.IGNORECASE)
_CLASS = re.compile(r' class="([^"]*)"')

# What is pressed, what is loud, and what is drawn or read by a program: a link there would be in the way.
_NOT_IN = frozenset(
    (
        *("h1", "h2", "h3", "h4", "h5", "h6", "a", "button", "label", "summary", "code", "pre", "script", "style"),
        *("svg", "figure", "aside", "nav", "dt"),
    )
)
# In a step a link would lead off the page in the middle of a walk: the same words are linked behind the first step.
_NOT_IN_CLASS = frozenset(("step", "lines", "call", "dial", "walk", "strip", "quiet", "rank", "notice", "until"))
_BEGINS = frozenset(("section", "h2"))
"""With each of these a section begins, and the first use of a word counts anew."""


def link_words(html: str, library: Library, path: str) -> str:
    """The HTML with the first use of each word of the glossary in each section linked to its meaning.

    Args:
        html: a page, or a part of one, all of whose text is escaped.
        library: holds the words; one with `link: "no"` is never linked.
        path: the page, to link from.
    """
    shape, keys = _shape_of(library.words)
    if shape is None:
        return html
    writer = _Writer(View(library, path), shape, keys)
    return "".join(writer.part(part) for part in _TAG.split(html))


def _forms(words: Mapping[str, Map]) -> Iterator[tuple[str, str]]:
    """Every form of every word that is linked, with the word's key."""
    for key, word in words.items():
        if word.get("link") != "no":
            for form in (word["say"], *word.get("also", ())):
                yield esc(form), key


_LAST: list[tuple[Mapping[str, Map], tuple[re.Pattern[str] | None, dict[str, str]]]] = []
"""The words asked for last, and what was made of them: one library's pages are made in a row."""


def _shape_of(words: Mapping[str, Map]) -> tuple[re.Pattern[str] | None, dict[str, str]]:
    if not _LAST or _LAST[0][0] is not words:
        _LAST[:] = [(words, _shape(tuple(_forms(words))))]
    return _LAST[0][1]


def _shape(forms: tuple[tuple[str, str], ...]) -> tuple[re.Pattern[str] | None, dict[str, str]]:
    """A pattern that finds the longest form first, and which word each form belongs to."""
    keys = {form.casefold(): key for form, key in reversed(forms)}
    if not keys:
        return None, keys
    longest = sorted({form for form, _ in forms}, key=lambda form: (-len(form), form))
    # With a capital in it, a word is an abbreviation or a name: "CT", never "ct".
    parts = (re.escape(form) if form != form.lower() else f"(?i:{re.escape(form)})" for form in longest)
    return re.compile(rf"(?<![\w&#/.-])({'|'.join(parts)})((?:e?s)?)(?![\w/]|-\w)"), keys


class _Writer:
    """Goes through the parts of a page in order, and remembers where it is."""

    def __init__(self, view: View, shape: re.Pattern[str], keys: dict[str, str]) -> None:
        self.view = view
        self.shape = shape
        self.keys = keys
        self.used: set[str] = set()
        self.closed = ""
        self.depth = 0

    def part(self, part: str) -> str:
        """A tag as it is; a text with its words linked."""
        if part.startswith("<"):
            self._tag(part)
            return part
        if self.depth or not part.strip():
            return part
        return self.shape.sub(self._linked, part)

    def _tag(self, tag: str) -> None:
        found = _NAME.match(tag)
        if found is None:
            return
        name, ends = found.group(1).lower(), tag.startswith("</")
        if name in _BEGINS and not ends:
            self.used = set()
        if self.depth:
            if name == self.closed and not tag.endswith("/>"):
                self.depth += -1 if ends else 1
        elif not ends and self._is_closed(name, tag):
            self.closed, self.depth = name, 1

    @staticmethod
    def _is_closed(name: str, tag: str) -> bool:
        classes = _CLASS.search(tag)
        return name in _NOT_IN or bool(classes and not _NOT_IN_CLASS.isdisjoint(classes.group(1).split()))

    def _linked(self, match: re.Match[str]) -> str:
        key = self.keys[match.group(1).casefold()]
        if key in self.used:
            return match.group()
        self.used.add(key)
        means = self.view.say(self.view.library.words[key]["means"])
        return f'<a class="term" href="{self.view.to(WORDS, key)}" title="{means}">{match.group()}</a>'
