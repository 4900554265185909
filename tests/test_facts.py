"""The shipped facts: safety rules, settings, sources, glossary.

The safety rules are held against the sentences that asked for them, and tried on short ways written by hand.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from unicodedata import normalize

import pytest
import yaml

from alarmtrees.calc.formula import counted as counted_in
from alarmtrees.model.wording import names
from alarmtrees.proof.graph import Graph
from alarmtrees.proof.patterns import Patterns
from alarmtrees.reading.articles import settings_in
from alarmtrees.reading.load import parse
from alarmtrees.reading.texts import Text, texts
from alarmtrees.reading.trees import build_tree
from cases.bundle import REPO
from small_library import shipped_library

KB = REPO / "kb"
LIBRARY = shipped_library()


def facts(kind: str) -> dict[str, Any]:
    return yaml.load((KB / f"{kind}.yml").read_text("utf-8"), yaml.CBaseLoader)


SAFETY, SETTINGS, SOURCES, WORDS, MARKS = map(facts, ("safety", "settings", "sources", "words", "marks"))
ACTS = facts("acts")["acts"]

# ---------------------------------------------------------------------- safety rules

# The sentences that kb/safety.yml has to hold at the least, each with its rules, and ways by hand that break or keep
# them. A way is a row of events, `>` between them: a mark of a step, or with a question mark one of an answer;
# `starts`, `stops`, `call` are what a step does, `end-resolved` an end. The last event of a way ends it.
HELD: list[tuple[str, dict[str, tuple[list[str], list[str]]]]] = [
    (
        "the patient is looked at before anything else",
        {
            "look-at-the-patient-first": (
                ["console-step > patient-check > call", "call", "patient-again > end-resolved"],
                ["patient-check > call", "patient-check > console-step > call"],
            )
        },
    ),
    (
        "`blood-clear` before any reconnecting, refilling, restarting, moving by hand, draining",
        {
            "no-blood-before-gas": (
                [
                    f"patient-check > blood-check > {step} > call"
                    for step in ["reconnect", "refill", "starts", "hand-move", "drain"]
                ]
                + ["refill > blood-clear? > call"],
                ["patient-check > blood-clear? > reconnect > refill > starts > hand-move > drain > call"],
            )
        },
    ),
    (
        "after `blood-seen` or `blood-unsure` none of these",
        {
            "blood-means-stop": (
                [
                    f"blood-clear? > {seen}? > {step} > call"
                    for seen in ("blood-seen", "blood-unsure")
                    for step in ["reconnect", "refill", "starts", "hand-move", "drain"]
                ],
                ["blood-clear? > refill > blood-seen? > stops > call"],
            )
        },
    ),
    (
        "and always a call",
        {
            "blood-means-call": (
                [
                    "blood-seen? > stops > end-resolved",
                    "blood-unsure? > end-resolved",
                    "call > blood-seen? > end-resolved",
                ],
                ["blood-seen? > stops > call", "blood-unsure? > clamp-line > call"],
            )
        },
    ),
    (
        "the line clamped before it is opened after blood",
        {
            "clamp-before-opening": (
                ["blood-seen? > open-line > clamp-line > call", "clamp-line > blood-unsure? > open-line > call"],
                ["blood-seen? > clamp-line > open-line > call", "open-line > call"],
            )
        },
    ),
    (
        "after a leak that came back no refill and no restart",
        {
            "leak-came-back": (
                ["leak-again? > refill > call", "leak-again? > starts > call"],
                ["refill > leak-again? > call"],
            )
        },
    ),
    (
        "and a call (after a leak that came back)",
        {"leak-came-back-means-call": (["leak-again? > end-resolved"], ["leak-again? > call"])},
    ),
    (
        "the resting time asked before a restart",
        {"ask-how-long-still": (["blood-clear? > starts > call"], ["rest-check > rested-short? > starts > call"])},
    ),
    (
        "none after `rested-too-long` or `rest-unknown`",
        {
            "rested-too-long-no-restart": (
                ["rested-too-long? > starts > call", "rest-unknown? > call > starts > call"],
                ["rested-short? > starts > call"],
            )
        },
    ),
    (
        "and a call (after too long a rest)",
        {
            "rested-too-long-means-call": (
                ["rested-too-long? > end-resolved", "rest-unknown? > end-resolved"],
                ["rest-unknown? > call"],
            )
        },
    ),
    (
        "no pulse is followed by compressions",
        {"no-pulse-means-compressions": (["no-pulse? > call"], ["no-pulse? > compressions > call"])},
    ),
    (
        "before any step on the console",
        {
            "compressions-before-console": (
                [
                    f"no-pulse? > {step} > compressions > call"
                    for step in [
                        "console-step",
                        "starts",
                        "refill",
                        "trigger-changed",
                        "fixed-rate",
                        "timing-changed",
                        "limit-lowered",
                    ]
                ],
                [
                    "no-pulse? > compressions > console-step > starts > call",
                    "console-step > no-pulse? > compressions > call",
                ],
            )
        },
    ),
    (
        "fixed rate only after no heartbeat was confirmed",
        {
            "fixed-rate-without-heartbeat-only": (
                ["no-pulse? > fixed-rate > call", "fixed-rate > no-heartbeat? > call"],
                ["no-heartbeat? > fixed-rate > call"],
            )
        },
    ),
    (
        "and followed by its end or a call",
        # The shipped rule asks for more: a call alone is not enough.
        {"fixed-rate-is-ended": (["fixed-rate > end-resolved"], ["fixed-rate > fixed-rate-ended > end-resolved"])},
    ),
    (
        "a restart, a changed trigger or changed timing is followed by a look at the timing or a call",
        {
            "look-at-timing-after-change": (
                [f"timing-look > {step} > end-resolved" for step in ("starts", "trigger-changed", "timing-changed")],
                [
                    f"{step} > {by} > end-resolved"
                    for step in ("starts", "trigger-changed")
                    for by in ("timing-look", "call")
                ],
            )
        },
    ),
    (
        "the alarm limit never lowered after `patient-worse`",
        {
            "limit-not-when-worse": (
                ["patient-worse? > call > limit-lowered > call"],
                ["limit-lowered > patient-worse? > call"],
            )
        },
    ),
    (
        "nor before a cause was looked for",
        {"limit-last": (["limit-lowered > cause-looked-for > call"], ["cause-looked-for > limit-lowered > call"])},
    ),
    (
        "a paused alarm is followed by restoring it or a call",
        {
            "pause-is-ended": (
                ["alarm-paused > end-resolved"],
                ["alarm-paused > alarm-restored > end-resolved", "alarm-paused > call"],
            )
        },
    ),
    (
        "or reduced ratio (is followed by restoring it or a call)",
        {
            "ratio-is-restored": (
                ["ratio-reduced > end-resolved"],
                ["ratio-reduced > ratio-restored > end-resolved", "ratio-reduced > call"],
            )
        },
    ),
    (
        "the patient looked at again before `resolved`",
        {
            "patient-again-before-resolved": (
                ["patient-check > end-resolved"],
                ["patient-check > patient-again > end-resolved"],
            )
        },
    ),
    (
        "the spare at hand before the cylinder is closed",
        {"spare-first": (["cylinder-closed > spare-at-hand? > call"], ["spare-at-hand? > cylinder-closed > call"])},
    ),
    (
        "no step in which the reader moves catheter or sheath or pulls the balloon",
        {"hands-off-the-catheter": (["moves-catheter > call", "call > moves-catheter > call"], ["hand-move > call"])},
    ),
]
WAYS = [
    (rule, way, broken)
    for _, rules in HELD
    for rule, (bad, good) in rules.items()
    for ways, broken in ((bad, True), (good, False))
    for way in ways
]


def breaks(way: str, tree_id: str = "way") -> set[str]:
    """The shipped rules that a way breaks, as the package decides."""
    events = way.split(" > ")
    nodes: dict[str, Any] = {}
    for index, event in enumerate(events):
        last = index == len(events) - 1
        to = f"s{index + 1}"
        if event in ("call", "end-resolved") and last:
            node: dict[str, Any] = {"end": event.removeprefix("end-"), "say": "The end"} | (
                {"call": "somebody"} if event == "call" else {}
            )
        elif event.endswith("?"):
            node = {"ask": "What is seen?", "answers": [{"say": "This", "to": to, "marks": [event[:-1]]}]}
        else:
            node = {"do": ["It"], "then": to}
            node |= (
                {"pump": event}
                if event in ("starts", "stops")
                else {"call": "x"}
                if event == "call"
                else {"marks": [event]}
            )
        nodes[f"s{index}"] = node
    if "end" not in nodes[f"s{len(events) - 1}"]:
        nodes[f"s{len(events)}"] = {"end": "resolved", "say": "The end"}
    tree = {
        "id": tree_id,
        "title": "A way",
        "summary": "A way.",
        "about": "gas",
        "aliases": [],
        "condition": "technical",
        "harm": {"severity": "minor", "onset": "delayed"},
        "pump": "running",
        "start": "s0",
        "nodes": nodes,
    }
    built = build_tree(parse(yaml.safe_dump(tree), "way.yml", tree_id, "tree"))
    patterns = Patterns(Graph({tree_id: built}), LIBRARY.safety.values())
    return {breach.rule for breach in patterns.breaches(built)}


@pytest.mark.parametrize(("sentence", "rules"), HELD, ids=[sentence for sentence, _ in HELD])
def test_a_sentence_has_its_rules(sentence: str, rules: dict[str, Any]) -> None:
    assert set(rules) <= set(SAFETY)


@pytest.mark.parametrize(("rule", "way", "broken"), WAYS, ids=[f"{rule}: {way}" for rule, way, _ in WAYS])
def test_a_rule_holds_on_ways_written_by_hand(rule: str, way: str, broken: bool) -> None:
    names = {event.rstrip("?") for event in way.split(" > ")} - {"call", "starts", "stops", "end-resolved"}
    assert names <= set(MARKS), "a mark that is not shipped would prove nothing"
    assert (rule in breaks(way)) == broken


def as_list(marks: Any) -> list[str]:
    """The events of a place of a rule, the derived marks as what a step does."""
    acts = {"pump-starts": "starts", "pump-stops": "stops"}
    return [acts.get(mark, mark) for mark in ([marks] if isinstance(marks, str) else marks)]


def shortest_ways(entry: dict[str, Any]) -> tuple[list[str], list[str]]:
    """Ways that break and that keep a rule, made from its pattern: one for each mark in each place."""
    if "precedence" in entry:
        first, then = as_list(entry["precedence"]["first"]), as_list(entry["precedence"]["then"])
        acts = ["some-other-mark"] if then == ["any"] else then
        return [f"{act}" for act in acts], [f"{before} > {act}" for before in first for act in acts]
    if "response" in entry:
        of, by = as_list(entry["response"]["of"]), as_list(entry["response"]["by"])
        return [f"{act} > some-other-mark" for act in of], [f"{act} > {after}" for act in of for after in by]
    if "existence" in entry:
        return ["some-other-mark"], as_list(entry["existence"]["of"])
    place = entry["absence"]
    of, after, until = (as_list(place.get(key, ())) for key in ("of", "after", "until"))
    if not after:
        return of, ["some-other-mark"]
    kept = [f"{before} > {end} > {act}" for before in after for end in until for act in of if act not in until]
    return [f"{before} > {act}" for before in after for act in of], [*kept, *(act for act in of if act not in after)]


@pytest.mark.parametrize("rule", SAFETY)
def test_every_rule_can_be_broken_and_can_be_kept(rule: str) -> None:
    entry = SAFETY[rule]
    bad, good = shortest_ways(entry)
    tree_id = as_list(entry["only"])[0] if "only" in entry else "way"
    for way in bad:
        assert rule in breaks(way, tree_id), way
    for way in good:
        assert rule not in breaks(way, tree_id), way
    if "only" in entry:
        assert all(rule not in breaks(way, "another-tree") for way in bad)
        assert tree_id in LIBRARY.trees or tree_id in ("patient", "trigger", "pressure", "gas", "power", "timing")


@pytest.mark.parametrize("rule", SAFETY)
def test_every_rule_gives_its_reason_and_source(rule: str) -> None:
    entry = SAFETY[rule]
    assert entry["say"].endswith(".") and entry["reason"].endswith(".")
    assert entry["reason"] != entry["say"]
    assert set(entry["sources"]) <= set(SOURCES) and entry["sources"]
    assert len({"precedence", "absence", "response", "existence"} & set(entry)) == 1


def test_no_two_rules_say_the_same() -> None:
    assert len({entry["say"] for entry in SAFETY.values()}) == len(SAFETY)
    shapes = [
        str({key: entry[key] for key in entry if key not in ("say", "reason", "sources")}) for entry in SAFETY.values()
    ]
    assert len(set(shapes)) == len(shapes)


def used_marks() -> Iterator[str]:
    for entry in SAFETY.values():
        for pattern in ("precedence", "absence", "response", "existence"):
            for marks in entry.get(pattern, {}).values():
                yield from [marks] if isinstance(marks, str) else marks


def test_every_mark_serves_a_rule_or_is_demanded() -> None:
    """A mark that no rule names, nothing shows and no act demands is a word that an author writes for nothing."""
    asking = {name for name, mark in MARKS.items() if "shows" in mark}
    shown = {name for name in asking for name in MARKS[name]["shows"]}
    told = {name for act in ACTS.values() for key in ("marks", "told") for name in act.get(key, ())}
    back = {name for name, mark in MARKS.items() if "sends_back" in mark}  # `two-causes` asks for these
    assert set(MARKS) - set(used_marks()) - asking - shown - told - back == set()


@pytest.mark.parametrize(
    "mark",
    [
        "refill",
        "reconnect",
        "drain",
        "hand-move",
        "open-line",
        "clamp-line",
        "fixed-rate",
        "limit-lowered",
        "alarm-paused",
        "ratio-reduced",
        "trigger-changed",
        "compressions",
        "cylinder-closed",
        "moves-catheter",
        "lumen-flushed",
    ],
)
def test_a_dangerous_act_has_words_that_demand_its_mark(mark: str) -> None:
    """Without the mark a safety rule sees nothing: so the words of such a step ask for it."""
    assert any(mark in act["marks"] for act in ACTS.values())


@pytest.mark.parametrize("mark", MARKS)
def test_phrases_are_such_as_a_text_can_hold(mark: str) -> None:
    for words in ("step_words", "answer_words"):
        for phrase in MARKS[mark].get(words, ()):
            assert phrase == " ".join(phrase.casefold().split()), "a phrase is compared in small letters"


# ---------------------------------------------------------------------- settings


@pytest.mark.parametrize("name", SETTINGS["values"])
def test_every_setting_says_what_it_is_and_who_set_it(name: str) -> None:
    entry = SETTINGS["values"][name]
    for key in ("say", "value", "status", "by", "on") + (("unit",) if name != "site_address" else ()):
        assert entry.get(key), key
    assert re.fullmatch(r"2026-\d\d-\d\d", entry["on"])
    assert "fictional" in entry["by"], "the shipped values belong to an invented hospital, and say so"
    if entry["status"].startswith("read in"):
        assert entry.get("source") in SOURCES


def test_the_settings_that_the_checks_rest_on_are_times() -> None:
    for name in ("resting_warning", "call_by", "before_page", "ask_takes", "do_takes"):
        entry = SETTINGS["values"][name]
        assert entry["unit"] in ("s", "min", "h") and float(entry["value"]) > 0


def test_the_resting_warning_is_not_longer_than_its_source_allows() -> None:
    """Weil 2007: 15 minutes are hazardous. A shorter one is a hospital's to set."""
    entry = SETTINGS["values"]["resting_warning"]
    minutes = float(entry["value"]) * {"s": 1 / 60, "min": 1, "h": 60}[entry["unit"]]
    assert minutes <= 15 and entry["source"] == "weil-2007"


