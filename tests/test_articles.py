"""Articles: how they are read, what becomes of them on their page, and that those of this library are readable."""

from __future__ import annotations

import re
import warnings
from collections import Counter
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alarmtrees.check.run import check_library
from alarmtrees.model import Article, Library, Source
from alarmtrees.model.addresses import ABOUT, FOOT, REFERENCE, SINGLE, kind_of
from alarmtrees.model.quantities import quantities
from alarmtrees.proof.order import by_part
from alarmtrees.reading.articles import SECTIONS, build_article, cited, heading, read_article, settings_in
from alarmtrees.reading.open import open_library
from alarmtrees.site.bedside.home import home_page
from alarmtrees.site.build import article_markdown, link_words
from alarmtrees.site.knowledge.job import job_page
from alarmtrees.site.markup import SAID
from cases.bundle import write_library
from small_library import REPOSITORY, shipped_library, spoil

FRONT = """---
title: Zeroing
description: How the line is set to zero.
part: start
tasks: [zero]
trees: []
cautions: [patient-first]
sources: [common-practice]
sections: free
review: {by: lead, on: 2026-09-14, next: 2027-09-14}
---
"""
LIBRARY = shipped_library()
GRADE = 9.0


def read(tmp_path: Path, text: str) -> tuple[Source, Article]:
    path = tmp_path / "kb" / "zeroing.md"
    path.parent.mkdir(exist_ok=True)
    path.write_text(text, encoding="utf-8", newline="")
    source = read_article(path, tmp_path)
    assert source is not None and not source.problems
    return source, build_article(source)


# ---------------------------------------------------------------------- reading


def test_places_are_those_of_the_file_whatever_its_line_ends(tmp_path: Path) -> None:
    text = f"{FRONT}# Zeroing\n\nAt {{call_by}} so. [@doe-2001]\n"
    for ends in ("\n", "\r\n", "\r"):
        _, article = read(tmp_path, text.replace("\n", ends))
        (name, start, end), *none = settings_in(article)
        assert (name, article.text[start:end], none) == ("call_by", "{call_by}", [])
        assert (article.place(start).line, article.place(start).column) == (14, 4)
        assert [key for key, _, _ in cited(article.plain)] == ["doe-2001"]
        assert article.at("part").line == 4 and article.item_at("tasks", 0).column == 9


def test_a_byte_order_mark_is_no_part_of_the_text(tmp_path: Path) -> None:
    assert read(tmp_path, "\ufeff" + FRONT + "# Zeroing\n")[1].title == "Zeroing"


@pytest.mark.parametrize("text", ["", "# A page\n", "---\ntitle: A\n---\n# A\n", "---\npart: start\n", "part: start\n"])
def test_a_page_without_a_front_matter_of_its_own_is_no_article(tmp_path: Path, text: str) -> None:
    path = tmp_path / "a.md"
    path.write_text(text, "utf-8")
    assert read_article(path, tmp_path) is None


def test_passages_hold_one_paragraph_item_or_row_each(tmp_path: Path) -> None:
    body = "# Zeroing\n\nOne\nand on.\n- a\n  more\n- [ ] b\n\n1. c\n\n| d | e |\n|---|---|\n> f\n"
    body += "```\n- no\n```\ng `- x` g\n"
    _, article = read(tmp_path, FRONT + body)
    kinds = [(passage.kind, " ".join(passage.text.split())) for passage in article.passages]
    assert kinds == [
        ("heading", "# Zeroing"),
        ("paragraph", "One and on."),
        ("item", "- a more"),
        ("item", "- [ ] b"),
        ("item", "1. c"),
        ("row", "| d | e |"),
        ("row", "|---|---|"),
        ("paragraph", "> f"),
        ("paragraph", "g g"),
    ]
    assert all(article.plain[p.start : p.start + len(p.text)] == p.text for p in article.passages)
    assert heading(article.passages[0]) == (1, "Zeroing")


