"""Pressure traces on the site: figures on their pages, and rows of them that are turned one by one."""

from __future__ import annotations

import pytest

PAGES = (
    *("reading-the-trace", "moving-the-timing", "what-imitates-mistiming", "timing", "five-pressures"),
    *("which-line", "ringing-line", "gas-pressure-curve", "choosing-a-trigger"),
)
ROW = "moving-the-timing.html"


def shown(page) -> list[str]:
    """The captions of the steps that are to be seen in the first row."""
    return [text for text in page.locator(".moved").first.locator("figcaption b").all_inner_texts() if text]


@pytest.mark.parametrize("name", PAGES)
def test_every_figure_is_on_its_page_and_nothing_is_wider_than_a_phone(visit, site, name) -> None:
    visited = visit(site.address("file", f"{name}.html"))
    page = visited.page
    assert page.locator("figure.trace svg[role=img]").count() >= 1
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    assert all(len(label) > 20 for label in page.locator("figure svg").evaluate_all("a => a.map(s => s.ariaLabel)"))
    assert visited.faults == [] and visited.foreign(site) == []


def test_signs_in_a_figure_can_be_read_on_a_phone(visit, site) -> None:
    """As the reader sees them: the letter's size times the scale of the picture."""
    page = visit(site.address("file", "reading-the-trace.html")).page
    size = page.locator("figure.trace svg").first.evaluate(
        "svg => parseFloat(getComputedStyle(svg.querySelector('text')).fontSize) * svg.clientWidth / 480"
    )
    assert size >= 13


# What of the words in the drawings lies outside of them; the highest letters do not fill the height of a line.
OUTSIDE = """() => [...document.querySelectorAll("article svg")].flatMap(one => {
    if (!one.getClientRects().length) return [];
    const box = one.getBoundingClientRect();
    return [...one.querySelectorAll("text")].filter(text => {
        const its = text.getBoundingClientRect(), high = its.height / 4;
        return its.left < box.left - 1 || its.right > box.right + 1
            || its.top < box.top - high || its.bottom > box.bottom + high;
    }).map(text => text.textContent);
})"""
DRAWN = (
    *("reading-the-trace.html", "moving-the-timing.html", "gas-pressure-curve.html", "choosing-a-trigger.html"),
    *(f"calculators/{name}/index.html" for name in ("altitude", "five-pressures", "timing", "weaning-plan-volume")),
)


@pytest.mark.shown_in("narrow", "wide")
def test_no_word_of_a_drawing_leaves_it_in_any_font(visit, site) -> None:
    page = visit("about:blank").page
    for width in (360, 1280):
        page.set_viewport_size({"width": width, "height": 800})
        for name in DRAWN:
            page.goto(site.address("file", name))
            assert page.locator("article svg text").count() > 4
            assert page.evaluate(OUTSIDE) == [], (name, width)


def test_a_row_is_turned_by_large_buttons_and_stops_at_its_ends(visit, site) -> None:
    page = visit(site.address("file", ROW)).page
    row = page.locator(".moved").first
    earlier, later = row.locator(".moved__turn button").all()
    count = row.locator(".moved__steps > li").count()
    where = row.locator("[role=status]")
    assert row.locator(".moved__steps > li:visible").count() == 1
    assert where.inner_text().endswith("not moved")
    assert min(button.bounding_box()["height"] for button in (earlier, later)) >= 48
    later.click()
    assert where.inner_text().endswith("40 ms later")
    earlier.focus()
    for _ in range(count):
        if earlier.is_enabled():
            page.keyboard.press("Enter")
    assert where.inner_text().startswith(f"Picture 1 of {count}") and earlier.is_disabled()
    for _ in range(count - 1):
        later.click()
    assert where.inner_text().startswith(f"Picture {count} of {count}") and later.is_disabled()
    assert row.locator(".moved__steps > li:visible").count() == 1