def test_the_demo_hospital_is_invented_and_says_so() -> None:
    assert SETTINGS["hospital"] == {"say": "Larkmoor General", "fictional": "yes"}
    for role in SETTINGS["roles"].values():
        assert role["fictional"] == "yes" and re.fullmatch(r"5 55\d\d", role["phone"])
    assert len({role["phone"] for role in SETTINGS["roles"].values()}) == len(SETTINGS["roles"])


def test_a_hospitals_own_values_are_never_in_git() -> None:
    assert not (KB / "settings.local.yml").exists()
    assert "kb/settings.local.yml" in (REPO / ".gitignore").read_text("utf-8").splitlines()


# ---------------------------------------------------------------------- names in texts


def prose(value: Any, key: str = "") -> Iterator[str]:
    """Texts for readers, wherever they stand in a document."""
    if isinstance(value, dict):
        for name, item in value.items():
            yield from prose(item, name)
    elif isinstance(value, list):
        for item in value:
            yield from prose(item, key)
    elif key in ("title", "summary", "say", "ask", "why", "meanwhile", "do", "aliases", "reason", "means"):
        yield value


def documents() -> Iterator[tuple[str, Any]]:
    for path in [*sorted((REPO / "trees").glob("*.yml")), *sorted(KB.glob("*.yml"))]:
        yield path.name, yaml.load(path.read_text("utf-8"), yaml.CBaseLoader)


