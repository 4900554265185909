"""A real Chromium without any network, and the sites it looks at."""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, Request, sync_playwright

import fonts
from once import once
from small_library import REPOSITORY, make, restamp, spoil
from tools import missing

AXE = REPOSITORY / "tests" / "node_modules" / "axe-core" / "axe.min.js"
CHROMIUM = ("chromium", "chromium-browser", "google-chrome")

# Whatever a page asks for beyond this machine cannot be found.
ALONE = ("--no-sandbox", "--disable-dev-shm-usage", "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1")

# All pages are our own: those of one context may share a process, which else takes longer to start than a page to open.
SHARING = ("--disable-site-isolation-trials", "--renderer-process-limit=1")

NO_WORKER = "delete Navigator.prototype.serviceWorker"


@dataclass
class Site:
    """A built site, and where a server shows it."""

    folder: Path
    server: str

    @property
    def pages(self) -> list[str]:
        """All its pages but the one for wrong addresses."""
        found = sorted(path.relative_to(self.folder).as_posix() for path in self.folder.rglob("*.html"))
        return [path for path in found if path != "404.html"]

    @property
    def trees(self) -> list[str]:
        """The ids of the alarms that have a page."""
        return sorted(path.parent.name for path in (self.folder / "alarms").glob("*/index.html"))

    def some(self, start: int, one_in: int = 9) -> list[str]:
        """Every ninth alarm, or all where `EVERY` is set: all pages are made by the same steps."""
        return self.trees if os.environ.get("EVERY") else self.trees[start % 6 :: one_in]

    @property
    def unlike(self) -> list[str]:
        """Pages that differ: of those in one folder, which are made by the same steps, every twelfth; or all."""
        if os.environ.get("EVERY"):
            return self.pages
        inside = [path for path in self.pages if "/" in path]
        return [*(path for path in self.pages if "/" not in path), *inside[::12]]

    def address(self, scheme: str, page: str) -> str:
        """Where a page is found: by `http` on the server, by `file` in the folder."""
        return f"{self.server}/{page}" if scheme == "http" else f"{self.folder.as_uri()}/{page}"


@dataclass
class Visit:
    """A page in the browser, and all that went wrong since it was opened."""

    page: Page
    faults: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)

    def watch(self) -> None:
        """Note every request, failure, error and word in the console."""
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.on("requestfailed", self._failed)
        self.page.on("pageerror", lambda error: self.faults.append(f"error: {error}"))
        self.page.on("console", lambda said: self.faults.append(f"console: {said.text}"))
        self.page.on(
            "response", lambda answer: answer.status >= 400 and self.faults.append(f"{answer.status}: {answer.url}")
        )

    def _failed(self, request: Request) -> None:
        # A page that is left before its icon has come asks for it no longer: that is no fault.
        if request.failure != "net::ERR_ABORTED":
            self.faults.append(f"failed: {request.url}: {request.failure}")

    def foreign(self, site: Site) -> list[str]:
        """What was asked of anybody but the site itself."""
        own = (site.server, site.folder.as_uri(), "data:", "blob:", "about:")
        return [url for url in self.asked if not url.startswith(own)]


class Browsers:
    """A Chromium for each kind of font, started when it is first asked for, with its contexts."""

    def __init__(self, playwright: Playwright, program: str, folder: Path) -> None:
        self.playwright, self.program, self.folder = playwright, program, folder
        self.started: dict[str, tuple[Browser, Contexts]] = {}

    def environment(self, font: str) -> dict[str, str]:
        """What a program is told so that it finds this kind of font, and no other."""
        return {"FONTCONFIG_FILE": str(fonts.configured(self.folder, font))} if fonts.installed() else {}

    def of(self, font: str) -> tuple[Browser, Contexts]:
        """The one that shows all text in this kind of font."""
        if font not in self.started:
            environment: dict[str, str | float | bool] = {**os.environ, **self.environment(font)}
            browser = self.playwright.chromium.launch(
                executable_path=self.program, args=[*ALONE, *SHARING], env=environment
            )
            self.started[font] = browser, Contexts(browser)
        return self.started[font]


@pytest.fixture(scope="session")
def browsers(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browsers]:
    program = next((found for name in CHROMIUM if (found := shutil.which(name))), None)
    if program is None:
        missing("Chromium is not installed: no browser test was run")
    with sync_playwright() as playwright:
        started = Browsers(playwright, program, tmp_path_factory.mktemp("fonts"))
        yield started
        for browser, _ in started.started.values():
            browser.close()


@pytest.fixture(scope="module")
def font(request: pytest.FixtureRequest, browsers: Browsers) -> Iterator[str]:
    """The kind of font that all pages of a test are shown in: the common one, but for tests marked `shown_in`."""
    kind = getattr(request, "param", "common")
    if kind != "common" and not fonts.installed():
        missing("the fonts of the tests are missing: run `npm ci` in tests/")
    with pytest.MonkeyPatch.context() as patch:
        for name, value in browsers.environment(kind).items():
            patch.setenv(name, value)  # for programs that a test starts itself
        yield kind