PIECES = st.sampled_from(
    (
        *("---\n", "part: start\n", "# ", "## Why\n", "`", "```\n", "{", "}", "{call_by}", "{{", "[@", "]", "](", ")"),
        *("<b>", "<!--", "-->", "- [ ] ", "1. ", "|", "\n", "\r", "\t", " ", "ä", "\u2028", "\x0c", "5 min", "*", "!["),
        *("[a](b.md)", "[x]: y\n"),
    )
)


@settings(max_examples=60)
@given(st.lists(PIECES, max_size=40).map("".join), st.booleans())
def test_no_text_gives_a_traceback_and_each_finding_has_a_place(tmp_path_factory, body: str, framed: bool) -> None:
    tree = (REPOSITORY / "tests" / "small-library" / "trees" / "supply-low.yml").read_text("utf-8")
    root = tmp_path_factory.mktemp("hostile")
    text = FRONT + body if framed else body
    result = check_library(write_library(root, {"trees/supply-low.yml": tree, "kb/zeroing.md": text}))
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    for finding in result.findings:
        place = finding.place
        if place.file == "kb/zeroing.md":
            assert 1 <= place.line <= len(lines) and 1 <= place.column <= len(lines[place.line - 1]) + 1
    for article in result.library.articles.values():
        html = article_markdown(result.library, article)
        assert html.startswith('<h1 id="_top">Zeroing</h1>')
        assert len(article.plain) == len(article.text)


@pytest.mark.parametrize("piece", ["`", "[", "{a", "<!--", "- ", "one to ", "[@", "](", "1 2 ", "|", "**", "5 min "])
def test_a_long_hostile_text_is_read_all_the_same(tmp_path: Path, piece: str) -> None:
    """One whose time grew with the square of its length would hold up all tests; bench_texts.py says by how much."""
    tree = (REPOSITORY / "tests" / "small-library" / "trees" / "supply-low.yml").read_text("utf-8")
    text = FRONT + piece * (150_000 // len(piece))
    root = write_library(tmp_path, {"trees/supply-low.yml": tree, "kb/zeroing.md": text})
    library = check_library(root).library
    assert article_markdown(library, library.articles["zeroing"])


# ---------------------------------------------------------------------- numbers with units


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Wait 10 min, or two hours.", ["10 min", "two hours"]),
        ("10-15 mmHg, 10 to 15 %, 5kPa, 0.5 s, 1,000 mL", ["10-15 mmHg", "10 to 15 %", "5kPa", "0.5 s", "1,000 mL"]),
        (
            "A 30-minute pause; half an hour; 100/min; 90°; 37 °C",
            ["30-minute", "half an hour", "100/min", "90°", "37 °C"],
        ),
        (
            "2 L/min, 100/min, 120 beats a minute, three times a day",
            ["2 L/min", "100/min", "120 beats a minute", "three times a day"],
        ),
        ("In 1:2, steps 3 to 5, 12 leads, two beats, one at a time, A4, T2 h, lead II", []),
        ("{call_by} min, [5 min](a.md), the 24-hour clock, on 2026-09-14, in 25 patients", []),
    ],
)
def test_numbers_with_units(text: str, found: list[str]) -> None:
    assert [number for number, _ in quantities(text)] == found


# ---------------------------------------------------------------------- the page


def small_page(root: Path) -> tuple[Library, str]:
    library = open_library(root)
    return library, article_markdown(library, library.articles["plugging-in"])


def test_page_has_cautions_first_and_alarms_sources_and_review_last(small_library: Path) -> None:
    _, page = small_page(small_library)
    parts = [
        "<h1",
        "Do not use after 2999-01-02",
        "_cautions",
        "## Purpose",
        "## Why",
        "_alarms",
        "_sources",
        "_review",
    ]
    places = [page.index(part) for part in parts]
    assert places == sorted(places)
    assert 'href="alarms/line-open/index.html" data-tree="line-open"' in page
    assert "Reviewed by the lead on 2026-01-02." in page and "a note to editors" not in page


