"""What the one box has learned, and how well it answers: by the site's own scripts, without a page."""

from __future__ import annotations

import gzip
import json
import re
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml

from alarmtrees.check.run import check_library
from alarmtrees.model.facts import NOTHING_HERE, NUMBERS_ASKED
from alarmtrees.reading.keep import Store
from alarmtrees.reading.open import open_library
from alarmtrees.site import finder, guess
from alarmtrees.site.build import build_files
from alarmtrees.site.finder import LEARNED, learned, texts_to_learn
from box import Answer, asked, figures, hits
from small_library import REPOSITORY, shipped_library

QUERIES = yaml.load((REPOSITORY / "tests" / "finder" / "queries.yml").read_text(encoding="utf-8"), yaml.CBaseLoader)
# Floors a little under what was measured: alarms first and among three, tasks first and among three.
JUDGED = {"judged": (0.935, 0.97, 0.935, 0.965), "judged-since": (0.96, 0.98, 0.97, 0.985)}
SMALL = [("the hose fell off", "a"), ("hose off", "a"), ("bottle is empty", "b"), ("no gas left", "b"), ("rain", "c")]


@cache
def weights() -> dict[str, Any]:
    return guess.learn(texts_to_learn(shipped_library().published()))


@pytest.fixture(scope="module")
def answers() -> list[tuple[dict[str, Any], Answer]]:
    texts = [query["query"] for query in QUERIES]
    return list(zip(QUERIES, asked(shipped_library().published(), weights(), texts), strict=True))


def of_split(answers: list[tuple[dict[str, Any], Answer]], *splits: str | None) -> dict[str, float]:
    """The figures of some sets; None is the first one. None was learned from; all but `unseen` shaped the lists."""
    these = [one for one in answers if one[0].get("split") in splits and "tree" in one[0]]
    right = [{query["tree"], *query.get("also", [])} for query, _ in these]
    return figures(right, [hits(answer, "alarms") for _, answer in these])


# How well it answers


def test_right_alarm_stands_first_and_among_the_first_three(answers) -> None:
    """The goals, over all queries; most of these shaped the lists of words, none was learned from."""
    reached = of_split(answers, None, "fresh", "fresh2", "late", "unseen")
    print(reached)
    assert reached["asked"] >= 1000 and reached["first"] >= 0.96 and reached["three"] >= 0.99


def test_right_alarm_is_found_for_queries_nobody_worked_with(answers) -> None:
    """Floors a little under what was measured (0.971, 0.98); by the words alone it was 0.922 and 0.961."""
    unseen = of_split(answers, "unseen")
    print(unseen)
    assert unseen["asked"] == 102 and unseen["first"] >= 0.95 and unseen["three"] >= 0.97


@pytest.mark.parametrize("name", JUDGED)
def test_page_is_found_for_a_voice_nobody_learned_from(name: str) -> None:
    """Measured: 0.947, 0.983, 0.951, 0.98; and of a voice heard once, at the end: 0.972, 0.989, 0.986, 1."""
    library = shipped_library().published()
    judged = yaml.load((REPOSITORY / "tests" / "finder" / f"{name}.yml").read_text("utf-8"), yaml.CBaseLoader)
    phrases = [(page, phrase) for page, said in judged.items() for phrase in said]
    told = asked(library, weights(), [phrase for _, phrase in phrases])
    both = list(zip(phrases, told, strict=True))
    found = {}
    for part in ("alarms", "tasks"):
        these = [
            one for one in both if one[0][0] != NOTHING_HERE and (one[0][0] in library.trees) == (part == "alarms")
        ]
        found[part] = figures([{page} for (page, _), _ in these], [hits(answer, part) for _, answer in these])
    wrong = sum(answer["sole"] and page not in hits(answer, "alarms") for (page, _), answer in both)
    refused = [answer["none"] for (page, _), answer in both if page == NOTHING_HERE]
    print(found, "refused", sum(refused), "of", len(refused))
    reached = [found[part][which] for part in ("alarms", "tasks") for which in ("first", "three")]
    assert all(one >= floor for one, floor in zip(reached, JUDGED[name], strict=True)), reached
    assert wrong == 0 and sum(refused) >= 0.75 * len(refused)


