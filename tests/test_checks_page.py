"""The pages that say what was checked, what is due, and which changes a tree has been through; what is withdrawn."""

from __future__ import annotations

import html
import re
from datetime import date
from pathlib import Path

import pytest

from alarmtrees.check.rules import RULES
from alarmtrees.check.run import check_library
from alarmtrees.compare.kinds import KINDS, Kind, Weight
from alarmtrees.model import Library
from alarmtrees.model.stamp import content_stamp, is_stale
from alarmtrees.model.wording import lasting
from alarmtrees.proof.evidence import APART, BROKEN, HOLDS, IDLE, Evidence
from alarmtrees.proof.graph import Graph
from alarmtrees.reading.open import open_library
from alarmtrees.site.bedside.home import home_page
from alarmtrees.site.bedside.tree import tree_page
from alarmtrees.site.build import build_pages
from alarmtrees.site.review.checks import checks_page, counted
from alarmtrees.site.review.overview import overview_page
from alarmtrees.site.review.review import review_page
from small_library import HOSTILE, HOSTILE_AS_READ, shipped_library, spoil
from test_pages import change, words_of

MARKS = "checked:\n  say: The patient is looked at.\nseen:\n  say: Seen.\nnever:\n  say: Never met.\n"
RULES_TOLD = """\
patient-first:
  say: The patient comes first.
  precedence: {first: checked, then: any}
  reason: The danger is in the patient.
  sources: [common-practice]
never-after:
  say: It never comes after it was seen.
  absence: {of: never, after: seen}
  reason: So it is.
  sources: [common-practice]
others-only:
  say: This is for power alarms.
  existence: {of: never}
  only: [power]
  reason: So it is.
  sources: [common-practice]
worse-is-called:
  say: Worse means a call.
  response: {of: worse, by: call}
  reason: So it is.
  sources: [common-practice]
"""


@pytest.fixture
def library(small_library: Path) -> Library:
    """The small library, with safety rules."""
    (small_library / "kb" / "marks.yml").write_text(MARKS + "worse:\n  say: Worse.\n", encoding="utf-8")
    (small_library / "kb" / "safety.yml").write_text(RULES_TOLD, encoding="utf-8")
    change(small_library, "trees/line-open.yml", "to: patient-worse}", "to: patient-worse, marks: [worse]}")
    return change(small_library, "trees/line-open.yml", "ask: How is", "marks: [checked]\n    ask: How is")


@pytest.fixture(scope="module")
def shipped() -> Evidence:
    """The evidence of the shipped library, worked out once."""
    return Evidence(shipped_library())


def page_of(library: Library, tree_id: str = "line-open") -> str:
    return checks_page(library, Evidence(library), library.trees[tree_id]).body


# The evidence


def test_every_rule_has_a_state_in_every_tree(library: Library) -> None:
    evidence = Evidence(library)
    carried = evidence.carried(library.trees["line-open"])
    states = {key: one.state for key, one in carried.items()}
    assert states == {
        "patient-first": HOLDS,
        "never-after": IDLE,
        "others-only": APART,
        "worse-is-called": HOLDS,
    }
    assert carried["patient-first"].guards == (("look", None),)
    assert carried["worse-is-called"].subjects == (("", "Patient worse"),)
    assert ("tell", None) in carried["worse-is-called"].guards


def test_broken_rule_is_never_told_as_holding(small_library: Path, library: Library) -> None:
    path = small_library / "kb" / "safety.yml"
    path.write_text(RULES_TOLD.replace("first: checked", "first: never"), encoding="utf-8")
    found = open_library(small_library)
    assert Evidence(found).carried(found.trees["line-open"])["patient-first"].state == BROKEN
    assert "Does not hold." in page_of(found)
    assert "✗" in overview_page(found, Evidence(found)).body


