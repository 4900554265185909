"""Learning in a real browser: what is ticked and answered stays there, goes into a file and back, and nowhere else."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import pytest
from pypdf import PdfReader
from test_site import AXE_COLOURS, AXE_OPTIONS, judged

from browser.until import until

LEARN, EDUCATOR, RECORD = "learn/index.html", "learn/educator.html", "competence/index.html"
ON = "2026-09-14T08:00:00Z"
KIND = {"kind": "learning-record", "version": 2}
# A learner's own file, as it was saved before cases came again by the rule of today.
OF_BEFORE = Path(__file__).parents[1] / "saved" / "learning-record-1.json"
LAST = {"case": "b", "verdict": "unsafe", "went": "bad", "seconds": 1, "rested": 0, "on": ON}

# What a damaged or hostile file may hold, and a word of the line that says what is wrong with it.
DAMAGED: list[tuple[str, str]] = [
    ("", "empty"),
    ("{", "not JSON"),
    ('{"kind": "learning-record", "version": 1, "read": {"a"', "not JSON"),
    ("[" * 100_000, "not JSON"),
    ("[]", "no learning record"),
    ("null", "no learning record"),
    ('"learning-record"', "no learning record"),
    ('{"kind": "other"}', "no learning record"),
    (json.dumps({**KIND, "version": 3}), "version is 3"),
    (json.dumps({**KIND, "version": "2"}), "version"),
    (json.dumps({**KIND, "version": "constructor"}), "version"),
    (json.dumps({**KIND, "read": []}), "read is a list"),
    (json.dumps({**KIND, "saved": "soon"}), "saved is"),
    ('{"kind": "learning-record", "version": 1, "read": {"__proto__": {"on": "x", "stamp": ""}}}', "__proto__"),
    (json.dumps({**KIND, "read": {"<img src=x onerror=hit>": {}}}), "an id in small letters"),
    (json.dumps({**KIND, "read": {"a": {"on": "2026-13-45T99:99:99Z", "stamp": ""}}}), "read › a › on"),
    (json.dumps({**KIND, "read": {"a": {"on": ON, "stamp": "<b>"}}}), "read › a › stamp"),
    (json.dumps({**KIND, "read": {"a": 1}}), "read › a is 1"),
    (json.dumps({**KIND, "checks": {"a/1": {"right": -1, "wrong": 0, "on": ON, "ok": True}}}), "checks › a/1 › right"),
    (json.dumps({**KIND, "checks": {"a/1": {"right": 1.5, "wrong": 0, "on": ON, "ok": True}}}), "a whole number"),
    (json.dumps({**KIND, "checks": {"a/1": {"right": 1, "wrong": 0, "on": ON, "ok": "yes"}}}), "true or false"),
    ('{"kind": "learning-record", "version": 1, "cases": {"a/b": {"plays": 1e999}}}', "cases › a/b › plays"),
    (json.dumps({**KIND, "cases": {"a/b": {"plays": 1, "rules": {"constructor()": 1}}}}), "constructor()"),
    (json.dumps({**KIND, "cases": {"a/b": {"plays": 1, "last": {"case": "x" * 500}}}}), "last › case"),
    (json.dumps({**KIND, "cases": {"a/b": {"plays": 1, "gap": -1}}}), "cases › a/b › gap"),
    (json.dumps({**KIND, "cases": {"a/b": {"plays": 1, "again_on": "soon"}}}), "cases › a/b › again_on"),
    (json.dumps({**KIND, "cases": {"a/b": {"plays": 1, "last": {**LAST, "went": "well"}}}}), "good, fair or bad"),
    (json.dumps({**KIND, "version": 1, "cases": {"a/b": {"plays": 1, "due": "soon"}}}), "cases › a/b › due"),
    (json.dumps({**KIND, "version": 1, "cases": {"a/b": {"plays": 1, "last": {**LAST, "grade": 6}}}}), "last › grade"),
    (json.dumps({**KIND, "read": {f"a{i}": {} for i in range(5001)}}), "at most 5000"),
    ("x" * 4_000_001, "4 million"),
]


def recorded(label: str, **parts: object) -> str:
    return json.dumps({**KIND, "label": label, "saved": ON, **parts})


def file(name: str, text: str) -> dict[str, object]:
    return {"name": name, "mimeType": "application/json", "buffer": text.encode()}


@pytest.mark.parametrize("scheme", ["file", "http"])
def test_ticks_and_answers_stay_here_and_move_by_file(visit, site, tmp_path: Path, scheme: str) -> None:
    """With the keyboard alone but for the choice of a file, which is a window of the browser's own."""
    visited = visit(site.address(scheme, LEARN), apart=True)
    page = visited.page
    said, ticks = page.locator("[data-said]"), page.locator("[data-page] .tick input")
    count = ticks.count()
    # Folded but for the stage to go on with; a link opens the one that it names.
    stages = page.locator("[data-stage]")
    opened = "all => all.map(one => one.open)"
    assert stages.evaluate_all(opened) == [True] + [False] * (stages.count() - 1)
    assert stages.nth(0).locator("[data-count]").inner_text().startswith("0 of ")
    page.locator(".jump a").nth(3).press("Enter")
    until(page, "document.querySelectorAll('[data-stage]')[3].open")
    assert stages.evaluate_all(opened).count(True) == 2
    page.goto(site.address(scheme, LEARN))
    assert count >= 68 and said.inner_text().startswith(f"0 of {count} pages read.")
    for number in (0, 2):
        ticks.nth(number).focus()
        page.keyboard.press("Space")
    first = page.locator("[data-page]").nth(0).get_attribute("data-page")
    page.reload()
    assert [ticks.nth(number).is_checked() for number in range(3)] == [True, False, True]
    assert said.inner_text().startswith(f"2 of {count} pages read.")
    assert page.locator("[data-next] a").inner_text() == page.locator("[data-page] b").nth(1).inner_text()

    # A question: the first choice counts, each answer gets its reason, and the focus goes on.
    asked = page.locator("[data-asked]").nth(0)
    asked.locator("button").first.focus()
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.tagName") == "H4"
    page.keyboard.press("Tab")
    top = page.locator(".now h4").evaluate("one => one.getBoundingClientRect().top")
    page.keyboard.press("Enter")
    assert asked.locator(".verdict").inner_text().split(".")[0] in ("Right", "Not that one")
    # The result has the focus, and the question stays where it was.
    assert page.evaluate("document.activeElement.className") == "verdict"
    assert abs(page.locator(".now h4").evaluate("one => one.getBoundingClientRect().top") - top) < 2
    told = asked.locator(".now .told").all_inner_texts()
    assert len(told) >= 2 and sum(one.startswith("Right: ") for one in told) == 1
    assert sum("(your choice)" in one for one in told) == 1
    onward = asked.locator(".now > button")
    for _ in range(3):
        assert onward.inner_text() == "Next question"
        onward.press("Enter")
        page.keyboard.press("Tab")
        page.keyboard.press("Enter")
    onward.press("Enter")
    assert re.fullmatch(r"\d of 4 right at the first choice\. .*", asked.locator(".now").inner_text())
    checks = page.evaluate("alarmtrees.Progress.load().checks")
    assert len(checks) == 4 and all(one["right"] + one["wrong"] == 1 for one in checks.values())

    # A page that has changed since is not ticked any more, and says so.
    page.evaluate(f"alarmtrees.Progress.change(data => {{ data.read['{first}'].stamp = '0' }})")
    page.reload()
    assert not ticks.nth(0).is_checked() and "1 changed since" in said.inner_text()
    assert "Changed since you read it on" in page.locator("[data-page]").nth(0).inner_text()

    # To a file, gone, and back.
    page.locator("#label").fill("AB <7>\u202e")
    with page.expect_download() as saving:
        page.locator("[data-save]").press("Enter")
    assert saving.value.suggested_filename.startswith("learning-ab-7-20")
    saving.value.save_as(tmp_path / "own.json")
    told = json.loads((tmp_path / "own.json").read_text("utf-8"))
    assert told["label"] == "AB <7>" and told["kind"] == "learning-record" and len(told["build"]) >= 8
    # The label stays with the progress: the next file has it as well.
    page.reload()
    assert page.locator("#label").input_value() == "AB <7>"
    with page.expect_download() as saving:
        page.locator("[data-save]").press("Enter")
    assert saving.value.suggested_filename.startswith("learning-ab-7-20")
    kept = page.evaluate("JSON.stringify(alarmtrees.Progress.load())")
    erase = page.locator("[data-erase]")
    erase.press("Enter")
    assert page.evaluate("JSON.stringify(alarmtrees.Progress.load())") == kept
    erase.press("Enter")
    assert page.evaluate("Object.keys(localStorage)") == [] and "0 of" in said.inner_text()
    page.set_input_files("#file", files=[file("bad.json", "{")])
    until(page, "document.querySelector('[data-done]').textContent.startsWith('bad.json: ')")
    page.set_input_files("#file", str(tmp_path / "own.json"))
    until(page, "document.querySelector('[data-done]').textContent === 'Read in: own.json.'")
    assert page.evaluate("JSON.stringify(alarmtrees.Progress.load())") == kept
    # Once more changes nothing.
    page.evaluate("(({ Progress }) => Progress.take(Progress.read(Progress.file('x').text)))(alarmtrees)")
    assert page.evaluate("JSON.stringify(alarmtrees.Progress.load())") == kept
    assert visited.faults == [] and visited.foreign(site) == []
    assert {url.partition("#")[0] for url in visited.asked if "blob:" not in url} >= {site.address(scheme, LEARN)}