def test_every_setting_named_in_a_text_exists_and_each_is_used() -> None:
    named = set()
    for name, document in documents():
        for text in prose(document):
            for setting in re.findall(r"(?<!\{)\{([^{}]*)\}", text):
                assert setting in SETTINGS["values"], f"{name}: {text}"
                named.add(setting)
    named |= {name for article in LIBRARY.articles.values() for name, _, _ in settings_in(article)}
    named |= {name for calculator in LIBRARY.calculators.values() for _, name in counted_in(calculator)}
    for calculator in LIBRARY.calculators.values():
        named |= {name for text in texts_of(calculator.file) for name in names(text.text)}
    counted = {"call_by", "before_page", "ask_takes", "do_takes"}  # the checks use these
    counted |= {"help_immediate", "help_prompt", "help_delayed"}
    counted.add("site_address")  # sheets of paper lead there
    assert set(SETTINGS["values"]) - named - counted == set()


def test_settings_named_in_articles_exist() -> None:
    for path in KB.rglob("*.md"):
        for setting in re.findall(r"(?<!\{)\{([a-z][a-z0-9_]*)\}", path.read_text("utf-8")):
            assert setting in SETTINGS["values"], path.name


def test_no_abbreviation_with_points_in_trees_or_articles() -> None:
    """Those in capitals are looked up by the check (`unknown-abbreviation`)."""
    told = {tree.file: " ".join(text.text for text in texts_of(tree.file)) for tree in LIBRARY.trees.values()}
    told |= {article.file: article.plain for article in LIBRARY.articles.values()}
    for file, text in told.items():
        assert not re.findall(r"\b(?:[A-Za-z]\.){2,}(?!\w*\.md)", text), file


