"""Slides in a real browser: turned by key and button, nothing cut off, one a page on paper, whole without scripts."""

from __future__ import annotations

from pathlib import Path

import pytest
from pypdf import PdfReader
from test_site import judged

SOME = ("gas-line-disconnected", "starting-up", "reading-the-trace", "whole-job", "pump-stopped")

# For every slide, shown alone: whether anything of it lies outside, and the smallest letters of what is taught.
EACH = """() => {
    const slides = [...document.querySelectorAll(".slide")];
    return slides.map(shown => {
        slides.forEach(one => one.toggleAttribute("data-shown", one === shown));
        const right = [...shown.querySelectorAll("*")].filter(one => !one.closest(".unseen, thead, svg"))
            .map(one => one.getBoundingClientRect().right);
        const sizes = [...shown.querySelectorAll(":is(p, li, td, th, pre, code):not(.count)")]
            .map(one => parseFloat(getComputedStyle(one).fontSize));
        return [shown.scrollHeight - shown.clientHeight, Math.max(...right) - innerWidth, Math.min(...sizes)];
    });
}"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory, shipped_site) -> Path:
    """The slides of this repository as files; they need no other."""
    root = tmp_path_factory.mktemp("slides")
    for file in shipped_site[1]:
        if not file.path.startswith("slides/"):
            continue
        path = root / file.path
        path.parent.mkdir(parents=True)
        path.write_text(file.text, encoding="utf-8")
    return root


def address(folder: Path, name: str) -> str:
    return (folder / "slides" / name / "index.html").as_uri()


def overlap(a: dict[str, float], b: dict[str, float]) -> bool:
    apart_across = a["x"] + a["width"] <= b["x"] or b["x"] + b["width"] <= a["x"]
    return not (apart_across or a["y"] + a["height"] <= b["y"] or b["y"] + b["height"] <= a["y"])


def test_turned_by_key_and_by_button(visit, folder: Path) -> None:
    visited = visit(f"{address(folder, SOME[0])}#3", width=1280, height=720)
    page = visited.page
    count = page.locator(".slide").count()

    def shown() -> int:
        number = page.locator(".slide:visible").get_attribute("id")
        assert page.locator(".slide:visible").count() == 1
        return int(number)

    assert shown() == 3
    for key, number in [
        *(("ArrowRight", 4), ("PageDown", 5), ("Space", 6), ("Shift+Space", 5), ("PageUp", 4), ("ArrowLeft", 3)),
        *(("Home", 1), ("ArrowLeft", 1), ("End", count), ("ArrowRight", count)),
    ]:
        page.keyboard.press(key)
        assert shown() == number and page.url.endswith(f"#{number}")
        assert page.evaluate("document.activeElement.id") == str(number)
    page.get_by_role("button", name="Previous").click()
    assert shown() == count - 1
    page.reload()
    assert shown() == count - 1
    page.goto(f"{address(folder, SOME[0])}#5")
    page.reload()
    assert shown() == 5
    page.keyboard.press("End")
    page.locator("summary").first.focus()
    page.keyboard.press("Space")
    assert shown() == count and page.locator("details[open]").count() == 1
    page.get_by_role("button", name="Previous").press("Space")
    assert shown() == count - 1
    assert visited.faults == []
    assert {url.partition("#")[0] for url in visited.asked} == {address(folder, SOME[0])}


@pytest.mark.shown_in("narrow", "wide")
@pytest.mark.parametrize(("width", "height", "scheme"), [(1280, 720, "light"), (360, 640, "dark")])
def test_nothing_is_cut_off_and_axe_finds_nothing(visit, folder: Path, axe: str, width, height, scheme) -> None:
    page = visit(address(folder, SOME[0]), width=width, height=height, color_scheme=scheme).page
    for name in SOME:
        page.goto(address(folder, name))
        for number, (over, beyond, letters) in enumerate(page.evaluate(EACH), start=1):
            assert beyond <= 0, (name, number)
            assert width < 1000 or (over <= 0 and letters >= 24), (name, number)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        if name in SOME[:2]:
            page.reload()
            assert judged(page, axe) == []
    boxes = [one.bounding_box() for one in page.locator("nav > *, .count:visible").all()]
    assert all(box["height"] >= 44 for box in boxes[-3:]) and len(boxes) == 4
    assert not [(a, b) for a in boxes for b in boxes if a is not b and overlap(a, b)]
    page.evaluate("document.documentElement.classList.remove('js')")
    assert judged(page, axe) == []


@pytest.mark.shown_in("narrow", "wide")
def test_buttons_stand_apart_and_their_words_are_whole_at_every_width(visit, folder: Path) -> None:
    page = visit(address(folder, SOME[0])).page
    for width in (320, 360, 600, 719, 720, 900, 1280):
        page.set_viewport_size({"width": width, "height": 640})
        parts = "nav > *" if width < 720 else "nav > *, .count:visible"  # on a phone the count moves with the slide
        boxes = [one.bounding_box() for one in page.locator(parts).all()]
        assert not [(a, b) for a in boxes for b in boxes if a is not b and overlap(a, b)], width
        assert all(box["x"] >= 0 and box["x"] + box["width"] <= width for box in boxes), width
        told = page.locator("nav button").evaluate_all(
            "all => all.map(one => [one.scrollWidth - one.clientWidth, one.offsetHeight])"
        )
        assert told == [[0, 48]] * 2, width


@pytest.mark.shown_in("narrow", "wide")
def test_without_scripts_all_stand_there_and_on_paper_one_a_page(visit, folder: Path, tmp_path: Path) -> None:
    page = visit(address(folder, SOME[0]), java_script_enabled=False).page
    count = page.locator(".slide").count()
    assert page.locator(".slide:visible").count() == count
    page = visit(f"{address(folder, SOME[0])}#2", width=1280, height=720).page
    page.pdf(path=tmp_path / "slides.pdf", prefer_css_page_size=True)
    pages = PdfReader(tmp_path / "slides.pdf").pages
    assert len(pages) == count
    for number, one in enumerate(pages, start=1):
        assert one.mediabox.width > one.mediabox.height
        text = " ".join(one.extract_text().split())
        assert f"{number} of {count}" in text and "policy and the maker’s instructions come first." in text
        assert ("All slides" in text) == (number == 1) and "Previous" not in text


@pytest.mark.shown_in("narrow", "wide")
def test_a_number_of_two_digits_has_room_and_no_word_is_broken(visit, folder: Path) -> None:
    page = visit(address(folder, "starting-up"), width=1280, height=720).page
    for media in ("screen", "print"):
        page.emulate_media(media=media)
        room, wide = page.evaluate("""() => {
            const list = document.querySelector("ol:not(.way)"), style = getComputedStyle(list);
            const pen = document.createElement("canvas").getContext("2d");
            pen.font = `${style.fontSize} ${style.fontFamily}`;
            return [parseFloat(style.paddingLeft), pen.measureText("10. ").width];
        }""")
        assert room >= wide, media
    page.emulate_media(media="screen")
    page.goto(address(folder, SOME[0]))
    breaks = "all => [...new Set(all.map(one => getComputedStyle(one)).map(one => one.overflowWrap + one.hyphens))]"
    assert page.locator(".slide :not(code)").evaluate_all(breaks) == ["normalnone"]
