"""The bedside stories: enough of them for each page, and each asks for something."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

FILES = sorted((Path(__file__).parent.parent / "kb" / "stories").glob("*.yml"))


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_a_page_is_told_by_six_stories_that_ask_for_something(file: Path) -> None:
    """A story without a demand comes out whatever the tree says."""
    stories = yaml.safe_load(file.read_text("utf-8"))
    ids = [story["id"] for story in stories]

    assert len(ids) >= 6
    assert len(set(ids)) == len(ids)
    assert [story["id"] for story in stories if not story.get("must") and not story.get("never")] == []


def test_there_are_stories() -> None:
    assert FILES