def test_a_browser_that_keeps_nothing_is_said_so_and_damage_is_put_aside(visit, site) -> None:
    page = visit(site.address("file", LEARN), apart=True).page
    page.evaluate("localStorage.setItem('learning', '{broken')")
    page.reload()
    assert page.evaluate("localStorage.getItem('learning-damaged')") == "{broken"
    # An entry that does not fit is left out; all others stay.
    kept = {"version": 2, "read": {"a": {"on": ON, "stamp": ""}, "b": 7, "constructor": {}}, "cases": []}
    assert page.evaluate(
        "kept => { localStorage.setItem('learning', kept); return alarmtrees.Progress.load() }", json.dumps(kept)
    ) == {
        "version": 2,
        "read": {"a": {"on": ON, "stamp": ""}},
        "checks": {},
        "cases": {},
    }
    page.add_init_script("Storage.prototype.setItem = () => { throw new DOMException('full') }")
    page.reload()
    page.locator("[data-page] .tick input").nth(1).check()
    assert page.locator("[data-unkept]").is_visible()
    assert "1 of" in page.locator("[data-said]").inner_text()


def test_how_often_each_rule_was_broken_is_counted(visit, site) -> None:
    page = visit(site.address("file", LEARN), apart=True).page
    for rule, number in (("one", 1), ("two", 2), ("two", 3), ("two", 3), (None, 4)):
        case = {"plays": 1, "unsafe": number, "last": {**LAST, "rule": rule}}
        page.evaluate("case_ => alarmtrees.Progress.change(data => { data.cases['a/b'] = case_ })", case)
    assert page.evaluate("alarmtrees.Progress.load().cases['a/b'].rules") == {"one": 1, "two": 2}


