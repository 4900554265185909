"""What the alarm finder searches: the words of every alarm, and what is known of words.

The finder itself runs in the browser; here its material is put together, as plain data.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Any

from ..model import Library, Tree
from ..model.wording import fill

FALLBACK = "alarm-not-listed"
"""The tree that is offered where nothing fits."""


def finder_data(library: Library) -> dict[str, Any]:
    """All that the finder needs.

    Args:
        library: the library; its private wordings are part of the hospital's own site, and of nothing else.

    Returns:
        `trees`: for each alarm its id, title, and the texts it is found by, grouped by how much they weigh;
        `fallback`: the id to offer where nothing fits, or None;
        `same`, `light`, `fillers`, `elsewhere`: what is known of words.
    """
    synonyms = library.synonyms
    return {
        "trees": [_entry(library, tree) for tree in library.trees.values()],
        "fallback": FALLBACK if FALLBACK in library.trees else None,
        "same": {name: list(words) for name, words in synonyms.same.items()},
        "light": list(synonyms.light),
        "fillers": list(synonyms.fillers),
        "elsewhere": _not_ours(synonyms.elsewhere, library),
    }


def _entry(library: Library, tree: Tree) -> dict[str, Any]:
    """One alarm. A withdrawn one is found by its title alone, so that a reader learns that it is withdrawn."""

    def shown(texts: Iterable[str]) -> list[str]:
        return [fill(text, library.settings) for text in texts]

    entry: dict[str, Any] = {"id": tree.id, "title": fill(tree.title, library.settings)}
    if tree.is_withdrawn:
        return {**entry, "withdrawn": True}
    entry["names"] = [*shown(tree.aliases), *library.synonyms.said.get(tree.id, ())]
    entry["wordings"] = list(library.wordings.get(tree.id, ()))
    if tree.id != FALLBACK:  # its causes are the other alarms
        entry["causes"] = shown(cause.say for cause in tree.causes.values())
        entry["summary"] = fill(tree.summary, library.settings)
    return entry


def _not_ours(words: Iterable[str], library: Library) -> list[str]:
    """The words of other machines, but for those that a tree uses itself in its title or other names."""
    used = " | ".join(text for tree in library.trees.values() for text in (tree.title, *tree.aliases))
    in_use: Callable[[str], object] = lambda word: re.search(rf"\b{re.escape(word)}\b", used, re.IGNORECASE)  # noqa: E731
    return [word for word in words if not in_use(word)]