def test_carriers_of_every_shipped_rule_bear_its_marks(shipped: Evidence) -> None:
    """Against the raw files: a step or answer named as a rule's subject or guard holds one of its marks, and none is
    left out."""
    found, evidence = shipped.library, shipped
    derived = {"call", "end-resolved", "resolved", "pump-starts", "pump-stops"}
    for tree in evidence.trees.values():
        for one in evidence.carried(tree).values():
            rule = found.safety[one.rule]
            marks = {mark for slot in rule.slots.values() for mark in slot or ()} - derived
            if one.state == APART:
                continue
            bearing = set()
            for key, node in tree.raw["nodes"].items():
                bearing |= {(key, None)} if marks & set(node.get("marks", ())) else set()
                bearing |= {(key, a["say"]) for a in node.get("answers", ()) if marks & set(a.get("marks", ()))}
            bearing |= {("", a["say"]) for a in tree.raw.get("anytime", ()) if marks & set(a.get("marks", ()))}
            assert bearing <= {*one.subjects, *one.guards}, (tree.id, rule.id)


def test_coverage_says_what_each_cause_answers(library: Library) -> None:
    """Beside the words of the file: which answers name a cause, which are open to all."""
    tree = library.trees["line-open"]
    seen = Evidence(library).coverage(tree)
    assert set(seen) == set(tree.causes)
    for cause, met in seen.items():
        for key, told in met.items():
            for place in told.answers:
                when = tree.nodes[key].answers[place].when
                assert when is None or cause in when or "fixed" in when
            assert told.named == any(cause in (tree.nodes[key].answers[i].when or ()) for i in told.answers)


def test_ways_on_the_page_are_those_of_the_graph(library: Library) -> None:
    graph = Graph(library.trees)
    for tree in library.trees.values():
        assert f"<dd>{counted(graph.ways((tree.id, tree.start)))}, counted" in page_of(library, tree.id)


# The pages


def test_page_names_what_was_checked_and_never_says_safe(library: Library) -> None:
    words = words_of(page_of(library))
    assert words.startswith("Checked on every way: Line is open")
    assert "Checked on every way does not mean safe." in words
    for part in ("Ways", "each led through alone", "Longest rest of the balloon", "The order of the questions"):
        assert part in words
    assert "is safe" not in words
    assert "The patient comes first." in words


def test_longest_rest_is_told_with_its_way(library: Library) -> None:
    tree = library.trees["line-open"]
    rest = Evidence(library).rest(tree)
    body = page_of(library)
    assert rest.seconds > 0
    assert f"The balloon rests for {lasting(rest.seconds)}" in body
    way = body[body.index("The balloon rests for") :]
    assert way[: way.index("</ol>")].count("<li>") == len(rest.way)


def test_hostile_text_becomes_no_mark_up(small_library: Path, library: Library) -> None:
    spoil(small_library)
    rule = f"  say: {HOSTILE!r}\n  reason: {HOSTILE!r}\n  sources: [common-practice]\n"
    told = f"a:\n  precedence: {{first: checked, then: any}}\n{rule}b:\n  existence: {{of: seen}}\n{rule}"
    (small_library / "kb" / "safety.yml").write_text(told, encoding="utf-8")
    found = open_library(small_library)
    assert len(found.safety) == 2
    pages = [page for page in build_pages(found, RULES) if page.path.split("/")[0] in ("checks", "review", "history")]
    assert len(pages) == 2 + len(found.trees)
    for page in pages:
        assert "<script>" not in page.body and "<img" not in page.body
    assert HOSTILE_AS_READ in words_of(page_of(found))


def test_every_tree_has_a_page_of_checks_that_leads_back(shipped: Evidence) -> None:
    found = shipped.library
    overview = overview_page(found, shipped).body
    for tree in found.trees.values():
        assert f'href="../checks/{tree.id}/index.html"' in overview
        assert f"../../alarms/{tree.id}/index.html" in checks_page(found, shipped, tree).body
    tree = next(iter(found.trees.values()))
    assert f"../../checks/{tree.id}/index.html" in tree_page(found, tree).body


def test_overview_tells_every_rule_in_every_tree_and_every_article(shipped: Evidence) -> None:
    found = shipped.library
    body = overview_page(found, shipped).body
    matrix = body[body.index('<table class="matrix">') :]
    rows = re.findall(r"<tr><th scope=\"row\">.*?</tr>", matrix[: matrix.index("</table>")])
    assert len(rows) == len(found.safety)
    assert all(row.count("<td>") == len(found.trees) for row in rows)
    assert all(f'href="../{key}.html"' in body for key in found.articles)


