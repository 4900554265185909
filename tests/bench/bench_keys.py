"""How soon a key in the box is answered, the list drawn included, on a machine four times as slow.

    .venv/bin/python -m mkdocs build -q -d SITE
    .venv/bin/python tests/bench/bench_keys.py SITE

Prints the median and the longest of 20, by the words alone and with what was learned. A frame lasts 16.7 ms.
"""

from __future__ import annotations

import os
import statistics
import sys
from pathlib import Path

import yaml
from playwright.sync_api import sync_playwright

QUERIES = Path(__file__).parents[1] / "finder" / "queries.yml"
SLOWER = 4
KEYS = """queries => {
    const field = document.getElementById("finder"), times = [];
    for (const query of queries) for (let end = 1; end <= query.length; end++) {
        field.value = query.slice(0, end);
        const start = performance.now();
        field.dispatchEvent(new InputEvent("input"));
        times.push(performance.now() - start);
    }
    return times;
}"""


def main(site: Path) -> None:
    queries = [one["query"] for one in yaml.load(QUERIES.read_text(encoding="utf-8"), yaml.CBaseLoader)][::19]
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=os.environ.get("CHROMIUM", "/usr/bin/chromium"))
        for told, without in (("with what was learned", ""), ("by the words alone", "finder-learned.js")):
            page = browser.new_page()
            if without:
                page.route(f"**/{without}", lambda route: route.abort())
            page.goto((site / "index.html").resolve().as_uri())
            page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
            page.evaluate("document.getElementById('finder').focus()")
            times = sorted(page.evaluate(KEYS, queries))
            late = times[len(times) * 19 // 20]
            print(f"{told}: median {statistics.median(times):.1f} ms, longest of 20 {late:.1f} ms, {len(times)} keys")
        browser.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
