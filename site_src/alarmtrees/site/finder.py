"""What the alarm finder searches: the words of every alarm, and what is known of words.

The finder itself runs in the browser; here its material is put together, as plain data.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Any

from ..learning.soonest import as_soon
from ..model import Library, Tree
from ..model.addresses import SETTINGS, calculator_path, tree_path
from ..model.dialling import dialled
from ..model.facts import NOTHING_HERE, NUMBERS_ASKED
from ..model.wording import fill
from ..reading.keep import Store
from .guess import learn
from .markup import first_call, script_json

FALLBACK = "alarm-not-listed"
"""The tree that is offered where nothing fits."""

TOGETHER = "two-alarms-at-once"
"""The tree that is offered where several alarms are named."""

LEARNED = "finder-learned.js"
"""The script, among those of the theme, that holds what the box has learned; none in a library without phrases."""


def finder_data(library: Library) -> dict[str, Any]:
    """All that the finder needs, but for what it has learned.

    Args:
        library: the library; its private wordings are part of the hospital's own site, and of nothing else.

    Returns:
        `trees`: for each alarm its id, its page, its title, and the texts it is found by, grouped by how much they
        weigh; `tasks`: the same for articles and calculators; `numbers`: the roles to call, the first call first;
        `fallback`: the id to offer where nothing fits, or None; `together`: where several alarms are named, or None;
        `soonest`: the ids of all alarms in use in groups, what harms soonest first;
        `same`, `light`, `fillers`, `elsewhere`: what is known of words.
    """
    synonyms = library.synonyms
    return {
        "trees": [_entry(library, tree) for tree in library.trees.values()],
        "tasks": [*_articles(library), *_calculators(library)],
        "numbers": _numbers(library),
        "fallback": FALLBACK if FALLBACK in library.trees else None,
        "together": TOGETHER if TOGETHER in library.in_use else None,
        "soonest": as_soon(library),
        "same": {name: list(words) for name, words in synonyms.same.items()},
        "light": list(synonyms.light),
        "fillers": list(synonyms.fillers),
        "elsewhere": _not_ours(synonyms.elsewhere, library),
    }


def learned(library: Library, store: Store) -> str:
    """The script that gives the browser what the box has learned of phrases and names; "" in a library without phrases.

    Args:
        library: the library, its drafts set apart.
        store: keeps the weights for the next build.
    """
    texts = texts_to_learn(library)
    if not texts:
        return ""
    return f"window.alarmtrees.learned={script_json(store.get('guess', texts, lambda: learn(texts)))};\n"


def texts_to_learn(library: Library) -> list[tuple[str, str]]:
    """All that is learned from, each with the page that it speaks for; nothing that is only this hospital's own."""
    pages = {*library.in_use, *library.articles, *map(_calculator_id, library.calculators), NUMBERS_ASKED, NOTHING_HERE}
    phrases = [
        (phrase, page)
        for said_for in library.phrases.values()
        for page, said in said_for.items()
        if page in pages
        for phrase in said
    ]
    if not phrases:
        return []
    names = []
    for tree in library.in_use.values():
        causes = () if tree.id == FALLBACK else (cause.say for cause in tree.causes.values())
        said_of = library.synonyms.said.get(tree.id, ())
        names += [(fill(text, library.settings), tree.id) for text in (tree.title, *tree.aliases, *said_of, *causes)]
    names += [(article.title, article.id) for article in library.articles.values()]
    names += [(one.raw["title"], _calculator_id(key)) for key, one in library.calculators.items()]
    names += [(role.say, NUMBERS_ASKED) for role in library.roles.values()]
    return [*phrases, *names]


def _calculator_id(key: str) -> str:
    return f"calculators/{key}"


def _articles(library: Library) -> list[dict[str, Any]]:
    return [
        {"id": one.id, "page": f"{one.id}.html", "title": one.title, "summary": fill(one.description, library.settings)}
        for one in library.articles.values()
    ]


def _calculators(library: Library) -> list[dict[str, Any]]:
    return [
        {
            "id": _calculator_id(key),
            "page": _folder(calculator_path(key)),
            "title": one.raw["title"],
            "summary": one.raw["summary"],
            "kind": "Calculator",
        }
        for key, one in library.calculators.items()
    ]


def _numbers(library: Library) -> list[dict[str, Any]]:
    """The roles with their numbers; only a real one that can be dialled has what a telephone dials."""
    first = first_call(library)
    roles = sorted(library.roles.values(), key=lambda role: role.id != first)
    return [
        {
            "id": role.id,
            "page": _folder(SETTINGS),
            "title": fill(role.say, library.settings),
            "number": f"{role.phone} (fictional)" if role.phone and role.fictional else role.phone or "not set here",
            "dial": None if role.fictional or not role.phone else dialled(role.phone),
        }
        for role in roles
    ]


def _folder(path: str) -> str:
    """A page's address as the folder it lies in.

    >>> _folder("alarms/pump-stopped/index")
    'alarms/pump-stopped/'
    """
    return path.removesuffix("index")


def _entry(library: Library, tree: Tree) -> dict[str, Any]:
    """One alarm. A withdrawn one is found by its title alone, so that a reader learns that it is withdrawn."""

    def shown(texts: Iterable[str]) -> list[str]:
        return [fill(text, library.settings) for text in texts]

    title = fill(tree.title, library.settings)
    entry: dict[str, Any] = {"id": tree.id, "page": _folder(tree_path(tree.id)), "title": title}
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