def test_without_a_script_and_on_paper_all_steps_stand_there(visit, site) -> None:
    page = visit(site.address("file", ROW), java_script_enabled=False).page
    steps = page.locator(".moved__steps > li")
    assert steps.count() > 10 and page.locator(".moved__steps > li:visible").count() == steps.count()
    assert page.locator(".moved__turn").count() == 0
    printed = visit(site.address("file", ROW)).page
    printed.emulate_media(media="print")
    assert printed.locator(".moved__steps > li:visible").count() == steps.count()
    assert printed.locator(".moved__turn:visible").count() == 0


PAIRS = """() => [...document.querySelectorAll(".trace__pair")].filter(pair => {
    const [left, right] = [...pair.querySelectorAll("svg")].map(one => one.getBoundingClientRect());
    const high = Math.max(left.bottom, right.bottom) - Math.min(left.top, right.top);
    const level = Math.abs(left.top - right.top) < 2;
    return !(level && left.right <= right.left && right.right <= innerWidth && high <= innerHeight);
}).map(pair => pair.closest("figure").id)"""


def test_what_is_to_be_compared_is_in_one_view_on_a_desktop_and_below_on_a_phone(visit, site) -> None:
    page = visit("about:blank").page
    for name in ("reading-the-trace", "what-imitates-mistiming", "gas-pressure-curve"):
        page.set_viewport_size({"width": 1280, "height": 900})
        page.goto(site.address("file", f"{name}.html"))
        assert page.locator(".trace__pair").count() >= 2
        assert page.evaluate(PAIRS) == []
        assert page.evaluate("document.documentElement.scrollWidth") <= 1280
        assert page.locator(".trace table:visible").count() == 0
        page.set_viewport_size({"width": 360, "height": 640})
        assert len(page.evaluate(PAIRS)) == page.locator(".trace__pair").count()
    page.set_viewport_size({"width": 1280, "height": 900})
    page.goto(site.address("file", ROW))
    still, step = (page.locator(".moved svg >> visible=true").nth(at).bounding_box() for at in (1, 0))
    assert still["y"] == pytest.approx(step["y"], abs=2) and still["x"] >= step["x"] + step["width"]


def test_traces_of_an_alarm_come_when_the_fold_is_opened(visit, site) -> None:
    opened = visit(site.address("file", "alarms/timing-suspect/index.html"), 1280, 900)
    page = opened.page
    assert page.locator("#_traces figure").count() == 0
    assert not any(url.endswith("traces.js") for url in opened.asked)
    page.locator("#_traces summary").first.click()
    page.wait_for_selector("#_traces figure svg")
    page.wait_for_load_state()
    assert page.locator("#_traces figure svg:visible").count() >= 5
    assert page.evaluate("document.documentElement.scrollWidth") <= 1280
    page.wait_for_function("getComputedStyle(document.querySelector('.trace__line')).fill === 'none'")
    assert page.evaluate(PAIRS) == []
    page.locator("#trace-late-deflation svg").last.scroll_into_view_if_needed()
    covered = "svg => { const b = svg.getBoundingClientRect();"
    covered += " return !svg.contains(document.elementFromPoint(b.x + b.width / 2, b.y + b.height / 2)); }"
    assert not page.locator("#trace-late-deflation svg").last.evaluate(covered)
    assert opened.faults == [] and opened.foreign(site) == []


def test_without_a_script_the_fold_leads_to_where_the_traces_stand(visit, site) -> None:
    page = visit(site.address("file", "alarms/gas-line-kinked/index.html"), java_script_enabled=False).page
    page.locator("#_traces summary").click()
    page.locator("#_traces a").first.click()
    assert page.url.endswith("what-imitates-mistiming.html#trace-kink")
    assert page.locator("#trace-kink svg:visible").count() == 2
    page.goto(site.address("file", "alarms/power-low/index.html"))
    assert page.locator("#_traces").count() == 0


@pytest.mark.parametrize(("scheme", "name"), [("light", ROW), ("dark", ROW), ("dark", "gas-pressure-curve.html")])
def test_pages_with_traces_are_accessible(visit, site, axe, scheme, name) -> None:
    page = visit(site.address("file", name), color_scheme=scheme).page
    page.evaluate(axe)
    result = page.evaluate("axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21aa', 'best-practice']})")
    assert [(found["id"], [node["html"][:120] for node in found["nodes"]]) for found in result["violations"]] == []
