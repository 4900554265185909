"""What is kept for a shift: nothing is lost with a tab, nothing of two patients, tabs or versions is mixed."""

from __future__ import annotations

import json
import re
import threading
from collections.abc import Callable
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from io import BytesIO
from typing import TYPE_CHECKING, Any

import pytest
import zxingcpp
from PIL import Image
from playwright.sync_api import Page

from browser.test_walk import AXE, NIGHT, RUNS, STILL, face, is_late, node, press, tell

if TYPE_CHECKING:  # other folders have a conftest too
    from conftest import Site, Visit

HOME, WORDS = "index.html", "words/index.html"


@pytest.fixture
def tabs(visit: Callable[..., Visit], walked_site: Site) -> Callable[..., Page]:
    """Opens tabs of one browser, each at two minutes past three; the test tells how time passes."""
    first: list[Visit] = []

    def open_tab(name: str = STILL, scheme: str = "http", **options: Any) -> Page:
        if first:
            page = first[0].page.context.new_page()
        else:
            first.append(visit("about:blank", apart=True, **options))
            page = first[0].page
        page.set_default_timeout(5_000)
        page.clock.install(time="2026-03-01T03:00:00")
        page.clock.pause_at(NIGHT)
        page.goto(walked_site.address(scheme, name))
        return page

    return open_tab


def resume(page: Page) -> str:
    """What the header offers to go on with; nothing where it offers nothing."""
    shown = page.locator(".shift__resume:visible")
    return " ".join(shown.inner_text().split()) if shown.count() else ""


def notes(page: Page) -> str:
    return page.locator(".record__text").text_content().replace("\u00a0", " ")


def kept(page: Page) -> dict[str, Any]:
    return json.loads(page.evaluate("localStorage.getItem('shift /') || '{}'"))


def walked(page: Page) -> Page:
    """Goes two steps and tells the minutes."""
    tell(page, 5)
    press(page, "when")
    press(page, "plug", "Less")
    return page


# Nothing lost


@pytest.mark.parametrize("scheme", ["http", "file"])
def test_a_closed_tab_loses_neither_walk_nor_notes_nor_clock(tabs, walked_site, scheme: str) -> None:
    walked(tabs(scheme=scheme)).close()
    page = tabs(HOME, scheme)
    page.clock.run_for(60_000)
    assert resume(page) == "Balloon resting 06:00. Resume: Balloon stands still, 1 min ago"
    page.click(".shift__resume")
    page.wait_for_url("**/balloon-still/**")
    assert node(page) == "plug" and page.url.endswith("#plug") and page.locator(".way").count() == 2
    assert face(page) == "Balloon resting 06:00"
    assert "How is the patient? As before" in notes(page) and "last moved 5 min ago" in notes(page)
    press(page, "moves")
    page.go_back()
    assert node(page) == "plug" and page.locator(".way").count() == 2


def test_an_alarm_opened_anew_begins_at_its_first_step_and_offers_what_was_left(tabs) -> None:
    walked(tabs()).close()
    page = tabs()
    page.clock.run_for(120_000)
    assert node(page) == "look" and page.locator(".way").count() == 0 and "As before" not in notes(page)
    assert face(page) == "Balloon resting 07:00"  # a rest is never shorter than it is
    assert resume(page) == "Resume at “Push the plug home until it locks. Restart the pump.”, 2 min ago"
    page.click(".shift__resume")
    assert node(page) == "plug" and page.locator(".way").count() == 2 and resume(page) == ""
    assert "Resumed: Push the plug home" in notes(page)


def test_who_goes_on_with_another_walk_is_not_led_away_and_the_first_is_still_there(tabs) -> None:
    walked(tabs()).close()
    page = tabs(RUNS)
    assert resume(page).startswith("Resume: Balloon stands still")
    press(page, "hold")
    assert resume(page) == ""
    press(page, "seen")
    press(page, "call-now")
    page.goto(page.url.replace(RUNS, HOME).partition("#")[0])
    assert resume(page).startswith("Resume: Balloon stands still")  # one that has not come to its end goes first


def test_notes_of_an_end_are_found_again(tabs) -> None:
    page = tabs(RUNS)
    press(page, "call-now")
    page.close()
    page = tabs(WORDS)
    assert resume(page) == "Notes: Pump runs badly, just now"
    page.click(".shift__resume")
    page.wait_for_url("**/pump-runs/**")
    assert node(page) == "call-now" and "How is the patient? Worse" in notes(page)


