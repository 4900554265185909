"""What the finder is given: which words of which alarm, and that private ones stay on the home page."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
import yaml

from alarmtrees.check.rules import RULES
from alarmtrees.check.run import check_library
from alarmtrees.reading.open import open_library
from alarmtrees.site.build import build_pages
from alarmtrees.site.finder import FALLBACK, finder_data
from alarmtrees.site.markup import script_json
from small_library import HOSTILE, REPOSITORY, shipped_library

SYNONYMS = yaml.load((REPOSITORY / "kb" / "synonyms.yml").read_text(encoding="utf-8"), yaml.CBaseLoader)
WORDING = "ZZ 0815 <LINE>"


def write(root: Path, file: str, text: str) -> None:
    (root / "kb" / file).write_text(text, encoding="utf-8")


def entry(root: Path, tree: str) -> dict[str, object]:
    return next(one for one in finder_data(open_library(root))["trees"] if one["id"] == tree)


# What is searched


def test_title_other_names_causes_and_summary_are_searched(small_library: Path) -> None:
    tree = open_library(small_library).trees["line-open"]
    found = entry(small_library, "line-open")
    assert found["title"] == tree.title and found["names"] == list(tree.aliases)
    assert found["causes"] == [cause.say for cause in tree.causes.values()] and found["summary"] == tree.summary
    assert found["wordings"] == []


def test_phrases_of_the_reviewed_list_are_searched_as_names(small_library: Path) -> None:
    write(small_library, "synonyms.yml", "said: {line-open: [hose fell down], gone-tree: [x]}\n")
    names = entry(small_library, "line-open")["names"]
    assert isinstance(names, list) and names[-1] == "hose fell down"
    assert not [finding for finding in check_library(small_library).findings if "synonyms" in finding.place.file]


def test_phrases_are_searched_but_not_printed(small_library: Path) -> None:
    write(small_library, "synonyms.yml", "said: {line-open: [hose fell down]}\n")
    pages = build_pages(open_library(small_library), RULES)
    assert [page.path for page in pages if "hose fell down" in page.body] == ["index"]


def test_settings_are_filled_in(small_library: Path) -> None:
    path = small_library / "trees" / "line-open.yml"
    text = path.read_text(encoding="utf-8").replace("hose off", '"still for {resting_warning}"')
    path.write_text(text, encoding="utf-8")
    assert "still for 15\u00a0min" in entry(small_library, "line-open")["names"]  # type: ignore[operator]


def test_withdrawn_alarm_is_found_by_its_title_alone(small_library: Path) -> None:
    path = small_library / "trees" / "line-open.yml"
    path.write_text(path.read_text(encoding="utf-8").replace("status: in-use", "status: withdrawn"), encoding="utf-8")
    assert entry(small_library, "line-open") == {
        "id": "line-open",
        "page": "alarms/line-open/",
        "title": "Line is open",
        "withdrawn": True,
    }


def test_fallback_is_offered_only_where_there_is_such_a_tree(small_library: Path) -> None:
    assert finder_data(open_library(small_library))["fallback"] is None
    source = (small_library / "trees" / "supply-low.yml").read_text(encoding="utf-8")
    (small_library / "trees" / f"{FALLBACK}.yml").write_text(
        source.replace("id: supply-low", f"id: {FALLBACK}"), encoding="utf-8"
    )
    assert finder_data(open_library(small_library))["fallback"] == FALLBACK
    assert "causes" not in entry(small_library, FALLBACK)  # they are the other alarms


def test_word_of_another_machine_is_ours_once_a_tree_uses_it(small_library: Path) -> None:
    write(small_library, "synonyms.yml", "elsewhere: [ventilator, hose]\n")
    assert finder_data(open_library(small_library))["elsewhere"] == ["ventilator"]


def test_without_a_list_of_synonyms_there_are_none(small_library: Path) -> None:
    data = finder_data(open_library(small_library))
    assert (data["same"], data["light"], data["fillers"], data["elsewhere"]) == ({}, [], [], [])


def test_data_stays_inside_its_element() -> None:
    text = script_json({"a": f"</script>{HOSTILE}"})
    assert "<" not in text and "&" not in text and json.loads(text) == {"a": f"</script>{HOSTILE}"}


# The hospital's own words


def test_own_wordings_are_searched_on_the_home_page_and_stand_nowhere_else(small_library: Path) -> None:
    write(small_library, "settings.local.yml", f'wordings: {{line-open: ["{WORDING}"]}}\n')
    library = open_library(small_library)
    assert library.wordings == {"line-open": (WORDING,)}
    assert entry(small_library, "line-open")["wordings"] == [WORDING]
    pages = [page for page in build_pages(library, RULES) if "ZZ 0815" in page.body or "ZZ 0815" in page.description]
    assert [page.path for page in pages] == ["index"]
    assert not [page for page in build_pages(library, RULES) if WORDING in page.tags]


def test_wordings_come_from_the_private_file_alone(small_library: Path) -> None:
    shared = (small_library / "kb" / "settings.yml").read_text(encoding="utf-8")
    write(small_library, "settings.yml", f'{shared}\nwordings: {{line-open: ["{WORDING}"]}}\n')
    assert open_library(small_library).wordings == {}
    assert "wordings" not in yaml.safe_load((REPOSITORY / "kb" / "settings.yml").read_text(encoding="utf-8"))


@pytest.mark.parametrize(
    ("wordings", "said"),
    [
        ("{line-opne: [a]}", "`wordings` lead to a tree `line-opne`, and there is none"),
        ("{line-open: a}", "list"),
        ("{line-open: []}", "line-open"),
    ],
)
def test_wording_that_leads_nowhere_is_a_finding_with_its_place(small_library: Path, wordings: str, said: str) -> None:
    write(small_library, "settings.local.yml", f"# ours\nwordings: {wordings}\n")
    found = [one for one in check_library(small_library).findings if one.place.file == "kb/settings.local.yml"]
    assert len(found) == 1 and said in found[0].message and found[0].place.line == 2


# The shipped list


def test_shipped_list_speaks_of_trees_and_meanings_that_exist() -> None:
    assert set(SYNONYMS["said"]) <= set(shipped_library().trees)
    assert set(SYNONYMS["light"]) <= set(SYNONYMS["same"])


def test_no_word_of_the_shipped_list_is_in_two_kinds() -> None:
    ours = {word for words in SYNONYMS["same"].values() for word in words}
    assert not ours & set(SYNONYMS["fillers"]) and not ours & set(SYNONYMS["elsewhere"])
    assert not set(SYNONYMS["fillers"]) & set(SYNONYMS["elsewhere"])


def test_shipped_words_are_plain_small_letters() -> None:
    words = [
        *SYNONYMS["fillers"],
        *SYNONYMS["elsewhere"],
        *(word for all_ in SYNONYMS["same"].values() for word in all_),
    ]
    assert [word for word in words if not re.fullmatch(r"=?[a-z0-9:]+( [a-z0-9:]+)*", word)] == []


def test_home_page_holds_the_field_and_its_data(small_library: Path) -> None:
    body = build_pages(open_library(small_library), RULES)[0].body
    assert body.index('id="finder"') < body.index('class="group"')
    data = re.search(r'<script type="application/json" id="finder-data">(.*)</script>', body)
    assert data and json.loads(data.group(1)) == finder_data(open_library(small_library))