def test_what_was_saved_by_the_rule_of_before_is_read_and_goes_on(visit, site) -> None:
    before = json.loads(OF_BEFORE.read_text("utf-8"))
    visited = visit(site.address("file", LEARN), apart=True)
    page = visited.page
    page.set_input_files("#file", str(OF_BEFORE))
    until(page, "document.querySelector('[data-done]').textContent.startsWith('Read in: ')")
    now = json.loads(page.evaluate("alarmtrees.Progress.file('').text"))
    assert (now["version"], now["read"], now["checks"], now["label"]) == (2, before["read"], before["checks"], "C12")
    page.evaluate("localStorage.clear()")
    # The same where this browser kept it.
    page.evaluate("kept => localStorage.setItem('learning', kept)", json.dumps({**before, "kind": None}))
    page.reload()
    assert json.loads(page.evaluate("JSON.stringify(alarmtrees.Progress.load().cases)")) == now["cases"]
    assert "3 causes practised, " in page.locator("[data-said]").inner_text()
    assert page.evaluate("Object.keys(localStorage)") == ["learning"]
    page.goto(site.address("file", EDUCATOR))
    page.set_input_files("#files", str(OF_BEFORE))
    page.locator(".overview tbody tr").wait_for()
    assert page.locator(".overview tbody tr > *").all_inner_texts()[6:8] == ["3", "1"]
    page.goto(site.address("file", "practice/index.html"))
    assert page.locator("#gas-line-kinked [data-state]").inner_text().startswith("8 causes, 3 played")
    assert visited.faults == []


