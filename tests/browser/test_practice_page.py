"""Practice cases in a real browser: played by keyboard, without a network, and kept there."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from functools import cache
from itertools import product
from typing import TYPE_CHECKING, Any

import pytest
from playwright.sync_api import Page
from test_offline import Stage, keep
from test_walk import AXE, AXE_DARK

from alarmtrees.learning import practised, told_cases, tree_data
from alarmtrees.learning.cases import NOTHING_NEW
from browser.until import until
from engine import RESTS, Play, State, Tree
from small_library import HOSTILE_AS_READ, REPOSITORY, shipped_library

if TYPE_CHECKING:  # other folders have a conftest too
    from conftest import Site

PAGE = "practice/index.html"
NAME, SEED = "gas-line-disconnected", 7
TURNS = ("ahead", "aside", "no-use")
HEADS = {"resolved": "✓Solved", "call": "✓Right: help is called", "go": "✓Right: on to another page"}
SCRIPTS = (
    "play.js",
    "spacing.js",
    "practice-steps.js",
    "practice-debrief.js",
    "practice-files.js",
    "practice.js",
    "progress.js",
)
SMALL = """() => [...document.querySelectorAll("#_case :is(a, button), .intro button")]
    .filter(one => one.offsetParent && getComputedStyle(one).display !== "inline" && one.offsetHeight < 48)
    .map(one => one.outerHTML)"""
LOOKS = """all => all.map(one =>
    [one.dataset.to, one.querySelector("b").innerText, getComputedStyle(one).borderStyle])"""


@cache
def tree_of(name: str) -> Tree:
    library = shipped_library()
    return Tree(tree_data(library, library.trees[name]))


def play_of(number: int = 0, name: str = NAME, seed: int = SEED) -> Play:
    tree = tree_of(name)
    return Play(tree, tree.data["cases"][number], seed)


def address(play: Play) -> str:
    """A case by its id; the page writes it in a way that does not tell the cause."""
    return f"{PAGE}#{play.tree.data['tree']}/{play.case['id']}/{play.seed}"


def offered(page: Page) -> list[str]:
    page.locator(".offer").first.wait_for()
    return page.locator(".offer").evaluate_all("all => all.map(one => one.dataset.to)")


def tab_to(page: Page, selector: str) -> None:
    """Press Tab until something has the focus."""
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("wanted => document.activeElement.matches(wanted)", selector):
            return
    pytest.fail(f"not reached by Tab: {selector}")


def strays(play: Play, state: Any) -> list[str]:
    """The wrong turns that are offered, after which the tree's way still leads to the end."""
    found = []
    for one in state.offers:
        after = play.choose(state, one)
        if after.over or after.way[-1].verdict not in TURNS:
            continue
        if play.on(after).verdict == "solved":
            found.append(one)
    return found


def play_on(page: Page, play: Play, state: Any, chosen: str = "", by_key: bool = False) -> Any:
    """Make one choice, the tree's unless another is given, and check what is offered."""
    assert offered(page) == state.offers
    chosen = chosen or state.right
    button = f'.offer[data-to="{chosen}"]'
    if by_key:
        tab_to(page, button)
        page.keyboard.press("Enter")
    else:
        page.click(button)
    return play.choose(state, chosen)


def kept(page: Page) -> dict[str, Any]:
    return json.loads(page.evaluate("localStorage.getItem('learning')"))["cases"]


def through(page: Page, play: Play) -> None:
    """A case by keyboard alone: one turn of its own, then the tree's way to the end."""
    assert page.evaluate("document.activeElement.textContent") == play.tree.data["title"]
    state, strayed = play.begin(), False
    end = HEADS[play.tree.nodes[play.way[-1]]["end"]]
    while not state.over:
        chosen = "" if strayed else next(iter(strays(play, state)), "")
        strayed |= bool(chosen)
        state = play_on(page, play, state, chosen, by_key=True)
        assert page.evaluate("document.activeElement.textContent") == (end if state.over else "What next?")
        if not state.over:
            said = page.locator(".play__said").inner_text()
            assert ("As the page does." in said) == (state.way[-1].verdict == "as-the-tree")
    assert strayed
    told = play.debrief(state)
    rows = page.locator(".ways tbody tr")
    assert rows.evaluate_all("all => all.map(row => row.cells[1].innerText.slice(0, 5))") == [
        f"{int(choice['clock']) // 60:02}:{int(choice['clock']) % 60:02}" for choice in told["mine"]
    ]
    assert play.tree.data["causes"][play.case["cause"]]["say"] in page.locator(".play__end").inner_text()


# Played.


