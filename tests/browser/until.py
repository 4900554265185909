"""Waits for what a page says: its policy lets no text run as a script, so Playwright's own waiting cannot ask."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page

from once import PATIENCE


def until(page: Page, expression: str, given: Any = None) -> None:
    """Ask again and again, until the answer is something that counts as true.

    Args:
        page: stays, or is another by then.
        expression: in JavaScript; a function is called with what is given, and may promise its answer.
        given: for a function.
    """
    for _ in range(PATIENCE * 10):
        if page.evaluate(expression, given):
            return
        page.wait_for_timeout(100)
    pytest.fail(f"never true: {expression}")
