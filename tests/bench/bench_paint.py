"""Weight, first paint and first answer of the site, beside a default Material build of the same content.

Run on demand (pytest does not collect it):

    python tests/bench/bench_paint.py [--rounds 5]

Both sites are built from the same generated Markdown, served compressed from this machine, and opened in turns in
Chromium at a quarter of its speed and on slow 3G (400 kbit/s, 2 s there and back), each time with nothing kept. The
other site is a default one but for its web fonts, which it would fetch from another host: it is faster so. The median
of the rounds counts. Two rows more: a page of one word, for nothing on this network can be sooner (0.45 of the other's
first paint: one way there and back is 2 s), and our tree page once the site is kept in the browser. Exit status 1 where
our first paint or first answer takes too much of the other's, what is read moves, or a page is above its weight.
"""

from __future__ import annotations

import argparse
import gzip
import json
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page, sync_playwright

from alarmtrees.check.rules import RULES
from alarmtrees.reading.open import open_library
from alarmtrees.site.build import build_pages

REPOSITORY = Path(__file__).resolve().parents[2]
SLOW_3G = {"offline": False, "latency": 2000, "downloadThroughput": 50_000, "uploadThroughput": 50_000}
SLOWER = 4
MOST_BYTES = 45 * 1024
MOST_REQUESTS = 6
MOST_SHARE = 0.45
MOST_MOVED = 0.02
WORD = "kinked"

DEFAULT = """site_name: Balloon pump alarms
theme: {name: material, font: false}
plugins: [search]
nav: [{All alarms: index.md}, {About: about.md}]
markdown_extensions: [admonition, attr_list, def_list, tables]
"""

# Notes what is painted and what is moved, and asks the finder as soon as it can be asked.
WATCH = """
window.seen = {moved: 0, answered: null};
new PerformanceObserver((list) => {
  for (const entry of list.getEntries()) if (!entry.hadRecentInput) window.seen.moved += entry.value;
}).observe({type: "layout-shift", buffered: true});
window.askFor = (word, field, hit) => {
  let tries = 0;
  const ask = () => {
    const input = document.querySelector(field);
    const shown = document.querySelector(hit);
    if (shown && shown.getClientRects().length) { window.seen.answered = performance.now(); return; }
    // Whatever listens may come late, so it is asked again; it never waits for more than a tenth of a second.
    if (input && tries++ % 6 === 0) {
      if (document.activeElement !== input) input.focus();
      input.value = word;
      input.dispatchEvent(new InputEvent("input", {bubbles: true}));
      input.dispatchEvent(new KeyboardEvent("keyup", {bubbles: true, key: "d"}));
    }
    requestAnimationFrame(ask);
  };
  requestAnimationFrame(ask);
};
"""


@dataclass(frozen=True)
class Site:
    """A built site on its server, and how its finder is asked."""

    name: str
    address: str
    field: str
    hit: str


@dataclass(frozen=True)
class Load:
    """One page opened once: bytes and requests as sent, first paint and first answer in milliseconds."""

    sent: int
    requests: int
    painted: float
    moved: float
    answered: float | None = None


class _Compressing(SimpleHTTPRequestHandler):
    """Serves files as a hospital's server would: compressed, over connections that stay open."""

    protocol_version = "HTTP/1.1"

    def log_message(self, *_: Any) -> None:
        """Say nothing of each request."""

    def do_GET(self) -> None:
        path = Path(self.translate_path(self.path))
        path = path / "index.html" if path.is_dir() else path
        if not path.is_file():
            self.send_error(404)
            return
        content, packed = _content(path)
        self.send_response(200)
        self.send_header("Content-Type", self.guess_type(str(path)))
        self.send_header("Content-Length", str(len(content)))
        if packed:
            self.send_header("Content-Encoding", "gzip")
        self.end_headers()
        self.wfile.write(content)


@cache
def _content(path: Path) -> tuple[bytes, bool]:
    packed = path.suffix in {".html", ".css", ".js", ".json", ".svg", ".webmanifest"}
    return (gzip.compress(path.read_bytes(), 6, mtime=0) if packed else path.read_bytes()), packed