def test_damaged_files_get_a_line_each_and_the_others_a_row(visit, site) -> None:
    visited = visit(site.address("file", EDUCATOR), width=1280, apart=True)
    page = visited.page
    known = json.loads(page.locator("#learning-data").text_content())
    (tree, (title, causes)), (rule, rule_says) = next(iter(known["alarms"].items())), next(iter(known["rules"].items()))
    (one, (_, stamp)), (other, _) = list(known["pages"].items())[:2]
    cases = {
        f"{tree}/{causes[0]}": {"plays": 2, "unsafe": 3, "again_on": ON, "rules": {rule: 2}},
        f"{tree}/no-such-cause": {"plays": 9, "unsafe": 9},
        "no-such-tree/x": {"plays": 9},
    }
    (answered, _), (missed, missed_says) = list(known["checks"].items())[:2]
    checks = {
        answered: {"right": 1, "wrong": 1, "on": ON, "ok": True},
        missed: {"right": 0, "wrong": 1, "on": ON, "ok": False},
    }
    good = [
        recorded("=1+1", read={one: {"on": ON, "stamp": stamp}, other: {"on": ON, "stamp": "00"}}, cases=cases),
        recorded("<img src=x onerror='window.hit=1'>", checks=checks, read={"no-such-page": {"on": ON, "stamp": ""}}),
        recorded("C10"),
        recorded("C9", unknown={"x": [1]}, checks={}),
    ]
    files = [file(f"good{number}.json", text) for number, text in enumerate(good)]
    page.set_input_files("#files", files=[*(file(f"bad{i}.json", text) for i, (text, _) in enumerate(DAMAGED)), *files])
    until(page, "document.querySelector('[data-done]').textContent.includes('read')")
    lines = page.locator("[data-bad] li").all_inner_texts()
    assert len(lines) == len(DAMAGED)
    for number, (line, (_, word)) in enumerate(zip(lines, DAMAGED, strict=True)):
        assert line.startswith(f"bad{number}.json: ") and word in line and len(line) < 250, line
    rows = page.locator(".overview tbody tr")

    def column(place: int) -> list[str]:
        return [row.locator("th, td").nth(place).inner_text() for row in rows.all()]

    labels = ["<img src=x onerror='window.hit=1'>", "=1+1", "C9", "C10"]
    assert column(0) == labels
    by_label = dict(zip(column(0), [row.locator("td").all_inner_texts() for row in rows.all()], strict=True))
    assert by_label["=1+1"] == ["2026-09-14", "2", "1", "0", "0", "1", "3", "1"]
    assert by_label[labels[0]] == ["2026-09-14", "0", "0", "1", "1", "0", "0", "0"]
    assert page.locator(".sideways").is_hidden()
    fold = page.locator(".behind details", has_text="answered wrong now: 1")
    assert fold.locator("li").is_hidden()
    fold.locator("summary").press("Enter")
    assert fold.locator("li").inner_text() == missed_says
    behind = page.locator(".behind", has_text="=1+1").text_content()
    expected = (f"{title}: {rule_says} 2 ×", f"{title}: not said which rule. 1 ×", f"{title}: 1 of {len(causes)}")
    assert all(told in behind for told in expected), behind
    changed = page.locator(".behind", has_text="=1+1").locator("details", has_text="changed since they were read: 1")
    assert changed.locator("li").text_content() == known["pages"][other][0]
    page.locator("th button", has_text="Unsafe").focus()
    page.keyboard.press("Enter")
    assert column(0)[0] == "=1+1" and page.locator('th[aria-sort="descending"]').count() == 1
    page.keyboard.press("Enter")
    assert column(0)[-1] == "=1+1"
    with page.expect_download() as saving:
        page.locator("[data-csv]").press("Enter")
    table = list(csv.reader(io.StringIO(Path(saving.value.path()).read_bytes().decode(), newline="")))
    assert [len(row) for row in table] == [len(table[0])] * 5
    assert {row[0] for row in table[1:]} == {labels[0], "'=1+1", "C9", "C10"}
    assert not any(cell[:1] in ("=", "+", "-", "@") for row in table for cell in row)
    assert page.evaluate("window.hit") is None and page.locator(".page img").count() == 0
    assert page.evaluate("[({}).on, Object.keys(localStorage).length]") == [None, 0]
    page.locator("[data-clear]").press("Enter")
    assert rows.count() == 0 and page.locator("[data-csv]").is_disabled()
    assert visited.faults == [] and visited.foreign(site) == []