@pytest.fixture(scope="module")
def browser(browsers: Browsers, font: str) -> Browser:
    return browsers.of(font)[0]


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """A test marked `shown_in` runs once with each kind of font that it names."""
    if marked := metafunc.definition.get_closest_marker("shown_in"):
        metafunc.parametrize("font", marked.args, indirect=True, scope="module")


@pytest.fixture(scope="session")
def axe() -> str:
    """The text of axe-core, which judges accessibility."""
    if not AXE.is_file():
        missing("axe-core is missing: run `npm ci` in tests/")
    return AXE.read_text(encoding="utf-8")


class Contexts:
    """Contexts of the browser that differ in nothing but plain options, each opened once.

    A tab of its own keeps a test apart from the others there; what outlives a tab is cleared when it is closed.
    """

    PLAIN = frozenset({"java_script_enabled", "color_scheme"})

    def __init__(self, browser: Browser) -> None:
        self.browser = browser
        self.opened: dict[tuple[tuple[str, Any], ...], BrowserContext] = {}

    def plain(self, options: dict[str, Any]) -> BrowserContext:
        """The context for these options, with one empty tab that keeps its process alive."""
        key = tuple(sorted(options.items()))
        if key not in self.opened:
            self.opened[key] = context = self.browser.new_context(**options)
            context.add_init_script(NO_WORKER)
            context.new_page()
        return self.opened[key]

    @staticmethod
    def close(page: Page) -> None:
        """Close a tab, and clear what its page has kept for other tabs."""
        if not page.is_closed():
            page.evaluate("() => { try { localStorage.clear() } catch { /* this page may keep nothing */ } }")
            page.context.clear_cookies()
            page.close()


@pytest.fixture(scope="module")
def contexts(browsers: Browsers, font: str) -> Contexts:
    return browsers.of(font)[1]


@pytest.fixture
def visit(browser: Browser, contexts: Contexts) -> Iterator[Callable[..., Visit]]:
    """Opens an address in a tab of its own; the options are those of the browser.

    Without `worker`, the browser is one that cannot keep a site: else each context would fetch all of it. With `apart`,
    a worker, or options that are not plain, the context is its own too.
    """
    closing: list[Callable[[], None]] = []

    def tab(size: dict[str, int], worker: bool, apart: bool, options: dict[str, Any]) -> Page:
        if not worker and not apart and options.keys() <= Contexts.PLAIN:
            page = contexts.plain(options).new_page()
            closing.append(partial(Contexts.close, page))
            page.set_viewport_size(size)  # type: ignore[arg-type]
            return page
        context = browser.new_context(viewport=size, **options)  # type: ignore[arg-type]
        closing.append(context.close)
        if not worker:
            context.add_init_script(NO_WORKER)
        return context.new_page()

    def open_page(
        address: str, width: int = 360, height: int = 640, worker: bool = False, apart: bool = False, **options: Any
    ) -> Visit:
        visited = Visit(tab({"width": width, "height": height}, worker, apart, options))
        visited.watch()
        visited.page.goto(address)
        return visited

    yield open_page
    for close in closing:
        close()


class _Quiet(SimpleHTTPRequestHandler):
    def log_message(self, *_: Any) -> None:
        """Say nothing of each request."""


def _served(folder: Path) -> Iterator[Site]:
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Quiet, directory=str(folder)))
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield Site(folder, f"http://127.0.0.1:{server.server_port}")
    server.shutdown()
    thread.join()
    server.server_close()


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory, mkdocs: Callable[..., Any]) -> Iterator[Site]:
    """The site of this repository's own library."""

    def build(folder: Path) -> None:
        done = mkdocs(REPOSITORY, "build", "-d", str(folder / "site"))
        assert done.returncode == 0 and "left out of the page" not in done.stderr, done.stderr

    yield from _served(once(tmp_path_factory, "built", build) / "site")


@pytest.fixture(scope="session")
def hostile_site(tmp_path_factory: pytest.TempPathFactory, mkdocs: Callable[..., Any]) -> Iterator[Site]:
    """The site of a library in which every text tries to be mark-up or a script."""

    def build(folder: Path) -> None:
        root = make(folder / "library")
        spoil(root)
        done = mkdocs(root, "build")
        assert done.returncode == 0, done.stderr

    yield from _served(once(tmp_path_factory, "hostile", build) / "library" / "site")


@pytest.fixture(scope="session")
def walked_site(tmp_path_factory: pytest.TempPathFactory, mkdocs: Callable[..., Any]) -> Iterator[Site]:
    """The site of the small library with two trees made for the resting clock."""

    def build(folder: Path) -> None:
        root = make(folder / "library")
        shutil.copytree(Path(__file__).parent / "walked", root, dirs_exist_ok=True)
        for path in (root / "trees").glob("*.yml"):
            restamp(path)
        done = mkdocs(root, "build")
        assert done.returncode == 0, done.stderr

    yield from _served(once(tmp_path_factory, "walked", build) / "library" / "site")