def found(verdict: str, holds: Callable[[Play, State], bool]) -> tuple[Play, list[str]]:
    """A play and its choices, the tree's but for the last, which gets a verdict and brings what holds."""
    for name in sorted(tree.id for tree in practised(shipped_library())):
        for number, seed in product(range(min(4, len(tree_of(name).data["cases"]))), range(3)):
            play = play_of(number, name, seed)
            state, before = play.begin(), list[str]()
            while not state.over:
                for one in state.offers:
                    after = play.choose(state, one)
                    if after.way[-1].verdict == verdict and holds(play, after):
                        return play, [*before, one]
                before.append(state.right)
                state = play.choose(state, before[-1])
    raise LookupError(verdict)


def test_what_is_said_of_a_call_a_look_in_vain_a_turn_too_soon_and_the_way_to_another_page(visit, site: Site) -> None:
    page = visit(site.address("file", PAGE)).page

    def played(verdict: str, holds: Callable[[Play, State], bool]) -> tuple[Play, str, str]:
        play, choices = found(verdict, holds)
        page.evaluate("to => { location.hash = to; }", address(play).partition("#")[2])
        page.locator(f".play__title:text-is('{play.tree.data['title']}')").wait_for()
        state = play.begin()
        for one in choices:
            # What ends the case looks so, and says so.
            for to, lead, border in page.locator(".offer").evaluate_all(LOOKS):
                ends = play.tree.nodes[to]["kind"] == "end"
                assert (bool(re.search("the case( ends)?:", lead)), border == "double") == (ends, ends)
            state = play_on(page, play, state, one)
        return play, choices[-1], page.locator(".play__end" if state.over else ".play__said").inner_text()

    def is_do(play: Play, state: State) -> bool:
        return play.tree.nodes[state.way[-1].node]["kind"] == "do" and state.way[-1].order is None

    _, _, said = played("welcome", is_do)
    assert "✓Good at any time." in said and "It took" not in said and "Call and go on" in said

    _, _, said = played("welcome", lambda _, state: state.way[-1].order is not None)
    assert "Never wrong as a first act; another order is quicker." in said
    assert "Quicker: The patient is looked at before anything else." in said

    def in_vain(_: Play, state: State) -> bool:
        return state.way[-1].answer == NOTHING_NEW and not state.way[-1].undone

    _, _, said = played("aside", in_vain)
    assert "As before." in said and "Not on the page’s way. It took" in said
    page.locator(".play__way >> text=As before.").first.wait_for()

    _, _, said = played("ahead", lambda play, state: play.tree.nodes[state.right]["kind"] == "ask")
    assert "The page first asks: “" in said and "That has waited for" in said

    def goes(play: Play, state: State) -> bool:
        return state.pump == RESTS and play.tree.nodes[state.way[-1].node]["end"] == "go"

    play, last, said = played("solved", goes)
    assert "on to another page" in said and "The balloon: it still rests, for" in said
    link = page.locator(".play__result a").get_attribute("href")
    assert link == f"../alarms/{play.tree.nodes[last]['goto']}/index.html"
    assert (site.folder / "practice" / link).is_file()


def test_played_by_keyboard_on_a_phone_with_the_network_gone(visit, site: Site) -> None:
    server = Stage(site.folder)
    try:
        visited = keep(visit, server)
        page = visited.page
        server.kill()
        page.goto(server.at(PAGE))
        tab_to(page, "[data-next]")
        page.keyboard.press("Enter")
        assert len(offered(page)) >= 2 and page.locator("#_cases").is_hidden()
        page.goto(server.at(address(play_of())))
        offered(page)
        through(page, play_of())
        assert page.evaluate("document.documentElement.scrollWidth") <= 360
        assert page.evaluate(SMALL) == []
        tab_to(page, ".play__end .buttons button:first-child")
        page.keyboard.press("Enter")
        offered(page)
        # Nothing but the site's own address was ever asked.
        assert {url.split("/")[2] for url in visited.asked} == {f"127.0.0.1:{server.port}"}
    finally:
        server.kill()