def texts_of(file: str) -> list[Text]:
    source = next(source for source in LIBRARY.sources_read if source.file == file)
    return [text for text in texts(source) if text.role != "aliases"]


def test_no_text_holds_a_sign_for_a_unit_that_is_not_explained() -> None:
    """Units stand in settings; there they are such as everybody knows."""
    known = {"s", "min", "h", "months", "bar", "degrees", "mmHg", "/min", "ml", "mL/kg/h", "%", "times"}
    known |= {"L", "mL", "m", "L/min/m²", "10⁹/L"}
    assert {entry["unit"] for entry in SETTINGS["values"].values() if "unit" in entry} <= known


# ---------------------------------------------------------------------- sources

PLAIN = {"common-practice", "from-memory", "arithmetic"}


@pytest.mark.parametrize("key", [key for key in SOURCES if key not in PLAIN])
def test_a_source_can_be_found_by_a_reader(key: str) -> None:
    """A title, and an address, a DOI, the journal or series it stands in, or author and year for a catalogue."""
    entry = SOURCES[key]
    assert entry.get("title")
    findable = (
        entry.get("doi") or entry.get("address") or entry.get("in") or (entry.get("author") and entry.get("year"))
    )
    assert findable, "a reader cannot find this"
    assert entry.get("year") or entry.get("address") or "year" in entry.get("say", ""), "no year, nor a word on why"
    if "doi" in entry:
        assert re.fullmatch(r"10\.\d{4,9}/\S+", entry["doi"])
    if "address" in entry:
        assert re.fullmatch(r"https://[a-z0-9.-]+(/\S*)?", entry["address"])


