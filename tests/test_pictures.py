"""A picture goes with its step: into the stamp, onto page, paper and slides, into exports and the terminal."""

from __future__ import annotations

import json
import re
from datetime import date
from html import unescape
from pathlib import Path
from urllib.parse import unquote

import pytest

from alarmtrees.check.run import check_library
from alarmtrees.compare.versions import read_version
from alarmtrees.exports import export, open_subject
from alarmtrees.model import Library, Map, Source
from alarmtrees.model.stamp import content_stamp, is_stale
from alarmtrees.reading.drawings import Word, build_pictures, words_of
from alarmtrees.reading.offered import offered_names
from alarmtrees.reading.open import open_library
from alarmtrees.site.bedside.tree import tree_page
from alarmtrees.site.build import build_pages
from alarmtrees.site.knowledge.article import article_markdown
from alarmtrees.site.knowledge.pictures import pictures_page
from alarmtrees.site.teaching.slides import article_slides, tree_slides
from alarmtrees.terminal.cli import main
from cases.bundle import CASES, files_of, write_library
from small_library import swap

TODAY = date(2026, 11, 25)
DRAWN, TREE, ARTICLE = "kb/pictures/lamp.svg", "trees/a.yml", "kb/zeroing.md"
SAID = "A console seen from the front. Its lamp is at the top, and it is lit."


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A signed tree and a signed article that show one picture."""
    files = files_of((CASES / "picture" / "good" / "shown.txt").read_text("utf-8"))
    files.pop("findings")
    return write_library(tmp_path / "library", files)


@pytest.fixture
def library(root: Path) -> Library:
    return open_library(root)


def images(html: str) -> list[str]:
    return re.findall(r"<img[^>]*>", html)


# What is read


def drawn(body: str) -> list[Word]:
    text = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 360 200">{body}</svg>'
    return words_of(build_pictures([Source("a.svg", "picture", "a", text, Map((1, 1)), ())])["a"])


def test_words_stand_where_groups_and_lines_put_them() -> None:
    assert drawn('<g font-size="20" transform="translate(5 -3)"><text x="1" y="10">A  b</text></g>') == [
        Word("A b", 6, 7, 20, "start", False)
    ]
    lines = '<tspan>more</tspan><tspan x="8" dy="12">two</tspan>'
    two = drawn(f'<text x="9" y="10" font-size="15px" text-anchor="end">One {lines}</text>')
    assert two == [Word("One more", 9, 10, 15, "end", False), Word("two", 8, 22, 15, "end", False)]
    turned = drawn('<g transform="rotate(9)"><text>A</text></g><text>B</text>')
    assert [word.is_turned for word in turned] == [True, False]
    assert [word.size for word in drawn('<text font-size="1em">A</text><text>B</text>')] == [0, 16]


@pytest.mark.parametrize("text", ["", "<svg", '<!DOCTYPE a [<!ENTITY b "c">]><svg/>', "<svg>&nbsp;</svg>"])
def test_what_cannot_be_read_is_no_picture(text: str) -> None:
    assert build_pictures([Source("a.svg", "picture", "a", text, Map((1, 1)), ())]) == {}


# What is signed and compared


@pytest.mark.parametrize("change", [("Lamp<", "Lamps<"), ("it is lit", "it is dark"), ("Where the", "Why the")])
def test_an_edit_of_a_picture_makes_stale_all_that_shows_it(root: Path, change: tuple[str, str]) -> None:
    library = open_library(root)
    assert not is_stale(library.trees["a"]) and not is_stale(library.articles["zeroing"])
    swap(root / DRAWN, *change)
    found = [finding for finding in check_library(root, TODAY).findings if finding.rule == "review-stale"]
    assert [finding.place.file for finding in found] == [ARTICLE, TREE]
    assert main(["sign", "--all", "--by", "lead", "--root", str(root)]) == 0
    now = open_library(root)
    assert not is_stale(now.trees["a"]) and not is_stale(now.articles["zeroing"])
    assert content_stamp(now.trees["a"]) != content_stamp(library.trees["a"])


def test_line_ends_of_a_file_change_no_stamp(root: Path) -> None:
    before = content_stamp(open_library(root).trees["a"])
    (root / DRAWN).write_bytes((root / DRAWN).read_bytes().replace(b"\n", b"\r\n"))
    assert content_stamp(open_library(root).trees["a"]) == before


def test_a_version_brings_its_pictures(root: Path) -> None:
    assert read_version(str(root), root).library.pictures == open_library(root).pictures


# What is shown


def test_a_step_shows_its_picture_behind_one_press(library: Library) -> None:
    page = tree_page(library, library.trees["a"]).body
    (folded,) = re.findall(r'<details class="drawn">.*?</details>', page, re.DOTALL)
    assert ">Picture: where the lamp stands</summary>" in folded
    step = page.index('data-node="look"')
    assert step < page.index(folded) < page.index("</section>", step)
    (image,) = images(folded)
    # Read in this order: a copy of it would else be fetched at once.
    assert image.startswith('<img loading="lazy" src="../../pictures/lamp.svg"')
    assert f'alt="{SAID}" width="360" height="200"' in image


def test_paper_has_it_where_it_takes_no_further_page(library: Library) -> None:
    sheet = tree_page(library, library.trees["a"]).body.partition('<aside class="sheet"')[2]
    assert images(sheet) == [
        '<img loading="lazy" class="card__drawn" src="../../pictures/lamp.svg" alt="Where the lamp stands" '
        'width="360" height="200">'
    ]


def test_an_article_shows_it_open_with_its_title(library: Library) -> None:
    text = article_markdown(library, library.articles["zeroing"])
    (figure,) = re.findall(r'^<figure class="drawn">.*</figure>$', text, re.MULTILINE)
    assert "<figcaption>Where the lamp stands</figcaption>" in figure and 'src="pictures/lamp.svg"' in figure
    assert "<!-- picture" not in text


def test_slides_hold_it_whole_and_say_what_it_shows(library: Library, root: Path) -> None:
    for slides in (tree_slides(library, library.trees["a"]), article_slides(library, library.articles["zeroing"])):
        (image,) = images(slides.text)
        data = re.search(r'src="data:image/svg\+xml,([^"]*)"', image)
        assert data and unquote(unescape(data[1])) == (root / DRAWN).read_text("utf-8")
        assert f"<p>{SAID}</p>" in slides.text


def test_one_page_lists_all_with_where_they_stand(library: Library) -> None:
    page = pictures_page(library)
    assert page and page.path in {one.path for one in build_pages(library, [])}
    entry = page.body.partition('id="lamp"')[2]
    assert f"<p>{SAID}</p>" in entry and 'href="../zeroing.html"' in entry
    assert '<a href="../alarms/a/index.html#look">Alarm a, step 1</a>' in entry


def test_without_pictures_there_is_no_page_of_them(root: Path) -> None:
    swap(root / TREE, "    picture: lamp\n", "")
    swap(root / ARTICLE, "<!-- picture: lamp -->", "")
    (root / DRAWN).unlink()
    library = open_library(root)
    assert pictures_page(library) is None
    assert all("pictures/index" not in page.body for page in build_pages(library, []))


def test_what_a_picture_says_is_text_on_every_page(root: Path) -> None:
    swap(
        root / DRAWN, SAID, "&lt;b onclick=&quot;x&quot;&gt; said by nobody in this house at all, and by no other one."
    )
    library = open_library(root)
    pages = [page.body for page in build_pages(library, [])]
    pages.append(article_markdown(library, library.articles["zeroing"]))
    assert any("onclick" in page for page in pages)
    assert not any("<b onclick" in page or 'onclick="x' in page for page in pages)


# Where else it is told


def test_the_terminal_names_it(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["walk", "a", "--answer", "It is on", "--root", str(root)]) == 0
    assert "1. Is the lamp on?\n   (picture: Where the lamp stands)\n   → It is on" in capsys.readouterr().out


def test_exports_tell_it_or_say_that_it_is_lost(root: Path) -> None:
    look = json.loads(export(open_subject("a", root), "json"))["steps"][0]
    assert look["picture"] == {"id": "lamp", "title": "Where the lamp stands", "description": SAID}


def test_editors_offer_it(library: Library) -> None:
    assert offered_names(library)["picture"] == {"lamp": "Where the lamp stands"}
