"""A build that finds kept pages writes what a build from nothing writes, and never what stood there before."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import markdown
import pytest
from material.plugins.search.plugin import Parser

from alarmtrees.check.rules import RULES
from alarmtrees.learning.questions import questions
from alarmtrees.model import Library
from alarmtrees.proof.evidence import Evidence
from alarmtrees.reading.keep import Store
from alarmtrees.reading.open import open_library
from alarmtrees.site.build import build_all, build_pages
from alarmtrees.site.kept import CODE, Kept
from alarmtrees.site.markup import Page, SiteFile
from alarmtrees.site.plugin import KEPT, searched
from alarmtrees.site.teaching.slides import slides_files
from small_library import REPOSITORY, contents, make, restamp, shipped_library, swap

Run = Callable[..., subprocess.CompletedProcess[str]]

TREE = "trees/line-open.yml"
EDITS = (
    (TREE, "why: ", "why: Kept pages never show old words. "),
    (TREE, "title: ", "title: Another name for "),
    (
        "kb/words.yml",
        "means: The tube in which the gas goes back and forth.",
        'means: "Called for within {call_by}."',
    ),
    ("kb/settings.yml", "value: 5", "value: 6"),
    ("kb/settings.yml", "value: ", "value: 7"),
    ("kb/plugging-in.md", "\n## Why\n", "\n## Why\n\nKept articles neither.\n"),
)


def built(root: Path, mkdocs: Run) -> dict[str, bytes]:
    done = mkdocs(root, "build", "--quiet")
    assert done.returncode == 0, done.stderr
    return contents(root / "site")


def from_nothing(root: Path, mkdocs: Run) -> dict[str, bytes]:
    shutil.rmtree(root / ".cache")
    return built(root, mkdocs)


def whole(root: Path) -> Path:
    """This library, at another place and with nothing kept."""
    root.mkdir()
    for name in ("kb", "trees"):
        shutil.copytree(REPOSITORY / name, root / name, ignore=shutil.ignore_patterns("*.local.yml"))
    theme = (REPOSITORY / "site_src" / "theme").as_posix()
    text = (REPOSITORY / "mkdocs.yml").read_text(encoding="utf-8")
    (root / "mkdocs.yml").write_text(text.replace("custom_dir: site_src/theme", f"custom_dir: {theme}"))
    return root


# ---- whole builds


@pytest.mark.skipif(not os.environ.get("EVERY"), reason="three builds of this library; all else here tries a small one")
def test_after_an_edit_this_library_is_built_as_from_nothing(tmp_path: Path, mkdocs: Run) -> None:
    root = whole(tmp_path / "library")
    before = built(root, mkdocs)
    tree = root / "trees" / "gas-line-kinked.yml"
    swap(tree, "why: ", "why: Kept pages never show old words. ")
    restamp(tree)
    after = built(root, mkdocs)
    assert b"Kept pages never show old words." in after[str(Path("alarms/gas-line-kinked/index.html"))]
    assert before != after == from_nothing(root, mkdocs)


def test_after_each_kind_of_edit_the_small_library_is_built_as_from_nothing(small_library: Path, mkdocs: Run) -> None:
    """Held to a build from nothing after each second edit; after each with EVERY=1."""
    sites = [built(small_library, mkdocs)]
    for number, (file, old, new) in enumerate(EDITS):
        swap(small_library / file, old, new)
        restamp(small_library / TREE)
        sites.append(built(small_library, mkdocs))
        if number % 2 or os.environ.get("EVERY"):
            assert sites[-1] == from_nothing(small_library, mkdocs), file
    assert all(early != late for number, early in enumerate(sites) for late in sites[number + 1 :])


def test_flipped_bytes_and_files_cut_short_are_never_shown(small_library: Path, mkdocs: Run) -> None:
    right = built(small_library, mkdocs)
    kept = sorted((small_library / KEPT).iterdir())
    assert len(kept) > 70
    for number, path in enumerate(kept):
        content = bytearray(path.read_bytes())
        place = (len(content) * (number % 10)) // 10
        content[place] ^= 1
        path.write_bytes(content[: place + 1] if number % 3 == 0 else content)
    assert built(small_library, mkdocs) == right


def test_what_was_kept_of_another_tree_is_not_taken_under_its_name(small_library: Path, mkdocs: Run) -> None:
    old = built(small_library, mkdocs)
    store = small_library / KEPT
    shutil.copytree(store, small_library / "old")
    swap(small_library / TREE, "why: ", "why: Kept pages never show old words. ")
    restamp(small_library / TREE)
    right = built(small_library, mkdocs)
    gone = sorted((small_library / "old").iterdir())
    swapped = 0
    for path in store.iterdir():
        kind = path.name.split("-")[0]
        others = [other for other in gone if other.name.split("-")[0] == kind and other.name != path.name]
        for other in others[:1]:
            shutil.copy(other, path)
            swapped += 1
    assert swapped > 70
    assert old != built(small_library, mkdocs) == right


def test_two_builds_at_once_both_come_out_right(small_library: Path, mkdocs: Run) -> None:
    right = built(small_library, mkdocs)
    shutil.rmtree(small_library / ".cache")
    command = [sys.executable, "-m", "mkdocs", "build", "--quiet", "--site-dir"]
    both = [subprocess.Popen([*command, f"site-{number}"], cwd=small_library) for number in range(2)]
    assert [one.wait(timeout=120) for one in both] == [0, 0]
    assert contents(small_library / "site-0") == contents(small_library / "site-1") == right


def test_a_build_says_what_it_does_and_clears_what_is_old(small_library: Path, mkdocs: Run) -> None:
    first = mkdocs(small_library, "build").stderr
    places = [
        first.index(words) for words in ("Checking the library", "Drawing and writing", ", 0 of them as they were")
    ]
    assert places == sorted(places)
    names = {path.name for path in (small_library / KEPT).iterdir()}
    swap(small_library / TREE, "why: ", "why: Kept pages never show old words. ")
    restamp(small_library / TREE)
    again = mkdocs(small_library, "build").stderr
    assert ", 0 of them as they were" not in again
    now = {path.name for path in (small_library / KEPT).iterdir()}
    assert len(now) == len(names)
    assert now - names and now & names


def test_what_is_said_of_a_page_is_said_by_each_build_until_it_is_put_right(small_library: Path, mkdocs: Run) -> None:
    (small_library / "kb" / "plain.md").write_text("# Plain\n\n[a](nowhere.md), [b](about.md#nowhere-there)\n")
    said = [mkdocs(small_library, "build").stderr for _ in range(2)]
    assert all("a link 'nowhere.md'" in one and "anchor '#nowhere-there'" in one for one in said)
    swap(small_library / "kb" / "plain.md", "[a](nowhere.md), ", "")
    said = [mkdocs(small_library, "build").stderr for _ in range(2)]  # the second time the page is kept
    assert all("nowhere.md" not in one and "anchor '#nowhere-there'" in one for one in said)
    swap(small_library / "kb" / "about.md", "# ", "# Heading before {#nowhere-there}\n\n# ")
    assert "nowhere-there" not in mkdocs(small_library, "build").stderr


# ---- what is handed to whoever makes a page


@pytest.fixture(scope="module")
def library() -> Library:
    return shipped_library()


@pytest.fixture(scope="module")
def pages(shipped_site: tuple[list[Page], list[SiteFile]]) -> list[Page]:
    return shipped_site[0]


def test_pages_and_files_are_alike_kept_made_and_without_a_store(
    tmp_path: Path, library: Library, shipped_site: tuple[list[Page], list[SiteFile]]
) -> None:
    """Tried on the small library; with EVERY=1 on this one."""
    every = bool(os.environ.get("EVERY"))
    one = library if every else open_library(make(tmp_path / "library"))
    made, kept = (build_all(one, RULES, store=store) for store in (Store(tmp_path, CODE), Store(tmp_path, CODE)))
    assert made == kept == (shipped_site if every else build_all(one, RULES))


def test_a_page_of_a_tree_is_made_without_the_words_of_other_trees(library: Library) -> None:
    seen = Kept(library, Store(None))._seen(tree := library.trees["gas-line-kinked"])
    assert seen.trees[tree.id] is tree
    assert not seen.sources_read
    others = [other for key, other in seen.trees.items() if key != tree.id]
    assert len(others) == len(library.trees) - 1
    words = [line for other in others for node in other.nodes.values() for line in (*node.lines, node.why, node.raw)]
    assert not any(words)


def test_advice_from_shapes_is_that_from_trees_and_comes_back_whole(tmp_path: Path, library: Library) -> None:
    evidence, kept = Evidence(library, Store(tmp_path)), Evidence(library, Store(tmp_path))
    for tree in list(evidence.trees.values())[:: 1 if os.environ.get("EVERY") else 6]:
        assert evidence.advice(tree) == evidence.adviser.advice(tree) == kept.advice(tree)


def test_what_shapes_tell_of_causes_is_what_trees_tell(tmp_path: Path, library: Library) -> None:
    evidence, kept = Evidence(library, Store(tmp_path)), Evidence(library, Store(tmp_path))
    for tree in evidence.trees.values():
        remedies, causes = evidence.adviser.remedies(tree), evidence.analysis.causes(tree)
        coverage = {cause: evidence._seen(tree, causes, cause) for cause in tree.causes}
        for one in (evidence, kept):
            assert one.coverage(tree) == coverage
            assert {cause: one.usual(tree, cause) for cause in tree.causes} == {
                cause: remedies.usual(cause) for cause in tree.causes
            }
            assert one.longest(tree) == remedies.longest_of_all()


def test_slides_of_articles_and_questions_are_made_without_the_words_of_trees(library: Library) -> None:
    kept, asked = Kept(library, Store(None)), questions(library)
    assert questions(library, kept.questions) == asked
    assert slides_files(library, asked, kept.file) == slides_files(library, asked)
    article = library.articles["timing"]
    seen = kept._seen(article)
    assert not seen.sources_read
    assert not any(line for tree in seen.trees.values() for node in tree.nodes.values() for line in node.lines)


# ---- what the search is given


def found(html: str) -> list[tuple[str | None, list[str], list[str]]]:
    reader = Parser()
    reader.feed(html)
    reader.close()
    return [(section.id, section.title, section.text) for section in reader.data if not section.is_excluded()]


def test_the_search_finds_the_same_in_a_page_without_what_it_passes_over(pages: list[Page]) -> None:
    shorter = 0
    for page in pages:
        short = searched(page.body)
        shorter += len(short) < len(page.body) / 2
        assert found(short) == found(page.body), page.path
    assert shorter >= 30


@pytest.mark.parametrize(
    "html",
    [
        '<nav data-search-exclude="yes"><h2 id="b">b</h2>c</nav>',
        '<div data-search-exclude="yes">a<div>b</div>c</div>',
        '<p data-search-exclude="yes">never closed',
        '<ol data-search-exclude="yes"><li data-search-exclude="yes">a</li></ol>',
    ],
)
def test_of_what_is_passed_over_headings_and_nests_are_left_to_the_search(html: str) -> None:
    whole = f'<h1 id="a">a</h1><p>before</p>{html}<p>behind</p>'
    assert found(searched(whole)) == found(whole)


# ---- pages that no reader of Markdown looks at


def html(page: Page) -> str:
    extensions = ["admonition", "attr_list", "def_list", "tables", "toc"]
    return markdown.markdown(page.body, extensions=extensions)


def test_a_page_that_is_html_would_pass_a_reader_of_markdown_unchanged(pages: list[Page]) -> None:
    assert [page.path for page in pages if not page.markdown and html(page) != page.body] == []
    assert all(html(page) != page.body for page in pages if page.markdown)


def test_that_holds_for_the_small_library_as_well(tmp_path: Path) -> None:
    pages = build_pages(open_library(make(tmp_path / "library")), [])
    assert [page.path for page in pages if html(page) != page.body] == []