@pytest.mark.shown_in("narrow", "wide")
@pytest.mark.parametrize(("width", "scheme"), [(360, "light"), (360, "dark"), (1280, "light"), (1280, "dark")])
def test_nothing_serious_for_axe_and_large_enough_to_press(visit, site, axe: str, width: int, scheme: str) -> None:
    page = visit(site.address("file", LEARN), width=width, color_scheme=scheme, apart=True).page
    options = AXE_OPTIONS if scheme == "light" else AXE_COLOURS

    def look() -> None:
        assert judged(page, axe, options) == []
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        buttons = page.locator(".page :is(button, .button, .tick):visible")
        assert min(buttons.evaluate_all("all => all.map(one => one.getBoundingClientRect().height)")) >= 48

    page.locator("[data-page] .tick input").nth(0).check()
    old = {"on": "2026-01-01T00:00:00Z", "stamp": "0"}
    page.evaluate("old => alarmtrees.Progress.change(data => { data.read['timing'] = old })", old)
    page.reload()
    page.evaluate("document.querySelectorAll('[data-stage]').forEach(one => { one.open = true })")
    asked = page.locator("[data-asked]")
    asked.nth(0).locator("button").first.click()
    asked.nth(1).locator("button").first.click()
    asked.nth(1).locator(".answer").first.click()
    look()
    ways = page.locator(".short-ways a").evaluate_all("all => all.map(one => one.getBoundingClientRect().toJSON())")
    assert len({round(one["top"]) for one in ways}) == 1 and min(one["height"] for one in ways) >= 48
    assert ways[0]["top"] + page.evaluate("scrollY") < 400
    page.goto(site.address("file", EDUCATOR))
    page.set_input_files(
        "#files", files=[file("a.json", recorded("A", read={"timing": {"on": ON, "stamp": "0"}})), file("b.json", "{")]
    )
    page.locator(".overview tbody tr").wait_for()
    assert page.locator(".sideways").is_visible() == (width == 360)
    page.locator(".behind summary").first.click()
    look()
    page.goto(site.address("file", RECORD))
    look()


def test_without_scripts_the_path_its_questions_and_answers_are_there(visit, site) -> None:
    page = visit(site.address("file", LEARN), java_script_enabled=False).page
    assert page.locator("[data-page] a:visible").count() >= 68  # all stages are open
    assert page.locator("[data-page] input, .sofar:visible, .keep:visible, .page button:visible").count() == 0
    question = page.locator("[data-check]").nth(0)
    assert question.locator(".said li:visible").count() >= 2 and question.locator("[data-answer]:visible").count() == 0
    question.locator("summary").click()
    told = question.locator("[data-answer]:visible").all_inner_texts()
    assert sum(one.startswith("Right: ") for one in told) == 1
    assert page.locator("noscript p").is_visible()
    page.goto(site.address("file", EDUCATOR))
    assert page.locator("noscript p").is_visible() and not page.locator("[data-educator]").is_visible()


@pytest.mark.shown_in("narrow", "wide")
def test_the_record_prints_with_its_version_on_every_page_and_no_row_split(visit, site, tmp_path: Path) -> None:
    page = visit(site.address("file", RECORD), width=1280).page
    build = page.locator('meta[name="build"]').get_attribute("content")
    rows = page.locator(".record tbody tr:not(.task) > :first-child").all_inner_texts()
    tasks = page.locator(".record .task").all_inner_texts()
    page.pdf(path=tmp_path / "record.pdf", prefer_css_page_size=True)
    pages = PdfReader(tmp_path / "record.pdf").pages
    page.emulate_media(media="print")
    heads = page.locator(".record thead th")
    assert heads.evaluate_all("all => all.filter(one => one.scrollWidth > one.clientWidth).length") == 0
    assert heads.evaluate_all("all => all.map(one => getComputedStyle(one).overflowWrap)") == ["normal"] * 4
    page.emulate_media(media="screen")

    def folded(text: str) -> str:
        return re.sub(r"\s", "", text)

    texts = [folded(one.extract_text()) for one in pages]
    assert 3 <= len(pages) <= 8
    assert all(round(float(one.mediabox.width)) == 595 for one in pages)
    for text in texts:
        assert folded(f"Version: build {build}, content of 20") in text
        assert folded("Signing off competence is the hospital’s; this list decides nothing.") in text
        assert folded("Done under supervision") in text
    for row in rows:
        assert sum(folded(row) in text for text in texts) == 1, row
    assert all(any(folded(task) in text for text in texts) for task in tasks)
    for line in ("Name:", "Role:", "Unit:", "Educator:"):
        assert line in texts[0]
    # One line to sign, at the end.
    for line in ("Level,forallthatismarked:", "Signature:", "Learner’ssignature:", "Nextdate:"):
        assert [line in text for text in texts] == [False] * (len(texts) - 1) + [True], line
    assert "Printthisrecord" not in "".join(texts)
