"""The path, the competency record and the educator's page as text: whole, dated, and no text becomes mark-up."""

from __future__ import annotations

import json
import re
from collections import Counter
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

from alarmtrees.learning import practised
from alarmtrees.learning.course import course_of
from alarmtrees.learning.path import asked_here, path_of, read_stamp
from alarmtrees.learning.record import ARTICLES, ROWS, TASKS, first_steps, given_to
from alarmtrees.model import Library
from alarmtrees.model.quantities import quantities
from alarmtrees.reading.open import open_library
from alarmtrees.reading.schema import schema_of
from alarmtrees.site.knowledge.article import article_markdown
from alarmtrees.site.markup import View
from alarmtrees.site.offline import BUILD, content_date
from alarmtrees.site.teaching.competence import competence_page
from alarmtrees.site.teaching.educator import educator_page
from alarmtrees.site.teaching.learn import SIGNED_OFF, learn_page
from alarmtrees.site.teaching.letter import letter_page
from alarmtrees.site.teaching.plan import plan_page
from engine import call
from small_library import HOSTILE, HOSTILE_AS_READ, shipped_library, spoil

QUESTION = """questions:
  - ask: {0}
    right: {{say: {0}, why: {0}}}
    wrong:
      - {{say: "Other. [@doe-2001]", why: {0}}}
review: {{by"""

PATH = """stages:
  - id: first
    title: {0}
    when: {0}
    why: {0}
    pages:
      - {{page: plugging-in, why: {0}}}
      - {{page: line-open, why: {0}}}
"""