def test_a_look_at_a_page_is_no_walk(tabs) -> None:
    tabs(RUNS).close()
    assert resume(tabs(HOME)) == ""


def test_killed_server_and_frozen_phone_lose_nothing(visit, walked_site) -> None:
    """The pages that follow come from what the browser holds; the clock runs on while nothing runs."""
    handler = partial(SimpleHTTPRequestHandler, directory=str(walked_site.folder))
    server = ThreadingHTTPServer(("127.0.0.1", 0), handler)
    threading.Thread(target=server.serve_forever, args=(0.05,), daemon=True).start()
    visited = visit("about:blank", apart=True)
    page = visited.page
    page.clock.install(time=NIGHT)
    page.goto(f"http://127.0.0.1:{server.server_port}/{STILL}")
    walked(page)
    server.shutdown()
    server.server_close()
    devtools = page.context.new_cdp_session(page)
    devtools.send("Page.setWebLifecycleState", {"state": "frozen"})
    page.clock.set_system_time("2026-03-01T03:07:00")
    devtools.send("Page.setWebLifecycleState", {"state": "active"})
    page.clock.run_for(1_000)
    assert re.match(r"(Balloon resting|⚠\ufe0e Near 15 min) (09:5|10:0)\d", face(page)), face(page)
    press(page, "moves")
    press(page, "done")
    assert "Restart the pump." in notes(page) and re.search(r"after (9 min 5|10 min)", notes(page))


def test_full_store_is_said_once_and_the_walk_goes_on(tabs) -> None:
    page = tabs()
    page.evaluate("""() => { for (let size = 1 << 22; size; size >>= 1)
        try { for (let i = 0; ; i++) localStorage.setItem(`${size} ${i}`, "x".repeat(size)); } catch {} }""")
    walked(page)
    told = page.locator(".shift__told")
    assert told.count() == 0 and face(page) == "Balloon resting 05:00"
    page.reload()
    assert node(page) == "plug" and face(page) == "Balloon resting 05:00" and "As before" in notes(page)
    press(page, "moves")
    page.evaluate("localStorage.clear()")
    press(page, "tell")
    assert kept(page)["walks"] and "With every beat" not in notes(page)


def test_full_store_is_said(tabs) -> None:
    page = tabs()
    page.evaluate("() => { Storage.prototype.setItem = () => { throw new DOMException('', 'QuotaExceededError'); }; }")
    tell(page, 5)
    assert page.locator(".shift__told").all_inner_texts() == [
        "This device keeps nothing now. Leave this page open: it alone knows this walk."
    ]
    press(page, "when")
    press(page, "plug", "Less")
    assert page.locator(".shift__told").count() == 0 and face(page) == "Balloon resting 05:00"
    assert "As before" in notes(page)


# Nothing mixed


def test_two_tabs_agree_on_the_clock(tabs) -> None:
    one, other = tabs(), tabs(RUNS)
    assert face(other) == face(one) == "When did it last move? Still 00:00 or more"
    tell(one, 14)
    other.wait_for_timeout(100)
    assert face(other) == "⚠\ufe0e Near 15 min 14:00"
    one.clock.run_for(61_000)  # of both
    assert is_late(one) and is_late(other)
    press(other, "hold")
    press(other, "seen")  # a step that stops the pump begins no shorter rest
    assert face(other) == face(one) == "Balloon resting 15:01"
    press(other, "call-now")
    one.wait_for_timeout(100)
    assert face(one) == face(other) == ""
    other.go_back()
    other.clock.run_for(1_000)
    one.wait_for_timeout(100)
    assert face(other) == "Balloon resting 15:02" and is_late(one)


def test_an_alarm_opened_beside_takes_no_rest_away_that_an_answer_ended_too_early(tabs) -> None:
    one = walked(tabs())
    press(one, "moves")
    press(one, "done")
    assert face(one) == "" and face(tabs()) == "When did it last move? Still 00:00 or more"
    one.click(".dock__back, .top__back")
    assert face(one) == "Balloon resting 05:00"