def test_the_plain_sources_say_what_they_mean() -> None:
    for key in PLAIN:
        assert SOURCES[key]["say"] and SOURCES[key]["read"] in ("common practice", "from memory", "calculated")


KINDS = {
    "journal article",
    "book",
    "chapter",
    "thesis",
    "conference paper",
    "report",
    "standard",
    "guideline",
    "safety notice",
    "calculation",
    "not published",
}


def test_the_kinds_of_sources_are_closed() -> None:
    """Journals, books, theses, standards, guidelines, notices of authorities, sums, or plainly no publication."""
    kind = json.loads((REPO / "schema" / "sources.schema.json").read_text("utf-8"))["additionalProperties"]
    assert set(kind["properties"]["kind"]["enum"]) == KINDS
    assert "kind" in kind["required"]


@pytest.mark.parametrize("key", SOURCES)
def test_a_source_is_what_its_kind_says(key: str) -> None:
    """What a page or a course says does not pass as a publication: it has no journal, no publisher or no body."""
    entry = SOURCES[key]
    told = entry.get("say", "")
    assert (entry["kind"] == "not published") == (entry["read"] == entry["title"].casefold())
    match entry["kind"]:
        case "journal article":
            assert entry["in"][0].isupper(), "the name of the journal comes first"
            assert entry.get("year") or "year were not noted" in told
        case "book" | "standard" | "report":
            assert entry["in"] and (entry.get("year") or "year of the edition was not noted" in told)
        case "chapter" | "thesis" | "conference paper":
            assert entry["author"] and entry["in"] and entry["year"]
        case "guideline" | "safety notice":
            assert entry["author"], "the body or the persons behind it"
        case "calculation":
            assert entry["read"] == "calculated"


