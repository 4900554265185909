"""A case in front of a class, in a real browser: by keys alone, from a folder, with hands counted and nothing kept."""

from __future__ import annotations

import os

import pytest
from test_practice_page import play_of
from test_site import judged

from alarmtrees.learning import practised
from browser.until import until
from small_library import shipped_library

PAGE = "practice/class.html"
PLAY = play_of()

# The smallest letters of what is read, in shares of the screen's height, and whether a word or a thing lies outside.
READ = """() => {
    const UNREAD = ".unseen, .room__foot, .room__top, .trace, .quiet, .play__mark";
    const parts = [...document.querySelectorAll("#_room :is(h2, p, li, th, td, b, span)")]
        .filter(one => one.checkVisibility() && !one.closest(UNREAD));
    const screen = document.querySelector(".room__screen");
    const beyond = parts.filter(one => one.getBoundingClientRect().right > innerWidth + .5);
    return [Math.min(...parts.map(one => parseFloat(getComputedStyle(one).fontSize))) / innerHeight, beyond.length,
            screen.scrollWidth - screen.clientWidth, screen.scrollHeight - screen.clientHeight];
}"""


def title(page) -> str:
    return page.locator("#_room-title").inner_text()


def hands(page) -> list[int]:
    return [int(told) for told in page.locator(".hands__count").all_inner_texts()]


@pytest.mark.parametrize(("width", "height", "scheme"), [(1280, 720, "light"), (1920, 1080, "dark")])
def test_a_class_plays_a_case_by_keys_alone(visit, site, axe: str, width: int, height: int, scheme: str) -> None:
    visited = visit(site.address("file", PAGE), width=width, height=height, color_scheme=scheme)
    page = visited.page
    assert judged(page, axe) == []
    tree = PLAY.tree.data["tree"]
    fold = page.locator(f'details[data-tree-of="{tree}"]')
    fold.locator("summary").focus()
    page.keyboard.press("Enter")
    cases = fold.locator("[data-cases] a")
    cases.first.wait_for()
    assert cases.count() == len(PLAY.tree.data["cases"])
    assert fold.locator(".case__cause").first.is_hidden()  # the class reads along
    cases.first.focus()
    page.keyboard.press("Enter")
    page.locator("#_room[open]").wait_for()
    assert title(page) == "The case" and " ".join(PLAY.case["story"]) in " ".join(
        page.locator(".room__scene p").all_inner_texts()
    )
    page.wait_for_function("location.hash.split('/').length === 3")
    play = play_of(seed=int(page.evaluate("location.hash.split('/')[2]")))
    state, place, drawn = play.begin(), 0, 0
    while not state.over:
        page.keyboard.press(("PageDown", "Space", "ArrowRight", "Enter")[place % 4])
        if page.locator(".room__drawn").count():
            drawn += page.locator(".room__drawn").evaluate("one => one.decode().then(() => one.naturalWidth > 0)")
            page.keyboard.press("PageDown")
        offers = page.locator(".choice").evaluate_all("all => all.map(one => one.dataset.to)")
        assert offers == state.offers, place
        # Everybody goes with the page, but at the second step, where all want something else.
        other = next(number for number, one in enumerate(offers, start=1) if one != state.right)
        digit = other if place == 1 else offers.index(state.right) + 1
        for _ in range(3):
            page.keyboard.press(str(digit))
        page.keyboard.press(f"Shift+{digit}")
        assert hands(page)[digit - 1] == 2 == sum(hands(page))
        small, beyond, wide, high = page.evaluate(READ)
        assert (small >= 1 / 30, beyond, wide, high) == (True, 0, 0, 0), place
        page.keyboard.press("r" if place % 2 else "PageDown")
        assert title(page) == "How it is judged"
        for one, said in zip(offers, page.locator(".choice__judged").all_inner_texts(), strict=True):
            verdict = play.choose(state, one).way[-1].verdict
            assert ("As the page does" in said) == (one == state.right), (place, one)
            assert ("Unsafe" in said) == (verdict == "unsafe"), (place, one)
        small, beyond, wide, high = page.evaluate(READ)
        assert (small >= 1 / 30, beyond, wide, high) == (True, 0, 0, 0), place
        if place == 1:
            assert judged(page, axe) == []
            page.keyboard.press("PageUp")
            assert sum(hands(page)) == 2  # counted hands stay
            page.get_by_role("button", name=f"One hand more for answer {digit}").click()
            page.keyboard.press("Space")  # after the mouse the space bar goes on, and counts nobody twice
            assert title(page) == "How it is judged"
        state, place = play.choose(state, state.right), place + 1
    pictures = [shipped_library().trees[tree].nodes[one].picture for one in play.way[:-1]]
    assert drawn == len({one for one in pictures if one})  # each once
    page.keyboard.press("PageDown")
    told = page.locator(".room__told").inner_text()
    assert title(page) == "What the class chose"
    assert PLAY.tree.data["causes"][PLAY.case["cause"]]["say"] in told
    assert f"Most hands went with the page at {place - 1} of {place} steps counted." in told
    assert "It parted most at step 2, 0 of 3" in told
    while page.get_by_role("button", name="Next").is_enabled():
        page.keyboard.press("PageDown")
    assert page.locator(".room__traced svg").count() == 1
    page.keyboard.press("Home")
    assert title(page) == "The case"
    page.keyboard.press("Escape")
    assert not page.locator("#_room").is_visible()
    until(page, f"document.activeElement.parentElement.dataset.treeOf === '{tree}'")
    assert page.evaluate("[localStorage.length, document.cookie]") == [0, ""]
    assert visited.faults == [] and visited.foreign(site) == []


# All screens of a case, one after the other: those that have to be scrolled, with their number.
SCREENS = """async () => {
    const buttons = [...document.querySelectorAll(".room__buttons button")];
    const next = buttons.find(one => one.textContent.startsWith("Next"));
    const long = [];
    for (let place = 0; ; place += 1, next.click()) {
        const screen = document.querySelector(".room__screen");
        await Promise.all([...screen.querySelectorAll("img")].map(one => one.decode()));
        const beyond = [screen.scrollHeight - screen.clientHeight, screen.scrollWidth - screen.clientWidth];
        if (beyond.some(one => one > 0)) long.push([place, ...beyond]);
        if (next.disabled) return [place, long];
    }
}"""


def wordy(tree) -> int:
    """The letters of its four longest steps: as many as one screen may have to hold."""
    return sum(sorted(len(node.text) for node in tree.nodes.values())[-4:])


@pytest.mark.shown_in("common", "wide")
def test_no_screen_of_a_class_has_to_be_scrolled(visit, site) -> None:
    """The wordiest of the alarms, and the case in which most was to be shown; with EVERY all cases and bedsides."""
    page = visit(site.address("file", PAGE), width=1280, height=720).page
    trees = sorted(practised(shipped_library()), key=wordy)
    links = [f"#{tree.id}/{next(iter(tree.causes))}/1" for tree in trees[-2:]] + ["#pressure-too-high/b1bsew/1"]
    if os.environ.get("EVERY"):
        for fold in page.locator("details[data-tree-of] > summary").all():
            fold.click()
        page.wait_for_timeout(3000)
        links = page.locator("#_cases a").evaluate_all("all => all.map(one => `${one.hash}/1`)")
    for link in links:
        page.evaluate("where => { location.hash = where; }", link)
        page.locator("#_room[open]").wait_for()
        count, long = page.evaluate(SCREENS)
        assert count > 8 and long == [], (link, long)
        page.keyboard.press("Escape")
        until(page, "() => location.hash === ''")  # closed, and not about to be
