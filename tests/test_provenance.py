"""What rests on what: every use of a value or a source is found, and every number that a text cites."""

from __future__ import annotations

import re
from pathlib import Path

from alarmtrees.check.rules import RULES
from alarmtrees.proof.provenance import RESTS, Use, cited_numbers, uses_of_settings, uses_of_sources
from alarmtrees.reading.open import open_library
from alarmtrees.site.knowledge.numbers import numbers_page
from alarmtrees.site.knowledge.sources import sources_page
from small_library import shipped_library

LIBRARY = shipped_library()


def test_uses_of_a_value_are_each_told_once(small_library: Path) -> None:
    used = uses_of_settings(open_library(small_library))
    assert used["resting_warning"] == (
        Use("tree", "line-open", "plug"),
        Use("article", "plugging-in"),
        Use("caution", "rest-is-short"),
        Use("rule", "resting-limit"),
        Use("clock", "resting_warning"),
    )
    assert used["do_takes"] == (Use("rule", "resting-limit"),), "no text shows it, and the check counts with it"
    assert RESTS in {rule.id for rule in RULES}


def test_uses_of_a_source_reach_settings_cautions_steps_and_articles(small_library: Path) -> None:
    used = uses_of_sources(open_library(small_library))
    assert {use.kind for use in used["doe-2001"]} == {"setting", "caution", "tree", "article"}
    assert len(set(used["doe-2001"])) == len(used["doe-2001"])


def test_cited_number_comes_with_its_sentence_and_sources(small_library: Path) -> None:
    path = small_library / "kb" / "plugging-in.md"
    text = path.read_text("utf-8").replace(
        "Gas escapes from", "First this. **Within 5 s** [gas](#why) leaves at {call_by}"
    )
    path.write_text(text, "utf-8")
    found = [(one.number, one.sentence, one.sources) for one in cited_numbers(open_library(small_library))]
    assert found == [
        ("30 min", "A dry plug, no older than 30 min.", ("doe-2001",)),
        ("5 s", "Within 5 s gas leaves at 5\u00a0min a gas line that is open.", ("doe-2001", "common-practice")),
    ]


def test_number_of_a_step_rests_on_the_steps_sources_and_else_on_the_trees(small_library: Path) -> None:
    path = small_library / "trees" / "line-open.yml"
    text = path.read_text("utf-8").replace("until it locks", "for 3 s").replace("Tell the doctor", "Wait 4 s, tell")
    text = re.sub(r"(?m)^sources: .*$", "sources: [common-practice]", text)
    path.write_text(text, "utf-8")
    found = [one for one in cited_numbers(open_library(small_library)) if one.use.kind == "tree"]
    assert [(one.number, one.use.node, one.sources) for one in found] == [
        ("3 s", "plug", ("doe-2001",)),
        ("4 s", "tell", ("common-practice",)),
    ]


def test_every_number_of_this_library_that_stands_in_a_text_names_a_source_that_exists() -> None:
    found = cited_numbers(LIBRARY)
    assert found
    for one in found:
        assert one.sources and set(one.sources) <= set(LIBRARY.sources), one
        assert one.number.split()[0] in one.sentence, one


def test_page_of_numbers_lists_every_value_once_with_its_uses() -> None:
    body = numbers_page(LIBRARY).body
    assert re.findall(r'<li id="([a-z0-9_]+)">', body) == list(LIBRARY.settings)
    used = uses_of_settings(LIBRARY)
    low, high = LIBRARY.settings["resting_warning"].range or (0, 0)
    assert f"Refused outside {low:g} to {high:g}\u00a0min" in body and "on the page of each alarm" in body
    assert body.count("Refused outside") == len(LIBRARY.settings) - 1, "all but the address of the site"
    assert all(key in used for key in LIBRARY.settings if key != "site_address"), "each touches something"
    for use in used["resting_warning"]:
        if use.kind == "tree" and use.node:
            assert f'href="../alarms/{use.id}/index.html#{use.node}"' in body


def test_page_of_sources_says_of_each_what_it_supports() -> None:
    body = sources_page(LIBRARY).body
    entries = dict(re.findall(r'<li id="([^"]+)">(.*)</li>', body))
    assert set(entries) == set(LIBRARY.sources)
    assert all("Supports" in entry for entry in entries.values())
