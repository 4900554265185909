"""How much of a step is in sight on a small phone: `python tests/browser/in_sight.py site [--all]` prints it by font.

Every step of every alarm is shown at 360 x 640 with the resting clock running and a step behind it. In sight is what
nothing fixed lies over: of a question all answers, of a step to do its lines and "Done", of an end its words. Whom the
bar names is held against the library: whom the step calls, or else whoever is called first. `--all` lists the steps
that fail.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from collections import Counter
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1]))

import fonts
from alarmtrees.model import Library, Tree
from alarmtrees.reading.open import open_library
from alarmtrees.site.markup import first_call

REPOSITORY = Path(__file__).parents[2]
SIZE = {"width": 360, "height": 640}

# Nothing is kept of the page before: each begins as if it were the first of the shift.
FRESH = "try { localStorage.clear(); sessionStorage.clear(); } catch { /* this page may keep nothing */ }"

# A rest of five minutes that somebody told. Each step is shown as if an answer had led to it.
MEASURED = """([tree, start, steps]) => {
    const told = {}, at = Date.now();
    window.alarmtrees.shift.setClock({kind: "told", since: at - 300000, at});
    for (const node of steps) {
        const way = node === start ? [] : [{id: start, say: "As before", at}];
        const state = {...history.state, walk: tree, node, way, by: "jump", at, given: {}, alone: undefined};
        history.replaceState(state, "", "#" + node);
        dispatchEvent(new PopStateEvent("popstate", {state}));
        window.scrollTo(0, Math.min(scrollY, 0));
        const seen = one => one.getClientRects().length > 0;
        const fixed = name => [...document.querySelectorAll(name)]
            .filter(one => seen(one) && ["fixed", "sticky"].includes(getComputedStyle(one).position))
            .map(one => one.getBoundingClientRect());
        const more = document.querySelector("[data-more]");
        const top = Math.max(0, ...fixed(".top, .walk__head").map(box => box.bottom));
        const bottom = Math.min(innerHeight, ...fixed(".dock").map(box => box.top - more.offsetHeight));
        const step = document.querySelector(".walk__step");
        const parts = [...step.querySelectorAll(
            "h2, .lines li, [data-to]:not([data-anytime]), .answers [data-tree]")].filter(one =>
            seen(one) && !one.classList.contains("unseen"));
        const out = parts.filter(one => {
            const box = one.getBoundingClientRect();
            return box.top < top - 1 || box.bottom > bottom + 1 || box.left < 0 || box.right > innerWidth + 1;
        });
        const isLow = one => one.getBoundingClientRect().bottom > bottom + 1;
        const low = Math.max(...parts.map(one => one.getBoundingClientRect().bottom));
        const dial = [...document.querySelectorAll(".dial")].find(seen);
        told[node] = {
            out: out.map(one => one.textContent.replace(/\\s+/g, " ").trim().slice(0, 60)),
            over: Math.round(low - bottom),
            more: seen(more),
            // A caution, and what may happen at any time, may lie below where it is said that more follows.
            low: [...step.querySelectorAll(".warn li, .others button")].filter(seen).filter(isLow).length,
            parted: [...step.querySelectorAll(".look")].some(look =>
                new Set([...look.querySelectorAll("[data-to]")].filter(seen).map(isLow)).size > 1),
            dial: dial ? dial.textContent.replace(/\\s+/g, " ") : "",
            size: parseFloat(getComputedStyle(parts[0]).fontSize),
            shown: document.querySelector("[data-node]").dataset.node === node
                || Boolean(document.querySelector(`[data-node="${node}"]`)),
        };
    }
    return told;
}"""


def measured(page: Page, address: str, tree: Tree, steps: Iterable[str]) -> dict[str, dict[str, Any]]:
    """What is out of sight on each of these steps of a tree, and whom the bar names there.

    Args:
        page: 360 x 640, with `FRESH` as its first script.
        address: where the page of the tree lies.
        tree: the tree.
        steps: ids of its steps.
    """
    page.goto(address)
    told: dict[str, dict[str, Any]] = page.evaluate(MEASURED, [tree.id, tree.start, list(steps)])
    return told


def called(library: Library, tree: Tree, node: str) -> str:
    """The number that the bar is to show at a step: in an arrest the arrest team's, at a hand-over the next page's."""
    here = tree.nodes[node]
    target, _, entered = (here.go or "").partition("/")
    there = library.trees.get(target)
    next_call = there.nodes[entered or there.start].call if there else None
    usual = "arrest-team" if tree.id == "cardiac-arrest" else first_call(library)
    return library.roles[here.call or next_call or usual or ""].phone or ""


def _share(name: str, good: Mapping[tuple[str, str], bool]) -> str:
    right = sum(good.values())
    return f"{name} {right} of {len(good)} ({100 * right / max(1, len(good)):.1f} %)"


def main(site: Path, listed: bool) -> None:
    library = open_library(REPOSITORY)
    if not fonts.installed():
        sys.exit("the fonts of the tests are missing: run `npm ci` in tests/")
    with sync_playwright() as playwright, tempfile.TemporaryDirectory() as folder:
        for font in fonts.FAMILIES:  # narrow, common, wide
            environment = {**os.environ, "FONTCONFIG_FILE": str(fonts.configured(Path(folder), font))}
            browser = playwright.chromium.launch(
                executable_path=shutil.which("chromium"), args=["--no-sandbox"], env=environment
            )
            page = browser.new_page(viewport=SIZE)  # type: ignore[arg-type]
            page.add_init_script(FRESH)
            sight: dict[str, dict[tuple[str, str], bool]] = {"ask": {}, "do": {}, "end": {}}
            number, own, more = {}, {}, {}
            sizes: Counter[float] = Counter()
            for tree in library.in_use.values():
                address = (site.resolve() / "alarms" / tree.id / "index.html").as_uri()
                for node, told in measured(page, address, tree, tree.nodes).items():
                    here = tree.nodes[node]
                    sizes[told["size"]] += 1
                    sight[here.kind][tree.id, node] = not told["out"]
                    if told["out"]:
                        more[tree.id, node] = told["more"]
                    number[tree.id, node] = called(library, tree, node) in told["dial"]
                    if here.call:
                        own[tree.id, node] = number[tree.id, node]
                    if listed and (told["out"] or not number[tree.id, node] or not told["shown"]):
                        print(f"  {font} {tree.id}#{node} {here.kind} {told}")
            browser.close()
            whole = sight["ask"] | sight["do"] | sight["end"]
            print(f"{font}: {_share('in sight', whole)}")
            for kind, name in (("ask", "questions"), ("do", "steps to do"), ("end", "ends")):
                print(f"    {_share(name, sight[kind])}")
            print(f"    {_share('longer, and it is seen that more follows:', more)}")
            print("    type in pixels:", ", ".join(f"{size:g}: {count}" for size, count in sorted(sizes.items())))
            print(f"    {_share('right number in the bar', number)}; {_share('of steps that call', own)}")


if __name__ == "__main__":
    main(Path(sys.argv[1]), "--all" in sys.argv[2:])