def test_a_tree_with_a_loop_has_no_page_of_checks_and_hides_no_other(small_library: Path) -> None:
    path = small_library / "trees" / "line-open.yml"
    text = path.read_text(encoding="utf-8")
    looped = re.sub(r"(\n    then: )\S+", r"\1look", text, count=1)
    assert looped != text
    path.write_text(looped, encoding="utf-8")
    paths = {page.path for page in build_pages(open_library(small_library), RULES)}
    assert "checks/line-open/index" not in paths and "checks/supply-low/index" in paths


# Reviews


def test_review_page_lists_what_has_changed_since_it_was_signed(small_library: Path) -> None:
    found = open_library(small_library)
    assert "Every page says what was signed." in review_page(found).body
    assert "Changed since it was signed." not in tree_page(found, found.trees["line-open"]).body
    found = change(small_library, "trees/line-open.yml", "title: Line is open", "title: Line is quite open")
    assert is_stale(found.trees["line-open"])
    words = words_of(review_page(found).body)
    assert "Line is quite open : signed by the" in words or "Line is quite open: signed by the" in words
    assert "Changed since it was signed." in tree_page(found, found.trees["line-open"]).body


def test_overdue_is_left_to_the_readers_device(small_library: Path) -> None:
    """A site built twice is the same on any day; so the day stands on the page, and a script judges it."""
    found = open_library(small_library)
    tree = found.trees["line-open"]
    assert tree.review is not None
    assert f'data-due="{tree.review.next}" hidden' in tree_page(found, tree).body
    assert review_page(found).body.count("data-due=") >= len(found.trees)
    assert not re.search(r"\b" + date.today().isoformat() + r"\b", review_page(found).body)


def test_review_page_names_who_may_sign_and_what_nobody_signed(small_library: Path) -> None:
    settings = small_library / "kb" / "settings.yml"
    settings.write_text("reviewers: [lead nurse]\n" + settings.read_text(encoding="utf-8"), encoding="utf-8")
    path = small_library / "trees" / "line-open.yml"
    text = re.sub(r"\nreview:.*(\n  .*)*", "", path.read_text(encoding="utf-8"))
    path.write_text(text.replace("status: in-use", "status: draft"), encoding="utf-8")
    words = words_of(review_page(open_library(small_library).published()).body)
    assert "A review is signed by: lead nurse." in words
    assert re.search(r"Drafts Line is open ?: not read by anybody yet", words)
    assert re.search(r"Not reviewed by anybody of this house .* 2 pages", words)  # of the other tree, and an article


# What is withdrawn


WITHDRAWN = "status: withdrawn\nwithdrawn: {on: 2026-10-02, why: The step for the connector was wrong.}"


def test_withdrawn_tree_says_since_when_and_why_and_whom_to_call(small_library: Path) -> None:
    found = change(small_library, "trees/line-open.yml", "status: in-use", WITHDRAWN)
    words = words_of(tree_page(found, found.trees["line-open"]).body)
    page = tree_page(found, found.trees["line-open"])
    assert "Withdrawn since 2026-10-02. Do not use this page any more." in words
    assert "The step for the connector was wrong." in words
    assert "Call:" in words and "data-node" not in page.body and "data-due" not in page.body


@pytest.mark.parametrize("page", [home_page, review_page])
def test_site_lists_what_was_recalled_and_since_when(small_library: Path, page) -> None:
    before = words_of(page(open_library(small_library)).body)
    found = change(small_library, "trees/line-open.yml", "status: in-use", WITHDRAWN)
    words = words_of(page(found).body)
    told = "withdrawn since 2026-10-02. The step for the connector was wrong."
    assert told in words and told not in before
    assert not is_stale(found.trees["line-open"])


def test_withdrawn_without_a_day_is_listed_too(small_library: Path) -> None:
    found = change(small_library, "trees/line-open.yml", "status: in-use", "status: withdrawn")
    assert ": withdrawn." in words_of(home_page(found).body)


