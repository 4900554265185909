"""The alarm finder in a real browser: what it finds, what it refuses, and how it is used without a mouse."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from test_site import judged

from alarmtrees.reading.open import open_library
from box import asked, hits
from browser.until import until
from conftest import Site, _served
from small_library import REPOSITORY, make, shipped_library

QUERIES = yaml.load((REPOSITORY / "tests" / "finder" / "queries.yml").read_text(encoding="utf-8"), yaml.CBaseLoader)
FALLBACK = "alarm-not-listed"

ANSWER = """() => {
    const list = document.querySelector("[role=listbox]"), options = [...list.querySelectorAll("[role=option]")];
    return {
        hits: options.map(one => one.dataset.tree || one.dataset.page), none: list.hasAttribute("data-none"),
        sole: options.filter(one => one.hasAttribute("data-sole")).map(one => one.dataset.tree),
        alarms: options.filter(one => one.dataset.tree).map(one => one.dataset.tree),
        pages: options.map(one => one.dataset.page),
        open: document.getElementById("finder").getAttribute("aria-expanded"),
    };
}"""


def found(page: Any, words: str) -> dict[str, Any]:
    """What the finder shows for these words."""
    page.fill("#finder", words)
    answer: dict[str, Any] = page.evaluate(ANSWER)
    return answer


@pytest.fixture
def home(visit, site) -> Any:
    """The home page of the shipped library, from a folder."""
    return visit(site.address("file", "index.html")).page


# What is found. How well, for all queries, `tests/test_box.py` says.


@pytest.fixture(scope="module")
def answers(browser, site) -> list[dict[str, Any]]:
    """What the page shows for every twentieth query, asked at once."""
    page = browser.new_page()
    page.goto(site.address("file", "index.html"))
    shown: list[dict[str, Any]] = page.evaluate(
        f"""queries => queries.map(query => {{
            const field = document.getElementById("finder");
            field.value = query;
            field.dispatchEvent(new InputEvent("input"));
            return ({ANSWER})();
        }})""",
        [query["query"] for query in QUERIES[::20]],
    )
    page.close()
    return shown


def test_page_shows_what_the_box_answers(answers, site) -> None:
    script = (site.folder / "assets" / "finder-learned.js").read_text(encoding="utf-8")
    learned = json.loads(script.partition("=")[2].rstrip(";\n"))
    library = shipped_library().published()
    told = asked(library, learned, [query["query"] for query in QUERIES[::20]])
    for shown, answer in zip(answers, told, strict=True):
        alarms = hits(answer, "alarms")
        assert shown["alarms"][: len(alarms)] == alarms and set(shown["alarms"][len(alarms) :]) <= {FALLBACK}
        assert shown["sole"] == (alarms if answer["sole"] else []) and shown["none"] == answer["none"]
        pages = [page for page in shown["pages"] if not page.startswith("alarms/")]
        assert [page.removesuffix(".html").rstrip("/") for page in pages] == [
            "settings" if hit.get("role") else hit["id"] for hit in answer["tasks"]
        ]


@pytest.mark.parametrize(
    "words",
    ["kinked", "Kinked", "KINK", "kinks", "kinking", "kinkd", "kniked", "kínked", "  kinked!  ", "the hose is kinked"],
)
def test_forms_of_a_word_find_the_same(home, words: str) -> None:
    assert found(home, words)["hits"][0] == "gas-line-kinked"


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("ecg lead off", "ekg electrode off"),
        ("helium bottle empty", "gas cylinder empty"),
        ("haemorrhage in the line", "hemorrhage in the line"),
        ("vapour in the tube", "vapor in the hose"),
        ("art line damped", "arterial line damped"),
        ("discoloured line", "discolored line"),
        ("not recognising the beat", "not recognizing the beat"),
    ],
)
def test_words_of_one_meaning_find_the_same(home, one: str, other: str) -> None:
    assert found(home, one)["hits"][0] == found(home, other)["hits"][0]


@pytest.mark.parametrize("code", ["E47", "e-47", "0x3f", "A1", "error 12345", "99", "1", "7b7", "lo1", "ECG7x9"])
def test_code_that_nobody_knows_finds_nothing(home, code: str) -> None:
    answer = found(home, code)
    assert answer["sole"] == [] and (answer["none"] or code == "ECG7x9")


def test_where_nothing_fits_the_way_for_any_alarm_is_offered_and_all_alarms_are_listed(home, site) -> None:
    answer = found(home, "infusion pump air in line")
    assert (answer["hits"], answer["none"], answer["sole"], answer["open"]) == ([FALLBACK], True, [], "true")
    assert home.inner_text("#finder-verdict") == "Nothing here fits well. This site is only about balloon pumps."
    miss = home.locator(".finder__miss")
    assert all(role.phone in miss.inner_text() for role in shipped_library().roles.values() if role.phone)
    assert miss.locator("a").count() == 0 and not home.is_visible(".finder__copy")
    listed = home.locator(".alarms [data-tree]")
    assert sorted(listed.evaluate_all("all => all.map(one => one.dataset.tree)")) == site.trees
    assert all(listed.nth(number).is_visible() for number in range(listed.count()))


def test_what_fits_only_partly_is_said_to(home) -> None:
    answer = found(home, "line")
    assert len(answer["hits"]) > 2 and answer["sole"] == [] and not answer["none"]
    assert answer["alarms"][-1] == FALLBACK
    assert home.inner_text("#finder-verdict").startswith("Look which one it is")


def test_too_little_said_gets_a_question_and_nothing_said_gets_nothing(home) -> None:
    assert found(home, "pump")["none"] and not home.is_visible(".finder__miss")
    assert home.inner_text("#finder-verdict") == "Say more: what do you see or hear?"
    assert found(home, "?")["open"] == "false" and not home.is_visible("#finder-verdict")


def test_sole_answer_stands_alone(home) -> None:
    answer = found(home, "blood in the tubing")
    assert answer["sole"] == answer["hits"] == ["blood-in-gas-line"] and not home.is_visible(".finder__miss")


# How it is used


def test_names_and_states_are_those_of_a_combobox(home) -> None:
    field = home.get_by_role("combobox", name="What do you see or hear?")
    assert field.get_attribute("aria-expanded") == "false" and field.get_attribute("aria-controls") == "finder-list"
    assert field.get_attribute("aria-autocomplete") == "list"
    field.fill("line")
    assert field.get_attribute("aria-expanded") == "true" and field.get_attribute("aria-activedescendant") is None
    options = home.get_by_role("listbox", name="What fits").get_by_role("option")
    assert options.count() > 2
    field.press("ArrowDown")
    assert field.get_attribute("aria-activedescendant") == options.first.get_attribute("id")
    assert options.first.get_attribute("aria-selected") == "true"
    assert home.evaluate("document.activeElement.id") == "finder"
    field.press("ArrowUp")
    assert field.get_attribute("aria-activedescendant") is None
    field.press("ArrowUp")
    assert field.get_attribute("aria-activedescendant") == options.last.get_attribute("id")
    field.press("ArrowDown")
    assert field.get_attribute("aria-activedescendant") is None
    field.press("Escape")
    assert field.get_attribute("aria-expanded") == "false" and not options.first.is_visible()
    assert field.input_value() == "line"
    field.press("Escape")
    assert field.input_value() == ""


@pytest.mark.parametrize("scheme", ["http", "file"])
def test_one_word_and_enter_open_the_first_step(visit, site, scheme: str) -> None:
    tried = visit(site.address(scheme, "index.html"))
    page = tried.page
    page.keyboard.press("Tab")
    while page.evaluate("document.activeElement.id") != "finder":
        page.keyboard.press("Tab")
    page.keyboard.type("asystole")
    page.keyboard.press("Enter")
    page.wait_for_url("**/alarms/cardiac-arrest/index.html*")
    assert page.locator("[data-node]").first.is_visible()
    assert tried.faults == [] and tried.foreign(site) == []


def test_search_that_comes_late_draws_no_keys_to_itself(visit, site) -> None:
    """Tab passes the search on its way to the finder, and so has its scripts fetched."""
    page = visit(site.address("http", "404.html"), width=1280).page
    held = []
    page.route("**/assets/javascripts/bundle.*", lambda route: held.append(route))
    page.goto(site.address("http", "index.html"))
    while page.evaluate("document.activeElement.id") != "finder":
        page.keyboard.press("Tab")
    page.keyboard.type("asys")
    until(page, "document.querySelector('script[src*=bundle]') !== null")
    held[0].continue_()
    until(page, "Boolean(window.document$)")
    page.keyboard.type("tole")
    assert page.input_value("#finder") == "asystole"
    assert page.evaluate("document.activeElement.id") == "finder"


def test_enter_takes_nothing_that_is_not_certain(home) -> None:
    address = home.url
    home.fill("#finder", "line")
    home.press("#finder", "Enter")
    assert home.url == address and home.get_attribute("#finder", "aria-activedescendant") == "finder-0"
    first = home.get_attribute("#finder-0", "data-tree")
    assert home.get_attribute("#finder-0", "aria-selected") == "true"
    assert home.inner_text("#finder-verdict") == "Enter opens the marked one:"
    until(home, "document.querySelector('.finder [role=status]').textContent.startsWith('Marked: ')")
    home.press("#finder", "Enter")
    home.wait_for_url(f"**/alarms/{first}/index.html*")


def test_tap_opens_the_alarm(home) -> None:
    home.fill("#finder", "hissing")
    home.locator("[role=option]").first.click()
    home.wait_for_url("**/alarms/*/index.html*")


def test_spoken_and_swiped_words_come_as_input_without_a_key(home) -> None:
    home.evaluate("""() => {
        const field = document.getElementById("finder");
        field.value = "pump finds no beat";
        field.dispatchEvent(new InputEvent("input", {bubbles: true, inputType: "insertReplacementText"}));
    }""")
    assert home.evaluate(ANSWER)["sole"] == ["trigger-lost"]


def test_words_typed_before_the_script_came_are_answered(visit, site) -> None:
    page = visit(site.address("http", "index.html")).page
    page.route("**/finder.js", lambda route: route.fulfill(path=site.folder / "assets" / "finder.js"))
    page.add_init_script("""document.addEventListener("readystatechange", () => {
        const field = document.getElementById("finder");
        if (document.readyState === "interactive" && field) field.value = "pump finds no beat";
    })""")
    page.reload()
    assert page.evaluate(ANSWER)["sole"] == ["trigger-lost"]


def test_count_is_said_once_the_typing_rests(home) -> None:
    status = home.locator(".finder [role=status]")
    home.locator("#finder").press_sequentially("line")
    assert status.inner_text() == ""
    until(home, "document.querySelector('.finder [role=status]').textContent")
    assert "Look which one" in status.inner_text() and "pages in the list." in status.inner_text()
    home.press("#finder", "Escape")
    until(home, "!document.querySelector('.finder [role=status]').textContent")


def test_without_scripts_the_list_remains_and_the_field_is_hidden(visit, site) -> None:
    page = visit(site.address("file", "index.html"), java_script_enabled=False).page
    assert not page.is_visible("#finder") and page.locator(".alarms [data-tree]").count() == len(site.trees)


def test_box_answers_by_the_words_where_nothing_learned_has_come(visit, site) -> None:
    page = visit(site.address("http", "index.html")).page
    page.route("**/finder-learned.js", lambda route: route.abort())
    page.reload()
    assert found(page, "asystole")["sole"] == ["cardiac-arrest"]
    assert "zeroing.html" in found(page, "zeroing")["pages"]


def test_alarms_and_tasks_stand_in_two_groups_and_say_why(home) -> None:
    answer = found(home, "zero the line, trace flat")
    groups = home.locator("[role=listbox] > [role=group]")
    assert [groups.nth(at).get_attribute("aria-labelledby") for at in range(2)] == ["finder-alarms", "finder-tasks"]
    assert groups.first.locator("[data-tree]").count() == len(answer["alarms"]) > 0
    assert home.get_by_role("group", name="Tasks and numbers").get_by_role("option").count() > 0
    assert "because: zero" in groups.nth(1).locator("[data-page='zeroing.html']").inner_text()
    assert found(home, "hose off")["pages"][0] == "alarms/gas-line-disconnected/"
    assert "because: hose, off" in home.locator("[role=option]").first.inner_text()


def test_two_faults_at_once_are_both_shown_and_lead_to_their_page(home) -> None:
    answer = found(home, "helium loss and blood in tubing, pump stopped")
    assert answer["alarms"][:4] == ["blood-in-gas-line", "gas-leak-suspected", "two-alarms-at-once", "pump-stopped"]
    assert answer["sole"] == [] and FALLBACK not in answer["alarms"]
    assert home.inner_text("#finder-verdict") == "Several alarms, most urgent first:"


@pytest.mark.parametrize(
    ("words", "leads"),
    [("how to zero the transducer", "zeroing.html"), ("work out gas left in tank", "calculators/gas-left/index.html")],
)
def test_task_is_found_and_opened(visit, site, words: str, leads: str) -> None:
    page = visit(site.address("file", "index.html")).page
    page.fill("#finder", words)
    page.locator("[role=group][aria-labelledby=finder-tasks] [role=option]").first.click()
    page.wait_for_url(f"**/{leads}*")


def test_number_is_shown_and_an_invented_one_is_no_link(home) -> None:
    assert "settings/" in found(home, "who do i call")["pages"]
    number = home.locator("[role=option][data-page='settings/']").first
    assert "5 5501 (fictional)" in number.inner_text()
    assert number.evaluate("one => one.closest('a') || one.querySelector('a')") is None


def test_real_number_is_dialled(visit, site) -> None:
    page = visit(site.address("http", "404.html")).page
    text = (site.folder / "index.html").read_text(encoding="utf-8")
    text = text.replace('"number":"5 5501 (fictional)","dial":null', '"number":"4 1234","dial":"41234"')
    page.route("**/index.html", lambda route: route.fulfill(body=text, content_type="text/html"))
    page.goto(site.address("http", "index.html"))
    page.fill("#finder", "who do i call")
    assert page.locator("[role=option][href='tel:41234'][data-page='settings/']").inner_text().endswith("4 1234")


ABOVE = """() => [...document.querySelectorAll("[role=option]")].filter(one => {
    const box = one.getBoundingClientRect();
    return box.top >= 0 && box.bottom <= innerHeight;
}).length"""


@pytest.mark.shown_in("common", "wide")
def test_two_hits_are_in_sight_above_an_open_keyboard(visit, site) -> None:
    """A phone of 360 x 640 whose keyboard takes half of it."""
    page = visit(site.address("file", "index.html"), width=360, height=320).page
    page.click("#finder")
    for words in ("line", "hose off", "how do i zero", "who do i call", "brown bits in the tubing", "low trace"):
        page.fill("#finder", words)
        assert page.evaluate(ABOVE) >= 2 and page.locator("#finder").bounding_box()["y"] >= 0, words


@pytest.mark.parametrize(
    ("words", "wanted"), [("arrest team", "settings/"), ("5500", "settings/"), ("zeroing", "zeroing.html")]
)
def test_task_that_fits_best_is_in_sight_above_an_open_keyboard(visit, site, words: str, wanted: str) -> None:
    page = visit(site.address("file", "index.html"), width=360, height=320).page
    page.click("#finder")
    page.fill("#finder", words)
    option = page.locator(f"[role=option][data-page='{wanted}']").first.bounding_box()
    assert option["y"] >= 0 and option["y"] + option["height"] <= 320


def test_what_gave_way_to_the_keyboard_comes_back_with_the_empty_field(visit, site) -> None:
    page = visit(site.address("file", "index.html"), width=360, height=400).page
    page.click("#finder")
    page.fill("#finder", "line")
    page.evaluate("document.activeElement.blur()")
    assert not page.is_visible("h1")  # a list that moved now would be missed by the finger on its way
    page.fill("#finder", "")
    page.evaluate("document.activeElement.blur()")
    assert page.is_visible("h1")


@pytest.mark.parametrize("width", [360, 1280])
def test_list_of_alarms_stays_where_it_is_when_an_answer_comes(home, width: int) -> None:
    home.set_viewport_size({"width": width, "height": 900})
    place = "JSON.stringify(document.querySelector('.groups').getBoundingClientRect())"
    still = home.evaluate(place)
    home.evaluate("document.getElementById('finder').value = 'hose came off'")
    home.evaluate("document.getElementById('finder').dispatchEvent(new InputEvent('input'))")
    assert home.locator("[role=option]").count() and home.evaluate(place) == still


@pytest.mark.parametrize("lost", ["page.js", "finder-words.js", "finder-match.js"])
def test_field_goes_where_its_engine_did_not_come(visit, site, lost: str) -> None:
    page = visit(site.address("http", "index.html")).page
    page.route(f"**/{lost}", lambda route: route.abort())
    page.reload()
    until(page, "document.querySelector('.finder').hidden")
    assert not page.is_visible("#finder") and page.locator(".alarms [data-tree]").first.is_visible()


def test_field_stands_on_the_first_screen_above_the_groups(home) -> None:
    field, group = home.locator("#finder").bounding_box(), home.locator(".group").first.bounding_box()
    assert field["height"] >= 48 and field["y"] + field["height"] < group["y"] < 640
    home.fill("#finder", "line")
    options = home.locator("[role=option]")
    assert options.first.bounding_box()["y"] + options.first.bounding_box()["height"] <= 640
    assert all(options.nth(number).bounding_box()["height"] >= 48 for number in range(options.count()))


@pytest.mark.parametrize("width", [320, 1280])
def test_nothing_scrolls_sideways_with_twice_the_text(visit, site, width: int) -> None:
    page = visit(site.address("file", "index.html"), width=width).page
    page.add_style_tag(content="html { font-size: 200% }")
    for words in ("line", "infusion pump", "blood in the tubing"):
        page.fill("#finder", words)
        assert page.evaluate("document.documentElement.scrollWidth") <= width, words


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [320, 390, 1280])
def test_nothing_for_axe_in_any_state(visit, site, axe: str, width: int, scheme: str) -> None:
    page = visit(site.address("file", "index.html"), width=width, color_scheme=scheme).page
    for words in ("line", "infusion pump", "blood in the tubing"):
        page.fill("#finder", words)
        page.press("#finder", "ArrowDown")
        assert judged(page, axe) == [], words
    page.goto(site.address("file", "index.html") + "?editor")
    page.fill("#finder", "infusion pump")
    page.click(".finder__copy")
    assert judged(page, axe) == []


# A miss, for the hospital's own file


@pytest.mark.parametrize("words", ["zorp zorp", "quo\"te: {a} #b \\ ' ü [x]", "tab\there <b>"])
def test_miss_is_copied_as_a_line_that_the_own_settings_take(visit, site, tmp_path: Path, words: str) -> None:
    page = visit(site.address("http", "index.html?editor"), permissions=["clipboard-read", "clipboard-write"]).page
    page.fill("#finder", words)
    page.get_by_role("button", name="Copy for our own list").click()
    page.get_by_role("button", name="Copied").wait_for()
    line = page.evaluate("navigator.clipboard.readText()")
    assert line == page.inner_text(".finder__line") or line.split() == page.inner_text(".finder__line").split()
    root = make(tmp_path / "library")
    local = root / "kb" / "settings.local.yml"
    local.write_text(f"wordings:\n{line.replace(FALLBACK, 'line-open')}\n", encoding="utf-8")
    library = open_library(root)
    assert not [source.problems for source in library.sources_read if source.problems]
    assert library.wordings == {"line-open": (" ".join(words.split()),)}


def test_miss_is_shown_to_copy_by_hand_where_nothing_can_be_copied(visit, site) -> None:
    page = visit(site.address("http", "index.html?editor")).page
    page.evaluate("""() => {
        Object.defineProperty(navigator, "clipboard", {value: undefined});
        document.execCommand = () => false;
    }""")
    page.fill("#finder", "zorp zorp")
    page.click(".finder__copy")
    assert '["zorp zorp"]' in page.inner_text(".finder__line")
    assert page.inner_text(".finder__copy") == "Copy this line by hand:"


# The hospital's own wordings, invented for this test


@pytest.fixture(scope="module")
def own_site(tmp_path_factory: pytest.TempPathFactory, mkdocs: Callable[..., Any]) -> Iterator[Site]:
    root = make(tmp_path_factory.mktemp("own") / "library")
    (root / "kb" / "settings.local.yml").write_text(
        'wordings: {line-open: ["Zorp 815", "WUMPLE FRINT"], supply-low: ["Zorp 816"]}\n', encoding="utf-8"
    )
    done: subprocess.CompletedProcess[str] = mkdocs(root, "build")
    assert done.returncode == 0, done.stderr
    yield from _served(root / "site")


def test_own_wordings_lead_to_their_alarm_and_codes_must_be_exact(visit, own_site) -> None:
    page = visit(own_site.address("file", "index.html")).page
    assert found(page, "Zorp 815")["sole"] == ["line-open"] and found(page, "zorp 816")["sole"] == ["supply-low"]
    assert found(page, "wumple frint")["sole"] == ["line-open"]
    assert found(page, "wumple frimt")["hits"][0] == "line-open"
    for code in ("Zorp 81", "Zorp 817", "Zorp 8155", "815x", "Z815"):
        assert found(page, code)["sole"] == [], code


def test_own_wordings_are_in_no_file_but_the_home_page(own_site) -> None:
    held = [path for path in own_site.folder.rglob("*") if path.is_file() and b"Zorp 815" in path.read_bytes()]
    assert [path.relative_to(own_site.folder).as_posix() for path in held] == ["index.html"]


def test_library_without_the_way_for_any_alarm_still_says_that_nothing_fits(visit, own_site) -> None:
    page = visit(own_site.address("file", "index.html") + "?editor").page
    assert found(page, "qqqq")["none"] and page.evaluate(ANSWER)["hits"] == []
    assert page.get_attribute("#finder", "aria-expanded") == "false" and page.is_visible("#finder-verdict")
    page.click(".finder__copy")
    assert "id-of-the-alarm" in page.inner_text(".finder__line")


def test_hostile_text_stays_text_in_the_list(visit, hostile_site) -> None:
    page = visit(hostile_site.address("http", "index.html?editor")).page
    for words in ("script window hit", "<img src=x onerror=alert(1)>", "plug"):
        page.fill("#finder", words)
        page.wait_for_timeout(50)
        assert page.evaluate("window.hit") is None and page.locator(".finder img").count() == 0
    page.click(".finder__copy")
    assert page.evaluate("window.hit") is None


# Words and speed


def test_no_two_kinds_of_words_look_alike_once_their_endings_are_cut(home) -> None:
    alike = home.evaluate("""() => {
        const data = JSON.parse(document.getElementById("finder-data").textContent), kinds = {};
        const {stem, words} = window.alarmtrees.finderWords;
        const note = kind => text => {
            if (text[0] === "=" || words(text).length > 1) return;
            const key = stem(words(text)[0]);
            (kinds[key] = kinds[key] || new Set()).add(kind);
        };
        Object.values(data.same).forEach(all => all.forEach(note("ours")));
        data.elsewhere.forEach(note("elsewhere"));
        return Object.keys(kinds).filter(key => kinds[key].size > 1);
    }""")
    assert alike == []


@pytest.mark.parametrize(
    ("one", "other", "edits"),
    [
        ("kink", "kink", 0),
        ("kink", "knik", 1),
        ("kink", "kik", 1),
        ("kink", "kinkd", 1),
        ("", "abc", 3),
        ("ab", "ca", 2),
    ],
)
def test_edits_between_two_words(home, one: str, other: str, edits: int) -> None:
    assert home.evaluate(f"alarmtrees.finderWords.distance({json.dumps(one)}, {json.dumps(other)}, 9)") == edits