def test_way_back_in_one_walk_takes_no_answer_of_another_back(tabs) -> None:
    one = tabs(RUNS)
    for to in ("hold", "seen", "call-now"):
        press(one, to)
    other = tabs(RUNS)
    press(other, "hold")
    other.go_back()
    assert node(other) == "look" and face(other) == ""


def test_store_that_is_emptied_under_an_open_page_takes_no_rest_away(tabs) -> None:
    page = tabs()
    tell(page, 5)
    page.evaluate("localStorage.clear()")
    press(page, "when")
    assert face(page) == "Balloon resting 05:00" and kept(page)["clock"]["kind"] == "told"


def test_notes_of_two_walks_stay_apart(tabs) -> None:
    one, other = walked(tabs()), tabs(RUNS)
    press(other, "hold")
    press(other, "seen")
    press(one, "moves")
    assert "Put the pump on hold" not in notes(one) and "plug" not in notes(other)


def test_a_page_that_has_changed_begins_anew_and_keeps_notes_and_clock(tabs) -> None:
    page = walked(tabs())

    def reword(route: Any) -> None:
        body = route.fetch().text()
        assert "How is the patient?" in body
        route.fulfill(body=body.replace("How is the patient?", "How is he?"), content_type="text/html")

    page.route("**/balloon-still/index.html*", reword)
    page.reload()
    assert node(page) == "look" and page.locator(".way").count() == 0 and face(page) == "Balloon resting 05:00"
    assert "This page has changed since it was left" in page.locator(".shift__told").inner_text()
    assert "How is the patient? As before" in notes(page) and "This page has changed since" in notes(page)


@pytest.mark.parametrize("old", ['{"version": 0, "clock": {"kind": "told"}}', "[1]", "null", "{", '{"version": 1}'])
def test_what_another_version_kept_is_dropped(tabs, old: str) -> None:
    page = tabs(HOME)
    page.evaluate("old => localStorage.setItem('shift /', old)", old)
    page.reload()
    assert resume(page) == ""
    page.goto(page.url.replace(HOME, RUNS))
    press(page, "hold")
    assert kept(page)["version"] == 1 and len(kept(page)["walks"]) == 1


def test_all_goes_by_itself_after_a_shift(tabs) -> None:
    walked(tabs()).close()
    page = tabs(HOME)
    page.clock.set_system_time("2026-03-01T15:01:00")
    page.reload()
    assert resume(page).startswith("Balloon resting 12:04:00. Resume")
    page.clock.set_system_time("2026-03-01T15:02:01")
    page.reload()
    assert resume(page) == ""
    page.goto(page.url.replace(HOME, RUNS))
    assert face(page) == "" and "balloon-still" not in json.dumps(kept(page))


def test_no_name_is_asked_for_and_nothing_but_the_walk_is_kept(tabs) -> None:
    page = walked(tabs())
    walk = next(walk for walk in kept(page)["walks"].values() if walk["way"])
    assert set(walk) - {"given"} == {*("id", "tree", "title", "stamp", "node", "way", "say", "end", "at", "log")}
    assert set(kept(page)) == {"version", "clock", "walks", "clearedAt"}


# Clear all


def ended(page: Page) -> Page:
    walked(page)
    press(page, "moves")
    press(page, "tell")
    press(page, "broken")
    return page


def test_clear_all_clears_everywhere_and_can_be_undone(tabs) -> None:
    page, other, home = ended(tabs()), walked(tabs(RUNS.replace("pump-runs", "balloon-still"))), tabs(HOME)
    page.click("text=Next patient: clear all")
    other.wait_for_timeout(100)
    assert node(page) == node(other) == "look" and face(page) == "When did it last move? Still 00:00 or more"
    assert notes(other).count("\n") == 2 and "Told" not in notes(page)
    assert resume(home) == "" and home.locator(".shift__undo:visible").count() == 1
    page.go_back()  # what is cleared comes back by no way of the browser
    assert page.locator(".way").count() == 0
    home.click(".shift__undo")
    page.wait_for_timeout(100)
    assert resume(home).startswith("Balloon resting 05:00. Resume: Balloon stands still")
    assert face(page) == "Balloon resting 05:00"


def test_undone_where_it_was_cleared_leads_back_to_the_step(tabs) -> None:
    page = ended(tabs())
    page.click("text=Next patient: clear all")
    page.click(".shift__undo")
    assert node(page) == "broken" and page.locator(".way").count() == 5 and face(page) == "Balloon resting 05:00"
    assert "Told: the balloon last moved 5 min ago" in notes(page) and page.locator(".shift__undo:visible").count() == 0


