"""A value that is set anew makes due what shows it: no page less, and none that it does not touch."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from functools import cache
from html import unescape
from pathlib import Path

import pytest

from alarmtrees.check.run import check_library
from alarmtrees.model import Library
from alarmtrees.proof.resting import COUNTED
from alarmtrees.proof.reviewed import is_revalued, values_of
from alarmtrees.reading.open import open_library
from alarmtrees.site.bedside.tree import tree_page
from alarmtrees.site.knowledge.article import article_markdown
from alarmtrees.site.markup import review_notices, until_said
from alarmtrees.site.review.review import review_page
from alarmtrees.terminal.cli import main
from small_library import shipped_library, swap

TODAY = date(2026, 1, 3)
NOTICE = "A value on this page is another one than when it was signed."
ADDRESS = {"site_address"}
"""Stands on every sheet of paper, says where the site is, and is no advice."""


@cache
def marked() -> Library:
    """The shipped library in which every value reads as its own name."""
    library = shipped_library()
    return replace(library, settings={key: replace(one, value=f"⟦{key}⟧") for key, one in library.settings.items()})


def seen(html: str) -> set[str]:
    return set(re.findall(r"⟦(\w+)⟧", unescape(html))) - ADDRESS


def test_what_counts_for_an_alarm_is_what_stands_on_its_page_and_what_its_rests_are_counted_with() -> None:
    """Held to the page as it is drawn, its sheet included: not to how it was made."""
    library, found = marked(), set[str]()
    for tree in library.in_use.values():
        shown, counts = seen(tree_page(library, tree).body), set(values_of(library, tree))
        assert shown <= counts and counts - shown <= set(COUNTED), (tree.id, shown ^ counts)
        found |= shown
    assert len(found) > 15


def test_what_counts_for_an_article_is_what_stands_on_its_page() -> None:
    library = marked()
    for article in library.articles.values():
        shown = seen(article_markdown(library, article))
        # Its questions stand on the page of learning.
        asked = {name for text in map(str, article.raw.get("questions", ())) for name in re.findall(r"\{(\w+)\}", text)}
        assert shown <= set(values_of(library, article)) <= shown | asked, article.id


def test_every_value_of_a_calculator_counts_for_it() -> None:
    library = shipped_library()
    assert set(values_of(library, library.calculators["gas-left"])) == {
        *("gas_change_at", "gas_cylinder", "gas_refill_every", "gas_refill_volume", "round_every")
    }


def set_to(root: Path, name: str, value: str) -> None:
    (root / "kb" / "settings.local.yml").write_text(f'values:\n  {name}: {{value: "{value}"}}\n', encoding="utf-8")


def due(root: Path) -> dict[str, str]:
    found = check_library(root, TODAY).findings
    return {one.place.file: one.message for one in found if one.rule == "value-changed"}


def test_a_value_that_is_set_anew_makes_due_what_shows_it_until_it_is_signed(small_library: Path) -> None:
    assert not due(small_library)
    set_to(small_library, "resting_warning", "12")
    told = due(small_library)
    assert set(told) == {"trees/line-open.yml", "trees/supply-low.yml", "kb/plugging-in.md"}
    assert "`resting_warning` 12 min (shipped: 15 min)" in told["trees/line-open.yml"]
    library = open_library(small_library)
    for page in (*library.trees.values(), *library.articles.values()):
        assert NOTICE in "".join(review_notices(library, page)) and "ask first" in until_said(library, page)
    assert "A value is another one than when it was signed" in review_page(library).body
    assert main(["sign", "line-open", "plugging-in", "--by", "lead", "--root", str(small_library)]) == 0
    assert set(due(small_library)) == {"trees/supply-low.yml"}
    assert main(["sign", "--all", "--by", "lead", "--on", "2026-01-02", "--root", str(small_library)]) == 0
    assert not due(small_library)
    library = open_library(small_library)
    assert not any(NOTICE in "".join(review_notices(library, page)) for page in library.trees.values())
    # And back again: what was signed is no longer what is seen.
    (small_library / "kb" / "settings.local.yml").unlink()
    assert set(due(small_library)) == set(told)


@pytest.mark.parametrize(
    ("name", "touched"), [("ask_takes", ["trees/line-open.yml"]), ("call_by", ["trees/line-open.yml"])]
)
def test_what_no_text_shows_counts_where_the_balloon_may_rest(
    small_library: Path, name: str, touched: list[str]
) -> None:
    set_to(small_library, name, "3")
    assert sorted(due(small_library)) == touched


def test_a_value_that_is_shipped_anew_is_seen_where_the_review_bears_a_stamp(small_library: Path) -> None:
    assert main(["sign", "line-open", "--by", "lead", "--root", str(small_library)]) == 0
    swap(small_library / "kb" / "settings.yml", "value: 15\n", "value: 14\n")
    assert "trees/line-open.yml" in due(small_library)


def test_a_withdrawn_tree_is_due_for_nothing(small_library: Path) -> None:
    set_to(small_library, "resting_warning", "12")
    swap(small_library / "trees" / "line-open.yml", "status: in-use", "status: withdrawn")
    library = open_library(small_library)
    assert not is_revalued(library, library.trees["line-open"]) and "trees/line-open.yml" not in due(small_library)


def test_the_name_of_a_hospital_does_not_stand_in_what_it_signs(small_library: Path) -> None:
    own = 'hospital: {say: Secret Hospital, fictional: "no"}\n'
    (small_library / "kb" / "settings.local.yml").write_text(own, encoding="utf-8")
    assert main(["sign", "line-open", "--by", "lead", "--root", str(small_library)]) == 0
    text = (small_library / "trees" / "line-open.yml").read_text(encoding="utf-8")
    assert "Secret" not in text and re.search(r"house: \"?[0-9a-f]{16}", text)
