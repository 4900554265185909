"""Slides hold all that their alarm or article says, whatever that is; the table of questions can be read back."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from alarmtrees.learning.questions import questions
from alarmtrees.learning.questions_csv import COLUMNS, cell, plain, questions_csv
from alarmtrees.model import Library
from alarmtrees.model.wording import fill
from alarmtrees.reading.open import open_library
from alarmtrees.site.markup import SiteFile, View, slides_at
from alarmtrees.site.teaching.passages import inline
from alarmtrees.site.teaching.pieces import ROOM, Piece, balanced, dealt, piece, row
from alarmtrees.site.teaching.slides import slides_files, slides_page
from alarmtrees.terminal.cli import main
from small_library import HOSTILE_AS_READ, restamp, shipped_library, spoil


@dataclass(frozen=True)
class Asked:
    """A question by hand."""

    id: str
    about_kind: str
    about: str
    ask: str
    choices: tuple[tuple[str, bool, str], ...]


ASKED = (
    Asked(
        "timing/1",
        "article",
        "timing",
        'What, "now"?',
        (
            *(("=A", False, "No"), ("Wait {resting_warning}.", True, "So it is. [@weil-2007]")),
            *(("C", False, "-1"), ("", False, "")),
        ),
    ),
    Asked("pump-stopped/a/1", "tree", "pump-stopped", "What next?", (("Go\non", True, "Yes"), ("@B", False, "No"))),
)


class Read(HTMLParser):
    """What is read of a page: its words without style and script, its tags, and the ids in it."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.tags: list[str] = []
        self.ids: list[str] = []
        self.programs: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: Sequence[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.ids += [value for name, value in attrs if name == "id" and value]
        assert not [name for name, _ in attrs if name.startswith("on")]

    def handle_data(self, data: str) -> None:
        (self.programs if self.tags and self.tags[-1] in ("style", "script") else self.words).append(data)

    def handle_endtag(self, tag: str) -> None:
        self.tags.append("")

    @property
    def text(self) -> str:
        return folded("".join(self.words))


def folded(text: str) -> str:
    return re.sub(r"[ \t\n]+", " ", text).strip()


@pytest.fixture(scope="module")
def library() -> Library:
    return shipped_library()


@pytest.fixture(scope="module")
def decks(shipped_site) -> dict[str, SiteFile]:
    return {file.path: file for file in shipped_site[1] if file.path.startswith("slides/")}


def deck_of(decks: dict[str, SiteFile], library: Library, about: object) -> str:
    return decks[f"{slides_at(library, about)}.html"].text  # type: ignore[arg-type]


# ------------------------------------------------------------------ what stands on them


def test_every_word_of_every_step_stands_on_a_slide(library: Library, decks: dict[str, SiteFile]) -> None:
    for tree in library.trees.values():
        text = Read(deck_of(decks, library, tree)).text
        said = [*(line for node in tree.nodes.values() for line in (*node.lines, node.why, node.meanwhile))]
        said += [answer.say for node in tree.nodes.values() for answer in tree.answers_at(node)]
        said += [cause.say for cause in tree.causes.values()]
        said += [library.cautions[key].say for key in tree.cautions]
        lost = [words for words in said if words and folded(fill(words, library.settings)) not in text]
        assert lost == [], tree.id


def test_every_passage_of_every_article_stands_on_a_slide(library: Library, decks: dict[str, SiteFile]) -> None:
    """Of passages without mark-up of their own the very words; a long one may be parted between its sentences."""
    for article in library.articles.values():
        text, seen = Read(deck_of(decks, library, article)).text, 0
        for passage in article.passages:
            words = re.sub(r"^\s*(?:[-*+]|\d+[.)]|#+)\s+(?:\[ \]\s+)?", "", passage.text)
            as_written = article.text[passage.start :].startswith(passage.text)
            if as_written and passage.kind != "row" and not re.search(r"[\[\]{}*`\\_|]", words):
                for sentence in re.split(r"(?<=[.!?]) ", folded(words)):
                    assert sentence in text, (article.id, sentence)
                    seen += 1
        assert seen > 5, article.id


def slides_in(html: str) -> list[str]:
    return re.findall(r"<section.*?</section>", html, re.DOTALL)


def test_what_the_page_reckons_is_not_told_as_seen(library: Library, decks: dict[str, SiteFile]) -> None:
    for tree in library.trees.values():
        text = Read(deck_of(decks, library, tree)).text
        assert "When this alarm comes" not in text
        still = "Until somebody has seen the balloon move, the page reckons as if it stood still" in text
        runs = "The page reckons as if the pump still ran, until" in text
        assert (still, runs) == (tree.pump == "stopped", tree.pump == "running"), tree.id


def test_first_step_says_once_whose_numbers_the_steps_have(library: Library, decks: dict[str, SiteFile]) -> None:
    for tree in library.trees.values():
        told = [slide for slide in slides_in(deck_of(decks, library, tree)) if "numbers of the alarm’s page" in slide]
        assert len(told) == 1 and f'id="s-{tree.start}"' in told[0], tree.id


def test_no_step_slide_names_only_the_next_step(library: Library, decks: dict[str, SiteFile]) -> None:
    """Where nothing but the next step and a reason stand below a title, the next step is told with its words."""
    for tree in library.trees.values():
        for slide in slides_in(deck_of(decks, library, tree)):
            body = slide.partition("<div>")[2]
            if body.startswith("<ul><li>Then "):
                assert re.match(r"<ul><li>Then .*?</a>: \S.{5}", body), (tree.id, slide)


def test_short_step_stands_with_its_next_one(library: Library, decks: dict[str, SiteFile]) -> None:
    """And a question never with what is done upon its answers."""
    shared = 0
    for tree in library.trees.values():
        for slide in slides_in(deck_of(decks, library, tree)):
            first, *more = [tree.nodes[node_id] for node_id in re.findall(r'<a id="s-([^"]+)"', slide)] or [None]
            for node in more:
                assert first and first.kind == "do" and first.then == node.id, (tree.id, node.id)
                first, shared = node, shared + 1
    assert shared > 0


def test_letters_of_a_set_have_one_size(decks: dict[str, SiteFile]) -> None:
    for path, file in decks.items():
        kinds = set(re.findall(r'<section class="slide ?([^"]*)"', file.text))
        assert kinds <= {"", "slide--first", "slide--drawn"}, path


def test_every_slide_leads_to_the_list(decks: dict[str, SiteFile]) -> None:
    for path, file in decks.items():
        assert re.search(r'<nav .*<a href="\.\./\.\./slides/index\.html">All slides</a>.*</nav>', file.text), path


def test_each_set_is_one_file_in_good_order(library: Library, decks: dict[str, SiteFile]) -> None:
    assert len(decks) == len(library.trees) + len(library.articles)
    for path, file in decks.items():
        read = Read(file.text)
        count = read.tags.count("section")
        assert [one for one in read.ids if one.isdigit()] == [str(number) for number in range(1, count + 1)], path
        assert len(set(read.ids)) == len(read.ids), path
        assert read.tags.count("h1") == 1 and f"{count} of {count}" in read.text
        assert "Reference and teaching for trained staff; policy and the maker’s instructions come first." in read.text
        assert "Larkmoor General (fictional)" in read.text and "Look at the patient first." in read.text
        assert not re.search(r"""(?:src\s*=|@import|url\()\s*["']?(?!data:)\w""", file.text), path
        anchors = set(re.findall(r'href="#([^"]*)"', file.text))
        assert anchors <= set(read.ids), path


def test_sets_are_small(decks: dict[str, SiteFile]) -> None:
    sizes = sorted((len(file.text.encode()), path) for path, file in decks.items())
    assert sizes[len(sizes) // 2][0] < 52_000 and sizes[-1][0] < 170_000  # 18 pictures of moved timing weigh most


def test_list_leads_to_each_set(library: Library, decks: dict[str, SiteFile]) -> None:
    linked = set(re.findall(r'href="\.\./(slides/[^"]+)"', slides_page(library).body))
    assert linked == set(decks)


def test_withdrawn_alarm_has_no_slides_but_one(small_library: Path) -> None:
    path = small_library / "trees" / "line-open.yml"
    path.write_text(path.read_text("utf-8").replace("status: in-use", "status: withdrawn"), "utf-8")
    library = open_library(small_library)
    file = next(file for file in slides_files(library) if "line-open" in file.path)
    assert "Withdrawn." in file.text and file.text.count("<section") == 1
    assert "line-open" not in slides_page(library).body


def test_article_named_like_an_alarm_gives_way(small_library: Path) -> None:
    kb = small_library / "kb"
    (kb / "plugging-in.md").rename(kb / "line-open.md")
    library = open_library(small_library)
    paths = [file.path for file in slides_files(library)]
    assert "slides/line-open/index.html" in paths and "slides/line-open-article/index.html" in paths
    assert len(set(paths)) == len(paths)


def test_hostile_texts_are_shown_and_never_run(small_library: Path) -> None:
    spoil(small_library)
    for path in (small_library / "kb").glob("*.md"):
        path.write_text(path.read_text("utf-8").replace("Gas escapes", f"{HOSTILE_AS_READ} [x](javascript:y)"), "utf-8")
    for path in (small_library / "trees").glob("*.yml"):
        restamp(path)
    library = open_library(small_library)
    for file in slides_files(library):
        read = Read(file.text)
        assert "img" not in read.tags and read.tags.count("script") == 1 and read.tags.count("style") == 1
        assert "<script>window.hit = 1</script>" in read.text, file.path
        assert "javascript:" not in "".join(re.findall(r'href="([^"]*)"', file.text))


# ------------------------------------------------------------------ the text of an article


@pytest.mark.parametrize(
    ("text", "html"),
    [
        ("a **b** *c* `{d}` {{e} {resting_warning}", "a <b>b</b> <em>c</em> <code>{d}</code> {e} 15\u00a0min"),
        ("snake_case_name and 2 * 3 * 4", "snake_case_name and 2 * 3 * 4"),
        ("[the words](plugging-in.md#why)", '<a href="../../plugging-in.html#why">the words</a>'),
        ("[**x**](alarms/line-open/index.md#look)", '<a href="../../alarms/line-open/index.html#look"><b>x</b></a>'),
        (
            "[r](rules/cycle/index.md) [e](learn/educator.md)",
            '<a href="../../rules/cycle/index.html">r</a> <a href="../../learn/educator.html">e</a>',
        ),
        ("[x](nowhere.md) [y](#here) [z](javascript:1)", "x y z"),
        ("[w](https://example.org/a?b=1&c)", '<a href="https://example.org/a?b=1&amp;c">w</a>'),
        ("So. [@doe-2001] <!-- note -->", 'So. <span class="quiet">(Doe 2001)</span> '),
        (r"\*not\* <b> & {unknown}", "*not* &lt;b&gt; &amp; {unknown}"),
        ("``a ` b`` and ` alone", "<code>a ` b</code> and ` alone"),
    ],
)
def test_how_the_text_of_an_article_is_read(small_library: Path, text: str, html: str) -> None:
    view = View(open_library(small_library), "slides/x/index")
    assert inline(view, text) == html


# ------------------------------------------------------------------ how pieces are dealt

PIECES = st.lists(
    st.builds(piece, st.sampled_from(["text", "bullet", "heading", "box"]), st.text("ab :", min_size=1, max_size=600))
    | st.just(row(["a", "b" * 90], ["x", "y"])),
    max_size=40,
)


@given(PIECES)
def test_dealing_loses_nothing_and_fills_no_slide_too_full(pieces: list[Piece]) -> None:
    for slides in (dealt(pieces), balanced(pieces)):
        assert [one for slide in slides for one in slide] == pieces
        for slide in slides:
            assert slide
            long = sum(one.lines for one in slide[:-1]) > ROOM
            assert not long
    assert len(balanced(pieces)) == len(dealt(pieces))


def test_what_leads_on_stands_with_what_follows() -> None:
    pieces = [*(piece("bullet", "x" * 160) for _ in range(5)), piece("heading", "Then"), piece("text", "So:")]
    pieces += [piece("bullet", "y" * 80) for _ in range(4)]
    for slide in dealt(pieces):
        assert not slide[-1].leads_on


# ------------------------------------------------------------------ questions as a table


def test_table_read_back_holds_every_question(library: Library) -> None:
    text = questions_csv(library, ASKED)
    assert text.count("\r\n") == text.count("\n") == len(ASKED) + 1
    head, *rows = csv.reader(io.StringIO(text, newline=""), strict=True)
    assert head == list(COLUMNS)
    assert rows[0][3:8] == ['What, "now"?', "Wait 15\u00a0min.", "So it is. (weil 2007)", "'=A", "No"]
    assert rows[1][3:8] == ["What next?", "Go on", "Yes", "'@B", "No"]
    for question, found in zip(ASKED, rows, strict=True):
        right = [(say, why) for say, is_right, why in question.choices if is_right]
        wrong = [(say, why) for say, is_right, why in question.choices if not is_right]
        told = [cell(plain(library, text)) for pair in [*right, *wrong] for text in pair]
        assert found[:3] == [question.id, question.about, question.about_kind]
        assert found[4:12] == [*told, *[""] * (8 - len(told))]
    assert [row[12] for row in rows] == ["timing.html", "alarms/pump-stopped/index.html"]
    assert all(re.fullmatch("[0-9a-f]{12}", row[13]) for row in rows)


def test_questions_of_an_article_stand_at_its_end_with_the_answers_behind(library: Library) -> None:
    files = {file.path: Read(file.text).text for file in slides_files(library, ASKED)}
    asked, told = files["slides/timing/index.html"].split("The answer", 1)
    assert 'What, "now"?' in asked and "Right:" not in asked
    assert "Right: Wait 15\u00a0min. So it is. (Weil 2007)" in told and "Wrong: =A No" in told
    assert "What next?" not in files["slides/pump-stopped/index.html"]


QUESTION = """questions:
  - ask: What after {resting_warning}?
    right: {say: Call., why: It clots.}
    wrong: [{say: Wait., why: It clots.}]
review: {by"""
OWN = "values:\n  resting_warning: {value: 77, unit: min, by: somebody, on: 2026-02-03}\n"
UNSEEN = ["", " ", "\n", "\u00a0", "\ufeff", "\u200b", "\u200e\u2060", "\u00ad", "\u2028", "\u3164", "\u2800"]
SIGNS = ["=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20", "\ufe66", "\ufe63", "\u207c", "\u2212"]


@pytest.mark.parametrize("before", UNSEEN, ids=ascii)
@pytest.mark.parametrize("sign", SIGNS, ids=ascii)
def test_no_cell_is_a_formula(sign: str, before: str) -> None:
    assert cell(f"{before}{sign}HYPERLINK(1)") == f"'{before}{sign}HYPERLINK(1)"
    assert cell(f"a{sign}b") == f"a{sign}b"


def test_command_writes_the_same_table(small_library: Path, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    article = small_library / "kb" / "plugging-in.md"
    article.write_text(article.read_text("utf-8").replace("review: {by", QUESTION, 1), "utf-8")
    library = open_library(small_library)
    table = questions_csv(library, questions(library)).encode()
    assert main(["questions", "--root", str(small_library)]) == 0
    assert capsysbinary.readouterr().out == table
    out = small_library / "out.csv"
    assert main(["questions", "--root", str(small_library), "--output", str(out)]) == 0
    assert out.read_bytes() == table
    # A hospital's own values stay in the house unless they are asked for; that they are not there is said.
    (small_library / "kb" / "settings.local.yml").write_text(OWN, "utf-8")
    assert main(["questions", "--root", str(small_library)]) == 0
    told = capsysbinary.readouterr()
    assert told.out == table and b"--own" in told.err and b"77" not in table
    assert main(["questions", "--root", str(small_library), "--own"]) == 0
    own = capsysbinary.readouterr()
    assert own.out == questions_csv(open_library(small_library), questions(library)).encode()
    assert "77\u00a0min".encode() in own.out and own.err == b""
    (small_library / "trees" / "line-open.yml").write_text("id: line-open\n", "utf-8")
    assert main(["questions", "--root", str(small_library)]) == 1
    assert capsysbinary.readouterr().out == b""