def test_what_was_begun_since_outlives_an_undoing_and_the_longer_rest_counts(tabs) -> None:
    page = ended(tabs())
    page.click("text=Next patient: clear all")
    tell(page, 9)
    press(page, "when")
    assert page.locator(".shift__undo:visible").count() == 0  # not on each further step
    page.locator("details.record summary").click()
    page.click("text=Undo the clearing")
    assert face(page) == "Balloon resting 09:00"
    assert len([walk for walk in kept(page)["walks"].values() if walk["way"]]) == 2


def test_what_was_cleared_is_gone_after_a_while(tabs) -> None:
    page = ended(tabs())
    page.click("text=Next patient: clear all")
    page.clock.run_for(601_000)
    assert page.locator(".shift__undo:visible").count() == 0
    page.goto(page.url.replace(STILL, HOME).partition("#")[0])
    page.goto(page.url.replace(HOME, RUNS))
    press(page, "hold")
    assert "broken" not in json.dumps(kept(page))


def test_the_clock_of_another_patient_is_cleared_with_all_that_was_of_that_patient(tabs) -> None:
    page = walked(tabs())
    page.click(".rest__face")
    page.click("text=Other patient: clear all")
    assert node(page) == "look" and page.locator(".way").count() == 0 and "plug" not in notes(page)
    page.click(".shift__undo")
    assert face(page) == "Balloon resting 05:00" and node(page) == "plug"


# The clock on every page, and notes at each step


def test_every_page_has_the_running_clock_and_the_late_warning(tabs, walked_site) -> None:
    page = tabs()
    tell(page, 13)
    press(page, "when")
    for name in (HOME, WORDS, "plugging-in.html", "practice/index.html", "404.html"):
        page.goto(walked_site.address("http", name))
        assert resume(page).startswith("Balloon resting 13:00. Resume: Balloon stands still"), name
        assert page.evaluate("document.documentElement.scrollWidth") <= 360, name
    alert = page.locator("body > [role=alert]")
    assert page.locator(".rest__past:visible").count() == 0 and alert.inner_text() == ""
    page.clock.run_for(120_000)
    told = "Past 15\u00a0min at rest. Do not restart. Call."
    assert page.locator(".rest__past:visible").inner_text() == told and alert.inner_text() == told
    page.goto(walked_site.address("http", HOME))
    page.clock.run_for(1_000)
    assert page.locator(".rest__past:visible").inner_text() == told and alert.inner_text() == ""  # not read out again


def test_a_planned_hold_starts_the_clock(tabs) -> None:
    page = tabs(RUNS)
    page.locator("details.record summary").click()
    page.click("text=A hold begins now: start the clock")
    page.clock.run_for(5_000)
    assert face(page) == "Balloon resting 00:05" and "Hold begins" in notes(page)
    page.goto(page.url.replace(RUNS, HOME))
    assert resume(page).startswith("Balloon resting 00:05. Resume: Pump runs badly")


def test_notes_can_be_copied_at_any_step(visit, walked_site) -> None:
    options = {"permissions": ["clipboard-read", "clipboard-write"]}
    page = visit(walked_site.address("http", STILL), **options).page
    press(page, "when")
    assert not page.locator(".record__text").is_visible()
    page.locator("details.record summary").click()
    page.click("text=Copy")
    page.locator(".record [role=status]").filter(has_text="Copied.").wait_for()
    assert "How is the patient? As before" in page.evaluate("navigator.clipboard.readText()")


def test_without_scripts_nothing_of_it_is_seen(visit, walked_site) -> None:
    page = visit(walked_site.address("file", HOME), java_script_enabled=False).page
    assert page.locator(".shift, .rest__past, .shift__told").count() == 0


# From one device to another


def code(page: Page) -> str:
    """The address in the code that is on the screen, as a camera reads it from a picture of the screen."""
    if page.locator("details.record").count():
        page.locator("details.record summary").click()
    page.click("text=Hand over by a code")
    page.locator(".code").wait_for()
    found = zxingcpp.read_barcodes(Image.open(BytesIO(page.screenshot())))
    assert len(found) == 1
    return str(found[0].text)


