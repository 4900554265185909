"""The first page, and the one for wrong addresses: what a reader in a hurry sees of them."""

from __future__ import annotations

from pathlib import Path

import pytest
from pypdf import PdfReader

SEEN = """() => [...document.querySelectorAll(".groups [data-tree]")].map(one => {
    const box = one.getBoundingClientRect();
    const sizes = [...one.children].map(part => parseFloat(getComputedStyle(part).fontSize));
    return [one.dataset.tree, box.bottom, Math.min(...sizes), box.height];
})"""


@pytest.mark.shown_in("common", "wide")
def test_every_alarm_is_in_sight_on_a_desk(visit, site) -> None:
    seen = visit(site.address("file", "index.html"), width=1280, height=900).page.evaluate(SEEN)
    assert sorted(tree for tree, *_ in seen) == site.trees
    assert [one for one in seen if one[1] > 900 or one[2] < 16 or one[3] < 44] == []


BEFORE = """() => {
    const first = document.querySelector(".groups"), inner = [...document.querySelectorAll(".page > *, .first > *")];
    const before = inner.filter(one => one.compareDocumentPosition(first) & Node.DOCUMENT_POSITION_FOLLOWING);
    const calls = document.querySelector(".calls").getBoundingClientRect();
    return [before.map(one => one.className || one.localName), calls.bottom, first.getBoundingClientRect().top];
}"""


@pytest.mark.shown_in("wide")
def test_on_a_phone_only_numbers_and_the_box_stand_before_the_alarms(visit, site) -> None:
    page = visit(site.address("file", "index.html"), height=740).page
    before, numbers, alarms = page.evaluate(BEFORE)
    assert before == ["h1", "first", "strip strip--short", "calls", "finder"]
    assert numbers < 360 and alarms < 560


def test_a_wrong_address_shows_the_numbers_and_leads_into_the_box(visit, site) -> None:
    page = visit(site.address("http", "index.html")).page
    numbers = page.inner_text(".calls")
    page.goto(site.address("http", "404.html"))
    assert page.inner_text(".calls") == numbers
    page.click("text=What do you see or hear?")
    page.wait_for_function("document.activeElement.id === 'finder'")


FRAMES = """() => ["low", "medium", "high"].map(name => {
    const badge = document.createElement("span");
    badge.className = `priority priority--${name}`;
    document.querySelector(".groups li").append(badge);
    return parseFloat(getComputedStyle(badge).borderTopWidth);
})"""


@pytest.mark.shown_in("wide")
def test_the_list_of_alarms_prints_on_one_page(visit, site, tmp_path: Path) -> None:
    page = visit(site.address("file", "index.html"), apart=True).page
    page.pdf(path=tmp_path / "home.pdf", prefer_css_page_size=True)
    sheets = [sheet.extract_text() for sheet in PdfReader(tmp_path / "home.pdf").pages]
    assert len(sheets) == 1 and "What do you see or hear" not in sheets[0]
    assert "Alarm is not in the list" in sheets[0] and page.locator(".calls .phone").last.inner_text() in sheets[0]
    page.emulate_media(media="print")
    low, medium, high = page.evaluate(FRAMES)
    assert 0 < low < medium < high