def test_wrong_alarm_is_never_the_sole_answer(answers) -> None:
    sole = [(query, answer) for query, answer in answers if answer["sole"]]
    assert len(sole) > 100
    assert [
        query["query"]
        for query, answer in sole
        if not set(hits(answer, "alarms")) <= {query.get("tree"), *query.get("also", [])} or answer["tasks"]
    ] == []


def test_no_letter_typed_on_the_way_shows_more_than_a_sole_answer() -> None:
    words = [query["query"][:end] for query in QUERIES[::60] for end in range(1, len(query["query"]))]
    for text, answer in zip(words, asked(shipped_library().published(), weights(), words), strict=True):
        assert not (answer["sole"] and answer["none"]), text
        assert not answer["sole"] or (len(answer["alarms"]) == 1 and not answer["tasks"]), text


def test_what_is_none_of_ours_gets_none(answers) -> None:
    asked_for = [(query["query"], answer) for query, answer in answers if "none" in query]
    assert len(asked_for) >= 35
    assert [words for words, one in asked_for if not one["none"] or one["alarms"] or one["tasks"]] == []


def test_what_a_task_is_called_finds_it() -> None:
    library = shipped_library().published()
    names = {one.title: one.id for one in library.articles.values()}
    names |= {str(one.raw["title"]): f"calculators/{key}" for key, one in library.calculators.items()}
    told = asked(library, weights(), list(names))
    found = {name: hits(answer, "tasks")[:2] for name, answer in zip(names, told, strict=True)}
    assert {name: found[name] for name, page in names.items() if page not in found[name]} == {}


ASKED = {
    "whom do i ring": ["specialist-on-call"],
    "phone number of the pump specialist": ["specialist-on-call"],
    "number of the equipment engineer": ["equipment-on-call", "specialist-on-call"],
}


def test_who_asks_for_a_number_gets_it_and_a_reason_is_what_was_typed() -> None:
    told = asked(shipped_library().published(), weights(), [*ASKED, "my hose came off again"])
    numbers = [[hit["id"] for hit in answer["tasks"] if hit.get("role")] for answer in told]
    assert numbers[:-1] == list(ASKED.values())
    assert told[-1]["alarms"][0] == {"id": "gas-line-disconnected", "why": ["hose", "came off"]}


NUMBERS_FIRST = {
    "arrest team": "arrest-team",
    "5500": "arrest-team",
    "5 5501": "specialist-on-call",
    "call 55 99": "fire-line",
    "fire": "fire-line",
    "doctor": "doctor-on-call",
    "ring the equipment engineer": "equipment-on-call",
}


def test_who_names_a_role_or_its_number_gets_its_line_on_top() -> None:
    told = asked(shipped_library().published(), weights(), [*NUMBERS_FIRST, "55", "line", "pump on fire"])
    firsts = {text: answer["tasks"][0]["id"] for text, answer in zip(NUMBERS_FIRST, told, strict=False)}
    assert firsts == NUMBERS_FIRST
    for answer in told[: len(NUMBERS_FIRST)]:
        assert answer["byTask"] and len(answer["alarms"]) <= 1 and all(hit["why"] for hit in answer["alarms"])
    few, line, among = told[len(NUMBERS_FIRST) :]
    assert not [hit for answer in (few, line) for hit in answer["tasks"] if hit.get("role")]
    assert among["alarms"][0]["id"] == "smoke-or-fluid" and among["tasks"][-1]["id"] == "fire-line"


def test_cry_for_help_gets_the_way_for_any_alarm_and_all_numbers() -> None:
    library = shipped_library().published()
    for answer in asked(library, weights(), ["help", "Help me please!"]):
        assert hits(answer, "alarms") == ["alarm-not-listed"] and not answer["none"]
        assert {hit["id"] for hit in answer["tasks"]} == set(library.roles)