def test_walk_is_handed_over_by_a_code_that_a_camera_reads(tabs, visit) -> None:
    page = walked(tabs())
    page.clock.run_for(60_000)
    address = code(page)
    assert len(address) < 200 and page.evaluate("document.documentElement.scrollWidth") <= 360
    other = visit("about:blank", apart=True).page
    other.clock.install(time="2026-03-01T03:04:00")
    other.clock.pause_at("2026-03-01T03:04:05")
    other.goto(address)
    other.locator(".shift__told").wait_for()
    told = " ".join(other.locator(".shift__told").inner_text().split())
    assert told == (
        "Taken over from another device: 2 answers, the last at 03:02, 2 min ago: When did the balloon last move? "
        "Less than 15 min ago. All stand in the notes below."
    )
    assert node(other) == "plug" and other.url.endswith("#plug") and other.locator(".way").count() == 2
    assert re.fullmatch(r"Balloon resting 07:(0[5-9]|1\d)", face(other)), face(other)
    assert "03:02  How is the patient? As before" in notes(other)
    press(other, "moves")
    other.reload()
    assert node(other) == "moves" and face(other).startswith("Balloon resting 07:")


def test_rest_that_ended_goes_along_and_can_still_be_taken_back(tabs, visit) -> None:
    page = walked(tabs())
    press(page, "moves")
    press(page, "done")
    other = visit("about:blank", apart=True).page
    other.clock.install(time=NIGHT)
    other.goto(code(page))
    other.locator(".shift__told").wait_for()
    assert node(other) == "done" and face(other) == "" and "Balloon moved again at 03:02" in notes(other)
    other.click(".dock__back, .top__back")
    assert node(other) == "moves" and face(other).startswith("Balloon resting 05:1")


@pytest.mark.parametrize(("behind", "shown"), [(-300, "⚠\ufe0e Near 15 min 11:"), (120, "Balloon resting 07:")])
def test_rest_is_never_shorter_where_the_clocks_differ(tabs, visit, behind: int, shown: str) -> None:
    page = walked(tabs())
    page.clock.run_for(60_000)
    address = code(page)
    other = visit("about:blank", apart=True).page
    other.clock.install(time=f"2026-03-01T03:0{3 - behind // 60}:00")
    other.clock.pause_at(f"2026-03-01T03:0{3 - behind // 60}:01")
    other.goto(address)
    other.locator(".shift__told").wait_for()
    assert face(other).startswith(shown) and other.locator(".way").count() == 2


def test_longer_rest_of_the_two_devices_counts(tabs) -> None:
    page = walked(tabs())
    address = code(page)
    tell(page, 12)
    page.goto("about:blank")
    page.goto(address)
    page.click("text=Take over the other walk")
    assert face(page) == "⚠\ufe0e Near 15 min 12:00"
    assert "This device’s resting clock counts: it is the longer" in notes(page)


def opened(tabs: Callable[..., Page], visit: Callable[..., Visit], name: str, minutes: int = 0) -> Page:
    """A device that has a walk of its own, and opens another's code of a balloon that has rested for 5 min."""
    address = code(walked(tabs()))
    other = visit("about:blank", apart=True).page
    other.set_default_timeout(5_000)
    other.clock.install(time=NIGHT)
    other.clock.pause_at("2026-03-01T03:02:05")
    other.goto(address.partition("#")[0].replace(STILL, name))
    if minutes:
        tell(other, minutes)
    press(other, "when" if name == STILL else "hold", "As before")
    other.goto("about:blank")
    other.goto(address)
    other.locator(".shift__asked").wait_for()
    return other


def asked(page: Page) -> str:
    return " ".join(page.locator(".shift__asked p").inner_text().split())


def test_a_device_with_a_walk_of_its_own_is_asked_first_and_can_keep_it(tabs, visit) -> None:
    page = opened(tabs, visit, STILL, 9)
    before = kept(page)
    assert asked(page) == (
        "Same patient? This device has “Balloon stands still” at “When did the balloon last move?”, just now. "
        "Its resting clock: 09:00."
    )
    assert node(page) == "look" and "Less than" not in notes(page) and face(page) == "Balloon resting 09:00"
    assert all(one.bounding_box()["height"] >= 56 for one in page.locator(".shift__choice").all())
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    page.click("text=Keep what is here")
    assert kept(page) == before and page.locator(".shift__asked").count() == 0
    page.click(".shift__resume")
    assert node(page) == "when" and face(page) == "Balloon resting 09:00"


