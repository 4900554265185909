"""What the docstrings of the program show is what it does."""

from __future__ import annotations

import doctest
from importlib import import_module

import pytest

from cases.bundle import REPO

SOURCE = REPO / "site_src"
SHOWN = [
    ".".join(path.relative_to(SOURCE).with_suffix("").parts)
    for path in sorted(SOURCE.rglob("*.py"))
    if ">>> " in path.read_text("utf-8")
]


def test_there_are_examples() -> None:
    assert len(SHOWN) > 20


@pytest.mark.parametrize("name", SHOWN)
def test_examples_hold(name: str) -> None:
    results = doctest.testmod(import_module(name))
    assert results.attempted > 0
    assert results.failed == 0, "what was expected and what came stands in the output"
