"""The bench in a real browser: on a phone, by keyboard, from a folder, standing still for those who want that."""

from __future__ import annotations

import gzip
import re
from pathlib import Path

import pytest

from browser.until import until

PAGE = "bench.html"
MOST = 60_000
"""What the page may weigh with its scripts, in bytes as they are sent."""

DRAWN = """() => {
    let sum = 7;
    for (const sign of document.querySelector("canvas").toDataURL()) sum = (sum * 31 + sign.charCodeAt(0)) % 1000003;
    return sum;
}"""
SMALL = """() => [...document.querySelectorAll("#_bench :is(button, select, summary, .pick, input[type=range])")]
    .filter(one => one.offsetParent && one.offsetHeight < 48).map(one => one.outerHTML)"""
AXE = "axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21aa', 'best-practice']})"


def test_strip_stays_in_sight_while_a_slider_is_moved_on_a_phone(visit, site) -> None:
    visited = visit(site.address("file", PAGE))
    page = visited.page
    slider = page.locator("#_empty")
    slider.evaluate("one => one.scrollIntoView({block: 'end'})")
    picture, at = page.locator(".bench__picture").bounding_box(), slider.bounding_box()
    assert picture["y"] >= -1 and picture["y"] + picture["height"] <= at["y"]
    assert picture["height"] < 330 and at["y"] + at["height"] <= 641
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    assert page.evaluate(SMALL) == []
    one = page.evaluate(DRAWN)
    until(page, f"({DRAWN})() !== {one}")
    assert visited.faults == [] and visited.foreign(site) == []


def test_slider_says_its_value_in_words_and_what_follows_is_told_once_it_rests(visit, site) -> None:
    page = visit(site.address("file", PAGE)).page
    seen, slider = page.locator("#_seen"), page.locator("#_fill")
    assert slider.get_attribute("aria-valuetext") == "in the notch"
    assert "Filling: right. Emptying: right." in seen.inner_text()
    slider.focus()
    for _ in range(8):
        page.keyboard.press("ArrowLeft")
    assert slider.get_attribute("aria-valuetext") == "80 ms before the notch"
    assert "Filling: right" in seen.inner_text()
    until(page, "document.getElementById('_seen').innerText.includes('Filling: too early.')")
    assert len(re.findall(r"\d augmented peak \d", seen.inner_text())) == 1
    page.locator("[data-usual]").click()
    assert slider.get_attribute("aria-valuetext") == "in the notch"


def test_who_wants_no_motion_gets_a_strip_that_is_drawn_anew(visit, site) -> None:
    page = visit(site.address("file", PAGE), apart=True, reduced_motion="reduce").page
    still = page.evaluate(DRAWN)
    page.wait_for_timeout(300)
    assert page.evaluate(DRAWN) == still
    page.locator("#_empty").press("End")
    until(page, f"({DRAWN})() !== {still}")
    page.locator("[data-run]").click()
    one = page.evaluate(DRAWN)
    until(page, f"({DRAWN})() !== {one}")


def test_fault_is_named_and_the_reason_given(visit, site) -> None:
    page = visit(site.address("file", f"{PAGE}#find/5")).page
    assert page.locator("h2", has_text="What is wrong here?").is_visible()
    assert page.locator("#_fill").is_hidden() and page.locator("[data-verdict]").inner_text() == ""
    answer = page.locator("button", has_text="This is wrong")
    assert answer.is_disabled()
    page.locator(".picks input").first.check()
    answer.click()
    assert page.evaluate("document.activeElement.tagName") == "H2"
    assert page.locator("#_task li").count() >= 1 and page.locator("[data-beside]").is_checked()
    page.locator("button", has_text="Another one").click()
    assert page.url.split("#")[1] != "find/5"


def test_timing_is_set_right_in_the_fewest_moves(visit, site) -> None:
    page = visit(site.address("file", f"{PAGE}#set/5")).page
    done = page.locator("button", has_text="It is right now")
    done.click()
    assert "Not yet." in page.locator("#_task [role=status]").inner_text()
    wrong = page.evaluate("alarmtrees.bench.scene")
    for name in ("fill", "empty"):
        slider = page.locator(f"#_{name}")
        assert slider.get_attribute("aria-valuetext") == "as at first"
        slider.fill(str(round(int(slider.input_value()) - 1000 * wrong[name])))
    done.click()
    assert page.locator("#_task h2").inner_text() == "✓ Right, in 2 moves"
    assert "No fewer would do." in page.locator("#_task").inner_text()
    page.locator("[data-way=free]").click()
    assert "#" not in page.url


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_bench_is_accessible_and_drawn_in_the_inks_of_the_page(visit, site, axe, scheme) -> None:
    page = visit(site.address("file", f"{PAGE}#find/5"), color_scheme=scheme).page
    page.evaluate(axe)
    page.locator("button", has_text="Nothing is wrong").click()
    for way in ("", "document.querySelector('[data-way=free]').click()"):
        page.evaluate(way or "0")
        found = page.evaluate(AXE)["violations"]
        assert [(one["id"], [node["html"][:120] for node in one["nodes"]]) for one in found] == []


def test_without_scripts_it_says_what_it_needs_and_where_the_pictures_are(visit, site) -> None:
    page = visit(site.address("file", PAGE), java_script_enabled=False).page
    assert "needs JavaScript" in page.locator("noscript").inner_text()
    assert page.locator("noscript a").get_attribute("href") == "moving-the-timing.html"
    assert page.locator("#_bench").is_hidden()


def test_page_is_light_and_its_scripts_are_asked_for_nowhere_else(site) -> None:
    text = (site.folder / PAGE).read_text(encoding="utf-8")
    scripts = re.findall(r'<script src="([^"]+)"', text)
    assert {"assets/bench.js", "assets/page.js"} <= set(scripts)
    weight = sum(len(gzip.compress((site.folder / name).read_bytes())) for name in (PAGE, *scripts))
    assert weight < MOST
    others = [name for name in site.pages if "bench.js" in Path(site.folder / name).read_text(encoding="utf-8")]
    assert others == [PAGE]
