"""What is overdue is shown by the reader's device; the tables of the checks can be read on a phone and by key."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from test_site import judged

from browser.until import until


@pytest.mark.parametrize(("days", "hour", "late"), [(0, "23:00:00", False), (1, "00:30:00", True)])
@pytest.mark.parametrize("page", ["alarms/gas-line-kinked/index.html", "timing.html", "review/index.html"])
def test_overdue_shows_from_the_day_after(visit, site, page: str, days: int, hour: str, late: bool) -> None:
    """By the reader's own day, also where that is not yet the day in London."""
    due = re.search(r'data-due="([0-9-]{10})"', (site.folder / page).read_text(encoding="utf-8"))[1]
    today = date.fromisoformat(due) + timedelta(days=days)
    visited = visit("about:blank", timezone_id="Australia/Brisbane")
    visited.page.clock.install(time=f"{today}T{hour}+10:00")
    visited.page.goto(site.address("file", page))
    notices = visited.page.locator(f"[data-due='{due}']")
    assert notices.count() > 0
    assert {notices.nth(i).is_visible() for i in range(notices.count())} == {late}
    assert visited.faults == []


@pytest.mark.parametrize(("width", "scheme"), [(320, "light"), (1280, "dark")])
@pytest.mark.parametrize("page", ["checks/index.html", "checks/patient-agitated/index.html", "review/index.html"])
def test_pages_of_checks_fit_and_are_accessible(visit, site, axe: str, page: str, width: int, scheme: str) -> None:
    visited = visit(site.address("file", page), width=width, color_scheme=scheme).page
    assert visited.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert judged(visited, axe) == []


def test_wide_table_scrolls_by_key_and_keeps_the_rules_in_sight(visit, site) -> None:
    page = visit(site.address("file", "checks/index.html")).page
    table = page.get_by_role("region", name="Which safety rule holds where")
    table.focus()
    rule = table.locator("tbody th").first
    before = rule.bounding_box()
    for _ in range(6):
        page.keyboard.press("ArrowRight")
    until(page, "document.querySelector('.wide:has(.matrix)').scrollLeft > 50")
    after = rule.bounding_box()
    assert before is not None and after is not None and before["x"] == after["x"]