def test_settings_and_citations_are_links_and_code_stays(small_library: Path) -> None:
    _, page = small_page(small_library)
    assert page.count('<a class="setting" href="settings/index.html#resting_warning">15\u00a0min</a>') == 2
    assert '<span class="cite">(<a href="sources/index.html#doe-2001">Doe 2001</a>)</span>' in page
    assert "for &#123; is a brace" in page and "`{code}`" in page


def test_boxes_to_tick_hold_their_whole_line(small_library: Path) -> None:
    _, page = small_page(small_library)
    box = '- <label class="tick"><input type="checkbox"> <span>A dry plug, no older\n      than 30&nbsp;min.'
    assert box.replace("&nbsp;", " ") in page and page.count("</span></label>") == 2


def test_hostile_facts_stay_text_in_an_article(small_library: Path) -> None:
    spoil(small_library)
    library, page = small_page(small_library)
    html = link_words(page, library, "plugging-in")
    assert "<script" not in html and "<img" not in html and "window.hit = 1" in html
    assert not re.search(
        r"[*`\[]", re.sub(r"<[^>]*>", "", html.split("## Purpose")[1].split("</h2>")[0]).split("min")[0]
    )


def test_every_article_stands_on_the_page_of_the_job_and_that_is_linked_from_home() -> None:
    job = job_page(LIBRARY)
    assert f'href="{job.path}.html"' in home_page(LIBRARY).body
    listed = re.findall(r'href="\.\./([a-z-]+)\.html" data-article="([a-z-]+)"', job.body)
    assert {key for key, _ in listed} == {key for _, key in listed} == set(LIBRARY.articles)
    assert sum(map(len, by_part(LIBRARY).values())) == len(LIBRARY.articles) == len(listed)


def test_every_alarm_stands_in_its_group_on_the_home_page() -> None:
    assert Counter(re.findall(r'data-tree="([a-z-]+)"', home_page(LIBRARY).body)) == Counter(list(LIBRARY.trees))


def test_alarm_and_article_lead_to_each_other(shipped_site) -> None:
    bodies = {page.path: page.body for page in shipped_site[0]}
    for article in LIBRARY.articles.values():
        page = article_markdown(LIBRARY, article)
        for key in article.trees:
            assert f'data-tree="{key}"' in page, (article.id, key)
            assert f'href="../../{article.id}.html"' in bodies[f"alarms/{key}/index"], (article.id, key)


def test_the_list_of_addresses_is_that_of_the_pages_made(shipped_site) -> None:
    made = {page.path for page in shipped_site[0]}
    of_one = {
        path for path in made if re.fullmatch(r"(alarms|calculators|rules|checks|history|forms)/[^/]+/index", path)
    }
    assert made - of_one == SINGLE
    assert {kind_of(path)[0] for path in of_one if not path.startswith(("checks/", "history/", "forms/"))} == {
        "tree",
        "calculator",
        "rule",
    }
    assert set(FOOT) - {ABOUT} < SINGLE and set(REFERENCE) < SINGLE


@pytest.mark.parametrize("path", sorted(SINGLE))
def test_an_article_may_link_to_every_page_that_is_made(small_library: Path, path: str) -> None:
    article = small_library / "kb" / "plugging-in.md"
    text = article.read_text("utf-8")
    article.write_text(text.replace("Gas escapes", f"See [there]({path}.md). Gas escapes"), "utf-8")
    assert not [one for one in check_library(small_library, date(2026, 10, 2)).findings if "leads" in one.message]


@pytest.mark.parametrize("path", ["review/nowhere", "learn/x/index", "slides/line-open/index", "checks/index/index"])
def test_an_article_may_not_link_to_what_is_not_made(small_library: Path, path: str) -> None:
    article = small_library / "kb" / "plugging-in.md"
    text = article.read_text("utf-8")
    article.write_text(text.replace("Gas escapes", f"See [there]({path}.md). Gas escapes"), "utf-8")
    found = check_library(small_library, date(2026, 10, 2)).findings
    assert [one.rule for one in found if "leads nowhere" in one.message] == ["unknown-article"]


# ---------------------------------------------------------------------- words of the glossary


def linked(html: str, small_library: Path) -> str:
    return link_words(html, open_library(small_library), "alarms/a/index")


