"""The pull request in kb/review.md, played through again: what stands there is what the programs print."""

from __future__ import annotations

from pathlib import Path

from played.pull_request import _BLOCK, PAGE, filled, play


def test_the_page_holds_what_is_really_printed(tmp_path: Path) -> None:
    page = PAGE.read_text("utf-8")
    played = play(tmp_path)
    assert sorted(found.group(2) for found in _BLOCK.finditer(page)) == sorted(played.blocks)
    assert filled(page, played) == page, "write the page anew: python tests/played/pull_request.py"
    assert str(tmp_path) not in page