TWO_AT_ONCE = {
    "helium loss and blood in tubing, pump stopped": ["blood-in-gas-line", "gas-leak-suspected"],
    "trigger lost and low pressure": ["trigger-lost", "low-pressure-pump-working"],
    "leg pale & kinked tubing": ["gas-line-kinked", "limb-cold"],
    "battery low + no trigger": ["power-low", "trigger-lost"],
    "hose came off and pump stopped": ["gas-line-disconnected", "pump-stopped"],
    "gas loss low pressure": ["gas-leak-suspected", "low-pressure-pump-working"],
}
ONE_AFTER_ALL = [
    *("hose off", "leg cold, no pulse in the foot", "low pressure, trigger good", "no pulse in left wrist"),
    *("stroke signs and blood in helium line", "battery and ecg alarm together", "balloon stays full in systole"),
]


def test_two_alarms_that_are_named_are_both_shown_with_the_page_for_several() -> None:
    """What harms sooner first; the way for several is the third of the list. None of it is a sole answer."""
    library = shipped_library().published()
    told = asked(library, weights(), list(TWO_AT_ONCE))
    assert {text: hits(one, "alarms")[:3] for text, one in zip(TWO_AT_ONCE, told, strict=True)} == {
        text: [*pair, "two-alarms-at-once"] for text, pair in TWO_AT_ONCE.items()
    }
    assert not any(one["sole"] for one in told)
    assert [one["several"] for one in told] == [True] * 5 + [False]  # without a word between, the order stays
    place = {key: at for at, group in enumerate(finder.finder_data(library)["soonest"]) for key in group}
    assert all(place[one] <= place[two] for one, two in TWO_AT_ONCE.values())
    assert place["gas-line-kinked"] < place["limb-cold"] and set(place) == set(library.in_use)


def test_one_alarm_told_in_two_parts_stays_one() -> None:
    """And one that has a page of its own for both."""
    told = asked(shipped_library().published(), weights(), ONE_AFTER_ALL)
    found = [
        text for text, one in zip(ONE_AFTER_ALL, told, strict=True) if "two-alarms-at-once" in hits(one, "alarms")[1:]
    ]
    assert found == [] and not any(one["several"] for one in told)
    pulseless = asked(shipped_library().published(), weights(), ["leg pale and pulseless"])[0]
    assert hits(pulseless, "alarms")[0] == "limb-cold"  # a word behind the others tells more of the same


def test_words_of_the_pump_alone_are_vague_and_no_word_is_no_question() -> None:
    told = asked(shipped_library().published(), weights(), ["pump", "balloon", "balloon pump", "qqqq", "?", "…"])
    assert [(one["none"], one["vague"]) for one in told] == [(True, True)] * 3 + [(True, False)] + [(False, False)] * 2
    assert not any(one["alarms"] or one["tasks"] for one in told)


UNFOUNDED = {
    "turn patient": "cardiac-arrest",
    "calculator": "cardiac-arrest",
    "sats dropping": "water-in-gas-line",
    "bp low": "pressure-too-high",
    "tank hours left": "arm-or-brain-signs",
    "engineer": "fever-or-red-site",
}


def test_one_common_word_or_a_weak_guess_is_no_reason_to_be_shown() -> None:
    told = asked(shipped_library().published(), weights(), list(UNFOUNDED))
    assert [text for text, one in zip(UNFOUNDED, told, strict=True) if UNFOUNDED[text] in hits(one, "alarms")] == []
    assert hits(told[-2], "tasks")[0] == "calculators/gas-left" and hits(told[-2], "alarms") == ["gas-supply-low"]


def test_words_alone_answer_in_a_library_that_has_learned_nothing() -> None:
    told = asked(shipped_library().published(), None, ["pump finds no beat", "zeroing", "qqqq"])
    assert [one["sole"] for one in told] == [True, False, False] and told[2]["none"]
    assert hits(told[1], "tasks")[0] == "zeroing"


# What is learned


