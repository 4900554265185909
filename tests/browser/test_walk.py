"""The walk through a tree in a real browser: one step at a time, and the resting clock."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import in_sight
import pytest
from playwright.sync_api import Page, Route

from alarmtrees.model.wording import fill
from alarmtrees.proof.looks import first_looks, holds
from small_library import shipped_library

if TYPE_CHECKING:  # other folders have a conftest too
    from conftest import Site, Visit

STILL, RUNS = "alarms/balloon-still/index.html", "alarms/pump-runs/index.html"
OFF = "alarms/line-off/index.html"
NIGHT = "2026-03-01T03:02:00"


def some_of(site: Site, start: int, one_in: int = 9) -> list[str]:
    return [f"alarms/{tree}/index.html" for tree in site.some(start, one_in)]


def node(page: Page) -> str:
    """The step shown: there is one, or there are the looks with which a page begins."""
    shown = page.locator("[data-node]")
    assert shown.first.is_visible() and (shown.count() == 1 or page.locator(".looks .look").count() == shown.count())
    return str(shown.first.get_attribute("data-node"))


def press(page: Page, to: str, words: str = "") -> None:
    """Give the answer that leads to a step."""
    page.locator(f'[data-node] button[data-to="{to}"]').filter(has_text=words).first.click()
    assert node(page) == to


def face(page: Page) -> str:
    """What the resting clock shows; nothing where it is hidden."""
    shown = page.locator(".rest__face:visible")
    return " ".join(shown.inner_text().split()) if shown.count() else ""


def warning(page: Page) -> str:
    shown = page.locator(".rest__past:visible")
    return " ".join(shown.inner_text().split()) if shown.count() else ""


def is_late(page: Page) -> bool:
    return "Do not restart" in warning(page)


def tell(page: Page, minutes: int) -> None:
    """Say through the clock how many minutes ago the balloon last moved."""
    page.click(".rest__face")
    page.fill("#_rest-told", str(minutes))
    page.keyboard.press("Enter")


@pytest.fixture
def at_night(visit: Callable[..., Visit], walked_site: Site) -> Callable[..., Visit]:
    """Opens a page at two minutes past three; from then on the test tells how time passes."""

    def open_page(name: str = STILL, scheme: str = "http", **options: Any) -> Visit:
        visited = visit("about:blank", **options)
        visited.page.set_default_timeout(5_000)
        visited.page.clock.install(time="2026-03-01T03:00:00")
        visited.page.clock.pause_at(NIGHT)
        visited.page.goto(walked_site.address(scheme, name))
        return visited

    return open_page


# Steps and answers


LISTED = """all => all.map(one => [one.dataset.node, one.dataset.end || null,
    [...one.querySelectorAll("a[data-to]")].map(link => link.dataset.to)])"""

# Opens each step by its address, presses each of its buttons, and tells where that led. The buttons for what may happen
# at any time are the same on each step: they are pressed on every third, and read on the others.
PRESSED = """async steps => {
    const shown = () => document.querySelector("[data-node]");
    const open = step => new Promise(done => {
        if (location.hash === "#" + step) return done();
        addEventListener("popstate", () => done(), {once: true});
        location.hash = step;
    });
    const told = [];
    for (const [number, step] of steps.entries()) {
        await open(step);
        const end = shown().dataset.end || null, ways = [];
        for (let i = 0; i < shown().querySelectorAll("button[data-to]").length; i++) {
            const button = shown().querySelectorAll("button[data-to]")[i], to = button.dataset.to;
            if (number % 3 && button.dataset.anytime) {
                ways.push(to);
                continue;
            }
            button.click();
            if (shown().dataset.node !== to || location.hash !== "#" + to) ways.push("wrong: " + to);
            else ways.push(to);
            await open(step);
        }
        told.push([shown().dataset.node, end, ways]);
    }
    return told;
}"""


def test_every_button_leads_where_the_list_says(visit, site) -> None:
    listed, walked = visit("about:blank", java_script_enabled=False), visit("about:blank")
    for name in some_of(site, 0, 18):
        listed.page.goto(site.address("file", name))
        walked.page.goto(site.address("file", name))
        ways = listed.page.locator("section[data-node]").evaluate_all(LISTED)
        assert node(walked.page) == ways[0][0]
        for (step, end, targets), told in zip(
            ways, walked.page.evaluate(PRESSED, [way[0] for way in ways]), strict=True
        ):
            assert told[:2] == [step, end], name
            # At an end what may happen at any time stays in reach too.
            is_end = end and {step, "wrong"}.isdisjoint(" ".join(told[2]).split())
            assert sorted(told[2]) == sorted(targets) or is_end, (name, told)
    assert walked.faults == [] and walked.foreign(site) == []


@pytest.mark.shown_in("narrow", "wide")
def test_nearly_all_steps_stand_on_one_small_screen_and_name_whom_they_call(visit, site) -> None:
    """All of them, in three kinds of font: `python tests/browser/in_sight.py`."""
    library = shipped_library()
    page = visit("about:blank", apart=True).page
    page.add_init_script(in_sight.FRESH)
    out, wrong, count = [], [], 0
    for tree in map(library.trees.__getitem__, site.some(3, 6)):
        address = site.address("file", f"alarms/{tree.id}/index.html")
        for node, told in in_sight.measured(page, address, tree, tree.nodes).items():
            count += 1
            out += [(tree.id, node, told["out"])] if told["out"] else []
            is_right = told["shown"] and in_sight.called(library, tree, node) in told["dial"]
            is_said = told["more"] or not (told["out"] or told["low"])
            wrong += [] if is_right and is_said and not told["parted"] else [(tree.id, node, told)]
    assert count > 200 and len(out) <= 0.025 * count, out  # of all steps 2 in 100 at most: see in_sight.py
    assert wrong == []


DRAWN = "alarms/pressure-signal-lost/index.html#set-zero"


def test_a_picture_is_fetched_when_it_is_opened_and_moves_nothing_that_is_needed(visit, site) -> None:
    walked = visit(site.address("http", DRAWN), apart=True)
    page = walked.page
    tops = "all => all.map(one => one.getBoundingClientRect().top)"
    needed = page.locator(".step--shown h2, .lines li, .step--shown .answers button")
    before = needed.evaluate_all(tops)
    assert len(before) > 3 and not [url for url in walked.asked if "/pictures/" in url]
    press = page.locator(".walk .drawn summary")
    assert press.bounding_box()["height"] >= 48
    press.click()
    assert page.locator(".walk .drawn img").evaluate("one => one.decode().then(() => one.naturalWidth > 0)")
    page.evaluate("window.scrollTo(0, 0)")
    assert needed.evaluate_all(tops) == before and walked.faults == []
    assert len([url for url in walked.asked if "/pictures/" in url]) == 1


@pytest.mark.parametrize("width", [1024, 1280])
def test_on_a_wide_screen_a_picture_stands_open_beside_its_step(visit, site, width: int) -> None:
    page = visit(site.address("file", DRAWN), width=width, height=800).page
    image, step = page.locator(".beside img"), page.locator(".step--shown").bounding_box()
    assert page.locator(".beside img").evaluate("one => one.decode().then(() => one.naturalWidth > 0)")
    box = image.bounding_box()
    assert box["x"] >= step["x"] + step["width"] and box["x"] + box["width"] <= width and box["width"] > 250
    assert image.is_visible() and len(image.get_attribute("alt")) > 60
    page.evaluate("location.hash = '#patient-look'")
    page.wait_for_function("!document.querySelector('.beside img')")


def test_all_steps_stay_in_reach_and_lead_back_into_the_walk(at_night) -> None:
    page = at_night().page
    assert page.locator(".step.listed:visible").count() == 0
    page.click(".fold")
    assert page.locator(".step.listed:visible").count() == page.locator(".step.listed").count() > 5
    assert page.locator(".step.listed:visible").first.inner_text().startswith("Step 1\n")
    page.locator('.step.listed a[href="#tell"]:visible').first.click()
    assert node(page) == "tell" and page.locator("[data-node]").bounding_box()["y"] < 640
    page.click(".fold")
    assert page.locator(".step.listed:visible").count() == 0


def test_second_click_of_a_double_one_answers_nothing(at_night) -> None:
    page = at_night().page
    press(page, "when")
    next_answer = page.locator("[data-node] .answers button").first.bounding_box()
    page.mouse.move(next_answer["x"] + 20, next_answer["y"] + 20)
    page.mouse.down(click_count=2)
    page.mouse.up(click_count=2)
    assert node(page) == "when"
    page.mouse.down()
    page.mouse.up()
    assert node(page) == "plug"


def test_progress_is_told_and_never_runs_backwards_on_the_usual_way(visit, site) -> None:
    page = visit("about:blank").page
    for name in some_of(site, 1):
        page.goto(site.address("file", name))
        here = 0
        while page.locator("[data-end]").count() == 0:
            told = re.fullmatch(r"(\d+) of about (\d+)", page.locator(".progress").inner_text())
            assert told, name
            step, total = map(int, told.groups())
            assert step > here and total > step, name
            here = step
            while page.locator(".looks").count():
                page.locator(".look:not(:has([aria-pressed=true])) .answers button").first.click()
            if page.locator(".progress").inner_text().startswith(f"{step} "):
                page.locator("[data-node] .answers button").first.click()
        assert page.locator(".progress").inner_text() == ""


def test_who_comes_by_a_link_is_not_told_a_false_place(at_night) -> None:
    page = at_night(f"{STILL}#moves").page
    assert node(page) == "moves"
    assert page.locator(".progress").inner_text() == "About 2 more"


# The way: address, back and forward, reload, the list of answers


def test_address_back_forward_and_reload_keep_step_and_way(at_night) -> None:
    page = at_night().page
    press(page, "when")
    press(page, "plug", "Less")
    press(page, "moves")
    assert page.url.endswith("#moves")
    page.reload()
    assert node(page) == "moves" and page.locator(".way").count() == 3
    page.go_back()
    assert node(page) == "plug" and page.locator(".way").count() == 2
    page.go_back()
    page.go_forward()
    assert node(page) == "plug"
    page.goto("about:blank")
    page.go_back()
    assert node(page) == "plug" and page.locator(".way").count() == 2


def test_way_so_far_leads_back_to_each_part(at_night) -> None:
    page = at_night().page
    for to in ("when", "plug", "moves"):
        press(page, to)
    says = [" ".join(text.split()) for text in page.locator(".way").all_text_contents()]
    assert says[0] == "How is the patient? As before" and says[2].endswith("Restart the pump. Done")
    page.click("text=So far")
    page.locator(".way").nth(1).click()
    assert node(page) == "when" and page.locator(".way").count() == 1
    page.click(".top__back")
    assert node(page) == "look" and page.locator(".way").count() == 0
    assert page.locator(".top__back").is_hidden()
    page.go_back()
    assert node(page) == "when"


def test_address_of_another_part_of_the_page_leaves_the_walk_alone(at_night) -> None:
    page = at_night(f"{STILL}#_sources").page
    assert node(page) == "look"
    press(page, "when")
    page.evaluate("location.hash = '_review'")
    assert node(page) == "when"
    page.reload()
    assert node(page) == "when" and page.locator(".way").count() == 1


def test_address_of_a_step_that_does_not_exist_opens_the_first(at_night) -> None:
    assert node(at_night(f"{STILL}#%E0%A4%A").page) == "look"
    assert node(at_night(f"{STILL}#no-such-step").page) == "look"


# In reach on every step


@pytest.mark.shown_in("wide")
@pytest.mark.parametrize("width", [320, 1280])
def test_call_back_and_what_may_happen_at_any_time_are_always_in_reach(visit, site, width: int) -> None:
    page = visit("about:blank", width=width).page
    for name in some_of(site, width // 36):
        page.goto(site.address("file", name))
        steps = page.locator(".step.listed").evaluate_all(
            "all => [...new Set(all.flatMap(one => [...one.querySelectorAll('a.answer')].map(link => link.hash)))]"
        )
        for step in [step for step in steps if step][:6]:
            page.goto(site.address("file", f"{name}{step}"))
            page.mouse.wheel(0, 5000)
            for part in (".dial", ".dock .escape"):
                for box in (one.bounding_box() for one in page.locator(part).all()):
                    assert box["y"] >= 0 and box["y"] + box["height"] <= 640 and box["height"] >= 48, (name, step, part)
            assert page.locator(".dial").inner_text().startswith("Call "), name
            assert page.locator(".dock__row > *").count() == 4 and page.locator(".strip").is_hidden(), name


def test_nothing_that_is_said_while_walking_is_a_fault_or_a_foreign_request(at_night, walked_site) -> None:
    visited = at_night(scheme="file")
    for to in ("when", "plug", "moves", "done"):
        press(visited.page, to)
    assert visited.faults == [] and visited.foreign(walked_site) == []


CONTROLS = """() => [...document.querySelectorAll(".dock__row > *")]
    .map(one => [one.textContent.trim().split("\\n")[0], Math.round(one.getBoundingClientRect().x)])"""


def test_controls_keep_their_words_and_places_on_every_step(at_night) -> None:
    page = at_night(OFF).page
    first = page.evaluate(CONTROLS)
    assert [words for words, _ in first[:3]] == ["", "Worse", "Blood"] and first[3][0].startswith("Call 5 0001")
    page.goto(page.url.split("#")[0] + "#join")
    there = page.evaluate(CONTROLS)
    assert [place for _, place in there] == [place for _, place in first] and there[3][0].startswith("Call 5 0002")
    assert page.locator(".others .escape").all_inner_texts() == ["It is wet"]
    press(page, "worse")
    gone = page.evaluate(CONTROLS)
    assert [place for _, place in gone] == [place for _, place in first] and [one[0] for one in gone[:3]] == [
        "",
        "",
        "Blood",
    ]
    assert page.locator(".dial a, .call a").count() == 0  # invented numbers are no links


def test_warnings_stand_before_the_lines_that_they_guard(at_night) -> None:
    page = at_night(f"{OFF}#join").page
    assert (
        page.locator("[data-node] .warn").bounding_box()["y"] < page.locator("[data-node] .lines").bounding_box()["y"]
    )
    assert page.locator("[data-node] h2").get_attribute("aria-describedby").split() == ["_progress", "_warn", "_lines"]


def test_preamble_stands_on_the_first_step_only(at_night) -> None:
    page = at_night().page
    assert page.locator("h1, .strip, .priority").first.is_visible() and page.locator(".strip").is_visible()
    press(page, "when")
    assert page.locator(".strip, .rank").locator("visible=true").count() == 0
    assert (
        page.locator("h1").bounding_box()["height"] <= 1
        and page.locator(".top__title").inner_text() == "Balloon stands still"
    )
    assert page.locator("[data-node] h2").bounding_box()["y"] < 70
    page.click(".top__back")
    assert page.locator(".strip").is_visible()


def test_who_called_for_a_worse_patient_is_led_back_to_the_step_that_was_left(at_night) -> None:
    page = at_night(OFF).page
    look(page, line="clear", rest="Less")
    press(page, "join", "This")
    press(page, "worse")
    assert page.locator("[data-end=call]").count() == 1
    page.locator('[data-end] .answers [data-to="join"]').filter(has_text="somebody is free").click()
    assert node(page) == "join" and page.locator(".way").count() == 4
    page.locator("summary", has_text="Notes so far").click()
    assert "Called. Goes on at: Push the line home." in page.locator(".record__text").inner_text()
    press(page, "other")
    page.reload()
    assert node(page) == "other"


def given(page: Page, *answers: str) -> None:
    """Answer by the words; "" is done."""
    for answer in answers:
        page.locator(".walk__step .answers [data-to]").filter(has_text=answer).first.click()


def test_an_end_at_which_all_is_well_says_that_the_call_stands(visit, site) -> None:
    page = visit(site.address("http", "alarms/rhythm-irregular/index.html#moves-look")).page
    way = ("It moves", "Fast, slow", "Single extra", "Single early")
    given(page, *way, "", "Low point", "As well")
    assert (
        page.locator("[data-node] .how").inner_text() == "Alarm answered"
        and page.locator("[data-node] .stands").count() == 0
    )
    page.goto(site.address("http", "alarms/rhythm-irregular/index.html#signal-look"))
    page.reload()
    page.locator(".dock .escape", has_text="Worse").click()
    page.locator(".answers [data-to]", has_text="somebody is free").click()
    given(page, *way[1:])
    # Called for the patient, and now for the rhythm.
    assert page.locator(".called").inner_text().endswith("ago. Call again now: this is new.")
    given(page, "", "Low point", "As well")
    assert page.locator("[data-node] .how").inner_text() == "Alarm answered, the call stands"
    assert "Nobody called? Call now, better or not." in page.locator("[data-node] .stands").inner_text()
    assert "5 5502" in page.locator(".walk__step .call").inner_text() and "5 5502" in page.locator(".dial").inner_text()
    assert page.locator("[data-node] .stands").inner_text().startswith("“Worse” at ")


def test_a_call_is_not_made_twice_for_the_same(visit, site) -> None:
    page = visit(site.address("http", "alarms/blood-in-gas-line/index.html#gas-embolism")).page
    assert page.locator(".called").count() == 0
    given(page, "Done")
    assert page.locator(".called").is_visible()
    given(page, "Done, or known already")
    given(page, "Warm", "Done", "Done")
    assert page.locator("[data-node] .how").inner_text() == "Call now"  # a question was answered since
    assert page.locator(".called").inner_text().endswith("ago. Call again now: this is new.")
    page.goto(site.address("http", "alarms/gas-leak-suspected/index.html#hold-still"))
    given(page, "Done")
    assert page.locator("[data-node] .how").inner_text() == "Help is called"
    assert page.locator(".called").inner_text().endswith("Call again if nobody comes.")


# The first looks


def look(page: Page, patient: str = "As before", line: str = "", rest: str = "") -> None:
    """Answers of the first looks, by some of their words."""
    for step, words in (("look", patient), ("line", {"clear": "Whole line"}.get(line, line)), ("rest", rest)):
        if words:
            page.locator(f'[data-node="{step}"] .answers button').filter(has_text=words).click()


def test_first_looks_stand_together_and_go_on_when_all_are_given_in_any_order(at_night) -> None:
    page = at_night(OFF).page
    shown = page.locator("[data-node]").evaluate_all("all => all.map(one => one.dataset.node)")
    assert shown == ["look", "line", "rest"]
    look(page, patient="", rest="Less")
    look(page, patient="", line="clear")
    assert page.locator("[aria-pressed=true]").count() == 2 and face(page).startswith("When did it last move? Under")
    page.reload()
    assert page.locator("[aria-pressed=true]").count() == 2
    look(page)
    assert node(page) == "which" and page.evaluate("document.activeElement.tagName") == "H2"
    says = [" ".join(text.split()) for text in page.locator(".way").all_text_contents()]
    assert says == [
        "Pulse and pressure? As before",
        "What is seen inside the line? Whole line seen, no blood",
        "When did it last move? Less than 15 min ago",
    ]
    assert page.locator(".progress").inner_text().startswith("4 of about")


def test_answer_that_leads_off_the_looks_leads_on_at_once(at_night) -> None:
    page = at_night(OFF).page
    look(page, patient="Weaker")
    assert node(page) == "worse"
    page.go_back()
    look(page, patient="", line="Blood or")  # what the tree offers at any time needs no look before it
    assert node(page) == "blood" and page.locator(".way").count() == 1


def test_answer_that_leads_off_waits_for_the_looks_before_it(at_night) -> None:
    page = at_night(OFF).page
    look(page, patient="", rest="Longer")
    assert is_late(page)  # the clock knows it at once
    look(page, patient="", line="clear")
    assert page.locator(".looks").count() == 1
    assert page.locator(".looks__left").text_content() == "Still to answer: Pulse and pressure?"
    assert page.evaluate("document.documentElement.scrollWidth") == 360  # what is said and not seen takes no room
    look(page)
    assert node(page) == "late"


def test_answer_that_the_clock_contradicts_is_not_taken(at_night) -> None:
    page = at_night(OFF).page
    tell(page, 16)
    less = page.locator('[data-node="rest"] button').filter(has_text="Less")
    less.click()
    assert page.locator(".contradicted").is_visible() and page.locator("[aria-pressed=true]").count() == 0
    tell(page, 3)
    less.click()
    assert page.locator('[data-node="rest"] [aria-pressed=true]').count() == 1
    # Nobody has said since when: still for so long at least.
    page = at_night(OFF, apart=True).page
    page.clock.run_for(901_000)
    page.locator('[data-node="rest"] button').filter(has_text="Less").click()
    assert page.locator(".contradicted").is_visible() and page.locator("[aria-pressed=true]").count() == 0


def test_an_answer_of_the_first_looks_can_be_changed_and_taken_back(at_night) -> None:
    page = at_night(OFF).page
    look(page, patient="", rest="Longer")
    look(page, patient="", rest="Less")
    assert page.locator('[data-node="rest"] [aria-pressed=true]').inner_text().startswith("Less")
    look(page, line="clear")
    assert node(page) == "which"
    page.go_back()
    assert page.locator("[aria-pressed=true]").count() == 2
    page.go_forward()
    page.click("text=So far")
    page.locator(".way").first.click()
    given = page.locator("[aria-pressed=true]").all_inner_texts()
    assert [words[:5] for words in given] == ["Whole", "Less "]
    look(page, patient="Weaker")
    assert node(page) == "worse"


def test_a_look_that_is_asked_for_by_its_address_stands_alone(at_night) -> None:
    page = at_night(f"{OFF}#line").page
    assert page.locator("[data-node]").count() == 1 and node(page) == "line"
    press(page, "rest", "Whole")
    assert page.locator("[data-node]").count() == 1
    page.goto(page.url.split("#")[0] + "#look")
    assert page.locator("[data-node]").count() == 1 and node(page) == "look"


# What was seen and still holds


def to_torn(page: Page) -> None:
    """On into the tree that another one leads to."""
    page.click("[data-node] a[data-tree]")
    page.wait_for_url("**/line-torn/**")


def test_what_still_holds_is_passed_in_the_tree_that_follows_and_can_be_asked_again(at_night) -> None:
    page = at_night(OFF).page
    look(page, line="clear", rest="Less")
    page.clock.run_for(40_000)
    press(page, "other", "Another")
    to_torn(page)
    passed = page.locator("[data-kept]")
    said = [" ".join(text.split()) for text in passed.all_inner_texts()]
    assert said == [
        "Seen 40 s ago: As before Look again",
        "Seen 40 s ago: Whole line seen, no blood Look again",
    ]
    assert node(page) == "rest" and page.locator(".way").count() == 2  # a rest without minutes is asked for
    page.locator('[data-kept="line"] button').click()
    assert node(page) == "line" and page.locator("[data-node]").count() == 1
    press(page, "rest", "Whole")
    assert node(page) == "rest"


def test_a_rest_that_the_clock_knows_is_not_asked_for_again(at_night) -> None:
    page = at_night(OFF).page
    tell(page, 5)
    look(page, line="clear", rest="Less")
    press(page, "other", "Another")
    to_torn(page)
    assert node(page) == "which" and "By the resting clock" in page.locator("[data-kept=rest]").inner_text()


@pytest.mark.parametrize("lost", ["time", "act", "worse", "opened anew", "cleared"])
def test_what_does_not_hold_any_more_is_asked(at_night, lost: str) -> None:
    page = at_night(OFF).page
    tell(page, 5)
    look(page, line="clear", rest="Less")
    page.clock.run_for(130_000 if lost == "time" else 1_000)
    if lost == "worse":
        press(page, "worse")
        page.locator(".answers button", has_text="somebody is free").click()
    if lost == "cleared":
        page.locator("summary", has_text="Notes so far").click()
        page.click("text=Next patient: clear all")
        look(page, line="clear", rest="Less")
        page.clock.run_for(130_000)
    press(page, "join" if lost == "act" else "other", "This" if lost == "act" else "Another")
    if lost == "act":
        press(page, "other")
    if lost == "opened anew":
        page.goto(page.url.replace("line-off", "line-torn").split("#")[0])
    else:
        to_torn(page)
    assert node(page) == "look" and page.locator('[data-kept="look"], [data-kept="line"]').count() == 0
    if lost != "time":
        assert page.locator("[data-kept]").count() == 0


def test_the_usual_look_takes_the_same_answer_to_a_closer_one(at_night) -> None:
    page = at_night(OFF).page
    look(page, line="Part")
    press(page, "again")
    press(page, "rest", "Whole")
    press(page, "which", "Less")
    press(page, "other", "Another")
    to_torn(page)
    kept = page.locator('[data-kept="line"]')
    assert node(page) == "look" and kept.count() == 1 and "Whole line seen" in kept.inner_text()


# What a page that hands over leaves behind: the safe answers of a tree, seen just now.
LEFT = """([tree, seen]) => {
    sessionStorage.setItem("walk-carry", JSON.stringify({to: tree, at: Date.now()}));
    const at = Date.now(), kept = {from: at, seen: seen.map(([asked, said]) => ({asked, said, at}))};
    sessionStorage.setItem("walk-holds", JSON.stringify(kept));
}"""


def test_a_passed_question_is_a_way_that_the_tree_has_with_that_answer(visit, site) -> None:
    library = shipped_library()
    page = visit("about:blank").page
    passed = 0
    for name in site.some(4) + [tree for tree in site.trees if first_looks(library.trees[tree], library.marks)][:6]:
        tree = library.trees[name]
        safe = [
            (node.text, answer.say)
            for node in tree.nodes.values()
            for answer in node.answers
            if holds(node, answer, library.marks)
        ]
        page.goto(site.address("http", "sources/index.html"))
        page.evaluate(LEFT, [name, safe])
        page.goto(site.address("http", f"alarms/{name}/index.html"))
        way = page.evaluate("history.state.way.map(one => [one.id, one.say])")
        here = tree.start
        for step, said in way:
            assert step == here, name
            here = next(answer.to for answer in tree.nodes[step].answers if fill(answer.say, library.settings) == said)
        assert node(page) == here, name
        kept = page.locator(".kept").evaluate_all("all => all.map(one => one.dataset.kept)")
        assert kept[: len(way)] == [step for step, _ in way], name
        passed += len(way)
    assert passed > 10


def test_a_tree_that_asks_a_second_time_means_it(visit, site) -> None:
    """Between the two somebody called may have acted, or time has passed: no answer of its own page is taken."""
    page = visit(site.address("http", "sources/index.html")).page
    page.goto(site.address("http", "alarms/smoke-or-fluid/index.html"))
    seen = [["Pulse, breath, awake?", "As before"], ["Pulse and pressure?", "As before"]]
    for tree, passed in (("smoke-or-fluid", 0), ("power-low", 1)):
        page.evaluate(LEFT, ["smoke-or-fluid", seen])
        page.evaluate(
            """tree => {
                const kept = JSON.parse(sessionStorage.getItem("walk-holds"));
                kept.seen.forEach(one => { one.tree = tree; });
                sessionStorage.setItem("walk-holds", JSON.stringify(kept));
            }""",
            tree,
        )
        page.goto(site.address("http", "sources/index.html"))
        page.goto(site.address("http", "alarms/smoke-or-fluid/index.html"))
        assert page.locator(".kept").count() == passed


def test_a_call_ends_nothing_that_holds(at_night) -> None:
    page = at_night(OFF).page
    look(page, line="clear", rest="Less")
    press(page, "tell")
    press(page, "other")
    to_torn(page)
    assert page.locator('[data-kept="line"]').count() == 1


# The resting clock


def test_clock_asks_where_the_alarm_means_a_still_balloon_and_only_there(at_night) -> None:
    assert face(at_night(RUNS).page) == ""
    page = at_night().page
    assert face(page) == "When did it last move? Still 00:00 or more" and not is_late(page)
    page.clock.run_for(61_000)
    assert face(page) == "When did it last move? Still 01:01 or more"


def test_clock_runs_from_the_minutes_told_and_warns_once_when_it_passes(at_night) -> None:
    page = at_night().page
    tell(page, 5)
    assert face(page) == "Balloon resting 05:00" and warning(page) == ""
    page.clock.run_for(299_000)
    status = page.locator("body > .unseen[role=status]")
    assert face(page) == "Balloon resting 09:59" and status.inner_text() == ""
    page.clock.run_for(1_000)
    assert face(page) == "⚠\ufe0e Near 15 min 10:00" and warning(page) == ""
    assert status.inner_text() == "Near 15\u00a0min at rest. Nobody called? It is late: call now."
    page.reload()
    page.clock.run_for(299_000)
    assert face(page) == "⚠\ufe0e Near 15 min 14:59" and not is_late(page)
    assert status.inner_text() == ""  # said, and not read out again
    assert page.locator("[role=alert]").filter(has_text="Past").count() == 0
    page.clock.run_for(1_000)
    assert face(page) == "Balloon resting 15:00" and is_late(page)
    alert = page.locator("body > [role=alert]")
    assert alert.inner_text() == "Past 15\u00a0min at rest. Do not restart. Call."
    changes = """() => { window.changes = 0; new MutationObserver(() => window.changes++)
        .observe(document.querySelector("body > [role=alert]"), {childList: true, subtree: true}); }"""
    page.evaluate(changes)
    page.clock.run_for(60_000)
    assert face(page) == "Balloon resting 16:00" and page.evaluate("window.changes") == 0
    page.reload()
    page.clock.run_for(5_000)
    assert is_late(page) and alert.inner_text() == ""  # seen, and not read out again
    press(page, "worse")
    assert page.locator(".record__text").inner_text().count("Resting warning") == 1


def test_clock_shows_no_time_that_is_left_and_nothing_flashes(at_night) -> None:
    page = at_night().page
    tell(page, 14)
    for _ in range(5):
        page.clock.run_for(30_000)
        assert not re.search(r"\bleft\b|remain|\bin \d", f"{face(page)} {warning(page)}".lower())
    assert page.evaluate("document.getAnimations().length") == 0
    assert page.locator(".rest__face [aria-live], .rest__face[aria-live]").count() == 0


def test_one_press_tells_how_much_less_than_the_warning_where_the_tree_asks(at_night) -> None:
    page = at_night().page
    press(page, "when")
    presses = page.locator(".parted .answer")
    told = [" ".join(words.split()) for words in presses.all_inner_texts()]
    assert told == [f"Less than {minutes} min ago" for minutes in (5, 10, 15)]
    presses.first.click()
    assert node(page) == "plug" and face(page) == "Balloon resting 05:00 or less" and warning(page) == ""
    page.click(".top__back")
    page.click(".rest__face")
    page.click("#_rest >> text=Less than 10 min ago")
    assert face(page) == "⚠\ufe0e Near 15 min 10:00 or less"


def test_no_answer_makes_a_running_clock_shorter(at_night) -> None:
    page = at_night().page
    tell(page, 14)
    page.clock.run_for(61_000)
    press(page, "when")
    page.locator(".parted .answer").first.click()
    assert face(page) == "Balloon resting 15:01" and is_late(page)


def test_no_answer_makes_a_rest_shorter_that_nobody_timed(at_night) -> None:
    page = at_night().page
    page.clock.run_for(901_000)
    press(page, "when")
    page.locator(".parted .answer").first.click()
    assert is_late(page) and "15:01" in face(page)


def test_a_rest_that_nobody_timed_stays_a_question_when_the_limit_is_near(at_night) -> None:
    page = at_night().page
    page.clock.run_for(601_000)
    assert face(page) == "When did it last move? May be past 15 min now"
    said = page.locator("body > .unseen[role=status]").inner_text()
    assert said == "May be past 15\u00a0min at rest now. Say when it last moved."


def test_less_than_the_warning_without_minutes_stays_a_question(at_night) -> None:
    page = at_night().page
    page.clock.run_for(30_000)
    press(page, "when")
    press(page, "plug", "Less")
    assert face(page) == "When did it last move? Under 15 min at 03:02" and warning(page) == ""
    page.clock.run_for(60_000)
    assert face(page) == "When did it last move? May be past 15 min now" and warning(page) == ""
    said = page.locator("body > .unseen[role=status]").inner_text()
    assert said.endswith("Say when it last moved.")
    page.clock.run_for(810_000)
    assert is_late(page)
    tell(page, 3)
    assert face(page) == "Balloon resting 03:00" and warning(page) == ""


def test_a_time_told_is_kept_when_the_answer_says_less(at_night) -> None:
    page = at_night().page
    tell(page, 20)
    press(page, "when")
    press(page, "plug", "Less")
    assert face(page) == "Balloon resting 20:00" and is_late(page)


@pytest.mark.parametrize(("answer", "shown"), [("or longer", "15:00 or more"), ("Nobody", "not known")])
def test_longer_and_not_known_count_as_past_the_warning_at_once(at_night, answer: str, shown: str) -> None:
    page = at_night().page
    press(page, "when")
    press(page, "tell", answer)
    assert face(page) == f"Balloon resting {shown}" and is_late(page)


def test_limit_that_is_not_set_is_told_and_unknown_still_warns(visit, walked_site) -> None:
    page = visit("about:blank").page

    def unset(route: Route) -> None:
        body = route.fetch().text()
        assert 'data-limit="900"' in body
        route.fulfill(body=body.replace('data-limit="900"', ""), content_type="text/html")

    page.route("**/balloon-still/index.html", unset)
    page.goto(walked_site.address("http", STILL))
    tell(page, 500)
    assert warning(page) == "The resting warning is not set here. Call and ask."
    press(page, "when")
    press(page, "tell", "or longer")
    assert is_late(page)


def test_nobody_knows_can_be_said_at_the_clock(at_night) -> None:
    page = at_night().page
    page.click(".rest__face")
    page.click("text=Nobody knows")
    assert is_late(page) and page.evaluate("document.activeElement.className").startswith("rest__face")


@pytest.mark.parametrize("typed", ["", "x", "-3", "1e3", "5.5", "9999"])
def test_minutes_that_are_none_are_refused(at_night, typed: str) -> None:
    page = at_night().page
    tell(page, 0) if typed == "" else None
    before = face(page)
    page.click(".rest__face")
    page.fill("#_rest-told", typed)
    page.keyboard.press("Enter")
    assert page.locator("#_rest .rest__fault").inner_text().startswith("Type whole minutes, such as 5, up to 1440.")
    assert face(page) == before


def test_clock_runs_on_through_reload_call_restart_and_end(at_night) -> None:
    page = at_night().page
    tell(page, 5)
    for to in ("when", "plug", "moves", "tell"):
        press(page, to)
    page.clock.run_for(20_000)
    page.reload()
    assert face(page) == "Balloon resting 05:20"
    press(page, "broken")
    page.clock.run_for(580_000)
    assert node(page) == "broken" and face(page) == "Balloon resting 15:00" and is_late(page)


def test_clock_ends_only_where_the_balloon_is_seen_to_move(at_night) -> None:
    page = at_night().page
    tell(page, 5)
    for to in ("when", "plug", "moves"):
        press(page, to, "Less" if to == "plug" else "")
        assert face(page).startswith("Balloon resting 05:0")
    press(page, "done")
    assert face(page) == "" and warning(page) == ""
    page.reload()
    assert face(page) == ""


def test_clock_runs_on_when_the_answer_that_ended_it_is_taken_back(at_night) -> None:
    page = at_night().page
    tell(page, 5)
    for to in ("when", "plug", "moves", "done"):
        press(page, to, "Less" if to == "plug" else "")
    page.clock.run_for(30_000)
    page.click(".top__back")
    page.clock.run_for(1_000)
    assert node(page) == "moves" and face(page) == "Balloon resting 05:31"
    page.go_forward()
    page.clock.run_for(1_000)
    assert node(page) == "done" and face(page) == ""


def test_step_that_stops_a_pump_starts_the_clock_from_its_beginning(at_night) -> None:
    page = at_night(RUNS).page
    press(page, "hold")
    page.clock.run_for(40_000)
    page.reload()
    page.clock.run_for(5_000)
    press(page, "seen")
    # Nobody has said that it moved before.
    assert face(page) == "When did it last move? Still 00:45 or more"


def test_a_pump_that_was_seen_to_move_rests_from_the_step_that_stops_it(at_night) -> None:
    page = at_night().page
    press(page, "when")
    press(page, "plug", "It moves now")
    page.locator('[data-anytime][data-to="hand-over"]').click()
    page.locator("a[data-tree=pump-runs]").click()
    page.wait_for_url("**/pump-runs/**")
    press(page, "hold")
    page.clock.run_for(45_000)
    press(page, "seen")
    assert face(page) == "Balloon resting 00:45"


def test_who_takes_back_that_it_moves_has_not_seen_it(at_night) -> None:
    page = at_night(f"{RUNS}#seen").page
    press(page, "call-now", "It moves")
    page.click(".top__back")
    page.evaluate("location.hash = 'hold'")
    press(page, "seen")
    assert face(page) == "When did it last move? Still 00:00 or more"


def test_seen_to_stand_still_asks_since_when(at_night) -> None:
    page = at_night(f"{STILL}#moves").page
    page.click(".rest__face")
    page.click("text=It moves now")
    assert face(page) == ""
    page.clock.run_for(10_000)
    press(page, "tell")
    assert face(page) == "When did it last move? Still 00:10 or more"


@pytest.mark.parametrize("scheme", ["http", "file"])
def test_clock_and_notes_go_along_into_another_tree(at_night, scheme: str) -> None:
    page = at_night(scheme=scheme).page
    tell(page, 5)
    press(page, "hand-over")
    page.clock.run_for(10_000)
    page.click("[data-node] a[data-tree]")
    page.wait_for_url("**/pump-runs/**")
    assert node(page) == "look" and face(page) == "Balloon resting 05:10"
    press(page, "call-now")
    notes = page.locator(".record__text").inner_text()
    assert "Told: the balloon last moved 5 min ago" in notes and "Went on to: Pump runs badly" in notes
    page.go_back()
    page.go_back()
    page.wait_for_url("**/balloon-still/**")
    assert node(page) == "hand-over" and face(page).startswith("Balloon resting 05:1")


def test_balloon_that_moves_is_not_asked_for_again_by_the_tree_that_follows(at_night, walked_site) -> None:
    page = at_night().page
    press(page, "when")
    press(page, "plug", "It moves")
    press(page, "hand-over")
    page.click("[data-node] a[data-tree]")
    page.wait_for_url("**/pump-runs/**")
    assert face(page) == ""
    page.goto(walked_site.address("http", STILL))
    assert face(page).startswith("When did it last move?")  # opened anew, it means a new alarm


def test_device_clock_put_back_counts_as_not_known(at_night) -> None:
    page = at_night().page
    tell(page, 5)
    page.clock.set_system_time("2026-03-01T02:00:00")
    page.clock.run_for(1_000)
    assert face(page) == "Balloon resting not known" and is_late(page)


# Puts something else into what is kept for the shift: in the place of the clock, or of a part of each walk.
ALTERED = """([part, text]) => {
    const kept = JSON.parse(localStorage.getItem("shift /")), value = JSON.parse(text);
    if (part === "clock") kept.clock = value;
    else Object.values(kept.walks).forEach((walk) => { walk[part] = value; });
    localStorage.setItem("shift /", JSON.stringify(kept));
}"""
NO_LOG = ["{}", "5", '"s"', '[null, 5, {}, [], {"at": "x", "text": "a"}, {"at": 1e300, "text": "a"}]']


@pytest.mark.parametrize("log", NO_LOG)
def test_a_log_that_cannot_be_read_stops_no_walk(at_night, log: str) -> None:
    page = at_night(RUNS).page
    press(page, "hold")
    page.evaluate(ALTERED, ["log", log])
    page.reload()
    assert node(page) == "hold" and page.locator("html").get_attribute("data-walking") == "yes"
    for to in ("seen", "call-now-2"):
        press(page, to)
    notes = page.locator(".record__text").inner_text()
    assert "NaN" not in notes and "undefined" not in notes and "End: " in notes


TIMES_THAT_ARE_NONE = [
    {"kind": "told", "since": "x", "at": 5},
    {"kind": "still", "at": 5},
    {"kind": "stopped", "since": 1e300, "at": 5},
    {"kind": "long", "since": 5, "at": "x"},
    {"kind": "constructor", "since": 5, "at": 5},
    {"kind": "moved", "at": 5},
    {"kind": "told", "since": 5, "at": 5, "turn": "x"},
    {"kind": "moved", "at": 5, "ended": {"length": "", "by": {"walk": "a"}, "before": {"kind": "told", "since": "x"}}},
]


def test_a_clock_that_cannot_be_read_counts_as_not_known(at_night) -> None:
    page = at_night(RUNS).page
    for clock in TIMES_THAT_ARE_NONE:
        page.evaluate(ALTERED, ["clock", json.dumps(clock)])
        page.reload()
        assert face(page) == "Balloon resting not known" and is_late(page), clock
    page.evaluate(ALTERED, ["clock", '{"kind": ""}'])
    page.reload()
    assert face(page) == ""


@pytest.mark.parametrize("kept", [{"at": "x"}, {"way": [None]}, {"way": [{"id": "look"}]}, {"way": "look"}])
def test_a_state_that_cannot_be_read_begins_the_walk_anew(at_night, kept: dict[str, object]) -> None:
    page = at_night(RUNS).page
    press(page, "hold")
    for part, value in kept.items():
        page.evaluate(ALTERED, [part, json.dumps(value)])
    page.evaluate("kept => history.replaceState({...history.state, ...kept}, '', '#')", kept)
    page.reload()
    assert node(page) == "look" and face(page) == ""


def test_next_patient_begins_with_nothing_of_the_last(at_night) -> None:
    page = at_night(RUNS).page
    for to in ("hold", "seen", "call-now-2"):
        press(page, to)
    assert face(page)
    page.click("text=Next patient: clear all")
    assert node(page) == "look" and face(page) == "" and page.locator(".way").count() == 0
    press(page, "call-now")
    assert "hold" not in page.locator(".record__text").inner_text()


def test_walk_works_where_nothing_may_be_kept(visit, walked_site) -> None:
    visited = visit("about:blank")
    visited.page.add_init_script(
        "for (const store of ['sessionStorage', 'localStorage']) Object.defineProperty(window, store,"
        " {get() { throw new DOMException('no', 'SecurityError'); }})"
    )
    visited.page.goto(walked_site.address("http", STILL))
    tell(visited.page, 5)
    assert "keeps nothing now" in visited.page.locator(".shift__told").inner_text()
    for to in ("when", "plug", "moves", "done"):
        press(visited.page, to)
    assert visited.page.locator(".shift__told").count() == 0  # said once
    assert visited.faults == []


# The end


def test_end_tells_what_was_done_in_order_with_times_and_what_to_watch(at_night) -> None:
    page = at_night().page
    tell(page, 5)
    press(page, "when")
    page.clock.run_for(60_000)
    press(page, "plug", "Less")
    press(page, "moves")
    page.clock.run_for(60_000)
    press(page, "done")
    assert page.locator("[data-end=resolved]").inner_text().count("Watch next: Watch the plug.") == 1
    notes = page.locator(".record__text").inner_text().replace("\u00a0", " ").splitlines()
    assert notes == [
        "Balloon stands still, 2026-03-01",
        "03:02  Opened: Balloon stands still",
        "03:02  Told: the balloon last moved 5 min ago",
        "03:02  How is the patient? As before",
        "03:03  When did the balloon last move? Less than 15 min ago",
        "03:03  Done: Push the plug home until it locks. Restart the pump.",
        "03:04  Does the balloon move? With every beat",
        "03:04  Balloon seen to move, after 7 min 0 s at rest",
        "03:04  End: Alarm answered: The balloon moves again.",
        "Balloon moved again at 03:04, after 7 min 0 s at rest.",
    ]


@pytest.mark.parametrize("scheme", ["http", "file"])
def test_notes_can_be_copied(at_night, scheme: str) -> None:
    visited = at_night(scheme=scheme, permissions=["clipboard-read", "clipboard-write"])
    press(visited.page, "worse")
    visited.page.click("text=Copy")
    visited.page.locator(".record [role=status]").filter(has_text="Copied.").wait_for()
    copied = visited.page.evaluate("navigator.clipboard.readText()")
    assert copied == visited.page.locator(".record__text").text_content() and "Patient worse" in copied
    assert visited.faults == []


def test_notes_tell_of_a_rest_that_goes_on(at_night) -> None:
    page = at_night().page
    tell(page, 5)
    press(page, "worse")
    page.clock.run_for(60_000)
    page.click("text=Copy")
    assert page.locator(".record__text").inner_text().splitlines()[-1] == (
        "Balloon last moved at about 02:57, as told. Resting 6 min 0 s at 03:03."
    )


# Keyboard, screen reader, large text


def test_a_whole_way_needs_no_mouse(at_night) -> None:
    page = at_night().page
    page.locator("#_main").focus()
    for to in ("when", "plug", "moves", "done"):
        for _ in range(12):
            page.keyboard.press("Tab")
            if page.evaluate("document.activeElement.dataset.to") == to:
                break
        assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
        page.keyboard.press("Enter")
        assert node(page) == to and page.evaluate("document.activeElement.tagName") == "H2"


def test_new_step_is_announced_by_its_heading_with_place_and_lines(at_night) -> None:
    page = at_night().page
    assert page.evaluate("document.activeElement.tagName") == "BODY"  # opening a page takes no focus
    press(page, "when")
    press(page, "plug")
    heading = page.locator("[data-node] h2")
    told = [page.locator(f"#{part}").inner_text() for part in heading.get_attribute("aria-describedby").split()]
    assert heading.inner_text().strip() == "Do" and told[0] == "3 of about 5" and "Restart the pump." in told[1]
    assert page.title().startswith("Push the plug home until it locks. Restart the pump. – Balloon stands still")


def test_focus_is_never_hidden_below_what_is_fixed(at_night) -> None:
    page = at_night(height=500).page
    press(page, "when")
    for _ in range(25):
        page.keyboard.press("Tab")
        hidden = page.evaluate(
            """() => { const one = document.activeElement, box = one.getBoundingClientRect();
                const down = box.top + Math.min(box.height, 40) / 2;
                const top = document.elementFromPoint(box.left + box.width / 2, down);
                const seen = top && (one.contains(top) || top.contains(one));
                return one !== document.body && !seen && one.outerHTML; }"""
        )
        assert not hidden


@pytest.mark.shown_in("narrow", "wide")
@pytest.mark.parametrize("width", [360, 1280])
def test_text_at_twice_its_size_covers_nothing_and_needs_no_sideways_scrolling(at_night, width: int) -> None:
    page = at_night(width=width).page
    page.add_style_tag(content="html { font-size: 200% }")
    tell(page, 20)
    press(page, "when")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    fixed = page.evaluate(
        """() => [...document.querySelectorAll(".dock, .top")]
            .filter(one => ["fixed", "sticky"].includes(getComputedStyle(one).position))
            .reduce((sum, one) => sum + one.offsetHeight, 0)"""
    )
    assert fixed <= 0.45 * 640
    answer = page.locator("[data-node] .answers button").last
    answer.scroll_into_view_if_needed()
    answer.click()


@pytest.mark.parametrize(("width", "size"), [(360, "200%"), (320, "100%"), (320, "200%")])
def test_next_step_is_on_the_screen_after_each_press_with_large_text_too(at_night, width: int, size: str) -> None:
    page = at_night(OFF, width=width).page
    page.add_style_tag(content=f"html {{ font-size: {size} }}")
    tell(page, 5)
    look(page, line="clear", rest="Less")
    for to in ("", "join", "other"):
        if to:
            press(page, to)
        begins = page.locator("[data-node] h2").bounding_box()["y"]
        assert 0 <= begins < 0.35 * 640, (to, begins)


@pytest.mark.shown_in("narrow", "wide")
@pytest.mark.parametrize("width", [320, 390, 1280])
def test_all_that_is_pressed_while_walking_is_large_enough(at_night, width: int) -> None:
    page = at_night(width=width).page
    page.click(".rest__face")
    for to in ("", "when", "plug", "moves", "done"):
        if to:
            page.keyboard.press("Escape")
            press(page, to)
        small = page.evaluate(
            """() => [...document.querySelectorAll(".walk :is(a, button, summary, input), .top :is(a, button, input)")]
                .filter(one => one.offsetParent && !one.closest(".search:not(:focus-within)")
                    && getComputedStyle(one).display !== "inline" && one.getBoundingClientRect().height < 48)
                .map(one => one.outerHTML)"""
        )
        assert small == []
        assert page.evaluate("document.documentElement.scrollWidth") <= width


AXE = """axe.run(document, {resultTypes: ["violations"], rules: {"color-contrast-enhanced": {enabled: true}},
    runOnly: ["wcag2a", "wcag2aa", "wcag2aaa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]})
    .then(found => found.violations.map(one => one.id + ": " + one.nodes[0].html + one.nodes[0].failureSummary))"""
# In the dark only colours are others.
AXE_DARK = (
    AXE[: AXE.index("rules:")]
    + """runOnly: {type: "rule",
    values: ["color-contrast", "color-contrast-enhanced", "link-in-text-block"]}})"""
    + AXE[AXE.index("\n    .then") :]
)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [320, 390, 1280])
def test_axe_finds_nothing_at_a_question_a_step_and_the_ends(at_night, axe: str, width: int, scheme: str) -> None:
    page = at_night(width=width, color_scheme=scheme, height=900).page
    page.clock.resume()  # axe waits for timers
    page.evaluate(axe)
    judge = AXE if scheme == "light" else AXE_DARK
    page.click(".rest__face")
    assert page.evaluate(judge) == [], "the clock's choices"
    page.keyboard.press("Escape")
    tell(page, 20)
    for to in ("when", "plug", "moves", "done", "worse", "hand-over"):
        press(page, to)
        assert page.evaluate(judge) == [], to
    page.goto(page.url.split("alarms/")[0] + OFF)
    look(page, line="clear")
    page.evaluate(axe)
    assert page.evaluate(judge) == [], "the first looks"


# Enhancement


@pytest.mark.parametrize("lost", ["page.js", "walk.js", "walk.css"])
def test_loss_of_one_file_leaves_a_page_that_leads_on(visit, walked_site, lost: str) -> None:
    page = visit("about:blank").page
    page.route(f"**/{lost}", lambda route: route.abort())
    page.goto(walked_site.address("http", STILL))
    if lost in ("page.js", "walk.js"):
        assert page.locator(".step:visible").count() > 5 and not page.locator(".walk").is_visible()
        page.locator('.step--first a[data-to="when"]').first.click()
        assert page.url.endswith("#when")
    else:
        press(page, "when")


def test_walk_that_fails_leaves_the_list_as_it_was(visit, walked_site) -> None:
    page = visit("about:blank").page
    page.add_init_script("history.replaceState = () => { throw new Error('refused'); }")
    page.goto(walked_site.address("http", STILL))
    assert page.locator("section[data-node]:visible").count() > 5
    page.locator('.step--first a[data-to="when"]').first.click()
    assert page.url.endswith("#when")


def test_without_scripts_the_page_is_the_list(visit, walked_site) -> None:
    page = visit(walked_site.address("file", STILL), java_script_enabled=False).page
    assert page.locator("section[data-node]:visible").count() == page.locator("section[data-node]").count() > 5
    assert page.locator(".walk, .dock, .rest__face").locator("visible=true").count() == 0


def test_screen_is_asked_to_stay_on_while_walking(at_night) -> None:
    visited = at_night("index.html")
    visited.page.add_init_script(
        """window.asked = 0; Object.defineProperty(navigator, "wakeLock", {value: {request: async () => {
            window.asked++; return new EventTarget(); }}})"""
    )
    visited.page.goto(visited.page.url.replace("index.html", STILL))
    assert visited.page.evaluate("window.asked") == 0
    press(visited.page, "when")
    press(visited.page, "plug")
    assert visited.page.evaluate("window.asked") == 1


def test_paper_shows_the_list_and_nothing_of_the_walk(at_night) -> None:
    page = at_night().page
    press(page, "when")
    page.emulate_media(media="print")
    assert page.locator(".walk, .rest__face, .rest__past, .progress").locator("visible=true").count() == 0


def test_hostile_texts_are_words_in_the_walk_too(visit, hostile_site) -> None:
    visited = visit(hostile_site.address("http", "alarms/line-open/index.html"))
    for _ in range(6):
        answers = visited.page.locator("[data-node] .answers button")
        if not answers.count():
            break
        answers.first.click()
    assert visited.page.locator("[data-end]").count() == 1
    assert visited.page.evaluate("window.hit") is None
    assert visited.page.locator("article img, article script").count() == 0
    assert visited.faults == []


def test_way_taken_is_marked_in_the_picture(at_night) -> None:
    page = at_night(width=1280).page
    if page.locator("#_picture").count() == 0:
        pytest.skip("this site draws no pictures")
    page.wait_for_selector("#_picture svg")
    press(page, "when")
    links = '#_picture a[href="#{}"]'
    assert page.locator(links.format("when")).first.get_attribute("aria-current") == "step"
    assert "taken" in page.locator(links.format("look")).first.get_attribute("class").split()
    assert page.locator("#_picture").bounding_box()["x"] > page.locator("[data-node]").bounding_box()["x"] + 300
