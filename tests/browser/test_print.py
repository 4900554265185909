"""Paper as a browser prints it: pages, sizes of type, codes; the binder; and the picture as a browser draws it."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pypdfium2
import pytest
import zxingcpp
from playwright.sync_api import Browser, Page
from pypdf import PageObject, PdfReader

from alarmtrees.model import Library
from alarmtrees.model.wording import fill
from alarmtrees.proof.order import reading_order
from alarmtrees.reading.drawings import words_of
from alarmtrees.site import binder
from alarmtrees.site.bedside.paper import COLUMN, Paper
from alarmtrees.site.bedside.sheet import page_address
from alarmtrees.site.markup import until_said
from once import once
from small_library import REPOSITORY, make, shipped_library

A4 = (595, 842)
LIBRARY = shipped_library()


@pytest.fixture(scope="module")
def small_site(tmp_path_factory: pytest.TempPathFactory, mkdocs: Callable[..., object]) -> Path:
    """The site of the small library, one tree of it withdrawn."""
    root = make(tmp_path_factory.mktemp("small") / "library")
    path = root / "trees" / "supply-low.yml"
    path.write_text(path.read_text("utf-8").replace("status: in-use", "status: withdrawn"), encoding="utf-8")
    done = mkdocs(root, "build")
    assert isinstance(done, subprocess.CompletedProcess) and done.returncode == 0, done.stderr
    return root / "site"


@dataclass(frozen=True)
class Sheet:
    """One printed sheet: its file, and of each page the words, the sizes of type in points, and its own size."""

    path: Path
    texts: list[str]
    sizes: list[set[float]]
    formats: set[tuple[int, int]]


def printed(page: Page, path: Path) -> Sheet:
    """Print what a page of the browser shows, as its reader would."""
    page.pdf(path=path, prefer_css_page_size=True, print_background=False)
    return as_printed(path)


def as_printed(path: Path) -> Sheet:
    """What stands in a printed file."""
    pages = PdfReader(path).pages
    formats = {(round(one.mediabox.width), round(one.mediabox.height)) for one in pages}
    read = [words_and_sizes(one) for one in pages]
    return Sheet(path, [text for text, _ in read], [size for _, size in read], formats)


@pytest.fixture(scope="module")
def sheets(browser: Browser, site, font: str, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Sheet]:
    """Sheets of this repository's trees, printed without scripts: the longest, and a fourth of all in the wide font,
    which needs most room; all there where `EVERY` is set."""
    trees = sorted({*TWO_PAGES, *site.some(1, 4)}) if font == "wide" else site.some(0)

    def print_all(folder: Path) -> None:
        page = browser.new_page(java_script_enabled=False)
        for tree in trees:
            page.goto(site.address("file", f"alarms/{tree}/index.html"))
            page.pdf(path=folder / f"{tree}.pdf", prefer_css_page_size=True, print_background=False)
        page.close()

    folder = once(tmp_path_factory, f"sheets-{font}", print_all)
    return {tree: as_printed(folder / f"{tree}.pdf") for tree in trees}


def words(page: PageObject) -> str:
    return " ".join(page.extract_text().split())


def words_and_sizes(page: PageObject) -> tuple[str, set[float]]:
    """The words of a page, and the sizes of all its type in points."""
    found: set[float] = set()

    def note(text: str, shift: list[float], matrix: list[float], _: object, size: float) -> None:
        if text.strip():
            found.add(round(abs(size * matrix[3] * shift[3]), 1))

    text = " ".join(page.extract_text(visitor_text=note).split())
    return re.sub(r"(?<=\w)- ", "-", text), found  # a line may end behind a hyphen


def letters(path: Path) -> list[str]:
    """The text of each page without any blanks: read fast, and without knowing where words end."""
    document = pypdfium2.PdfDocument(path)
    found = ["".join(page.get_textpage().get_text_range().split()) for page in document]
    document.close()
    return found


def squeezed(text: str) -> str:
    return "".join(text.split())


def codes(path: Path, page: int) -> list[str]:
    """The texts of all codes on a page of a PDF, read from its image at 144 dots an inch."""
    document = pypdfium2.PdfDocument(path)
    image = document[page].render(scale=2).to_numpy()
    document.close()
    return [code.text for code in zxingcpp.read_barcodes(image)]


# The wordiest trees: in type of 8 points they need more than a page, so they are set large on both sides of a sheet.
TWO_PAGES = {
    *("arm-or-brain-signs", "bleeding-elsewhere", "breathing-worse", "gas-pressure-high", "headache-or-legs-weak"),
    *("patient-fell", "pressure-too-high", "worse-after-weaning", "alarm-came-and-went", "two-alarms-at-once"),
}


def check(sheet: Sheet, title: str, until: str = "Do not use after", pages: int = 1) -> None:
    """A sheet says how many pages it has, and each page what it is and until when it holds."""
    total = len(sheet.texts)
    assert total == pages and sheet.formats == {A4}, title
    for number, text in enumerate(sheet.texts, start=1):
        assert f"Page {number} of {total}" in text and title in text, title
        assert until in text and "(fictional)" in text, title


@pytest.mark.shown_in("narrow", "wide")
def test_every_sheet_takes_one_page_and_the_wordiest_two(sheets: dict[str, Sheet]) -> None:
    """As many pages as were estimated when its type was chosen, and two only where no form fits one."""
    for tree, sheet in sheets.items():
        paper = Paper(LIBRARY, LIBRARY.trees[tree], reading_order(LIBRARY.trees[tree]))
        about = LIBRARY.trees[tree]
        check(sheet, about.title, until_said(LIBRARY, about), paper.pages(paper.form()))
    assert {tree for tree, sheet in sheets.items() if len(sheet.texts) > 1} <= TWO_PAGES
    assert max(len(sheet.texts) for sheet in sheets.values()) <= 2


@pytest.mark.shown_in("narrow", "wide")
def test_main_words_are_set_in_eight_points_and_cautions_half_a_point_smaller(sheets: dict[str, Sheet]) -> None:
    for tree, sheet in sheets.items():
        paper = Paper(LIBRARY, LIBRARY.trees[tree], reading_order(LIBRARY.trees[tree]))
        size, drawn = paper.form().size, words_drawn(paper)
        least, kinds = min(size - 0.5, 8), {*set().union(*sheet.sizes)}
        assert size >= 8 and min(drawn, default=8) >= 7.4 and any(abs(one - least) < 0.07 for one in kinds), tree
        # below it nothing but the words of pictures, between them nothing but the foot of the page, in 8 points
        known = (least, 8.0, size - 0.5, *drawn)
        assert all(one >= size - 0.06 or any(abs(one - other) < 0.07 for other in known) for one in kinds), tree


def words_drawn(paper: Paper) -> list[float]:
    """The sizes, in points, of the words in the pictures that a sheet has room for: they are as wide as a column."""
    nodes = (paper.tree.nodes[node_id] for node_id in paper.drawn(paper.form()))
    pictures = [picture for node in nodes if (picture := paper.tree.picture_at(node))]
    return [word.size * COLUMN / picture.width for picture in pictures for word in words_of(picture)]


@pytest.mark.shown_in("narrow", "wide")
def test_steps_are_printed_in_order_and_none_is_split(sheets: dict[str, Sheet]) -> None:
    for tree_id, sheet in sheets.items():
        tree, text, at = LIBRARY.trees[tree_id], " ".join(sheet.texts), 0
        for node_id in Paper(LIBRARY, tree, reading_order(tree)).steps:
            lines = [" ".join(fill(line, LIBRARY.settings).split()) for line in tree.nodes[node_id].lines]
            for line in lines:
                at = text.index(line, at)
            assert [page for page in sheet.texts if all(line in page for line in lines)], node_id


@pytest.mark.shown_in("narrow", "wide")
def test_sheets_to_write_on_take_one_page_each(site, browser: Browser, tmp_path: Path) -> None:
    page = browser.new_page(java_script_enabled=False)
    names = sorted(path.parent.name for path in (site.folder / "forms").glob("*/index.html"))
    assert len(names) == 4
    for name in names:
        page.goto(site.address("file", f"forms/{name}/index.html"))
        sheet = printed(page, tmp_path / f"{name}.pdf")
        about = {**LIBRARY.articles, **LIBRARY.calculators}[name]
        check(sheet, about.title, until_said(LIBRARY, about))
        assert min(sheet.sizes[0]) >= 7.5 and "Patient’s label" in sheet.texts[0], name
        assert "to print and to write on" not in sheet.texts[0], name
        assert len(codes(sheet.path, 0)) == 1, name
    page.close()


@pytest.mark.shown_in("narrow", "wide")
def test_code_leads_to_the_address_beside_it(sheets: dict[str, Sheet]) -> None:
    for tree, sheet in sheets.items():
        address = page_address(LIBRARY, tree)
        assert codes(sheet.path, 0) == [address]
        assert address in sheet.texts[0]


def test_where_the_walk_stands_changes_nothing_on_paper(visit, site, sheets: dict[str, Sheet], tmp_path: Path) -> None:
    tree = site.trees[0]
    page = visit(site.address("file", f"alarms/{tree}/index.html")).page
    for _ in range(3):
        answers = page.locator(".step--shown [data-to]")
        if answers.count():
            answers.first.click()
    assert printed(page, tmp_path / "walked.pdf").texts == sheets[tree].texts
    for noise in ("Search", "All alarms", "So far", "Back", "Rests on", "at a glance"):
        assert noise not in " ".join(sheets[tree].texts), noise


@pytest.mark.shown_in("narrow", "wide")
def test_small_tree_takes_one_page_in_large_type(visit, small_site: Path, tmp_path: Path) -> None:
    sheet = printed(visit(f"{small_site.as_uri()}/alarms/line-open/index.html").page, tmp_path / "small.pdf")
    check(sheet, "Line is open")
    assert min(sheet.sizes[0] - {8.0}) == 9.5


def test_withdrawn_tree_prints_only_that_and_whom_to_call(visit, small_site: Path, tmp_path: Path) -> None:
    sheet = printed(visit(f"{small_site.as_uri()}/alarms/supply-low/index.html").page, tmp_path / "gone.pdf")
    text = sheet.texts[0]
    assert len(sheet.texts) == 1 and "Withdrawn." in text and "5 0001 (fictional)" in text
    assert "Step" not in text and "→" not in text


# The binder


@pytest.mark.shown_in("wide")
def test_binder_holds_everything_under_the_pages_of_its_contents(site, tmp_path: Path, browser) -> None:
    out = tmp_path / "binder.pdf"
    total = binder.make_binder(site.folder, REPOSITORY, out)
    pages = letters(out)
    assert len(pages) == total
    found = binder.parts(site.folder, REPOSITORY)
    reader = PdfReader(out).pages
    begins = re.search(rf"{re.escape(re.sub(r'&[a-z]+;', '', found[0].title))} (\d+)\b", words(reader[1]))
    assert begins
    contents = " ".join(words(page) for page in reader[1 : int(begins[1]) - 1])  # they may take more than one page
    sheets_at = []
    for part in found:
        title = re.sub(r"&\w+;", "", part.title)
        listed = re.search(rf"{re.escape(title)} (\d+)\b", contents)
        assert listed, title
        first = int(listed[1])
        assert squeezed(title) in pages[first - 1], title
        assert squeezed(f"Page {first} of {total}") in pages[first - 1], title
        sheets_at += [first - 1] if part.kind == "Alarms" else []
    assert {part.path.split("/")[1] for part in found if part.kind == "Alarms"} == set(site.trees)
    for number, text in enumerate(pages[1:], start=2):
        assert squeezed(f"Page {number} of {total}") in text
    read = [text for number in sheets_at for text in codes(out, number)]
    assert sorted(read) == sorted(page_address(LIBRARY, tree) for tree in site.trees)


def test_binder_names_no_folder_of_the_machine_that_made_it(site, tmp_path: Path, browser) -> None:
    found = binder.parts(site.folder, REPOSITORY)
    html = binder.document(site.folder, found, [1] * len(found))
    assert not [href for href in re.findall(r'href="([^"]*)"', html) if not href.startswith("#part-")]
    ids = re.findall(r' id="(part-\d+)"', html)
    assert len(ids) == len(set(ids)) == len(found)


def test_binder_shows_a_withdrawn_tree_as_such(small_site: Path, browser) -> None:
    found = {part.path: part for part in binder.parts(small_site, small_site.parent)}
    assert "Withdrawn." in found["alarms/supply-low/index"].body and not found["alarms/supply-low/index"].style
    assert "→" in found["alarms/line-open/index"].body


# The picture


@pytest.mark.shown_in("narrow", "wide")
def test_words_of_the_picture_stay_inside_their_boxes(visit, site) -> None:
    page = visit(site.address("file", "index.html"), width=1280, height=800).page
    for tree in site.some(3):
        page.goto(site.address("file", f"alarms/{tree}/index.html"))
        page.wait_for_selector("#_picture svg")
        assert not page.locator("#_picture .nest").first.is_visible()
        outside = page.locator("#_picture svg a").evaluate_all(
            """all => all.filter(one => {
                const box = one.querySelector("rect").getBBox(), text = one.querySelector("text").getBBox();
                return text.x < box.x || text.x + text.width > box.x + box.width
                    || text.y < box.y || text.y + text.height > box.y + box.height;
            }).map(one => one.textContent)"""
        )
        assert outside == [], tree
        size = page.locator("#_picture svg").evaluate(
            "one => one.getBoundingClientRect().width / one.viewBox.baseVal.width"
        )
        assert size >= 0.99 and page.evaluate("document.documentElement.scrollWidth <= innerWidth"), tree


def test_box_opens_its_step_without_a_script(visit, site) -> None:
    tree = site.trees[0]
    address = site.address("file", f"alarms/{tree}/index.html")
    page = visit(address, width=1280, height=800, java_script_enabled=False).page
    page.locator("#_picture summary").click()
    for node_id in list(LIBRARY.trees[tree].nodes)[:4]:
        page.locator(f'#_picture .picture__list a[href="#{node_id}"]').last.click()
        assert page.url == f"{address}#{node_id}"


@pytest.mark.parametrize("width", [320, 390])
def test_on_a_phone_the_steps_are_a_nested_list(visit, site, width: int) -> None:
    page = visit(site.address("file", f"alarms/{site.trees[0]}/index.html"), width=width).page
    assert not page.locator("#_picture svg").is_visible()
    page.locator("#_picture summary").click()
    assert page.locator("#_picture .nest").first.is_visible()
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    low = page.locator("#_picture .nest a").evaluate_all("all => all.map(one => one.getBoundingClientRect().height)")
    assert min(low) >= 44


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1280])
def test_picture_is_accessible(visit, site, axe: str, width: int, scheme: str) -> None:
    page = visit(site.address("file", f"alarms/{site.trees[-1]}/index.html"), width=width, color_scheme=scheme).page
    if width == 390:
        page.locator("#_picture summary").click()
    else:
        page.wait_for_selector("#_picture svg")
    page.evaluate(axe)
    tags = ["wcag2a", "wcag2aa", "wcag2aaa", "wcag21aa", "wcag22aa", "best-practice"]
    result = page.evaluate("tags => axe.run('#_picture', {runOnly: {type: 'tag', values: tags}})", tags)
    assert [(fault["id"], fault["nodes"][0]["html"]) for fault in result["violations"]] == []
    if width == 1280:
        drawing = page.locator("#_picture svg")
        assert drawing.get_attribute("aria-label") and drawing.get_attribute("role") == "group"


def test_library_of_this_repository_is_the_one_of_the_site(site) -> None:
    assert isinstance(LIBRARY, Library) and sorted(LIBRARY.trees) == site.trees