def test_of_the_same_patient_the_longer_rest_counts_and_all_can_be_had_back(tabs, visit) -> None:
    page = opened(tabs, visit, STILL, 9)
    page.click("text=Take over the other walk")
    assert node(page) == "plug" and face(page) == "Balloon resting 09:00"
    assert "Less than" in notes(page) and notes(page).count("How is the patient?") == 1
    page.click("text=Taken over. Undo")
    assert node(page) == "when" and page.locator(".way").count() == 1 and face(page) == "Balloon resting 09:00"


def test_of_another_patient_nothing_is_mixed(tabs, visit) -> None:
    page = opened(tabs, visit, STILL, 9)
    page.click("text=Other patient: take over")
    assert node(page) == "plug" and re.match(r"Balloon resting 05:[01]", face(page)), face(page)
    assert len(kept(page)["walks"]) == 1 and "9 min" not in notes(page)
    page.click("text=Taken over. Undo")
    assert node(page) == "when" and face(page) == "Balloon resting 09:00"


def test_a_walk_of_another_alarm_is_asked_for_too_and_stays(tabs, visit) -> None:
    page = opened(tabs, visit, RUNS)
    assert asked(page) == "Same patient? This device has “Pump runs badly” at “Put the pump on hold.”, just now."
    page.click("text=Take over the other walk")
    assert node(page) == "plug" and re.match(r"Balloon resting 05:[01]", face(page)), face(page)
    assert any(walk["tree"] == "pump-runs" and walk["way"] for walk in kept(page)["walks"].values())
    page.click("text=Taken over. Undo")
    assert face(page) == "When did it last move? Still 00:00 or more"
    assert resume(page).startswith("Resume")


@pytest.mark.parametrize(
    ("spoil", "why"),
    [
        (lambda text: text[:-1], "The code of the other device is not whole."),
        (lambda text: "", "The code of the other device is not whole."),
        (lambda text: text.replace("1.", "2.", 1), "The code of the other device is not whole."),
        (lambda text: sealed("2" + text[1:]), "The other device has another version of this page."),
        (lambda text: sealed(re.sub(r"^1\.\w+", "1.abc", text)), "The other device has another version of this page."),
        (lambda text: sealed(text.replace("-0-", "-99-", 1)), "The code of the other device cannot be read."),
        (lambda text: sealed(f"{text}.zz-0-1"), "The code of the other device cannot be read."),
        (lambda text: f"{text}<b>", "The code of the other device is not whole."),
    ],
)
def test_code_that_cannot_be_used_is_one_line_and_loses_nothing(tabs, spoil, why: str) -> None:
    page = walked(tabs())
    address, _, text = code(page).partition("#_handed=")
    page.goto("about:blank")
    page.goto(f"{address}#_handed={spoil(text)}")
    page.locator(".shift__told").wait_for()
    assert page.locator(".shift__told").inner_text().startswith(f"{why} Nothing was taken over")
    assert node(page) == "look" and face(page) == "Balloon resting 05:00"
    page.click(".shift__resume")
    assert node(page) == "plug" and page.locator(".way").count() == 2


def sealed(text: str) -> str:
    """The letters of a code with the sum that belongs to them."""
    text = text.rpartition(".")[0] if text.count(".") > 4 and "zz" not in text and "<" not in text else text
    total = 0x811C9DC5
    for sign in text:
        total = ((total ^ ord(sign)) * 0x01000193) & 0xFFFFFFFF
    digits = ""
    while total:
        total, digit = divmod(total, 36)
        digits = "0123456789abcdefghijklmnopqrstuvwxyz"[digit] + digits
    return f"{text}.{digits}"


def test_old_code_is_refused(tabs) -> None:
    page = walked(tabs())
    address = code(page)
    page.goto("about:blank")
    page.clock.run_for(660_000)
    page.goto(address)
    page.locator(".shift__told").wait_for()
    assert page.locator(".shift__told").inner_text().startswith("That code is old, or the clocks")
    assert node(page) == "look" and is_late(page)


def test_from_a_folder_nothing_can_be_handed_over_and_the_page_says_so(tabs) -> None:
    page = walked(tabs(scheme="file"))
    page.locator("details.record summary").click()
    assert page.locator("button", has_text="Hand over").count() == 0
    assert "No other device can open this folder. Copy the notes instead." in page.locator(".record").inner_text()


