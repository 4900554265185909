"""What a beat of the model costs in a browser on a machine four times as slow, and what a frame of the strip costs.

    .venv/bin/python -m mkdocs build -q -d SITE
    .venv/bin/python tests/bench/bench_circulation.py SITE

A beat lasts 667 ms at 90 a minute; a frame 16.7 ms. Prints the mean and the longest of 20: a browser is slowed down by
pauses, so that a median tells too little.
"""

from __future__ import annotations

import os
import statistics
import sys
from pathlib import Path

from playwright.sync_api import sync_playwright

SLOWER = 4
SIZE = {"width": 360, "height": 640}
BEATS = """alone => {
    const { bench, Circulation } = alarmtrees, times = [];
    const scene = { ...bench.scene, ...Circulation.usualOf(bench.values, bench.scene) };
    const loop = new Circulation.Loop(bench.values, scene);
    const paper = new Circulation.Paper(bench.values, scene, scene);
    for (let beat = 0; beat < 120; beat++) {
        const start = performance.now();
        if (alone) while (loop.beat <= beat) loop.step();
        else paper.run(60 / scene.rate);
        times.push(performance.now() - start);
    }
    return times;
}"""
FRAMES = """() => new Promise(resolve => {
    const times = [], { bench } = alarmtrees;
    const again = () => {
        const start = performance.now();
        bench.redraw();
        bench.host.querySelector("canvas").getContext("2d").getImageData(0, 0, 1, 1);
        times.push(performance.now() - start);
        if (times.length < 60) requestAnimationFrame(again); else resolve(times);
    };
    again();
})"""


def main(site: Path) -> None:
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=os.environ.get("CHROMIUM", "/usr/bin/chromium"))
        page = browser.new_page(viewport=SIZE)  # type: ignore[arg-type]
        page.goto((site / "bench.html").resolve().as_uri())
        page.locator("[data-run]").click()
        page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
        for told, found in (
            ("a beat of the model", page.evaluate(BEATS, True)),
            ("a beat with right timing beside it, written down", page.evaluate(BEATS, False)),
            ("a frame of the strip", page.evaluate(FRAMES)),
        ):
            times = sorted(found[len(found) // 6 :])
            late = times[len(times) * 19 // 20]
            print(f"{told}: mean {statistics.mean(times):.2f} ms, longest of 20 {late:.2f} ms, {len(times)} times")
        browser.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
