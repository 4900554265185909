"""With which local values a page was reviewed: what stands in its text is one thing, what readers see another."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from typing import Any

from ..model import Article, Calculator, Library, Tree
from ..model.wording import names
from .resting import COUNTED

Page = Tree | Article | Calculator

_TYPED = frozenset({"aliases", "review"})
"""Keys under which nothing is shown to a reader."""

CLOCK = "resting_warning"
"""The value that the clock on the page of every alarm shows."""


def values_of(library: Library, page: Page) -> tuple[str, ...]:
    """The names of the local values that a page shows or counts with, its cautions included, sorted.

    Those that the rest of the balloon is counted with belong to each alarm in which it may rest.
    """
    texts = list(_texts(page.raw))
    if isinstance(page, Article):
        texts.append(page.plain)
    named = {name for text in texts for name in names(text)} | set(_counted(page.raw))
    keys = {*page.cautions}
    if isinstance(page, Tree):
        keys.update(key for node in page.nodes.values() for key in node.cautions)
        named.update(COUNTED if _may_rest(page) else (CLOCK,))
    for caution in (library.cautions[key] for key in keys if key in library.cautions):
        named.update(name for text in (caution.say, caution.why or "") for name in names(text))
    return tuple(sorted(named & library.settings.keys()))


def values_stamp(library: Library, page: Page) -> str:
    """Sixteen figures of the SHA-256 of these values, each with its unit, as canonical JSON."""
    shown = {name: library.settings[name].shown for name in values_of(library, page)}
    text = json.dumps(shown, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def is_revalued(library: Library, page: Page) -> bool:
    """Whether readers see other values on a page than those it was reviewed with; nobody is to follow a withdrawn one.

    Where a review says nothing of values, it was made with the shipped ones.
    """
    if page.review is None or (isinstance(page, Tree) and page.is_withdrawn):
        return False
    if page.review.values:
        return page.review.values != values_stamp(library, page)
    return bool(others_than_shipped(library, page))


def others_than_shipped(library: Library, page: Page) -> list[str]:
    """The names of those values on a page that are other ones than the shipped."""
    settings = library.settings
    return [name for name in values_of(library, page) if settings[name].shown != settings[name].shipped]


def _may_rest(tree: Tree) -> bool:
    answers = (*tree.anytime, *(answer for node in tree.nodes.values() for answer in node.answers))
    stops = tree.pump == "stopped" or any(node.pump == "stops" for node in tree.nodes.values())
    return stops or any(answer.pump == "still" for answer in answers)


def _texts(raw: Any) -> Iterator[str]:
    """All texts of a document, however deep."""
    if isinstance(raw, str):
        yield raw
    elif isinstance(raw, dict):
        for key, value in raw.items():
            if key not in _TYPED:
                yield from _texts(value)
    elif isinstance(raw, list):
        for value in raw:
            yield from _texts(value)


def _counted(raw: Any) -> Iterator[str]:
    """The settings that a calculator counts with: `setting` under a value or a default."""
    parts = raw.values() if isinstance(raw, dict) else raw if isinstance(raw, list) else ()
    if isinstance(raw, dict) and isinstance(raw.get("setting"), str):
        yield raw["setting"]
    for part in parts:
        yield from _counted(part)
