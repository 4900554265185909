"""The small library of these tests: made in any folder, stamped, or spoiled with hostile text."""

from __future__ import annotations

import json
import re
import shutil
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from alarmtrees.model import Library
from alarmtrees.model.stamp import content_stamp
from alarmtrees.reading.open import open_library
from lone import open_tree, stamp_of

HERE = Path(__file__).parent
REPOSITORY = HERE.parent

HOSTILE = '<script>window.hit = 1</script><img src=x onerror="window.hit = 1"> [x](y) *a* & `b` {{ $x$ --- "c" '
HOSTILE_AS_READ = HOSTILE.replace("{{", "{").strip()
_SPOILED = {"say", "title", "summary", "why", "ask", "do", "meanwhile", "aliases", "reason", "means"}
_SPOILED |= {"author", "in", "by", "phone", "unit"}


def edit(path: Path, *changes: tuple[str, str]) -> None:
    """Replace texts in a file, each of which stands there."""
    text = path.read_text("utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    path.write_text(text, "utf-8")


@cache
def shipped_library() -> Library:
    """The library of this repository, read once for all tests that only look at it."""
    return open_library(REPOSITORY)


def make(root: Path) -> Path:
    """Write the small library into a folder that is new, with the site's configuration and theme."""
    shutil.copytree(HERE / "small-library", root)
    configuration = (REPOSITORY / "mkdocs.yml").read_text(encoding="utf-8")
    theme = REPOSITORY / "site_src" / "theme"
    configuration = configuration.replace("custom_dir: site_src/theme", f"custom_dir: {theme.as_posix()}")
    (root / "mkdocs.yml").write_text(configuration, encoding="utf-8")
    for path in (root / "trees").glob("*.yml"):
        restamp(path)
    for path in (root / "kb").glob("*.md"):
        path.write_text(path.read_text("utf-8").replace("content: signed", f"content: {stamp_of(path)}"), "utf-8")
    return root


def restamp(path: Path) -> None:
    """Give a tree the stamp of what it says now."""
    _, tree = open_tree(path)
    assert tree is not None and tree.review is not None
    text = path.read_text(encoding="utf-8")
    text = text.replace(f'content: "{tree.review.content}"', f'content: "{content_stamp(tree)}"')
    path.write_text(text, encoding="utf-8")


def swap(path: Path, old: str, new: str) -> None:
    """Put one text in place of another, which must be there."""
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def contents(site: Path) -> dict[str, bytes]:
    """All files of a built site."""
    return {str(path.relative_to(site)): path.read_bytes() for path in site.rglob("*") if path.is_file()}


def spoil(root: Path) -> None:
    """Put hostile text wherever a library holds words for readers."""

    def spoiled(value: Any, key: str) -> Any:
        if isinstance(value, dict):
            return {name: spoiled(entry, name) for name, entry in value.items()}
        if isinstance(value, list):
            return [spoiled(entry, key) for entry in value]
        kept = key not in _SPOILED or value in ("s", "min", "h")  # units of time are the checks' own words
        return value if kept else f"{HOSTILE}{value}"

    for path in [*(root / "trees").glob("*.yml"), *(root / "kb").glob("*.yml")]:
        document = yaml.load(path.read_text(encoding="utf-8"), yaml.CBaseLoader)
        path.write_text(yaml.safe_dump(spoiled(document, ""), width=10_000, sort_keys=False), encoding="utf-8")
    # The title of an article stands in its text too, where it would be no plain Markdown any more.
    for path in (root / "kb").glob("*.md"):
        text = path.read_text(encoding="utf-8")
        path.write_text(re.sub(r"^(description: )(.*)$", _described, text, count=1, flags=re.MULTILINE), "utf-8")
    for path in (root / "trees").glob("*.yml"):
        restamp(path)


def _described(match: re.Match[str]) -> str:
    return match.group(1) + json.dumps(HOSTILE + match.group(2))
