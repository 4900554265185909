"""Drafts: built, looked at and ordered by whoever writes them; offered, practised and counted nowhere."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest

from alarmtrees.check.rules import RULES
from alarmtrees.check.run import CheckResult, check_library
from alarmtrees.reading.open import open_library
from alarmtrees.site.binder import parts
from alarmtrees.site.build import build_all
from alarmtrees.site.finder import finder_data
from alarmtrees.site.markup import DRAFT
from alarmtrees.terminal.cli import main
from small_library import swap

ON = date(2026, 11, 25)
DRAFT_TREE = "trees/line-hot.yml"
WORDS = "Line is hot"


@pytest.fixture
def library(small_library: Path) -> Path:
    """The small library with a draft that nobody has signed, and that hands over to a tree in use."""
    text = (small_library / "trees" / "line-open.yml").read_text("utf-8")
    text = re.sub(r"\nreview:.*", "", text).replace("Line is open", WORDS).replace("status: in-use", "status: draft")
    text = text.replace("id: line-open", "id: line-hot").replace("aliases: [", "aliases: [warm hose, ")
    text = re.sub(r"aliases: .*", "aliases: [warm hose, h2, h3, h4, h5, h6, h7, h8]", text)
    (small_library / DRAFT_TREE).write_text(text, "utf-8")
    (small_library / "kb" / "learning.yml").write_text(
        "stages:\n  - id: first\n    title: First\n    when: First day\n    why: It comes first.\n    pages:\n"
        "      - {page: line-open, why: It hisses.}\n      - {page: supply-low, why: Gas runs out.}\n"
        "      - {page: plugging-in, why: The plug.}\n",
        "utf-8",
    )
    return small_library


def built(root: Path, result: CheckResult | None = None) -> dict[str, str]:
    """All pages and files by their paths."""
    proved = (result.published or result.analysis) if result else None
    pages, files = build_all(open_library(root), RULES, analysis=proved)
    return {page.path: page.body for page in pages} | {
        file.path: file.text for file in files if isinstance(file.text, str)
    }


def test_a_draft_needs_no_review_and_its_advice_on_order_is_given(
    library: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert [one.message for one in check_library(library, ON).findings if one.place.file == DRAFT_TREE] == []
    assert main(["order", "line-hot", "--root", str(library)]) == 0
    assert "to the remedy, on the mean over the causes" in capsys.readouterr().out


def test_nothing_else_in_the_site_knows_of_a_draft(library: Path) -> None:
    """Every page and file is what it is without the draft, but for its own page and two lists."""
    path = library / "kb" / "learning.yml"
    swap(path, "page: plugging-in", "page: line-hot, why: Later.}\n      - {page: plugging-in")
    swap(library / "kb" / "plugging-in.md", "trees: [", "trees: [line-hot, ")
    with_draft = built(library, check_library(library, ON))
    swap(path, "      - {page: line-hot, why: Later.}\n", "")
    swap(library / "kb" / "plugging-in.md", "trees: [line-hot, ", "trees: [")
    (library / DRAFT_TREE).unlink()
    without = built(library)
    assert set(with_draft) - set(without) == {"alarms/line-hot/index"}
    assert {path for path in without if with_draft[path] != without[path]} == {"index", "review/index"}
    assert WORDS not in "".join(without.values())
    home, review = with_draft["index"], with_draft["review/index"]
    assert home.index("Drafts, not for use at the bedside") < home.index(WORDS) and home.count(WORDS) == 1
    assert home.replace(home[home.index("<section data-search-exclude") :], "").strip() == without["index"].strip()
    assert "not read by anybody yet" in review and review.count(WORDS) == 1


def test_the_finder_never_offers_a_draft(library: Path) -> None:
    data = finder_data(open_library(library).published())
    assert [tree["id"] for tree in data["trees"]] == ["line-open", "supply-low"]
    assert "warm hose" not in str(data)


def test_the_page_of_a_draft_is_whole_but_for_what_is_proved_practised_and_printed(library: Path) -> None:
    page = built(library)["alarms/line-hot/index"]
    assert f'<p class="{DRAFT}"' in page and page.count("data-node=") == 8
    assert "supply-low/index.html#look" in page and "The check finds nothing wrong with this draft." in page
    assert "@media print{@page{@top-left{content:" in page  # on every page of paper
    for left_out in ("checks/", "practice/", "slides/", 'class="sheet"', "Do not use after"):
        assert left_out not in page


def test_a_draft_is_no_part_of_the_binder(library: Path, tmp_path: Path) -> None:
    pages = {path: text for path, text in built(library).items() if path == "index" or path.startswith("alarms/")}
    for path, body in pages.items():
        page = tmp_path / "site" / f"{path}.html"
        page.parent.mkdir(parents=True, exist_ok=True)
        page.write_text(f'<article class="page">{body}</article>', "utf-8")
    bound = [part.path for part in parts(tmp_path / "site", library)]
    assert bound == ["alarms/line-open/index", "alarms/supply-low/index"]


def test_faults_of_a_draft_stand_on_its_page_and_stop_no_build(library: Path) -> None:
    """What only its author can mend; without readable steps there is no page to look at."""
    path = library / DRAFT_TREE
    swap(path, "The danger is in the patient.", "(fill in) Why.")
    swap(path, "fixes: [plug-loose]\n    ", "")
    result = check_library(library, ON)
    assert result.errors >= 2 and result.stopping == 0
    said = [one.message for one in result.findings if one in result.of_drafts]
    pages, _ = build_all(result.library, RULES, said={DRAFT_TREE: said})
    (page,) = [page for page in pages if page.path == "alarms/line-hot/index"]
    assert "What the check says of this draft:" in page.body and page.body.count("plug-loose") >= 1
    swap(path, "to: plug}", "to: plog}")
    assert check_library(library, ON).stopping == 1
    swap(path, "to: plog}", "to: plug}")
    swap(path, "status: draft", "status: in-use")
    assert check_library(library, ON).stopping >= 3  # now without a review too


def test_a_story_of_a_draft_is_played_and_stops_no_build(library: Path) -> None:
    (library / "kb" / "stories").mkdir()
    story = "- id: unplugged\n  say: A hot plug.\n  opens: line-hot\n  answers: [Nothing]\n  end: resolved\n"
    (library / "kb" / "stories" / "line-hot.yml").write_text(story, "utf-8")
    result = check_library(library, ON)
    (error,) = [one for one in result.findings if one.severity == "error"]
    assert error.rule == "story-fails" and "has no answer “Nothing”" in error.message
    assert result.stopping == 0
    pages, _ = build_all(result.library, RULES, said={"kb/stories/line-hot.yml": [error.message]})
    assert ["line-hot" in page.path for page in pages if "has no answer “Nothing”" in page.body] == [True]


def test_a_draft_hides_no_fault_of_a_tree_in_use(library: Path) -> None:
    """It leads to a step that nothing else leads to: that step is out of reach all the same."""
    swap(
        library / "trees" / "line-open.yml",
        "  done:\n",
        "  lone:\n    end: resolved\n    say: Nobody comes here.\n  done:\n",
    )
    swap(library / DRAFT_TREE, "go: supply-low/look", "go: line-open/lone")
    result = check_library(library, ON)
    (error,) = [one for one in result.findings if one.rule == "unreachable"]
    assert error.node == "lone" and error not in result.of_drafts and result.stopping >= 1


def test_a_tree_in_use_may_not_lead_to_a_draft(library: Path) -> None:
    swap(library / "trees" / "line-open.yml", "go: supply-low/look", "go: line-hot")
    (error,) = [one for one in check_library(library, ON).findings if one.severity == "error"]
    assert error.rule == "draft-tree" and error.place.file == "trees/line-open.yml"
    assert check_library(library, ON).stopping == 1
