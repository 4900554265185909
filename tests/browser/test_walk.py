"""The walk through a tree in a real browser: one step at a time, and the resting clock."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import pytest
from playwright.sync_api import Page, Route

if TYPE_CHECKING:  # other folders have a conftest too
    from conftest import Site, Visit

STILL, RUNS = "alarms/balloon-still/index.html", "alarms/pump-runs/index.html"
NIGHT = "2026-03-01T03:02:00"


def pages_of(site: Site) -> list[str]:
    return [f"alarms/{tree}/index.html" for tree in site.trees]


def some_of(site: Site, start: int) -> list[str]:
    return [f"alarms/{tree}/index.html" for tree in site.some(start)]


def node(page: Page) -> str:
    """The step shown; there is exactly one."""
    shown = page.locator("[data-node]")
    assert shown.count() == 1 and shown.is_visible()
    return str(shown.get_attribute("data-node"))


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
            if (number % 3 && button.closest(".dock__anytime")) {
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
    for name in some_of(site, 0):
        listed.page.goto(site.address("file", name))
        walked.page.goto(site.address("file", name))
        ways = listed.page.locator("section[data-node]").evaluate_all(LISTED)
        assert node(walked.page) == ways[0][0]
        for (step, end, targets), told in zip(
            ways, walked.page.evaluate(PRESSED, [way[0] for way in ways]), strict=True
        ):
            assert told[:2] == [step, end], name
            # At an end what may happen at any time stays in reach too.
            assert told[2] == targets or (end and {step, "wrong"}.isdisjoint(" ".join(told[2]).split())), (name, told)
    assert walked.faults == [] and walked.foreign(site) == []


FIRST_SCREEN = """() => {
    const one = name => document.querySelector(name), box = name => one(name).getBoundingClientRect();
    return {
        strip: box(".strip").bottom, question: box("[data-node] h2").top,
        // Of six answers the first five: no phone has room for more.
        answers: box(["> :nth-child(5)", ""].map(part => "[data-node] .answers " + part).find(one)).bottom,
        dock: box(".dock").top, below: box(".dock").bottom, size: getComputedStyle(one("[data-node] h2")).fontSize,
        folded: [...document.querySelectorAll("details:not([open])")]
            .filter(fold => fold.querySelector(".warn, .cautions, .strip")).length,
    };
}"""


@pytest.mark.shown_in("narrow", "wide")
def test_first_step_and_its_answers_stand_on_the_first_screen(visit, site) -> None:
    page = visit("about:blank").page
    wrong = {}
    for name in pages_of(site):
        page.goto(site.address("file", name))
        found = page.evaluate(FIRST_SCREEN)
        in_order = 0 < found["strip"] <= found["question"] < found["answers"] <= found["dock"] < found["below"] <= 640
        if not in_order or found["size"] != "28px" or found["folded"]:
            wrong[name] = found
    assert wrong == {}


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
            assert step == here + 1 and total > step, name
            here = step
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
    says = [" ".join(text.split()) for text in page.locator(".way").all_inner_texts()]
    assert says[0] == "How is the patient? As before" and says[2].endswith("Restart the pump. Done")
    page.locator(".way").nth(1).click()
    assert node(page) == "when" and page.locator(".way").count() == 1
    page.click(".dock__back")
    assert node(page) == "look" and page.locator(".way").count() == 0
    assert page.locator(".dock__back").is_hidden()
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


@pytest.mark.shown_in("narrow", "wide")
@pytest.mark.parametrize("width", [320, 360, 1280])
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
            for part in (".dial", ".dock__anytime button"):
                for box in (one.bounding_box() for one in page.locator(part).all()):
                    assert box["y"] >= 0 and box["y"] + box["height"] <= 640 and box["height"] >= 48, (name, step, part)
            assert page.locator(".dial").inner_text().startswith("Call:"), name
            assert page.locator(".strip").is_visible()


def test_nothing_that_is_said_while_walking_is_a_fault_or_a_foreign_request(at_night, walked_site) -> None:
    visited = at_night(scheme="file")
    for to in ("when", "plug", "moves", "done"):
        press(visited.page, to)
    assert visited.faults == [] and visited.foreign(walked_site) == []


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
    page.clock.run_for(599_000)
    assert face(page) == "Balloon resting 14:59" and not is_late(page)
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


def test_minutes_can_be_told_where_the_tree_asks(at_night) -> None:
    page = at_night().page
    press(page, "when")
    page.fill("#_rest-here", "4")
    press(page, "plug", "Less")
    assert face(page) == "Balloon resting 04:00" and warning(page) == ""


def test_less_than_the_warning_without_minutes_stays_a_question(at_night) -> None:
    page = at_night().page
    page.clock.run_for(30_000)
    press(page, "when")
    press(page, "plug", "Less")
    assert face(page) == "When did it last move? Still 00:30 or more"
    assert warning(page) == "Under 15 min at 03:02, may be past it now. Say when it last moved." and not is_late(page)
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
    page.click(".dock__back")
    page.clock.run_for(1_000)
    assert node(page) == "moves" and face(page) == "Balloon resting 05:31"
    page.go_forward()
    page.clock.run_for(1_000)
    assert node(page) == "done" and face(page) == ""


def test_step_that_stops_a_running_pump_starts_the_clock_from_its_beginning(at_night) -> None:
    page = at_night(RUNS).page
    press(page, "hold")
    page.clock.run_for(40_000)
    page.reload()
    page.clock.run_for(5_000)
    press(page, "seen")
    assert face(page) == "Balloon resting 00:45"


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


NO_LOG = ["{}", "5", '"s"', '[null, 5, {}, [], {"at": "x", "text": "a"}, {"at": 1e300, "text": "a"}]']


@pytest.mark.parametrize("log", NO_LOG)
def test_a_log_that_cannot_be_read_stops_no_walk(at_night, log: str) -> None:
    page = at_night(RUNS).page
    press(page, "hold")
    page.evaluate("log => sessionStorage.setItem('walk-log', log)", log)
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
    {"kind": "moved", "at": 5, "length": "", "by": {"tree": "a"}, "before": {"kind": "told", "since": "x", "at": 5}},
]


def test_a_clock_that_cannot_be_read_counts_as_not_known(at_night) -> None:
    page = at_night(RUNS).page
    for clock in TIMES_THAT_ARE_NONE:
        page.evaluate("clock => sessionStorage.setItem('resting-clock', JSON.stringify(clock))", clock)
        page.reload()
        assert face(page) == "Balloon resting not known" and is_late(page), clock
    page.evaluate("sessionStorage.setItem('resting-clock', JSON.stringify({kind: ''}))")
    page.reload()
    assert face(page) == ""


@pytest.mark.parametrize("kept", [{"at": "x"}, {"way": [None]}, {"way": [{"id": "look"}]}, {"way": "look"}])
def test_a_state_that_cannot_be_read_begins_the_walk_anew(at_night, kept: dict[str, object]) -> None:
    page = at_night(RUNS).page
    last = {"walk": "pump-runs", "node": "hold", "way": [], "by": "open", "at": 5, **kept}
    page.evaluate("last => history.replaceState(last, '')", last)
    page.evaluate("last => sessionStorage.setItem('walk-last', JSON.stringify(last))", last)
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
        "Object.defineProperty(window, 'sessionStorage', {get() { throw new DOMException('no', 'SecurityError'); }})"
    )
    visited.page.goto(walked_site.address("http", STILL))
    tell(visited.page, 5)
    for to in ("when", "plug", "moves", "done"):
        press(visited.page, to)
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


# Enhancement


@pytest.mark.parametrize("lost", ["page.js", "resting.js", "walk.js", "walk.css"])
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
    press(page, "when")
    links = '#_picture a[href="#{}"]'
    assert page.locator(links.format("when")).first.get_attribute("aria-current") == "step"
    assert "taken" in page.locator(links.format("look")).first.get_attribute("class").split()
    assert page.locator("#_picture").bounding_box()["x"] > page.locator("[data-node]").bounding_box()["x"] + 300
