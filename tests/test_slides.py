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
from alarmtrees.model import Library, Node, Tree
from alarmtrees.model.wording import fill
from alarmtrees.proof.order import reading_order
from alarmtrees.reading.open import open_library
from alarmtrees.site.markup import SAID, SiteFile, View, slides_at
from alarmtrees.site.teaching.passages import inline
from alarmtrees.site.teaching.pieces import ROOM, Piece, balanced, dealt, piece, row
from alarmtrees.site.teaching.slides import MOST, decisions, slides_files, slides_page
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


def slides_in(html: str) -> list[str]:
    return re.findall(r"<section.*?</section>", html, re.DOTALL)


def titles_in(html: str) -> list[str]:
    return [Read(title).text for title in re.findall(r"<h[12] [^>]*>(.*?)</h[12]>", html)]


def test_no_set_is_long(library: Library, decks: dict[str, SiteFile]) -> None:
    """Articles whose things to do need more have more, and say nothing less of them."""
    for tree in library.trees.values():
        assert 8 <= len(slides_in(deck_of(decks, library, tree))) <= MOST == 12, tree.id
    long = [one for one in library.articles.values() if len(slides_in(deck_of(decks, library, one))) > MOST]
    assert len(long) < len(library.articles) / 3
    for article in long:
        html = deck_of(decks, library, article)
        assert len(slides_in(html)) <= MOST + 4, article.id
        assert "<ol>" in html or 'class="boxes"' in html, article.id


def test_an_alarm_s_set_tells_the_first_act_the_decisions_and_what_not_to_do(
    library: Library, decks: dict[str, SiteFile]
) -> None:
    for tree in library.trees.values():
        html = deck_of(decks, library, tree)
        text, titles = Read(html).text, titles_in(html)
        for title in ("The main way", "What not to do", "What right looks like", "Whom to call, and upon what"):
            assert titles.count(title) == 1, (tree.id, title)
        assert titles[-1] == "Ask yourself" and html.count("<details>") in (2, 3), tree.id
        asked = [tree.nodes[tree.start], *decisions(tree, library.safety.values())]
        said = [answer.say for node in asked for answer in node.answers]
        said += [line for node in asked for line in node.lines]
        said += [library.cautions[key].say for key in tree.cautions if key not in SAID]
        said += [answer.say for answer in tree.anytime]
        lost = [words for words in said if folded(fill(words, library.settings)) not in text]
        assert lost == [] or " more on " in text, (tree.id, lost)
        assert "tel:" not in html and not [role for role in library.roles.values() if role.phone and role.phone in text]


def test_what_is_done_by_an_article_stands_on_its_slides_whole(library: Library, decks: dict[str, SiteFile]) -> None:
    """Of things to do without mark-up of their own the very words."""
    seen = 0
    for article in library.articles.values():
        text = Read(deck_of(decks, library, article)).text
        for passage in article.passages:
            words = re.sub(r"^\s*(?:\d+[.)]|[-*+]\s+\[ \])\s+", "", passage.text)
            as_written = article.text[passage.start :].startswith(passage.text)
            if (
                as_written
                and passage.kind == "item"
                and words != passage.text
                and not re.search(r"[\[\]{}*`\\_|]", words)
            ):
                assert folded(words) in text, (article.id, words)
                seen += 1
    assert seen > 100


def test_an_alarm_that_has_a_drawing_has_it_in_its_set_full_or_not(
    library: Library, decks: dict[str, SiteFile]
) -> None:
    beside = 0
    for tree in library.trees.values():
        pictures = [picture for node in tree.nodes.values() if (picture := tree.picture_at(node))]
        slides = slides_in(deck_of(decks, library, tree))
        drawn = [one for one in slides if 'class="drawn"' in one]
        assert len(drawn) == bool(pictures), tree.id
        if drawn and "slide--beside" in drawn[0]:
            beside += 1
            assert len(slides) == MOST and (
                "What right looks like" in drawn[0]
                or any(f">{tree.nodes[key].text}</h2>" in drawn[0] for key in tree.nodes if tree.nodes[key].picture)
            ), tree.id
    assert beside > 5


# ------------------------------------------------------------------ the three decisions


def test_decisions_are_where_answers_part_the_most_rules(library: Library) -> None:
    rules = list(library.safety.values())

    def stakes(tree: Tree, node: Node) -> frozenset[str]:
        """By hand: the rules that name a mark of one answer and of another none."""
        found = set()
        for rule in (rule for rule in rules if rule.speaks_of(tree)):
            named = rule.marks("of") | rule.marks("after") | rule.marks("first")
            met = {bool(named & answer.marks) for answer in node.answers}
            found |= {rule.id} if met == {True, False} else set()
        return frozenset(found)

    for tree in library.trees.values():
        chosen = decisions(tree, rules)
        place = {node_id: number for number, node_id in enumerate(reading_order(tree))}
        assert len(chosen) == 3 and tree.start not in {node.id for node in chosen}, tree.id
        assert [place[node.id] for node in chosen] == sorted(place[node.id] for node in chosen), tree.id
        assert all(node.kind == "ask" for node in chosen)
        kinds, words = {stakes(tree, node) for node in chosen}, {node.text for node in chosen}
        least = min(len(stakes(tree, node)) for node in chosen)
        for node in tree.nodes.values():
            if node.kind == "ask" and node.id != tree.start and len(kinds) == len(words) == 3:
                known = node.text in words or stakes(tree, node) in kinds
                assert known or len(stakes(tree, node)) <= least, (tree.id, node.id)


def test_decisions_of_a_line_that_came_apart(library: Library) -> None:
    """By hand, from the tree: blood, rest, and whether the balloon moves again decide what may be done at all."""
    chosen = decisions(library.trees["gas-line-disconnected"], library.safety.values())
    assert [node.id for node in chosen][:2] == ["look-for-blood", "last-moved"]


def test_letters_of_a_set_have_one_size(decks: dict[str, SiteFile]) -> None:
    for path, file in decks.items():
        kinds = set(re.findall(r'<section class="slide ?([^"]*)"', file.text))
        assert kinds <= {"", "slide--first", "slide--drawn", "slide--beside"}, path


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
    # Pictures stand in the set itself, at 5 kB each; 18 of moved timing weigh most.
    assert sizes[len(sizes) // 2][0] < 30_000 and sizes[-1][0] < 70_000


def test_a_line_that_is_used_again_looks_as_it_did(decks: dict[str, SiteFile]) -> None:
    """Where a line is used again, a rule that names what stands around it no longer reaches it."""
    text = decks["slides/moving-the-timing/index.html"].text
    assert text.count('<use href="#_line') > 3
    assert "svg .trace__" not in text and "svg path" not in text


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


def test_three_questions_stand_at_the_end_with_the_answers_folded(library: Library) -> None:
    texts = {file.path: file.text for file in slides_files(library, ASKED)}
    for path, ask, told in (
        ("slides/timing/index.html", 'What, "now"?', "Wait 15\u00a0min. So it is. (Weil 2007)"),
        ("slides/pump-stopped/index.html", "What next?", "Go on Yes"),
    ):
        last = slides_in(texts[path])[-1]
        folded_up = re.findall(r"<details><summary>(.*?)</summary>(.*?)</details>", last)
        assert [(Read(one).text, Read(other).text) for one, other in folded_up] == [(f"1. {ask}", told)]
        assert "=A" not in last and "@B" not in last


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