class Read(HTMLParser):
    """The tags of a page, and its words."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        """Keep it."""
        self.tags.append((tag, dict(attributes)))

    def handle_data(self, data: str) -> None:
        """Keep it."""
        self.words.append(data)

    def values(self, name: str) -> list[str]:
        """The values of an attribute, in order."""
        return [value or "" for _, attributes in self.tags if (value := attributes.get(name)) is not None]


def pages(library: Library) -> list[str]:
    made = (learn_page, competence_page, educator_page, letter_page, plan_page)
    course = course_of(library)
    return [page(course).body for page in made]


def test_the_path_holds_every_article_and_alarm_once_each_with_a_why() -> None:
    library = shipped_library()
    named = Counter(name for stage in library.path for name, _ in stage.pages)
    assert named == Counter([*library.trees, *library.articles])
    assert all(why.endswith(".") and len(why.split()) <= 25 for stage in library.path for _, why in stage.pages)
    assert sum(stage.days for stage in library.path) == 28
    assert all(stage.when and len(stage.why.split()) <= 30 for stage in library.path)
    read = Read(learn_page(course_of(library)).body)
    assert read.values("data-page") == [name for stage in library.path for name, _ in stage.pages]
    assert all(re.fullmatch(r"[0-9a-f]{12}", stamp) for stamp in read.values("data-stamp"))


def test_each_stage_asks_and_the_right_answer_has_no_place_of_its_own() -> None:
    library = shipped_library()
    body = learn_page(course_of(library)).body
    asked = [one for stage in asked_here(library) for one in stage]
    assert Read(body).values("data-check") == [one.id for one in asked]
    assert body.count('data-asked=""') == len(library.path)
    places = Counter()
    for block in body.split("data-check=")[1:]:
        answers = re.findall(r'data-answer="(\w+)"', block.partition("</details>")[0])
        assert answers.count("right") == 1 and len(answers) >= 2
        places[answers.index("right")] += 1
    # With two to four answers a question each place is met by chance alone.
    assert min(places[0], places[1], places[2]) > len(asked) / 8, places


def test_a_stamp_changes_with_what_is_read_and_not_with_questions_or_a_review(small_library: Path) -> None:
    path = small_library / "kb" / "plugging-in.md"
    text = path.read_text("utf-8")

    def stamp(changed: str) -> str:
        path.write_text(changed, "utf-8")
        return read_stamp(open_library(small_library).articles["plugging-in"])

    before = stamp(text)
    assert stamp(text.replace("review: {by: lead, on: 2026-01-02", "review: {by: lead, on: 2026-01-03")) == before
    assert stamp(text.replace("review: {by", QUESTION.format('"A?"'))) == before
    assert stamp(text.replace("The gas line is tight.", "The gas line is open.")) != before
    assert stamp(text.replace("cautions: [patient-first, rest-is-short]", "cautions: [patient-first]")) != before


def test_without_a_path_all_pages_stand_under_their_part(small_library: Path) -> None:
    library = open_library(small_library)
    assert library.path == ()
    assert [name for stage in path_of(library) for name, _ in stage.pages] == [*library.articles, *library.trees]
    assert Read(learn_page(course_of(library)).body).values("data-page") == [*library.articles, *library.trees]
    text = (small_library / "trees" / "line-open.yml").read_text("utf-8")
    withdrawn = text.replace("status: in-use", "status: withdrawn\nwithdrawn: {on: 2026-10-02, why: Wrong.}")
    (small_library / "trees" / "line-open.yml").write_text(withdrawn, "utf-8")
    library = open_library(small_library)
    assert "line-open" not in Read(learn_page(course_of(library)).body).values("data-page")
    assert "line-open" not in [tree.id for _, trees in given_to(library).values() for tree in trees]


def test_the_record_has_every_task_and_each_article_and_alarm_once() -> None:
    library = shipped_library()
    assert list(TASKS) and set(TASKS) == set(schema_of("article")["properties"]["tasks"]["items"]["enum"])
    given = given_to(library)
    away = {name for stage in library.path for name in stage.away}
    assert away == {"whole-job", "moving-the-timing", "make-it-yours"}
    assert Counter(one.id for articles, trees in given.values() for one in (*articles, *trees)) == Counter(
        {*library.trees, *library.articles} - away
    )
    for task, (articles, trees) in given.items():
        assert 1 <= len(articles) + len(trees) <= ROWS, task
        assert len(articles) <= ARTICLES + 1, task
    body = competence_page(course_of(library)).body
    head = body.partition("<thead>")[2].partition("</thead>")[0]
    for told in (SIGNED_OFF, BUILD, content_date(library), library.hospital, "fictional", "Done under supervision"):
        assert told in head, told
    assert body.count('class="task"') == len(TASKS)


# What a reader meets first on the main way of an alarm, word for word.
FIRST = {
    "cardiac-arrest": [
        "Neck pulse within 10 s?",
        "After “No pulse, or not sure”: Start chest compressions: 100 to 120 a minute, at least 5 cm deep.",
        "Pause compressions at most 5 seconds: which rhythm?",
    ],
    "catheter-moved": [
        "Pulse, breath, awake?",
        "Lift the cover: what is seen where the catheter enters?",
        "Catheter, skin mark, stitches: what is seen?",
    ],
    "blood-in-gas-line": [
        "Pulse and pressure?",
        "Wipe the line, use a light: what is seen inside?",
        "After “Blood or brown spots” or “Something there, cannot tell what”: Stop the pump; put a still one on hold.",
        "Is a clamp with smooth jaws at hand?",
    ],
    "pump-stopped": [
        "Pulse and pressure?",
        "What is seen inside the whole gas line?",
        "When did the balloon last move?",
    ],
    "trigger-lost": [
        "Feel the pulse: how is the patient?",
        "When did the balloon last move?",
        "What is seen inside the whole gas line?",
    ],
}


def test_an_alarms_first_steps_stand_in_the_order_in_which_a_reader_meets_them(small_library: Path) -> None:
    library = shipped_library()
    for name, expected in FIRST.items():
        assert [words for words, _ in first_steps(library, library.trees[name])] == expected, name
    for tree in library.trees.values():
        met = [node for _, node in first_steps(library, tree)]
        assert met[0].id == tree.start and [node.kind for node in met].count("do") <= 1, tree.id
        for one, following in pairwise(met):
            assert following.id in {one.then, *(answer.to for answer in one.answers)}, tree.id
    small = open_library(small_library)
    tree = small.trees["line-open"]
    without = replace(tree, causes={})  # nothing to play: the first answers
    assert first_steps(small, without)[0][1].id == tree.start


def test_the_record_holds_no_number_that_is_not_the_hospitals_or_sourced() -> None:
    """A number without its source does not stand alone: settings are the hospital's, a step's row names its source."""
    library = shipped_library()
    shown = {setting.shown for setting in library.settings.values()}
    for row in competence_page(course_of(library)).body.partition("</thead>")[2].split("<tr>"):
        words = unescape(re.sub(r"<[^>]*>", " ", row))
        for number, start in quantities(words):
            own = any(one in words[max(0, start - 20) : start + 20] for one in shown)
            assert number and (own or 'class="cite"' in row), words


def test_each_article_leads_back_to_its_stage() -> None:
    library = shipped_library()
    body = learn_page(course_of(library)).body
    for stage in library.path:
        assert f'id="stage-{stage.id}"' in body
        for name in (name for name, _ in stage.pages if name in library.articles):
            text = article_markdown(library, library.articles[name])
            assert f'href="learn/index.html#stage-{stage.id}">Learn: your path</a>' in text, name


def test_the_educators_page_knows_what_this_site_has() -> None:
    library = shipped_library()
    body = educator_page(course_of(library)).body
    known = json.loads(body.partition('id="learning-data">')[2].partition("</script>")[0])
    view = View(library, "learn/educator")
    assert known["pages"] == {
        one.id: [view.plain(one.title), read_stamp(one)]
        for one in (*library.trees.values(), *library.articles.values())
    }
    assert list(known["checks"]) == [one.id for stage in asked_here(library) for one in stage]
    assert all(ask.strip() and "[@" not in ask and "{" not in ask for ask in known["checks"].values())
    assert {key: entry[1] for key, entry in known["alarms"].items()} == {
        tree.id: list(tree.causes) for tree in practised(library)
    }
    assert set(known["rules"]) == set(library.safety)


SAVED = Path(__file__).parent / "saved" / "learning-record-1.json"


def test_a_record_saved_by_the_rule_of_before_is_read_as_one_of_today() -> None:
    before = json.loads(SAVED.read_text("utf-8"))
    read = call("read", SAVED.read_text("utf-8"))
    assert read["version"] == 2 and read["saved"] == before["saved"]
    assert [read[part] for part in ("read", "checks", "label")] == [before[p] for p in ("read", "checks", "label")]
    went = {"line-pinched": "good", "hip-bent": "fair", "head-high": "bad"}
    assert set(read["cases"]) == set(before["cases"])
    for key, one in read["cases"].items():
        old = before["cases"][key]
        assert set(one) == {"plays", "gap", "again_on", "last", "unsafe", "rules"}
        assert (one["gap"], one["again_on"]) == (old["interval"], old["due"])
        assert one["last"] == {name: value for name, value in old["last"].items() if name != "grade"} | {
            "went": went[key.split("/")[1]]
        }
        assert [one[part] for part in ("plays", "unsafe", "rules")] == [old[p] for p in ("plays", "unsafe", "rules")]
    # What is read is saved and read again unchanged, and taken into itself.
    again = json.dumps({**read, "kind": before["kind"]})
    assert call("read", again) == read
    assert call("merged", read, read)["cases"] == read["cases"]
    # A cause that was never played to its end has no last play.
    before["cases"] = {"a/b": {"plays": 0, "interval": 3}}
    assert call("read", json.dumps(before))["cases"] == {
        "a/b": {"plays": 0, "gap": 3, "again_on": "", "last": None, "unsafe": 0, "rules": None}
    }


def saved(**parts: object) -> str:
    return json.dumps({"kind": "learning-record", "version": 2, **parts})


def on(day: str) -> dict[str, str]:
    return {"on": f"{day}T08:00:00Z", "stamp": ""}


def test_a_file_full_of_ids_that_are_not_here_takes_no_room() -> None:
    """Ids of other sites are left out; where all are taken, what is added later takes the place of the oldest."""
    many = {f"a{number}": on("2026-09-14") for number in range(5000)}
    told = call("taken", [saved(read=many, checks={}, cases={})], {"read": ["a7", "b"]}, ["b"])
    assert told["left"] == [4999] and set(told["data"]["read"]) == {"a7", "b"}
    for added in (["b"], [f"b{number}" for number in range(20)]):
        told = call("taken", [saved(read=many)], {}, added)
        assert told["left"] == [0] and set(added) <= set(told["data"]["read"])
        assert len(told["data"]["read"]) <= 5001


def test_what_is_said_to_be_done_on_a_day_to_come_wins_over_nothing() -> None:
    case = {"plays": 1, "gap": 1, "last": {"case": "b", "verdict": "safe", "went": "good", "seconds": 1, "rested": 0}}
    late = {**case, "last": {**case["last"], "on": "9999-12-31T08:00:00Z"}}
    fine = {**case, "plays": 9, "last": {**case["last"], "on": "2026-09-14T08:00:00Z"}}
    check = {"right": 1, "wrong": 0, "on": "9999-12-31T08:00:00Z", "ok": True}
    before = saved(read={"a": on("2026-09-14")}, cases={"a/b": fine})
    hostile = saved(read={"a": on("9999-12-31"), "c": on("9999-12-31")}, checks={"a/1": check}, cases={"a/b": late})
    told = call("taken", [before, hostile], {}, [])
    assert told["left"] == [0, 4]
    assert told["data"]["read"] == {"a": on("2026-09-14")} and told["data"]["checks"] == {}
    assert told["data"]["cases"]["a/b"]["plays"] == 9
    # Also where such a day is kept already, by a device whose clock went wrong.
    merged = call("merged", call("read", hostile), call("read", before))
    assert merged["read"]["a"] == on("2026-09-14") and merged["cases"]["a/b"]["plays"] == 9


def test_hostile_text_stays_text(small_library: Path) -> None:
    article = small_library / "kb" / "plugging-in.md"
    quiet = pages(open_library(small_library))
    words = json.dumps(HOSTILE)
    article.write_text(article.read_text("utf-8").replace("review: {by", QUESTION.format('"A?"')), "utf-8")
    (small_library / "kb" / "learning.yml").write_text(PATH.format('"A"'), "utf-8")
    expected = [Read(body).tags for body in pages(open_library(small_library))]
    article.write_text(article.read_text("utf-8").replace('"A?"', words), "utf-8")
    (small_library / "kb" / "learning.yml").write_text(PATH.format(words), "utf-8")
    spoil(small_library)
    library = open_library(small_library)
    assert not [source.problems for source in library.sources_read if source.problems]
    for body, tags in zip(pages(library), expected, strict=True):
        found = Read(body)
        counted, allowed = (Counter(tag for tag, _ in some) for some in (found.tags, tags))
        # Of what Markdown means, questions may hold emphasis, code and links of their own.
        assert {tag for tag in counted if counted[tag] > allowed[tag]} <= {"em", "code", "a", "b", "span"}
        assert counted["script"] == allowed["script"] and counted["img"] == 0
        assert not any(name.startswith("on") for _, attributes in found.tags for name in attributes)
    assert HOSTILE_AS_READ.split(" [x]")[0] in " ".join(Read(pages(library)[0]).words)
    assert len(quiet) == len(expected)