def main() -> int:
    """Build, open, print, and judge."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rounds", type=int, default=5)
    rounds = parser.parse_args().rounds
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        ours = Site("ours", _serve(_ours(Path(folder) / "ours")), "#finder", "[role=option][data-tree]")
        default = Site(
            "Material", _serve(_default(Path(folder))), "[data-md-component=search-query]", ".md-search-result__item"
        )
        tree = _a_tree()
        weights = {site.name: _open(browser, site, tree, throttled=False) for site in (ours, default)}
        loads: dict[tuple[str, str], list[Load]] = {}
        for _ in range(rounds):
            for site in (ours, default):
                loads.setdefault((site.name, "tree"), []).append(_open(browser, site, tree))
                loads.setdefault((site.name, "home"), []).append(_open(browser, site, "index.html", ask=True))
        (Path(folder) / "ours" / "word.html").write_text("<!doctype html><title>Word</title><p>Word", encoding="utf-8")
        least = [_open(browser, ours, "word.html").painted for _ in range(rounds)]
        kept = [_open_kept(browser, ours, tree) for _ in range(rounds)]
        browser.close()
    return _report(weights, loads, least, kept)


def _a_tree() -> str:
    """The page of the tree with the longest text: no other is heavier by much."""
    library = open_library(REPOSITORY)
    longest = max(library.trees.values(), key=lambda tree: len(tree.nodes))
    return f"alarms/{longest.id}/index.html"


def _ours(folder: Path) -> Path:
    command = [sys.executable, "-m", "mkdocs", "build", "-q", "-d", str(folder)]
    subprocess.run(command, cwd=REPOSITORY, check=True, stderr=subprocess.DEVNULL)
    return folder


def _default(folder: Path) -> Path:
    """The same pages and articles under a default Material theme."""
    docs = folder / "default" / "kb"
    docs.mkdir(parents=True)
    for article in (REPOSITORY / "kb").glob("**/*.md"):
        (docs / article.name).write_text(article.read_text("utf-8"), encoding="utf-8")
    for page in build_pages(open_library(REPOSITORY), RULES):
        path = docs / f"{page.path}.md"
        path.parent.mkdir(parents=True, exist_ok=True)
        head = {"title": page.title, "description": page.description}
        path.write_text(f"---\n{json.dumps(head)}\n---\n\n{page.body}\n", encoding="utf-8")
    (folder / "default" / "mkdocs.yml").write_text(f"{DEFAULT}docs_dir: kb\n", encoding="utf-8")
    command = [sys.executable, "-m", "mkdocs", "build", "-q", "--no-directory-urls"]
    subprocess.run(command, cwd=folder / "default", check=True, stderr=subprocess.DEVNULL)
    return folder / "default" / "site"


class _Server(ThreadingHTTPServer):
    def handle_error(self, *_: Any) -> None:
        """A browser that closes an open connection is no fault."""


def _serve(folder: Path) -> str:
    server = _Server(("127.0.0.1", 0), partial(_Compressing, directory=str(folder)))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    return f"http://127.0.0.1:{server.server_port}"


def _slow(page: Page) -> Any:
    devtools = page.context.new_cdp_session(page)
    devtools.send("Network.enable")
    devtools.send("Network.emulateNetworkConditions", SLOW_3G)
    devtools.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    return devtools


def _open(browser: Browser, site: Site, path: str, throttled: bool = True, ask: bool = False) -> Load:
    """Open a page for the first time, in a browser that keeps nothing."""
    context = browser.new_context(viewport={"width": 390, "height": 844})
    context.add_init_script(f"delete Navigator.prototype.serviceWorker; {WATCH}")
    page = context.new_page()
    if ask:
        arguments = ", ".join(map(json.dumps, (WORD, site.field, site.hit)))
        page.add_init_script(f"window.askFor({arguments})")
    devtools = _slow(page) if throttled else page.context.new_cdp_session(page)
    devtools.send("Network.enable")
    sent: list[float] = []
    asked: list[str] = []
    devtools.on("Network.loadingFinished", lambda event: sent.append(event["encodedDataLength"]))
    devtools.on("Network.requestWillBeSent", lambda event: asked.append(event["request"]["url"]))
    page.goto(f"{site.address}/{path}", timeout=90_000)
    answered = _until(page, "() => window.seen.answered") if ask and page.locator(site.field).count() else None
    painted = _until(page, FIRST_PAINT)
    page.wait_for_timeout(300)
    seen = page.evaluate("() => window.seen")
    context.close()
    requests = [url for url in asked if not url.startswith(("data:", "blob:"))]
    return Load(int(sum(sent)), len(requests), painted or 0, seen["moved"], answered)


FIRST_PAINT = "() => performance.getEntriesByName('first-contentful-paint')[0]?.startTime"


def _open_kept(browser: Browser, site: Site, path: str) -> Load:
    """Open a page when the whole site is kept in the browser."""
    context = browser.new_context(viewport={"width": 390, "height": 844})
    context.add_init_script(WATCH)
    first = context.new_page()
    first.goto(f"{site.address}/about.html")
    first.wait_for_selector("[data-saved]:has-text('Saved')", state="attached")
    page = context.new_page()
    _slow(page)
    page.goto(f"{site.address}/{path}", timeout=90_000)
    painted = _until(page, FIRST_PAINT)
    seen = page.evaluate("() => window.seen")
    context.close()
    return Load(0, 0, painted or 0, seen["moved"])


def _until(page: Page, expression: str) -> float | None:
    """The number that the expression comes to have, within a minute and a half."""
    for _ in range(900):
        if (value := page.evaluate(expression)) is not None:
            return float(value)
        page.wait_for_timeout(100)
    return None


def _report(
    weights: dict[str, Load], loads: dict[tuple[str, str], list[Load]], least: list[float], kept: list[Load]
) -> int:
    def middle(name: str, page: str, value: Callable[[Load], float | None]) -> float | None:
        found = [number for load in loads[name, page] if (number := value(load)) is not None]
        return statistics.median(found) if found else None

    rows: list[tuple[str, float | None, float | None]] = []
    for what, page in (("first paint, tree", "tree"), ("first paint, home", "home")):
        rows.append((what, *(middle(name, page, lambda load: load.painted) for name in ("ours", "Material"))))
    rows.append(("first answer, home", *(middle(name, "home", lambda load: load.answered) for name in weights)))
    print(f"{'':22}{'ours':>10}{'Material':>10}{'ratio':>8}")
    for what, value in (("bytes, tree", "sent"), ("requests, tree", "requests")):
        mine, other = (getattr(weights[name], value) for name in ("ours", "Material"))
        print(f"{what:22}{mine:>10}{other:>10}{mine / other:>8.2f}")
    slower = False
    for what, mine, other in rows:
        if mine is None or other is None:
            print(f"{what:22}  there is no finder to ask, or it did not answer")
            continue
        slower |= mine > MOST_SHARE * other
        print(f"{what:22}{mine:>7.0f} ms{other:>7.0f} ms{mine / other:>8.2f}")
    print(f"{'first paint, one word':22}{statistics.median(least):>7.0f} ms")
    print(f"{'first paint, kept':22}{statistics.median(load.painted for load in kept):>7.0f} ms")
    for name in ("tree", "home"):
        mine, other = (middle(site, name, lambda load: load.moved) or 0.0 for site in ("ours", "Material"))
        print(f"{'layout shift, ' + name:22}{mine:>10.3f}{other:>10.3f}")
        slower |= mine > MOST_MOVED
    heavy = weights["ours"].sent > MOST_BYTES or weights["ours"].requests > MOST_REQUESTS
    wanted = f"at most {MOST_BYTES} bytes in {MOST_REQUESTS} requests, {MOST_SHARE} of the times, moved by {MOST_MOVED}"
    print(f"{wanted}: {'no' if slower or heavy else 'yes'}")
    return int(slower or heavy)


if __name__ == "__main__":
    sys.exit(main())
