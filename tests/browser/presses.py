"""Presses, screens and seconds that a story takes on a small phone, from the home page to the first act and to help.

Run by hand on a built site, of this or of another version of the same library:

    python tests/browser/presses.py site [--all]

Each story of `kb/stories/` names the answers of an honest reader. Its way is known from the tree; here it is pressed in
a browser, step by step, and has to end where the tree ends. Seconds are those of the steps that the reader has to do or
to answer (`takes`): a question that is passed because its answer still holds costs none. Typing is not counted: the
alarm is taken from the list on the home page, with one press.
"""

from __future__ import annotations

import argparse
import shutil
import statistics
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, sync_playwright

from alarmtrees.model import Library
from alarmtrees.model.story import Story
from alarmtrees.model.wording import fill
from alarmtrees.proof.bedside import Moment, Played, Stage
from alarmtrees.proof.graph import Graph
from alarmtrees.reading.open import open_library

REPOSITORY = Path(__file__).parents[2]

# One of each kind of trouble; of each the story that leads through most pages, and of these the longest.
TWELVE = (
    "augmented-peak-low",
    "blood-in-gas-line",
    "bleeding-at-site",
    "breathing-worse",
    "cardiac-arrest",
    "gas-line-disconnected",
    "gas-line-kinked",
    "limb-cold",
    "power-low",
    "pump-stopped",
    "trigger-lost",
    "two-alarms-at-once",
)

WALKS = """tree => document.documentElement.dataset.walking
    && document.querySelector("[data-walk]")?.dataset.walk === tree"""

# What stands for a step now: to be pressed, passed for its answer still holds, or not on the screen.
STANDS = """node => {
    const seen = one => one && one.getClientRects().length > 0;
    const shown = [...document.querySelectorAll("[data-walk] [data-node]")].find(one => one.dataset.node === node);
    if (shown && !shown.hasAttribute("data-kept") && seen(shown)) return "shown";
    return document.querySelector(`[data-walk] [data-kept="${CSS.escape(node)}"]`) || shown ? "kept" : "";
}"""

SCREEN = """() => [...document.querySelectorAll("[data-walk] [data-node]")].map(one => one.dataset.node)"""

PRESS = """([node, to, say, anytime]) => {
    const here = [...document.querySelectorAll("[data-walk] [data-node]")].find(one => one.dataset.node === node);
    const folded = text => text.replace(/\\s+/g, " ").trim().toLowerCase();
    const all = [...(anytime ? document : here).querySelectorAll("[data-to]")].filter(
        one => one.dataset.to === to && one.hasAttribute("data-anytime") === anytime && one.closest("[data-walk]"));
    const press = all.find(one => !say || folded(one.textContent).startsWith(folded(say))) || (anytime && all[0]);
    if (!press) return `no press for ${say || "Done"} at ${node}`;
    press.click();
    return "";
}"""


@dataclass
class Told:
    """What one story takes: presses, screens and seconds until the first act, and until the remedy or a call."""

    story: Story
    presses: int = 0
    screens: int = 0
    seconds: float = 0.0
    passed: int = 0
    first: tuple[int, int, float] | None = None
    help: tuple[int, int, float] | None = None
    screen: tuple[str, ...] = ()
    fault: str = ""


def pressed(page: Page, home: str, played: Played, stage: Stage, library: Library) -> Told:
    """Press the way of a story, from the home page on."""
    told = Told(played.story)
    page.goto(home)
    page.evaluate("() => { localStorage.clear(); sessionStorage.clear(); }")
    page.reload()
    page.evaluate("id => document.querySelector(`.alarms a[data-tree='${id}']`).click()", played.story.opens)
    told.presses = 1
    for place, moment in enumerate(played.moments):
        later = played.moments[place + 1 :]
        told.fault = _step(page, told, moment, later[0] if later else None, stage, library)
        if told.fault:
            break
    return told


def _step(page: Page, told: Told, moment: Moment, after: Moment | None, stage: Stage, library: Library) -> str:
    node = stage.graph.nodes[moment.key]
    tree, name = moment.key
    page.wait_for_function(WALKS, arg=tree)
    stands = page.evaluate(STANDS, name)
    if stands == "kept" and node.kind == "ask" and after:
        told.passed += 1
        return ""
    if stands != "shown":
        return f"{tree}/{name} is not on the screen"
    screen = (tree, *page.evaluate(SCREEN))
    told.screens += screen != told.screen
    told.screen = screen
    if told.first is None and (node.kind == "do" or node.end in ("call", "resolved")):
        told.first = told.presses, told.screens, told.seconds
    if told.help is None and ((node.kind == "do" and (node.call or node.fixes)) or node.end in ("call", "resolved")):
        told.help = told.presses, told.screens, told.seconds
    if after is None:
        return ""
    told.seconds += stage.times.takes(node)
    told.presses += 1
    if node.end == "go":
        page.evaluate("() => document.querySelector('[data-walk] [data-node] a[data-tree]').click()")
        return ""
    answer = moment.answer
    say = fill(answer.say, library.settings) if answer else ""
    given = [name, after.key[1], say, bool(answer and answer.anytime)]
    fault: str = page.evaluate(PRESS, given)
    return fault


def played_stories(library: Library, every: bool) -> Iterator[tuple[Stage, Played]]:
    stage = Stage(Graph(library.trees), library.settings)
    for opens, stories in library.bedsides.items():
        if not every and opens not in TWELVE:
            continue
        plays = [played for one in stories if (played := stage.play(one)) and not played.faults]
        for played in plays if every else [max(plays, key=_length)]:
            yield stage, played


def _length(played: Played) -> tuple[int, int]:
    return len({moment.key[0] for moment in played.moments}), len(played.moments)


def _figures(rows: list[Told], what: str) -> str:
    def middle(numbers: list[Any]) -> str:
        return f"{statistics.median(numbers):g} (at most {max(numbers):g})" if numbers else "-"

    found = [getattr(row, what) for row in rows if getattr(row, what)]
    presses, screens, seconds = (middle([one[place] for one in found]) for place in range(3))
    return f"presses {presses}, screens {screens}, seconds {seconds}"


def main() -> int:
    """Press the stories, and print what they take."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("site", type=Path)
    parser.add_argument("--all", action="store_true", help="all stories, not one for each of twelve alarms")
    options = parser.parse_args()
    library = open_library(REPOSITORY)
    home = (options.site.resolve() / "index.html").as_uri()
    rows = []
    with sync_playwright() as playwright:
        program = next(found for name in ("chromium", "google-chrome") if (found := shutil.which(name)))
        browser = playwright.chromium.launch(executable_path=program, args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 360, "height": 640})
        for stage, played in played_stories(library, options.all):
            row = pressed(page, home, played, stage, library)
            rows.append(row)
            if not options.all or row.fault:
                took = f"{row.presses} presses, {row.screens} screens, {row.passed} passed"
                print(f"{row.story.opens}/{row.story.id}: {took}, first", end=" ")
                print(f"{row.first}, help {row.help}{'  FAULT ' + row.fault if row.fault else ''}")
        browser.close()
    ends = ([getattr(row, what) for row in rows] for what in ("presses", "screens", "seconds"))
    presses, screens, seconds = map(statistics.median, ends)
    print(f"{len(rows)} stories, {sum(bool(row.fault) for row in rows)} faults")
    print(f"to the end: presses {presses:g}, screens {screens:g}, seconds {seconds:g}")
    print(f"to the first act: {_figures(rows, 'first')}")
    print(f"to remedy or call: {_figures(rows, 'help')}")
    return int(any(row.fault for row in rows))


if __name__ == "__main__":
    raise SystemExit(main())
