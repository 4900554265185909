"""A group's files as one view: what was planted is named, one learner's two files are one, no time is guessed."""

from __future__ import annotations

import json
import re
from datetime import date, datetime, timedelta
from functools import cache
from itertools import pairwise

import pytest
import yaml
from icalendar import Calendar

from alarmtrees.learning import tree_data
from alarmtrees.learning.course import course_of
from alarmtrees.learning.minutes import (
    SPEED,
    SPEED_SOURCE,
    case_words,
    count,
    needed,
    stage_words,
    tree_words,
    words_of,
)
from alarmtrees.learning.path import asked_here, path_of
from alarmtrees.learning.soonest import soonest
from alarmtrees.model.addresses import EDUCATOR, tree_path
from alarmtrees.site.knowledge.article import article_markdown
from alarmtrees.site.markup import View
from alarmtrees.site.teaching.known import known
from engine import Play, Tree, call
from played.learners import ASK, IN, LABELS, RULE, TWICE, File, months
from small_library import REPOSITORY, shipped_library
from test_learning import on, saved


@cache
def files() -> list[File]:
    return months()


@cache
def site() -> dict:
    library = shipped_library()
    return known(View(library, EDUCATOR), course_of(library))


def grouped(some: list[File], **changed: object) -> dict:
    return call("group", [[one.name, one.text] for one in some], {**site(), **changed})


def said(pieces: list) -> str:
    return "".join(one if isinstance(one, str) else one["words"] for one in pieces)


def test_six_months_are_six_learners_and_two_files_of_one_are_merged_by_date() -> None:
    told = grouped(files())
    assert {one["label"] for one in told["learners"]} == set(LABELS) and len(files()) == 7
    both = next(one for one in told["learners"] if one["label"] == TWICE)
    assert len(both["files"]) == 2 and told["alike"] == []
    parts = [json.loads(one.text) for one in files() if one.name in both["files"]]
    for part in ("read", "checks", "cases"):
        assert set(both["data"][part]) == set(parts[0][part]) | set(parts[1][part])
    # The rule that was broken in one file is still told after a good play of the same case in the other.
    case = {"gap": 1, "plays": 3, "unsafe": 2, "rules": {RULE: 2}, "again_on": "2026-09-15T08:00:00Z"}
    last = {"case": "b", "verdict": "unsafe", "went": "bad", "seconds": 1, "rested": 0, "rule": RULE}
    early = {**case, "last": {**last, **on("2026-09-14")}}
    late = {**case, "plays": 1, "unsafe": 0, "rules": None, "last": {**last, "went": "good", **on("2026-09-16")}}
    for first, second in ((early, late), (late, early)):
        records = [call("read", saved(label="a", cases={"a/b": one})) for one in (first, second)]
        merged = call("merged", *records)["cases"]["a/b"]
        assert (merged["last"]["went"], merged["plays"], merged["unsafe"], merged["rules"]) == ("good", 3, 2, {RULE: 2})


def test_a_learner_merged_in_a_group_s_file_can_be_parted_again() -> None:
    """By two devices, or by two labels; what is worked on afterwards goes on with the device that it comes from."""
    half = [[one.name, one.text] for one in months(days=12)]
    whole = [[one.name, one.text] for one in files()]
    two = [json.loads(text) for name, text in whole if json.loads(text)["label"] == TWICE]
    told = call("regrouped", half, [TWICE], [], whole)
    assert told["faults"] == [] and told["same"] == []
    assert [one["label"] for one in told["whole"]] == [json.loads(text)["label"] for _, text in half if "2-1" not in _]
    assert [one["sources"] for one in told["whole"] if one["label"] == TWICE] == [2]
    parted = [one for one in told["apart"] if one["label"].startswith(TWICE)]
    assert [one["label"] for one in parted] == [TWICE, f"{TWICE} (2)"] and len(told["apart"]) == len(LABELS) + 1
    for one, record in zip(parted, two, strict=True):
        assert all(one["data"][part] == record[part] for part in ("read", "checks"))
    # All others have one device, and stand in the file once.
    group = json.loads(told["text"])
    assert [len(one.get("sources", [])) for one in group["learners"]].count(2) == 1

    other = call("regrouped", half, [], [["blue mug", "window 7"]], half)
    assert other["same"] == [["blue mug", "window 7"]]
    assert "blue mug" not in {one["label"] for one in other["whole"]} and len(other["whole"]) == len(LABELS) - 1
    assert {one["label"] for one in other["apart"]} == set(LABELS)
    named = [[name, text.replace("blue mug", "Anna Kowalska")] for name, text in half]
    assert "Anna" not in call("regrouped", named, [], [["anna kowalska", "window 7"]], half)["text"]


def test_what_to_teach_next_is_one_sentence_and_names_what_was_planted() -> None:
    library = shipped_library()
    told = grouped(files())
    sentence = said(told["next"])
    assert library.safety[RULE].say in sentence and "5 of 6" in sentence
    links = [one["href"] for one in told["next"] if not isinstance(one, str)]
    assert links[0] in {site()["at"][tree] for tree in IN} and links[1].rpartition("#")[2] in IN
    # Without the rule it is the question; without that the stage that is not finished by all.
    sentence = said(grouped(files(), rules={})["next"])
    assert site()["checks"][ASK] in sentence and "4 of 6" in sentence
    sentence = said(grouped(files(), rules={}, checks={})["next"])
    assert "Teach next: the stage “" in sentence
    refreshed = [one["id"] for one in told["refresher"]["entries"]]
    assert refreshed[0] in IN and "handing-over" in refreshed and len(refreshed) == len(set(refreshed)) <= 12
    assert set(list(soonest(library))[:3]) <= set(refreshed)
    assert call("group", [], site())["refresher"]["entries"][0]["id"] == next(iter(soonest(library)))