def test_played_from_a_folder_and_what_is_kept_of_it(visit, site: Site) -> None:
    play = play_of(1)
    visited = visit(site.address("file", address(play)), width=1280, height=800, apart=True)
    page = visited.page
    item = f"{NAME}/{play.tree.data['causes'][play.case['cause']]['id']}"
    first = offered(page)
    # The address gives the same case again, and does not tell the cause.
    written = page.evaluate("location.hash")
    assert written.startswith(f"#{NAME}/") and written.endswith(f"/{SEED}") and play.case["id"] not in written
    page.reload()
    assert offered(page) == first and page.evaluate("location.hash") == written
    assert "Balloon resting" in page.locator(".play__clock").inner_text()
    page.click("text=Clock off")
    assert page.locator(".play__clock").is_hidden()
    page.click("text=Clock on")

    page.evaluate("document.querySelector('.play__title').focus()")
    through(page, play)
    told = kept(page)[item]
    last = told["last"]
    went = {"good": 2, "fair": 1}[last["went"]]
    assert set(told) == {"plays", "gap", "again_on", "last", "unsafe", "rules"}
    assert (told["plays"], told["gap"], told["unsafe"]) == (1, went, 0)
    assert (last["verdict"], last["case"]) == ("solved", play.case["id"])
    assert f"comes again in {went} day{'s' * (went > 1)}, on 2" in page.locator(".play__again").inner_text()

    # Copied as plain text, or marked where the browser refuses.
    page.evaluate("navigator.clipboard.writeText = text => { window.copied = text; return Promise.resolve(); }")
    page.click("text=Copy")
    page.locator("text=Copied.").wait_for()
    text = page.evaluate("window.copied")
    assert f"practice/index.html{written}" in text and "Your way:" in text and "The page’s way:" in text
    assert "not a permission" in text and "file:" not in text

    # Played again before its day: counted, and the day stays.
    page.click("text=Same case again")
    assert offered(page) == first
    state = play.begin()
    while not state.over:
        state = play_on(page, play, state)
    again = kept(page)[item]
    assert again["plays"] == 2 and again["again_on"] == told["again_on"] and again["last"]["went"] == "good"
    assert "Played before its day" in page.locator(".play__again").inner_text()

    # Back at the list, with what was played; what is to be played again comes first.
    page.click(".play__end >> text=All cases")
    assert "1 played" in page.locator(f"#{NAME} [data-state]").inner_text()
    assert page.evaluate("document.activeElement.getAttribute('href')") == f"#{NAME}"
    page.evaluate(
        "key => alarmtrees.Progress.change(data => { data.cases[key].again_on = '2024-01-01T00:00Z'; })", item
    )
    page.reload()
    assert "1 to play again" in page.locator("[data-sum]").inner_text()
    assert "1 to play again" in page.locator(f"#{NAME} [data-state]").inner_text()
    page.click("[data-next]")
    offered(page)
    assert page.locator(".play__title").inner_text() == play.tree.data["title"]

    # An alarm alone asks for one of its cases; what is not there is said.
    page.goto(site.address("file", f"{PAGE}#trigger-lost"))
    until(page, "location.hash.startsWith('#trigger-lost/')")
    offered(page)
    for gone in ("#no-such-alarm", f"#{NAME}/no-such-case/1", "#../x/y/1", "#%E0%A4%A"):
        page.evaluate("gone => { location.hash = gone; }", gone)
        page.locator(".notice:has-text('no such case')").wait_for()
        assert page.locator("#_cases").is_visible()
    assert visited.faults == [] and visited.foreign(site) == []
    assert not [url for url in visited.asked if "/x/" in url or "no-such" in url.partition("#")[0]]

    # What cannot be loaded is said, and the browser's own way back leads to the case before.
    page.evaluate("to => { location.hash = to; }", written)
    assert offered(page) == first
    page.evaluate("alarmtrees.practiceData = () => {}; location.hash = '#sudden-pain'")
    page.locator(".notice:has-text('cannot be loaded')").wait_for()
    assert page.locator("#_cases").is_visible()
    page.go_back()
    assert offered(page) == first


def test_nothing_in_the_scripts_can_send_anything() -> None:
    for name in SCRIPTS:
        text = (REPOSITORY / "site_src" / "theme" / "assets" / name).read_text(encoding="utf-8")
        for way in ("fetch(", "XMLHttpRequest", "sendBeacon", "WebSocket", "EventSource", "<form", "eval(", "import("):
            assert way not in text, (name, way)


# Seen.


