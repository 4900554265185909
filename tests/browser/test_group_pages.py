"""A group's files, a plan, a record and a letter in a real browser: what was planted is named, and nothing is sent."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from icalendar import Calendar
from pypdf import PdfReader
from test_learn import EDUCATOR, LEARN, RECORD, file
from test_site import AXE_COLOURS, AXE_OPTIONS, judged

from browser.until import until
from played.learners import ASK, LABELS, RULE, TWICE, months
from small_library import shipped_library

PLAN, LETTER = "learn/plan.html", "competence/letter.html"


@pytest.fixture(scope="module")
def month() -> list[dict[str, object]]:
    return [file(one.name, one.text) for one in months()]


@pytest.fixture(scope="module")
def half() -> list[dict[str, object]]:
    return [file(one.name, one.text) for one in months(days=12)]


def read_in(page, files: list[dict[str, object]]) -> None:
    page.evaluate("document.querySelector('[data-done]').textContent = ''")
    page.set_input_files("#files", files=files)
    until(page, "document.querySelector('[data-done]').textContent.includes('in view')")


def part(page, heading: str) -> str:
    return page.locator(".educator section", has=page.locator("h2", has_text=heading)).first.inner_text()


def test_six_months_in_one_view_name_what_was_planted_and_what_has_changed(
    visit, site, month, half, tmp_path: Path
) -> None:
    visited = visit(site.address("file", EDUCATOR), width=1280, apart=True)
    page, library = visited.page, shipped_library()
    known = json.loads(page.locator("#learning-data").text_content())
    read_in(page, half)
    page.get_by_role("button", name=f"“{TWICE}” is several people").press("Enter")
    assert f"{TWICE} (2)" in page.locator(".overview tbody").inner_text()
    page.get_by_role("button", name=f"“{TWICE}” is one person").press("Enter")
    assert page.locator(".overview tbody th").all_inner_texts() == sorted(LABELS)
    with page.expect_download() as saving:
        page.locator("[data-group]").press("Enter")
    saving.value.save_as(tmp_path / "group.json")
    page.locator("[data-clear]").press("Enter")
    assert page.locator(".overview").count() == 0

    named = json.loads(str(month[0]["buffer"], "utf-8")) | {"label": "Anna K. 1990", "read": {}, "checks": {}}
    group = file("group.json", (tmp_path / "group.json").read_text("utf-8"))
    bad = [file("cut.json", "{"), file("other.json", '{"kind": "other"}')]
    read_in(page, [*bad, group, *month, file("named.json", json.dumps(named))])
    lines = page.locator("[data-bad] li").all_inner_texts()
    assert [line.partition(":")[0] for line in lines] == ["cut.json", "other.json"]
    said = page.locator("[data-done]").inner_text()
    assert said.startswith("9 files read, 7 learners in view; 2 with a fault")

    # The three that were planted.
    teach = part(page, "What to teach next")
    assert library.safety[RULE].say in teach and teach.count("Teach next") == 1
    broken = page.locator(".educator section", has=page.locator("h2", has_text="Safety rules most often broken"))
    assert broken.locator("li b").first.inner_text() == library.safety[RULE].say
    asked = page.locator(".educator section", has=page.locator("h2", has_text="Questions most often wrong")).locator(
        "li"
    )
    assert asked.first.locator("b").inner_text() == known["checks"][ASK]
    assert "4 of 7 learners" in asked.first.inner_text()
    row = page.locator(".stages tr", has_text="five pressures").locator("td")
    assert row.nth(0).inner_text() == "2 of 7 learners: third locker; window 7"
    assert "10 of 11 read: bed 4 night; blue mug; lift 2; tuesday tea" in row.nth(1).inner_text().split("\n")
    for href in page.locator(".teach-next a").evaluate_all("all => all.map(one => one.href)"):
        assert Path(re.sub(r"^file://|#.*$", "", href)).is_file(), href

    # On paper two pages, who stands where and what to teach; all that lies behind on request.
    for paper, most in (("overview", 2), ("all", 20)):
        page.evaluate("paper => { document.documentElement.dataset.paper = paper; }", paper)
        page.pdf(path=tmp_path / "group.pdf", prefer_css_page_size=True)
        pages = [one.extract_text() for one in PdfReader(tmp_path / "group.pdf").pages]
        assert len(pages) <= most and ("Unsafe choices, by alarm" in "".join(pages)) == (paper == "all"), paper
        assert "Teach next" in pages[0] and "third locker" in pages[0] and "printed 20" in pages[0]
    # The same learner twice, a label that looks like a name, and what has changed.
    asked_back = page.locator("[data-asked-back] li").all_inner_texts()
    assert sum(f"“{TWICE}” was opened 2 times" in line for line in asked_back) == 1
    assert sum("“Anna K. 1990” looks like a person’s name" in line for line in asked_back) == 1
    changed = part(page, "Since the group file")
    assert "New: Anna K. 1990." in changed and f"“{known['checks'][ASK]}”: 0 before, 4 now, of 6." in changed
    page.get_by_role("button", name="Call it “learner 7” here").press("Enter")
    assert "Anna" not in page.locator(".educator").inner_text().replace(said, "")
    # All once more changes nothing.
    before = page.locator("[data-table]").inner_text()
    read_in(page, [group, *month])
    assert page.locator("[data-table]").inner_text() == before
    with page.expect_download() as saving:
        page.locator("[data-group]").press("Enter")
    kept = json.loads(Path(saving.value.path()).read_text("utf-8"))
    assert [one["label"] for one in kept["learners"]] == [*LABELS, "learner 7"]
    # Who was merged can be parted from the group's file alone.
    saving.value.save_as(tmp_path / "merged.json")
    page.locator("[data-clear]").press("Enter")
    read_in(page, [file("merged.json", (tmp_path / "merged.json").read_text("utf-8"))])
    assert "stands for 2 records of the group’s file" in page.locator("[data-asked-back]").inner_text()
    page.get_by_role("button", name=f"“{TWICE}” is several people").press("Enter")
    assert f"{TWICE} (2)" in page.locator(".overview tbody").inner_text()
    # Two labels told as one learner are two again by a press.
    first = json.loads(str(month[0]["buffer"], "utf-8"))
    read_in(page, [file("cup.json", json.dumps(first | {"label": "other cup"}))])
    rows = page.locator(".overview tbody th")
    both = rows.count()
    page.get_by_role("button", name="“bed 4 night” and “other cup” are one").press("Enter")
    assert rows.count() == both - 1 and "other cup" not in rows.all_inner_texts()
    page.get_by_role("button", name=re.compile("other cup.* are two")).press("Enter")
    assert rows.count() == both and "other cup" in rows.all_inner_texts()
    assert page.evaluate("Object.keys(localStorage).length") == 0
    assert visited.faults == [] and visited.foreign(site) == []


def test_a_damaged_group_file_loses_nothing_of_the_others(visit, site, month) -> None:
    page = visit(site.address("file", EDUCATOR), apart=True).page
    head = {"kind": "learning-group", "version": 1, "saved": "2026-09-14T08:00:00Z"}
    good = json.loads(str(month[0]["buffer"], "utf-8"))
    spoilt = {**good, "read": {"<b>": 1}}
    files = {
        "cut": json.dumps({**head, "learners": [good]})[:90],
        "other": json.dumps({**head, "version": 9, "learners": []}),
        "none": json.dumps({**head, "learners": {}}),
        "many": json.dumps({**head, "learners": [{}] * 301}),
        "one": json.dumps({**head, "learners": [spoilt, None, good]}),
    }
    read_in(page, [file(f"{name}.json", text) for name, text in files.items()])
    lines = page.locator("[data-bad] li").all_inner_texts()
    words = ["cut short", "another version", "no list", "301 learners", "learner 1: read", "learner 2: "]
    assert len(lines) == len(words)
    assert all(word in line for word, line in zip(words, lines, strict=True)), lines
    assert page.locator(".overview tbody th").all_inner_texts() == [good["label"]]


def test_a_plan_stands_on_the_page_in_the_calendar_and_in_the_learners_file(visit, site, tmp_path: Path) -> None:
    visited = visit(site.address("file", PLAN), apart=True)
    page = visited.page
    page.locator("#start").fill("2026-12-01")
    days = page.locator("[data-days] input")
    days.nth(0).fill("2")
    dues = page.locator("[data-due-on]").all_inner_texts()
    assert dues[:2] == ["2026-12-02", "2026-12-05"] and dues == sorted(dues)
    with page.expect_download() as saving:
        page.locator("[data-calendar]").press("Enter")
    events = Calendar.from_ical(Path(saving.value.path()).read_bytes()).walk("VEVENT")
    assert [one.decoded("dtstart").isoformat() for one in events[:-1]] == dues
    assert events[-1]["rrule"].to_ical() == b"FREQ=YEARLY" and events[-1].decoded("dtstart").year == 2027
    days.nth(1).fill("0")
    assert "whole number of days" in page.locator("[data-done]").inner_text()
    assert page.locator("[data-calendar]").is_disabled()
    page.locator("[data-reset]").press("Enter")
    page.goto(site.address("file", LEARN))
    assert "Due 2026-12-01." in page.locator("[data-due-by]").nth(0).inner_text()
    page.locator("#label").fill("Anna Kowalska")
    page.locator("#label").blur()
    assert page.locator("[data-named]").is_visible()
    page.locator("#label").fill("bed 4 night")
    page.locator("#label").blur()
    assert page.locator("[data-named]").is_hidden()
    told = json.loads(page.evaluate("alarmtrees.Progress.file('').text"))
    assert told["plan"] == {"start": "2026-12-01", "days": None} and told["label"] == "bed 4 night"
    assert page.evaluate("text => alarmtrees.Progress.read(text).plan.start", json.dumps(told)) == "2026-12-01"
    assert visited.faults == [] and visited.foreign(site) == []


def test_the_record_is_filled_in_without_a_judgement_and_the_letter_says_what_it_is_not(
    visit, site, month, tmp_path: Path
) -> None:
    visited = visit(site.address("file", RECORD), width=1280, apart=True)
    page = visited.page
    marks = page.locator(".record tbody tr:not(.task)").evaluate_all(
        "all => all.map(row => Array.from(row.cells).slice(1).map(one => one.textContent).join('')).join('')"
    )
    page.set_input_files("#file", files=[month[-2]])
    page.locator(".known").first.wait_for()
    known = page.locator(".known").all_text_contents()
    assert any("read 2026-09-" in one for one in known) and any("passed at the last play" in one for one in known)
    assert marks == "" == page.locator(".record td:not([data-about]):not([colspan])").all_inner_texts()[0]
    assert page.locator(".signed").count() == 1
    page.locator("[data-empty]").press("Enter")
    assert page.locator(".known").count() == 0

    page.goto(site.address("file", LETTER))
    assert page.locator(".letter").is_hidden()
    page.set_input_files("#file", files=[month[-2]])
    page.locator(".letter").wait_for()
    letter = page.locator(".letter").inner_text()
    assert "Letter of what has been done so far" in letter and "2 of 10 stages" in letter
    for words in ("Larkmoor General (fictional)", "no proof of competence", "no certificate of any body", "invented"):
        assert words in letter
    page.pdf(path=tmp_path / "letter.pdf", prefer_css_page_size=True)
    assert len(PdfReader(tmp_path / "letter.pdf").pages) == 1
    # With all done it is a letter of completion.
    done = """() => {
      const known = JSON.parse(document.getElementById("learning-data").textContent), on = "2026-09-14T08:00:00Z";
      alarmtrees.Progress.change((data) => {
        Object.entries(known.pages).forEach(([id, [, stamp]]) => { data.read[id] = { on, stamp }; });
        Object.keys(known.checks).forEach((id) => { data.checks[id] = { right: 1, wrong: 0, on, ok: true }; });
        Object.entries(known.alarms).forEach(([id, [, [cause]]]) => {
          const last = { case: cause, verdict: "solved", went: "good", seconds: 1, rested: 0, rule: null, on };
          data.cases[`${id}/${cause}`] = { plays: 1, unsafe: 0, last };
        });
      });
    }"""
    page.evaluate(done)
    page.locator("[data-own]").press("Enter")
    assert page.locator("[data-heading]").inner_text() == "Letter of completion"
    assert visited.faults == [] and visited.foreign(site) == []


@pytest.mark.parametrize(("width", "scheme"), [(360, "light"), (1280, "dark")])
def test_group_plan_and_letter_are_fit_for_all_and_ask_for_no_name(
    visit, site, axe: str, month, width: int, scheme: str
) -> None:
    page = visit(site.address("file", PLAN), width=width, color_scheme=scheme, apart=True).page
    options = AXE_OPTIONS if scheme == "light" else AXE_COLOURS

    def look() -> None:
        assert judged(page, axe, options) == []
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        pressed = page.locator(".page :is(button, .button):visible")
        assert min(pressed.evaluate_all("all => all.map(one => one.getBoundingClientRect().height)")) >= 48
        fields = page.locator(".page :is(input, textarea)")
        assert not {"text", "email", "tel"} & set(fields.evaluate_all("all => all.map(one => one.type)"))

    look()
    page.goto(site.address("file", LETTER))
    page.locator("[data-own]").click()
    look()
    page.goto(site.address("file", EDUCATOR))
    read_in(page, month)
    look()