@pytest.mark.parametrize(
    "label", ["Anna K. 1990", "anna kowalska", "Mrs B", "O’Brien", "Zoë", "a.b@example.org", "Dr X"]
)
def test_a_label_that_looks_like_a_name_is_warned_of(label: str) -> None:
    assert call("named", label) is True


@pytest.mark.parametrize("label", [*LABELS, "C12", "Bed 4 night", "AB <7>", "", "7", "Night shift", "ICU 3", "heron"])
def test_words_of_a_ward_are_no_name(label: str) -> None:
    assert call("named", label) is False


def test_due_dates_follow_one_another_and_the_calendar_is_read_by_another_program() -> None:
    stages = [{"id": stage.id, "days": stage.days} for stage in path_of(shipped_library())]
    days = call("planned", "2027-02-20", stages)
    assert days[0] == {"id": "dangers", "from": "2027-02-20", "due": "2027-02-20"}
    for one, after in pairwise(days):
        assert date.fromisoformat(after["from"]) - date.fromisoformat(one["due"]) == timedelta(days=1)
    assert date.fromisoformat(days[-1]["due"]) - date.fromisoformat("2027-02-20") == timedelta(
        days=sum(stage["days"] for stage in stages) - 1
    )
    odd = "Gas, line; and \\ “cylinder”: " + "é" * 90
    events = [
        {"id": "a-1", "on": "2028-02-29", "title": odd, "told": f"{odd}\nsecond line"},
        {"id": "b-1", "on": "2027-12-31", "title": "Refresher", "told": "x", "yearly": True},
    ]
    text = call("calendar", events, "2026-11-30T14:00:00.123Z")
    assert all(len(line.encode()) <= 75 for line in text.split("\r\n")) and "\n" not in text.replace("\r\n", "")
    read = Calendar.from_ical(text)
    assert read["version"] == "2.0" and read["prodid"] and not read.errors
    first, second = read.walk("VEVENT")
    assert (str(first["summary"]), str(first["description"])) == (odd, f"{odd}\nsecond line")
    assert first.decoded("dtstart") == date(2028, 2, 29) and first.decoded("dtend") == date(2028, 3, 1)
    assert first.decoded("dtstamp").replace(tzinfo=None) == datetime(2026, 11, 30, 14)
    assert second["rrule"].to_ical() == b"FREQ=YEARLY" and second.decoded("dtend") == date(2028, 1, 1)
    assert {str(one["uid"]) for one in (first, second)} == {"a-1", "b-1"} and not first.errors and not second.errors


def test_words_are_those_of_the_pages_and_of_the_cases_as_they_are_played() -> None:
    """The speed is that of Brysbaert 2019; what is multiplied with it is held to the page, and to the engine itself."""
    library = shipped_library()
    assert library.sources[SPEED_SOURCE]["year"] == "2019" and SPEED == 238
    tree = library.trees["gas-line-kinked"]
    written = yaml.safe_load((REPOSITORY / tree.file).read_text("utf-8"))
    texts = [written["title"], written["summary"]]
    for node in written["nodes"].values():
        told = [node.get(key) or [] for key in ("ask", "do", "end", "say", "why", "meanwhile")]
        texts += [" ".join(one) if isinstance(one, list) else str(one) for one in told]
        texts += [answer["say"] for answer in node.get("answers", ())]
    assert tree_words(library, tree) == pytest.approx(sum(len(text.split()) for text in texts), rel=0.1)
    data = Tree(tree_data(library, tree))
    played = []
    for case in (one for one in data.data["cases"] if one["id"] in tree.causes):
        play = Play(data, case, 1)
        state, words = play.begin(), sum(map(count, case["story"]))
        while not state.over:
            words += sum(count(data.nodes[step]["text"]) for step in state.offers)
            before, state = state, play.choose(state, state.right)
            node = data.nodes[before.right]
            found = state.way[-1].answer
            words += count(node["answers"][found]["say"]) if found is not None and found >= 0 else 0
            words += count(node["text"]) + count(node["why"])
        played.append(words)
    assert case_words(library, tree) == pytest.approx(sum(played) / len(played), rel=0.15)


def test_each_page_of_the_path_says_at_its_end_what_learn_says_of_it(shipped_site) -> None:
    bodies = {page.path: page.body for page in shipped_site[0]}
    library = shipped_library()
    entry = r'<li data-page="([^"]+)".*?<span class="time">(\d+) min(?:, a case (\d+) min)?</span>'
    told = re.findall(entry, bodies["learn/index"])
    assert len(told) == sum(len(stage.pages) for stage in library.path)
    for name, read, case in told:
        is_tree = name in library.trees
        page = bodies[tree_path(name)] if is_tree else article_markdown(library, library.articles[name])
        foot = page.rpartition('id="_review"')[2]
        assert f"{read} min to read" in foot and (f": {case} min a case;" in foot) == bool(case), name


def test_the_minutes_of_stage_and_path_are_the_sums_in_every_place() -> None:
    library = shipped_library()
    words = words_of(library, asked_here(library))
    assert set(words) == {name for stage in library.path for name, _ in stage.pages}
    assert all(one.page > 150 and (one.case > 0) == (name in site()["alarms"]) for name, one in words.items())
    time = needed(stage_words(stage, words) for stage in library.path)
    assert grouped([])["needed"] == {"work": time.work, "pauses": time.pauses}