def test_withdrawn_tree_needs_no_review_and_has_no_page_of_checks(small_library: Path) -> None:
    found = change(small_library, "trees/line-open.yml", "status: in-use", WITHDRAWN)
    findings = check_library(small_library, date(2099, 1, 1)).findings
    assert not [f for f in findings if f.place.file == "trees/line-open.yml" and f.rule.startswith("review")]
    assert "checks/line-open/index" not in {page.path for page in build_pages(found, RULES)}


# Changes, as a reader notices them

TOLD = """\
line-open:
  - {on: 2026-09-20, say: "Asks <b>first</b> whether the line is open."}
  - {on: 2026-10-01, say: "Says {whom} to call."}
"""


def told(root: Path, text: str = TOLD) -> Library:
    (root / "kb" / "changes.yml").write_text(text, encoding="utf-8")
    return open_library(root)


def test_changes_of_a_tree_are_told_the_newest_first(small_library: Path) -> None:
    pages = {page.path: page for page in build_pages(told(small_library), RULES)}
    page = pages["history/line-open/index"]
    assert re.findall(r"<li>.*?>([-0-9]+)</time>: (.*?)</li>", page.body) == [
        ("2026-10-01", "Says {whom} to call."),
        ("2026-09-20", "Asks &lt;b&gt;first&lt;/b&gt; whether the line is open."),
    ]
    assert page.source == "changes.yml"
    assert "../../history/line-open/index.html" in pages["checks/line-open/index"].body


def test_a_tree_without_changes_has_no_page_of_them(small_library: Path) -> None:
    for library in (open_library(small_library), told(small_library)):
        pages = [page for page in build_pages(library, RULES) if page.path != "history/line-open/index"]
        assert not [page for page in pages if page.path.startswith("history/")]
        linking = {page.path for page in pages if "history/" in page.body}
        assert linking == ({"checks/line-open/index"} if library.changes else set())


def test_a_change_of_a_tree_that_is_not_there_is_a_finding(small_library: Path) -> None:
    library = told(small_library, TOLD.replace("line-open", "line-opne"))
    found = check_library(small_library, date(2026, 10, 2)).findings
    (finding,) = [one for one in found if one.place.file == "kb/changes.yml"]
    assert (finding.rule, finding.place.line, finding.place.column) == ("schema", 1, 1)
    assert "line-opne" in finding.message and "changes" in library.broken and not library.changes


def test_a_change_leaves_every_stamp_as_it_is(small_library: Path) -> None:
    before = {tree.id: content_stamp(tree) for tree in open_library(small_library).trees.values()}
    assert {tree.id: content_stamp(tree) for tree in told(small_library).trees.values()} == before


def test_shipped_changes_speak_of_the_page_and_name_no_day_to_come() -> None:
    changes = shipped_library().changes
    assert len(changes) > 20
    for entry in (entry for entries in changes.values() for entry in entries):
        assert entry.on <= date.today().isoformat() and entry.say.endswith(".")
        assert all(len(sentence.split()) <= 28 for sentence in re.split(r"(?<=[.!?:;]) ", entry.say)), entry.say


def test_the_kinds_of_change_are_told_as_the_program_weighs_them(small_library: Path) -> None:
    pages = {page.path: page for page in build_pages(open_library(small_library), RULES)}
    parts = re.split(r'<h2 class="part">(Errors|Warnings|Notes)', pages["changes/index"].body)[1:]
    assert parts[::2] == ["Errors", "Warnings", "Notes"]
    for weight, body in zip(Weight, parts[1::2], strict=True):
        told = dict(re.findall(r"<li>(.*?) <code class=\"quiet\">([a-z-]+)</code></li>", body))
        of_weight = [kind for kind in KINDS.values() if kind.weight is weight]
        assert {name: html.unescape(say) for say, name in told.items()} == {kind.id: _said(kind) for kind in of_weight}
    for path in ("rules/index", "review/index", "checks/index"):
        assert "../changes/index.html" in pages[path].body


def _said(kind: Kind) -> str:
    if kind.also is None:
        return kind.say
    weight = "an error" if kind.also[0] is Weight.ERROR else f"a {kind.also[0]}"
    return f'{kind.say} <span class="quiet">({weight} {kind.also[1]})</span>'
