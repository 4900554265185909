"""Articles in the browser: boxes that are ticked, kept, cleared and printed empty, and the way there from home."""

from __future__ import annotations

from pathlib import Path

import pytest
from pypdf import PdfReader
from test_site import AXE_COLOURS

ARTICLE = "starting-up.html"


def ticked(page) -> list[bool]:
    return page.locator(".tick input").evaluate_all("all => all.map(one => one.checked)")


def test_ticks_stay_while_the_tab_is_open_and_are_cleared_at_once(visit, site) -> None:
    visited = visit(site.address("http", ARTICLE))
    page = visited.page
    count = page.locator(".tick").count()
    page.locator(".tick span").nth(1).click()  # the whole line ticks
    page.locator(".tick input").nth(2).focus()
    page.keyboard.press("Space")
    assert ticked(page) == [index in (1, 2) for index in range(count)]
    assert page.locator(".ticks [role=status]").inner_text() == f"2 of {count} ticked"
    page.reload()
    assert ticked(page) == [index in (1, 2) for index in range(count)]
    page.get_by_role("button", name="Clear ticks").click()
    assert not any(ticked(page)) and page.get_by_role("button", name="Clear ticks").is_disabled()
    page.reload()
    assert not any(ticked(page)) and visited.faults == []
    sizes = page.locator(".tick, .ticks button, .jump a").evaluate_all(
        "all => all.map(one => one.getBoundingClientRect().height)"
    )
    assert min(sizes) >= 44


def test_ticks_of_one_article_are_not_those_of_another(visit, site) -> None:
    page = visit(site.address("http", ARTICLE)).page
    page.locator(".tick").first.click()
    page.goto(site.address("http", "timing.html"))
    assert not any(ticked(page))


def test_boxes_tick_without_a_script_and_from_a_folder(visit, site) -> None:
    page = visit(site.address("file", ARTICLE), java_script_enabled=False).page
    page.locator(".tick span").first.click()
    assert page.locator(".tick input").first.is_checked() and page.locator(".ticks").count() == 0


def test_paper_shows_empty_boxes_and_until_when_it_holds(visit, site, tmp_path: Path) -> None:
    page = visit(site.address("http", ARTICLE)).page
    page.locator(".tick").first.click()
    page.emulate_media(media="print")
    box = page.locator(".tick input").first
    assert box.evaluate("one => getComputedStyle(one).backgroundColor") == "rgba(0, 0, 0, 0)"
    assert box.evaluate("one => getComputedStyle(one, '::after').content") == "none"
    page.pdf(path=tmp_path / "a.pdf", prefer_css_page_size=True)
    text = " ".join(PdfReader(tmp_path / "a.pdf").pages[0].extract_text().split())
    assert "Do not use after 20" in text and "Clear ticks" not in text and "Cautions" in text


def test_every_article_is_two_clicks_from_home(visit, site) -> None:
    page = visit(site.address("file", "index.html"), java_script_enabled=False).page
    page.get_by_role("link", name="Tasks", exact=True).first.click()
    links = page.locator("[data-article]")
    first = links.first.get_attribute("data-article")
    listed = links.evaluate_all("all => all.map(one => one.dataset.article)")
    assert len(listed) > 20 and all((site.folder / f"{key}.html").is_file() for key in listed)
    links.first.click()
    assert page.url.endswith(f"/{first}.html") and page.locator("h1").count() == 1


def test_word_of_the_glossary_leads_to_its_meaning(visit, site) -> None:
    page = visit(site.address("file", ARTICLE)).page
    word = page.locator("a.term").first
    means = word.get_attribute("title")
    word.click()
    assert "/words/index.html#" in page.url
    assert means in page.locator(":target").locator("xpath=..").inner_text()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_nothing_for_axe_on_an_article_and_the_lists(visit, site, axe: str, scheme: str) -> None:
    page = visit(site.address("file", ARTICLE), color_scheme=scheme).page
    # In the dark only colours are others.
    options = "{resultTypes: ['violations']}" if scheme == "light" else AXE_COLOURS
    for name in (ARTICLE, "whole-job.html", "articles/index.html", "numbers/index.html", "sources/index.html"):
        page.goto(site.address("file", name))
        page.evaluate(axe)
        found = page.evaluate(f"axe.run({options}).then(told => told.violations)")
        assert [(one["id"], one["nodes"][0]["html"]) for one in found] == [], name
