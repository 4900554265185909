"""The content stamp of a review: a hash of what a page says, whatever its layout."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from .article import Article, Calculator
from .library import Library
from .tree import Tree
from .wording import folded

UNSTAMPED = ("review", "status", "aliases", "related")
"""Keys of a tree that may change without a new review."""

_UNSTAMPED_ARTICLE = ("review", "part", "tasks", "trees")
_UNSTAMPED_CALCULATOR = ("review", "trees", "related")


def content_stamp(page: Tree | Article | Calculator) -> str:
    """The SHA-256 of a page as canonical JSON, in hexadecimal.

    Canonical: keys sorted, no white space, UTF-8, settings unresolved (RFC 8785 for texts, lists and
    mappings, which is all that a tree holds). Where a page is found, and what it stands beside, is no part of it.
    Of an article its text counts too, line by line, but for blanks at the end of a line; of both each picture that they
    show, its words and its lines.
    """
    text = json.dumps(_content(page), sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def is_stale(page: Tree | Article | Calculator) -> bool:
    """Whether a page says something else than what was signed; nobody is to follow a withdrawn one."""
    if page.review is None or not page.review.content or (isinstance(page, Tree) and page.is_withdrawn):
        return False
    return page.review.content != content_stamp(page)


def is_unstamped(page: Tree | Article | Calculator) -> bool:
    """Whether a page was signed without a stamp, so that nobody can see whether it has changed since."""
    return page.review is not None and not page.review.content


def is_foreign(library: Library, page: Tree | Article | Calculator) -> bool:
    """Whether a page was signed in another house, or by somebody who may not sign here.

    Nobody is to follow a withdrawn one. A review that names no house is the invented hospital's.
    """
    if page.review is None or (isinstance(page, Tree) and page.is_withdrawn):
        return False
    return not library.may_sign(page.review.by) or is_elsewhere(library, page)


def is_elsewhere(library: Library, page: Tree | Article | Calculator) -> bool:
    """Whether a page was signed in another house than the one whose library it is."""
    if page.review is None or not library.hospital:
        return False
    if not page.review.house:
        return not library.fictional
    return page.review.house != house_stamp(library.hospital)


def house_stamp(hospital: str) -> str:
    """Sixteen figures of the SHA-256 of a hospital's name: its review says whose it is, and not the name itself."""
    return hashlib.sha256(folded(hospital).encode()).hexdigest()[:16]


def _content(page: Tree | Article | Calculator) -> dict[str, Any]:
    if isinstance(page, Calculator):
        return {key: value for key, value in page.raw.items() if key not in _UNSTAMPED_CALCULATOR}
    return _written(page) | ({"pictures": shown} if (shown := _shown(page)) else {})


def _shown(page: Tree | Article) -> dict[str, str]:
    return {name: picture.stamp for name, picture in page.pictures.items()}


def _written(page: Tree | Article) -> dict[str, Any]:
    if isinstance(page, Tree):
        return {key: value for key, value in page.raw.items() if key not in UNSTAMPED}
    front = {key: value for key, value in page.raw.items() if key not in _UNSTAMPED_ARTICLE}
    lines = (line.rstrip() for line in page.text[page.body_at :].strip().split("\n"))
    return {"front": front, "body": "\n".join(lines)}