LENGTHENED = """() => {
    const kept = JSON.parse(localStorage.getItem("shift /"));
    Object.values(kept.walks).forEach((walk) => {
        walk.way = Array.from({length: 40}, (_, place) => walk.way[place % walk.way.length]);
    });
    localStorage.setItem("shift /", JSON.stringify(kept));
}"""


def test_way_of_forty_answers_fits_a_code(tabs) -> None:
    """More than any way of the library has."""
    page = walked(tabs())
    page.evaluate(LENGTHENED)
    address = code(page)
    assert address.count(".") > 40 and len(address) < 600


# Read aloud

VOICES = """
window.said = [];
window.SpeechSynthesisUtterance = function (text) { this.text = text; };
Object.defineProperty(window, "speechSynthesis", {value: {
    speaking: false, cancel() { this.speaking = false; window.said = []; },
    speak(one) { this.speaking = true; window.said.push([one.voice.name, one.text]); },
    getVoices: () => [{name: "far", lang: "en-GB", localService: false, default: true}, VOICE].filter(Boolean),
}});
"""


def test_step_is_read_aloud_by_a_voice_of_the_device_when_switched_on(visit, walked_site) -> None:
    visited = visit("about:blank", apart=True)
    page = visited.page
    page.add_init_script(VOICES.replace("VOICE]", '{name: "near", lang: "en-GB", localService: true}]'))
    page.goto(walked_site.address("http", STILL))
    assert page.locator(".aloud").count() == 0 and not [url for url in visited.asked if "aloud" in url]
    page.locator("details.record summary").click()
    first = page.locator("details.record button").first
    assert first.inner_text() == "Turn reading aloud on"
    first.click()
    page.click(".aloud")
    told = [text.replace("\u00a0", " ") for voice, text in page.evaluate("window.said") if voice == "near"]
    assert told[0] == "Balloon stands still"  # which alarm is said once
    assert told[-1].startswith("At any time: Patient worse. Pump runs badly")
    assert told[1:-1] == [
        "At 15 min without movement do not restart; call.",
        *("How is the patient?", "As before", "Another alarm"),
    ]
    press(page, "when")
    assert page.evaluate("window.said") == []  # what is read belongs to the step that is seen
    press(page, "plug")
    page.reload()
    page.click(".aloud")
    told = [text for _, text in page.evaluate("window.said")]
    assert told[-4:-1] == ["Push the plug home until it locks.", "Restart the pump.", "Done"]
    assert "Balloon stands still" not in told
    page.click(".aloud")
    assert page.evaluate("window.said") == []
    key, answers = page.locator(".aloud").bounding_box(), page.locator(".walk__step .answers").bounding_box()
    assert key["height"] >= 48 and key["y"] > answers["y"] and visited.faults == []
    press(page, "moves")
    press(page, "tell")
    page.click(".aloud")
    told = [text for _, text in page.evaluate("window.said")]
    call = " ".join(page.locator(".walk__step .call").inner_text().split())
    assert told[told.index("Tell the doctor what was done.") + 1 :][:2] == [call, "Done"] and re.search(r"\d", call)
    page.locator("details.record summary").click()
    page.click("text=Turn reading aloud off")
    page.reload()
    assert page.locator(".aloud").count() == 0


def test_without_a_voice_of_the_device_reading_aloud_is_not_offered(visit, walked_site) -> None:
    page = visit("about:blank", apart=True).page
    page.add_init_script(VOICES.replace("VOICE]", "null]"))
    page.goto(walked_site.address("http", STILL))
    page.locator("details.record summary").click()
    assert page.locator("button", has_text="reading aloud").count() == 0


# Accessible


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_at_what_was_left_the_notes_and_the_code(tabs, axe: str, scheme: str) -> None:
    page = tabs(color_scheme=scheme)
    page.clock.resume()  # axe waits for timers
    tell(page, 20)
    press(page, "when")
    code(page)
    page.evaluate(axe)
    assert page.evaluate(AXE) == [], "notes and code"
    page.goto(page.url.replace(STILL, HOME).partition("#")[0])
    page.evaluate(axe)
    assert is_late(page) and page.evaluate(AXE) == [], "home"