def test_first_use_of_a_word_in_each_section_is_linked_with_its_meaning(small_library: Path) -> None:
    html = "<section><p>A gas line. The Gas lines, a connector.</p></section><section><p>gas line</p></section>"
    link = (
        '<a class="term" href="../../words/index.html#gas-line" title="The tube in which the gas goes back and forth.">'
    )
    done = linked(html, small_library)
    assert done.startswith(f"<section><p>A {link}gas line</a>. The Gas lines, a ")
    assert done.count(link) == 2 and done.count('class="term"') == 3


@pytest.mark.parametrize(
    "html",
    [
        "<h2>The gas line</h2>",
        '<a href="#x">The <b>gas line</b> is off</a>',
        "<button>gas line</button>",
        "<code>gas line</code>",
        "<summary>gas line</summary>",
        "<label><span>gas line</span></label>",
        '<ol class="lines">\n<li>gas line</li>\n</ol>',
        '<p class="strip">gas line</p>',
        '<section class="step step--ask"><ul class="warn"><li>gas line</li></ul><p>gas line</p></section>',
        "<p>gas-lines, gas line-up, gaslines, /gas line/</p>",
    ],
)
def test_words_are_not_linked_where_a_link_would_be_in_the_way(html: str, small_library: Path) -> None:
    assert linked(html, small_library) == html


def test_a_word_with_capitals_is_matched_as_it_is_written_and_other_forms_count(small_library: Path) -> None:
    path = small_library / "kb" / "words.yml"
    path.write_text(
        "ct: {say: CT, means: A scan.}\nbeat: {say: extra beat, also: [ectopic], means: M.}\n"
        'lead: {say: lead, link: "no", means: L.}\n',
        "utf-8",
    )
    done = linked("<p>ct CT lead ectopics</p>", small_library)
    assert re.findall(r'index.html#(\w+)" title="[^"]*">([^<]*)</a>', done) == [("ct", "CT"), ("beat", "ectopics")]


# ---------------------------------------------------------------------- this library


def test_articles_have_the_sections_in_order() -> None:
    for article in LIBRARY.articles.values():
        named = [heading(passage)[1] for passage in article.passages if passage.kind == "heading"]
        assert article.free or [words for words in named if words in SECTIONS] == list(SECTIONS), article.id


def prose(article: Article) -> str:
    """What a reader reads, a sentence a line; words of the glossary count as one short word."""
    text = re.sub(r"\[@[^\]]*\]", "", article.plain[article.body_at :])
    text = re.sub(r"\{[^}]*\}", "ten", re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", text))
    lines = []
    for line in text.splitlines():
        words = re.sub(r"^\s*(#+|[-*]( \[[ x]\])?|\d+\.|>|\|)\s*", "", line).strip(" |*_")
        if words:
            lines.append(words if words[-1] in ".?!:;," else f"{words}.")
    forms = sorted((form for word in LIBRARY.words.values() for form in (word["say"], *word.get("also", ()))), key=len)
    shape = re.compile(rf"\b({'|'.join(map(re.escape, reversed(forms)))})s?\b", re.IGNORECASE)
    return shape.sub("pump", " ".join(lines)).replace("**", "")


@pytest.mark.parametrize("key", sorted(LIBRARY.articles))
def test_an_article_is_read_at_grade_nine_or_below(key: str) -> None:
    """The formula of Kincaid and others (1975), as the outside library textstat computes it."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it loads its lists in a way that is going out of use
        import textstat
    assert textstat.flesch_kincaid_grade(prose(LIBRARY.articles[key])) <= GRADE


def test_the_box_of_cautions_says_nothing_that_the_strip_says() -> None:
    library = shipped_library()
    for article in library.articles.values():
        page = article_markdown(library, article)
        assert 'class="strip"' in page, article.id
        box = page.partition('id="_cautions"')[2].partition("</section>")[0]
        assert not any(library.cautions[key].say in box for key in SAID), article.id
        assert bool(box) == bool(set(article.cautions) - SAID), article.id