def sums(learned: dict[str, Any], text: str) -> dict[str, float]:
    """What speaks for each page, read from the letters in another way than the browser does."""
    found, result = guess.pieces(text), {}
    for page, line in zip(learned["pages"], learned["weights"], strict=True):
        bucket, total = 0, 0.0
        for empty, letter in re.findall(r"(\d*)([A-Ga-g])", line):
            bucket += int(empty or 0)
            step = ord(letter.lower()) - 96
            sign = 1 if letter.isupper() else -1
            total += sign * learned["scale"] * (step / guess.LEVELS) ** 2 if bucket in found else 0
            bucket += 1
        result[page] = total / len(found) ** 0.5
    return result


def test_browser_reads_the_weights_as_they_were_written() -> None:
    learned = guess.learn(SMALL)
    texts = ["hose off", "Can't see 1:2 — ÉCG?", "no gas", "zürich", "𝒳 off"]
    for text, read in zip(texts, asked(shipped_library().published(), learned, texts, weighed=True), strict=True):
        assert read == pytest.approx(sums(learned, text), abs=1e-6), text


def test_same_phrases_teach_the_same_and_tell_the_pages_apart() -> None:
    learned = guess.learn(SMALL)
    assert learned == guess.learn(SMALL) and learned["pages"] == ["a", "b", "c"]
    for text, page in SMALL:
        told = sums(learned, text)
        assert max(told, key=lambda name: told[name]) == page


def test_what_is_learned_is_small() -> None:
    assert len(gzip.compress(json.dumps(weights()).encode())) < 120_000


def test_what_is_learned_is_kept_until_a_phrase_changes(small_library: Path, tmp_path: Path, monkeypatch) -> None:
    file = small_library / "kb" / "phrases.yml"
    file.write_text("nurse: {line-open: [hose fell off, plug is out], supply-low: [no gas left]}\n", encoding="utf-8")
    times = []
    monkeypatch.setattr(finder, "learn", lambda texts: times.append(len(texts)) or guess.learn(texts))
    store = Store(tmp_path / "kept")
    first = learned(open_library(small_library), store)
    assert first.startswith("window.alarmtrees.learned=") and learned(open_library(small_library), store) == first
    assert len(times) == 1
    file.write_text("nurse: {line-open: [hose fell off], supply-low: [no gas left]}\n", encoding="utf-8")
    assert learned(open_library(small_library), store) != first and len(times) == 2


def test_library_without_phrases_learns_nothing(small_library: Path) -> None:
    assert not [file for file in build_files(open_library(small_library)) if LEARNED in file.path]


def test_own_wordings_are_not_learned(small_library: Path) -> None:
    (small_library / "kb" / "phrases.yml").write_text("nurse: {line-open: [hose fell off]}\n", encoding="utf-8")
    (small_library / "kb" / "settings.local.yml").write_text("wordings: {line-open: [Zorp 815]}\n", encoding="utf-8")
    assert not [text for text, _ in texts_to_learn(open_library(small_library)) if "Zorp" in text]


# The reviewed file


def test_every_page_has_phrases_to_be_learned_by() -> None:
    library = shipped_library()
    calculators = {f"calculators/{key}" for key in library.calculators}
    pages = {*library.in_use, *library.articles, *calculators, NUMBERS_ASKED, NOTHING_HERE}
    counted = {page: sum(len(said.get(page, ())) for said in library.phrases.values()) for page in pages}
    assert {page: count for page, count in counted.items() if count < 20} == {}


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        ("nurse:\n  line-opne: [hose off]\n", 2, "there is no page `line-opne`"),
        ("nurse:\n  line-open: [hose off]\nother:\n  supply-low:\n    - Hose off\n", 5, "small letters"),
        ("nurse:\n  line-open: [hose off]\nother:\n  supply-low:\n    - hose off?\n", 5, "stands under `line-open`"),
        ("nurse:\n  line-open: []\n", 2, "line-open"),
        ("nurse:\n  calculators/gone: [a b]\n", 2, "there is no page `calculators/gone`"),
    ],
)
def test_phrase_in_a_wrong_place_is_a_finding(small_library: Path, text: str, line: int, said: str) -> None:
    (small_library / "kb" / "phrases.yml").write_text(text, encoding="utf-8")
    found = [one for one in check_library(small_library).findings if one.place.file == "kb/phrases.yml"]
    assert len(found) == 1 and said in found[0].message and found[0].place.line == line