@pytest.mark.parametrize("key", [key for key in SOURCES if key not in PLAIN])
def test_a_key_is_author_and_year(key: str) -> None:
    """Where both are known of an article or a book; so no key is the name of a page."""
    entry = SOURCES[key]
    if entry["kind"] in ("journal article", "book", "chapter", "thesis") and entry.get("author") and entry.get("year"):
        surname = re.split(r"[ ,][A-Z]{1,3}\b", entry["author"])[0]
        words = re.fullmatch(rf"([a-z]+)(?:-[a-z]+)*-{entry['year']}[a-z]?", key)
        assert words and plain(surname).startswith(words[1])


@pytest.mark.parametrize("key", SOURCES)
def test_a_source_is_not_a_page(key: str) -> None:
    """A course, a site of questions, a blog or a work of reference on subscription is no source."""
    shown = " ".join([key, *(SOURCES[key].get(field, "") for field in ("author", "short", "title", "in"))]).casefold()
    assert not re.search(
        r"\b(?:course|handbook|blog|podcast|pearls?|question|forum|website|page on|app|wiki)\b|\.(?:com|net|info)\b",
        shown,
    )


def plain(name: str) -> str:
    """A name as keys hold it."""
    letters = normalize("NFD", name.casefold())
    return "".join(letter for letter in letters if "a" <= letter <= "z")


def test_no_source_stands_twice() -> None:
    for field in ("doi", "address"):
        values = [entry[field].casefold() for entry in SOURCES.values() if field in entry]
        assert len(set(values)) == len(values)


# ---------------------------------------------------------------------- words and cautions


def test_no_word_is_explained_twice() -> None:
    said = [word["say"].casefold() for word in WORDS.values()]
    assert len(set(said)) == len(said)
    for word in WORDS.values():
        assert set(word.get("see", ())) <= set(WORDS)
        assert word["means"].endswith(".")


def test_every_caution_is_shown_somewhere() -> None:
    shown: set[str] = set()
    for path in (REPO / "trees").glob("*.yml"):
        tree = yaml.load(path.read_text("utf-8"), yaml.CBaseLoader)
        shown |= {*tree["cautions"], *(name for node in tree["nodes"].values() for name in node.get("cautions", ()))}
    assert set(facts("cautions")) - shown == set()


def test_the_usual_cautions_are_there() -> None:
    """the house style, "Cautions": each in its own words."""
    text = " ".join(entry["say"] for entry in facts("cautions").values())
    for words in (
        "patient before the machine",
        "not a medical device",
        "diagnoses nothing and decides nothing",
        "maker's instructions for use and the hospital's policy come first",
        "licensed clinician",
        "forms clot",
        "Stop, do not restart, call",
    ):
        assert words in text


def test_no_file_of_facts_is_left_unread() -> None:
    other = ("tree", "article", "calculator", "stories", "picture")
    read = {Path(source.file).name for source in LIBRARY.sources_read if source.kind not in other}
    assert {path.name for path in KB.glob("*.y*ml")} == read
