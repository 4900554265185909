"""The content stamp of a review: a hash of what a tree says, whatever its layout."""

from __future__ import annotations

import hashlib
import json

from .tree import Tree

UNSTAMPED = ("review", "status", "aliases", "related")
"""Keys that may change without a new review."""


def content_stamp(tree: Tree) -> str:
    """The SHA-256 of a tree as canonical JSON, in hexadecimal.

    Canonical: keys sorted, no white space, UTF-8, settings unresolved (RFC 8785 for texts, lists and
    mappings, which is all that a tree holds).
    """
    content = {key: value for key, value in tree.raw.items() if key not in UNSTAMPED}
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()