@pytest.mark.parametrize(("width", "scheme"), [(360, "light"), (1280, "dark")])
def test_axe_finds_nothing_at_a_question_an_unsafe_end_and_a_debrief(visit, site, axe, width, scheme) -> None:
    judge = AXE if scheme == "light" else AXE_DARK
    play = play_of()
    page = visit(site.address("file", PAGE), width=width, height=800, color_scheme=scheme).page
    page.evaluate(axe)
    assert page.evaluate(judge) == [], "the list"
    page.evaluate("to => { location.hash = to; }", address(play).partition("#")[2])
    state = play.begin()
    while not (stray := strays(play, state)):
        state = play_on(page, play, state)
    state = play_on(page, play, state, stray[0])
    assert page.evaluate(judge) == [], "a question"
    while not state.over:
        state = play_on(page, play, state)
    assert page.evaluate(judge) == [], "a debrief"
    cause = play.tree.data["causes"][play.case["cause"]]["say"]
    assert cause in page.locator(".play__end").inner_text() and page.locator(".figures").count() == 1

    page.click("text=Same case again")
    offered(page)
    unsafe = next(one for one in play.begin().offers if play.choose(play.begin(), one).verdict == "unsafe")
    page.click(f'.offer[data-to="{unsafe}"]')
    end = play.choose(play.begin(), unsafe)
    rule = next(one for one in play.tree.data["rules"] if one["id"] == end.way[-1].rule)
    panel = page.locator(".play__result--unsafe")
    told = panel.inner_text()
    assert "Unsafe: the case ends here" in told and rule["say"] in told and rule["reason"] in told
    links = panel.locator("a").evaluate_all("all => all.map(one => one.href)")
    assert links == [site.address("file", f"alarms/{NAME}/index.html#{step}") for step in (unsafe, play.way[0])]
    # The same case can be played again: nothing tells what is behind it, nor what the page would find.
    assert cause not in page.locator(".play__end").inner_text() and not page.locator(".figures").count()
    assert page.locator(".ways tr").evaluate_all("all => all.map(row => row.cells.length)") == [2, 2]
    assert page.evaluate(judge) == [], "an unsafe end"
    assert page.evaluate("document.documentElement.scrollWidth") <= width and page.evaluate(SMALL) == []
    assert kept(page)[f"{NAME}/{play.case['id']}"]["unsafe"] == 1

    page.emulate_media(media="print")
    shown = page.locator(".play__end").inner_text()
    assert rule["say"] in shown and play.case["story"][0] in shown
    assert not page.locator(".buttons:visible, .play__top:visible, #_cases:visible").count()


def test_without_scripts_the_page_lists_the_alarms_and_says_what_is_needed(visit, site: Site) -> None:
    page = visit(site.address("file", PAGE), java_script_enabled=False).page
    assert "needs JavaScript" in page.locator("noscript").inner_text()
    links = page.locator("#_cases a").evaluate_all("all => all.map(one => one.getAttribute('href'))")
    assert links and sorted(links) == sorted(f"../alarms/{tree.id}/index.html" for tree in practised(shipped_library()))
    assert page.locator("button:visible").count() == 0
    page.goto(site.address("file", f"alarms/{NAME}/index.html"))
    assert page.locator("text=Practise this alarm").get_attribute("href") == f"../../{PAGE}#{NAME}"


def test_hostile_text_in_a_case_is_shown_and_never_run(visit, hostile_site: Site) -> None:
    visited = visit(hostile_site.address("file", f"{PAGE}#line-open"), apart=True)
    page = visited.page
    for number in range(60):
        page.locator(".offer, .play__result").first.wait_for()
        if not page.locator(".offer").count():
            break
        page.locator(".offer").nth(number % page.locator(".offer").count()).click()
    assert HOSTILE_AS_READ in " ".join(page.locator("#_case").inner_text().split())
    assert page.evaluate("window.hit === undefined")
    assert page.locator("article :is(img, script:not(#finder-data))").count() == 0
    assert visited.faults == [] and visited.foreign(hostile_site) == []


def test_a_told_bedside_is_found_in_the_list_and_played_on_through_other_pages(visit, site: Site) -> None:
    told = told_cases(shipped_library())
    name, case = next((name, case) for name, cases in told.items() for case in cases if case.across)
    page = visit(site.address("file", PAGE)).page
    page.locator("#_told summary", has_text="Across pages").click()
    page.locator(f'#_told a[href="#{name}/t-{case.code}"]').click()
    page.locator(f".play__title:text-is('{tree_of(name).data['title']}')").wait_for()
    assert case.data["story"][0] in page.locator(".play__story").inner_text()
    assert not page.locator("#_told").is_visible()
    for step in case.data["way"]:
        page.click(f'.offer[data-to="{step}"]')
    asked = page.locator(".asked tbody tr").all_inner_texts()
    assert len(asked) == len(case.data["must"]) + len(case.data["never"]) and all("✓" in row for row in asked)
    assert "does not count" in page.locator(".play__again").inner_text()
    assert page.evaluate("localStorage.getItem('learning')") is None
    page.evaluate("location.hash = '#limb-cold/t-nowhere'")
    page.get_by_text("There is no such case any more.").wait_for()
