"""The site kept in the browser: complete without a network, never of two versions, newer only when asked for."""

from __future__ import annotations

import base64
import hashlib
import json
import os
import re
import shutil
import threading
from collections.abc import Callable, Iterator
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

import pytest
from playwright.sync_api import Error, Page

from browser import icons
from browser.until import until
from once import PATIENCE
from small_library import REPOSITORY, make, restamp

TOLD = "[data-saved]:not(:empty)"
NEWER = "[data-newer] button"
PARTS = """async () => {
  const parts = [...document.querySelectorAll("link[rel=stylesheet], script[src], img[src], link[rel~=icon]")];
  const own = document.querySelector("meta[name=build]").content;
  const text = async (url) => [url, await (await fetch(url)).text()];
  const urls = [location.href, ...parts.map((part) => part.href || part.src)];
  return [own, await Promise.all(urls.map(text))];
}"""


class Stage:
    """A server whose folder can be swapped, whose files can be spoiled, and that can die while it answers."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.spoiled: set[str] = set()
        self.dies_at: int | None = None
        self.asked: list[str] = []
        self.port = 0
        self.server: ThreadingHTTPServer | None = None
        self.start()

    def start(self) -> None:
        """Answer, at the same address as before."""
        self.dies_at, self.asked = None, []
        self.server = ThreadingHTTPServer(("127.0.0.1", self.port), partial(_Handler, self))
        self.port = self.server.server_port
        threading.Thread(target=self.server.serve_forever, args=(0.05,), daemon=True).start()

    def kill(self) -> None:
        """Answer no more: who asks is refused, as without a network."""
        server, self.server = self.server, None
        if server:
            server.shutdown()
            server.server_close()

    def at(self, path: str = "index.html") -> str:
        return f"http://127.0.0.1:{self.port}/{path}"


class _Handler(SimpleHTTPRequestHandler):
    def __init__(self, stage: Stage, *arguments: Any) -> None:
        self.stage = stage
        super().__init__(*arguments)

    def log_message(self, *_: Any) -> None:
        """Say nothing of each request."""

    def do_GET(self) -> None:
        stage, name = self.stage, urlsplit(self.path).path.lstrip("/")
        stage.asked.append(name)
        self.directory = str(stage.folder)  # now, for browsers open connections before they need them
        path = stage.folder / name
        if stage.dies_at is not None and len(stage.asked) >= stage.dies_at and path.is_file() and name != "worker.js":
            self._half(path.read_bytes())
            threading.Thread(target=stage.kill, daemon=True).start()
        elif name in stage.spoiled:
            self._half(path.read_bytes(), cut=1, says_so=True)
        else:
            super().do_GET()

    def _half(self, content: bytes, cut: int | None = None, says_so: bool = False) -> None:
        """Give a file without its end, honest or not about its length."""
        sent = content[: -cut or len(content) // 2] if cut else content[: len(content) // 2]
        self.send_response(200)
        self.send_header("Content-Type", self.guess_type(self.path))
        self.send_header("Content-Length", str(len(sent if says_so else content)))
        self.end_headers()
        self.wfile.write(sent)


@pytest.fixture
def stage(request: pytest.FixtureRequest) -> Iterator[Callable[[Path], Stage]]:
    """Opens a server of a folder, at an address of its own."""
    stages: list[Stage] = []

    def open_stage(folder: Path) -> Stage:
        stages.append(Stage(folder))
        return stages[-1]

    yield open_stage
    for opened in stages:
        opened.kill()


@pytest.fixture(scope="module")
def versions(tmp_path_factory: pytest.TempPathFactory, mkdocs: Callable[..., Any]) -> tuple[Path, Path]:
    """Two versions of one site, which differ in a tree's text, in the stylesheet and in the scripts."""
    root = make(tmp_path_factory.mktemp("versions") / "library")
    theme = root / "theme"
    shutil.copytree(REPOSITORY / "site_src" / "theme", theme)
    configuration = root / "mkdocs.yml"
    text = configuration.read_text("utf-8").replace((REPOSITORY / "site_src" / "theme").as_posix(), theme.as_posix())
    configuration.write_text(text, encoding="utf-8")
    assert mkdocs(root, "build", "-d", str(root / "one")).returncode == 0
    for name in ("assets/look.css", "assets/offline.js"):
        with (theme / name).open("a", encoding="utf-8") as file:
            file.write("\n/* the second version */\n")
    tree = root / "trees" / "line-open.yml"
    tree.write_text(tree.read_text("utf-8").replace("title: ", "title: Second "), encoding="utf-8")
    restamp(tree)
    assert mkdocs(root, "build", "-d", str(root / "two")).returncode == 0
    # Two publications within one second would look alike to a server that answers by the time of a file.
    for path in (root / "one").rglob("*"):
        os.utime(path, (0, path.stat().st_mtime - 3600))
    return root / "one", root / "two"


def build_of(folder: Path) -> str:
    found = re.search(r'<meta name="build" content="([0-9a-f]{12})">', (folder / "index.html").read_text("utf-8"))
    assert found
    return found[1]


def wholly(page: Page, stage: Stage, folder: Path) -> None:
    """The page and all that it is made of are those of one version, byte by byte."""
    build, parts = page.evaluate(PARTS)
    assert build == build_of(folder)
    for url, text in parts:
        path = unquote(urlsplit(url).path).lstrip("/")
        path += "index.html" if not path or path.endswith("/") else ""
        lying = (folder / path).read_bytes()
        assert hashlib.sha256(text.encode()).digest() == hashlib.sha256(lying).digest(), (page.url, url)


def stores(page: Page) -> list[str]:
    return page.evaluate("() => caches.keys()")


def kept(page: Page) -> None:
    """Wait until the page says how keeping the site has ended, however long that takes: well."""
    page.wait_for_selector(TOLD, state="attached", timeout=PATIENCE * 1000)
    assert page.locator(TOLD).text_content() == "Saved on this device: works without a network."


def keep(visit: Callable[..., Any], stage: Stage, **options: Any) -> Any:
    """Visit the home page, and wait until the site is kept."""
    visited = visit(stage.at(), worker=True, **options)
    kept(visited.page)
    return visited


# Without a network


# What the worker answers for each address: the status, and the SHA-256 of the bytes.
ANSWERED = """pages => Promise.all(pages.map(async page => {
    const answer = await fetch(page);
    const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", await answer.arrayBuffer()));
    return [page, answer.status, Array.from(digest, byte => byte.toString(16).padStart(2, "0")).join("")];
}))"""


def test_after_one_visit_every_page_is_there_without_a_network(visit, site, stage) -> None:
    """All as bytes; one of each folder, and some more, as a reader opens them."""
    there = stage(site.folder)
    home = keep(visit, there)
    until(home.page, "navigator.serviceWorker.controller !== null")
    there.kill()
    lying = {there.at(path): hashlib.sha256((site.folder / path).read_bytes()).hexdigest() for path in site.pages}
    told = home.page.evaluate(ANSWERED, list(lying))
    assert told == [[url, 200, digest] for url, digest in lying.items()]
    folders = {path.partition("/")[0]: path for path in site.pages if "/" in path}
    for path in ("index.html", *sorted({*folders.values(), *site.pages[::8]})):
        home.page.goto(there.at(path))
        assert home.page.locator("h1").count() == 1, path
    wholly(home.page, there, site.folder)
    assert home.faults == []


def test_search_of_all_pages_works_without_a_network(visit, site, stage) -> None:
    there = stage(site.folder)
    home = keep(visit, there)
    there.kill()
    home.page.goto(there.at("about.html"))
    home.page.click(".top__find")
    home.page.fill(".search__input", "kinked")
    home.page.locator(".md-search-result__item").first.wait_for()
    assert home.faults == []


def test_the_very_page_that_was_open_first_is_complete_too(visit, site, stage) -> None:
    """It was loaded before anything was kept; what it asks for later has to come from the store as well."""
    there = stage(site.folder)
    first = visit(there.at("about.html"), worker=True)
    kept(first.page)
    until(first.page, "navigator.serviceWorker.controller !== null")
    there.kill()
    first.page.click(".top__find")
    first.page.fill(".search__input", "kinked")
    first.page.locator(".md-search-result__item").first.wait_for()
    assert first.faults == []


def test_short_addresses_and_queries_lead_to_the_page(visit, site, stage) -> None:
    there = stage(site.folder)
    page = keep(visit, there).page
    there.kill()
    tree = site.trees[0]
    ends = ("", "/", "?h=gas", "/index.html?h=gas#_review")
    for path in (f"alarms/{tree}{end}" for end in ends):
        page.goto(there.at(path))
        assert f"/alarms/{tree}/" in page.url and page.locator("[data-node]").count(), path
        assert page.url.partition("?")[2].startswith("h=gas") == ("?" in path)
        wholly(page, there, site.folder)
    page.goto(there.at(""))
    assert page.locator("[data-tree]").count()
    page.goto(there.at("about?h=x"))
    assert page.locator("h1").inner_text() == "About"


@pytest.mark.parametrize("below", ["", "ward/3a/"])
def test_wrong_address_says_so_and_leads_home_at_any_depth(visit, site, stage, tmp_path: Path, below: str) -> None:
    folder = site.folder
    if below:
        (tmp_path / below).parent.mkdir(parents=True)
        (tmp_path / below.rstrip("/")).symlink_to(folder, target_is_directory=True)
        folder = tmp_path
    there = stage(folder)
    page = visit(there.at(f"{below}index.html"), worker=True).page
    kept(page)
    there.kill()
    for wrong in ("alarms/none/", "none.html", "alarms/none/deeper", "constructor", "%E0%A4%A"):
        answer = page.goto(there.at(below + wrong))
        assert answer.status == 404, wrong
        assert page.locator("h1").inner_text() == "This page is not here"
        assert page.evaluate("getComputedStyle(document.body).margin") == "0px", "the stylesheet is there"
        page.click(".page a >> text=All alarms")
        assert page.url == there.at(f"{below}index.html")


def test_two_sites_on_one_server_keep_apart(visit, versions, stage, tmp_path: Path) -> None:
    for name, folder in zip("ab", versions, strict=True):
        (tmp_path / name).symlink_to(folder, target_is_directory=True)
    there = stage(tmp_path)
    page = visit(there.at("a/index.html"), worker=True).page
    kept(page)
    page.goto(there.at("b/index.html"))
    kept(page)
    there.kill()
    for name, folder in zip("ab", versions, strict=True):
        page.goto(there.at(f"{name}/about.html"))
        assert page.locator("meta[name=build]").get_attribute("content") == build_of(folder)


# A newer version


def test_pages_stay_with_their_version_until_the_reader_asks_for_the_newer(visit, versions, stage) -> None:
    one, two = versions
    there = stage(one)
    first = keep(visit, there)
    second = first.page.context.new_page()
    second.goto(there.at("alarms/line-open/index.html"))
    there.folder = two
    first.page.reload()
    first.page.wait_for_selector(NEWER)
    second.wait_for_selector(NEWER)
    assert first.page.inner_text("[data-newer] p").startswith("Newer content exists.")
    for path in ("alarms/line-open/index.html", "about.html", "index.html"):
        first.page.goto(there.at(path))
        wholly(first.page, there, one)
    wholly(second, there, one)
    first.page.wait_for_selector(NEWER)
    with second.expect_navigation(), first.page.expect_navigation():
        first.page.click(NEWER)
    for page in (first.page, second):
        wholly(page, there, two)
        assert page.inner_text("[data-newer]") == ""
    assert second.inner_text("h1").startswith("Second ")
    until(first.page, "async () => (await caches.keys()).length === 1")
    there.kill()
    for path in ("alarms/line-open/index.html", "about.html", "index.html"):
        first.page.goto(there.at(path))
        wholly(first.page, there, two)
    assert first.faults == []


def test_when_the_last_page_is_closed_the_next_is_of_the_newer_version(visit, versions, stage) -> None:
    one, two = versions
    there = stage(one)
    page = keep(visit, there).page
    there.folder = two
    page.reload()
    page.wait_for_selector(NEWER)
    later = page.context
    page.close()
    page = later.new_page()
    page.goto(there.at("alarms/line-open/index.html"))
    wholly(page, there, page_version(page, versions))
    shown = "([build]) => document.querySelector('meta[name=build]').content === build"
    until(page, shown, [build_of(two)])
    wholly(page, there, two)


def page_version(page: Page, versions: tuple[Path, Path]) -> Path:
    build = page.locator("meta[name=build]").get_attribute("content")
    return next(folder for folder in versions if build_of(folder) == build)


@pytest.mark.parametrize("dies_at", [2, 4, 12, 40] if os.environ.get("EVERY") else [2, 40])
def test_server_that_dies_amid_an_update_leaves_the_older_version_whole(visit, versions, stage, dies_at: int) -> None:
    one, two = versions
    there = stage(one)
    tried = keep(visit, there)
    page = tried.page
    before = stores(page)
    there.folder, there.asked, there.dies_at = two, [], dies_at
    page.reload()
    page.wait_for_selector("[data-newer]:has-text('not all of it has arrived')")
    assert there.server is None, "the server was to die while it answered"
    assert stores(page) == before
    for path in ("alarms/line-open/index.html", "about.html", "rules/index.html", "index.html"):
        page.goto(there.at(path))
        wholly(page, there, one)
        assert page.locator(NEWER).count() == 0
    there.start()
    page.reload()
    page.wait_for_selector(NEWER)
    wholly(page, there, one)
    with page.expect_navigation():
        page.click(NEWER)
    wholly(page, there, two)


def test_file_that_is_not_as_published_is_refused(visit, versions, stage) -> None:
    one, two = versions
    there = stage(one)
    page = keep(visit, there).page
    before = stores(page)
    there.folder, there.spoiled = two, {"alarms/line-open/index.html"}
    page.reload()
    page.wait_for_selector("[data-newer]:has-text('not all of it has arrived')")
    # A browser may try once more by itself; that try leaves nothing behind either.
    page.wait_for_function("async before => (await caches.keys()).join() === before", arg=",".join(before))
    page.goto(there.at("alarms/line-open/index.html"))
    wholly(page, there, one)


def test_first_visit_with_a_spoiled_file_keeps_nothing_and_says_so(visit, versions, stage) -> None:
    there = stage(versions[0])
    there.spoiled = {"about.html"}
    page = visit(there.at(), worker=True).page
    page.wait_for_selector("[data-saved]:has-text('Not saved on this device')", state="attached")
    assert stores(page) == []
    assert page.locator("h1").count() == 1


def test_only_what_has_changed_is_fetched_anew(visit, versions, stage) -> None:
    one, two = versions
    there = stage(one)
    page = keep(visit, there).page
    there.folder, there.asked = two, []
    page.reload()
    page.wait_for_selector(NEWER)
    same = {path.relative_to(one).as_posix() for path in one.rglob("*") if path.is_file()}
    same = {name for name in same if (two / name).is_file() and (one / name).read_bytes() == (two / name).read_bytes()}
    assert same and not same & set(there.asked) and "alarms/line-open/index.html" in there.asked


def test_back_to_the_older_content_is_offered_as_what_is_newest(visit, versions, stage, tmp_path: Path) -> None:
    """A hospital takes a publication back: what waits is replaced, and what is read stays whole."""
    one, two = versions
    there = stage(one)
    page = keep(visit, there).page
    there.folder = two
    page.reload()
    page.wait_for_selector(NEWER)
    there.folder = shutil.copytree(one, tmp_path / "again", copy_function=shutil.copyfile)
    page.reload()
    until(page, "async () => !(await navigator.serviceWorker.getRegistration()).waiting")
    page.goto(there.at("alarms/line-open/index.html"))
    wholly(page, there, one)
    there.kill()
    page.goto(there.at("about.html"))
    wholly(page, there, one)


def test_page_that_missed_the_change_notices_when_it_is_shown_again(visit, versions, stage) -> None:
    one, two = versions
    there = stage(one)
    first = keep(visit, there).page
    deaf = first.context.new_page()
    deaf.add_init_script(
        "const add = ServiceWorkerContainer.prototype.addEventListener;"
        "ServiceWorkerContainer.prototype.addEventListener = function (name, ...rest) {"
        "  if (name !== 'controllerchange') add.call(this, name, ...rest); };"
    )
    deaf.goto(there.at("alarms/line-open/index.html"))
    there.folder = two
    first.reload()
    first.wait_for_selector(NEWER)
    with first.expect_navigation():
        first.click(NEWER)
    assert deaf.locator("meta[name=build]").get_attribute("content") == build_of(one)
    with deaf.expect_navigation():
        deaf.evaluate("window.dispatchEvent(new Event('pageshow'))")
    wholly(deaf, there, two)


def test_store_thrown_away_by_the_browser_never_mixes_versions(visit, versions, stage) -> None:
    one, two = versions
    there = stage(one)
    page = keep(visit, there).page
    page.evaluate(LOSE_ALL)
    page.goto(there.at("about.html"))
    wholly(page, there, one)
    kept(page)
    page.evaluate(LOSE_ALL)
    there.folder = two
    with pytest.raises(Error, match="ERR_FAILED"):
        page.goto(there.at("alarms/line-open/index.html"))
    page.wait_for_url("chrome-error:**")
    page.goto(there.at("alarms/line-open/index.html"))
    assert page.inner_text("h1").startswith("Second ")


# A site that is not finished, and a device that has lost what it kept


@pytest.mark.parametrize("what", ["not sealed", "no files"])
def test_worker_of_a_site_that_is_not_finished_changes_nothing(
    visit, versions, stage, tmp_path: Path, what: str
) -> None:
    one, two = versions
    half = tmp_path / "half"
    half.mkdir()
    shutil.copy(two / "index.html", half)
    text = (REPOSITORY / "site_src" / "theme" / "worker-unsealed.js").read_text("utf-8")
    stamped = text.replace("@@build@@", build_of(two)) if what == "no files" else text
    (half / "worker.js").write_text(stamped, encoding="utf-8")
    there = stage(one)
    page = keep(visit, there).page
    before = stores(page)
    there.folder, there.asked = half, []
    page.reload()
    until(page, "async () => !(await navigator.serviceWorker.getRegistration()).installing")
    kept(page)
    assert "worker.js" in there.asked and page.inner_text("[data-newer]") == "" and stores(page) == before
    context = page.context
    page.close()  # a worker that waits takes over when the last page is closed
    there.kill()
    page = context.new_page()
    for path in ("alarms/line-open/index.html", "index.html"):
        page.goto(there.at(path))
        wholly(page, there, one)


def test_device_that_has_lost_files_fetches_them_again_or_says_that_they_are_missing(visit, versions, stage) -> None:
    one, _ = versions
    there = stage(one)
    page = keep(visit, there).page
    whole = page.evaluate(COUNTED)
    for lose in (LOSE_ONE, LOSE_ALL):
        page.evaluate(lose)
        there.asked = []
        page.reload()
        kept(page)
        assert page.evaluate(COUNTED) == whole, "what is missing was fetched again"
        assert "about.html" in there.asked
    page.evaluate(LOSE_ONE)
    there.kill()
    page.reload()
    page.wait_for_selector(TOLD, state="attached")
    assert page.locator(TOLD).text_content() == "Not saved on this device: 1 of its files are missing."
    there.start()
    page.reload()
    kept(page)


COUNTED = "async () => (await (await caches.open((await caches.keys())[0])).keys()).length"
LOSE_ONE = "async () => (await caches.open((await caches.keys())[0])).delete(new URL('about.html', location))"
LOSE_ALL = "async () => { for (const name of await caches.keys()) await caches.delete(name); }"


# What the reader sees of it


def test_notice_moves_nothing_and_its_button_is_large(visit, versions, stage) -> None:
    one, two = versions
    there = stage(one)
    page = keep(visit, there).page
    other = page.context.new_page()
    other.set_viewport_size({"width": 320, "height": 640})
    other.goto(there.at("alarms/line-open/index.html"))
    place = "() => [...document.querySelectorAll('.answer')].map((one) => one.getBoundingClientRect().top)"
    before = other.evaluate(place)
    there.folder = two
    page.reload()
    other.wait_for_selector(NEWER)
    assert before and other.evaluate(place) == before
    notice = other.locator("[data-newer]").bounding_box()
    answers = other.locator(".answer").evaluate_all("all => all.map((one) => one.getBoundingClientRect().bottom)")
    assert notice and notice["y"] >= max(answers)
    for shown in (page, other):
        box = shown.locator(NEWER).bounding_box()
        assert box and box["height"] >= 44 and box["width"] >= 44
        assert shown.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
    home = page.locator("[data-newer]").bounding_box()
    assert home and home["y"] + home["height"] <= 641, "at home it is seen at once"


def test_notice_is_reached_and_pressed_by_keyboard(visit, versions, stage) -> None:
    one, two = versions
    there = stage(one)
    page = keep(visit, there).page
    there.folder = two
    page.reload()
    page.wait_for_selector(NEWER)
    page.locator(".alarms a").last.focus()
    for _ in range(30):
        if page.evaluate("document.activeElement.closest('[data-newer]') !== null"):
            break
        page.keyboard.press("Tab")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    wholly(page, there, two)


@pytest.mark.parametrize(("width", "scheme"), [(320, "dark"), (1280, "light")])
def test_notice_and_wrong_address_are_accessible(visit, versions, stage, axe: str, width: int, scheme: str) -> None:
    one, two = versions
    there = stage(one)
    page = keep(visit, there, width=width, color_scheme=scheme).page
    there.folder = two
    page.reload()
    page.wait_for_selector(NEWER)
    for path in ("index.html", "none/"):
        page.goto(there.at(path))
        page.wait_for_selector(NEWER)
        page.evaluate(axe)
        kinds = "['wcag2a', 'wcag2aa', 'wcag2aaa', 'wcag21aa', 'wcag22aa', 'best-practice']"
        found = page.evaluate(f"axe.run({{runOnly: {kinds}}})")
        assert [(one["id"], [node["html"] for node in one["nodes"]]) for one in found["violations"]] == [], path


def test_every_page_tells_its_build_and_the_date_of_its_content(site) -> None:
    build = build_of(site.folder)
    dates = set()
    for path in (*site.pages, "404.html"):
        html = (site.folder / path).read_text("utf-8")
        assert f"<code data-build>{build}</code>" in html, path
        dates.add(re.search(r'Content of <time datetime="(\d{4}-\d\d-\d\d)">', html)[1])
    assert len(dates) == 1


def test_from_a_folder_nothing_is_kept_and_nothing_goes_wrong(visit, site) -> None:
    for path in ("index.html", f"alarms/{site.trees[0]}/index.html", "about.html"):
        opened = visit(site.address("file", path), worker=True)
        opened.page.wait_for_timeout(300)
        assert opened.faults == [] and opened.foreign(site) == []
        assert opened.page.locator("link[rel=manifest]").count() == 0
        assert opened.page.inner_text("[data-saved]") == "" and opened.page.inner_text("[data-newer]") == ""


def test_zip_opened_from_a_folder_is_the_same_site(visit, site, tmp_path: Path) -> None:
    shutil.unpack_archive(site.folder / "balloon-pump-alarms.zip", tmp_path)
    folder = tmp_path / "balloon-pump-alarms"
    opened = visit(f"{folder.as_uri()}/index.html", worker=True)
    opened.page.click(f'[data-tree="{site.trees[0]}"]')
    assert opened.page.locator("[data-node]").count() and opened.faults == []


def test_about_page_offers_the_zip_and_the_worker_leaves_it_to_the_network(visit, site, stage) -> None:
    there = stage(site.folder)
    page = keep(visit, there).page
    page.goto(there.at("about.html"))
    with page.expect_download() as download:
        page.click("a[href='balloon-pump-alarms.zip']")
    assert Path(download.value.path()).read_bytes() == (site.folder / "balloon-pump-alarms.zip").read_bytes()


def test_browser_finds_nothing_against_installing(visit, site, stage) -> None:
    there = stage(site.folder)
    page = keep(visit, there).page
    page.reload()
    devtools = page.context.new_cdp_session(page)
    manifest = devtools.send("Page.getAppManifest")
    assert manifest["errors"] == [] and json.loads(manifest["data"])["name"] == "Balloon pump alarms"
    against = [fault["errorId"] for fault in devtools.send("Page.getInstallabilityErrors")["installabilityErrors"]]
    assert set(against) <= {"in-incognito"}  # these tests use private windows


def test_icons_are_drawn_from_the_mark(browser) -> None:
    page = browser.new_page()
    for name, width, part in icons.ICONS:
        pictures = [icons.drawn(browser, width, part), (icons.ASSETS / "icons" / f"{name}.png").read_bytes()]
        differing, corner = page.evaluate(COMPARE, [base64.b64encode(picture).decode() for picture in pictures])
        assert differing < 0.01, f"{name}: draw the icons anew with tests/browser/icons.py"
        assert (corner == 255) == (part is not None), name
    page.close()


COMPARE = """async (pictures) => {
  const drawn = await Promise.all(pictures.map(async (picture) => {
    const image = new Image();
    image.src = "data:image/png;base64," + picture;
    await image.decode();
    const canvas = new OffscreenCanvas(image.width, image.height).getContext("2d");
    canvas.drawImage(image, 0, 0);
    return canvas.getImageData(0, 0, image.width, image.height).data;
  }));
  if (drawn[0].length !== drawn[1].length) return [1, 0];
  const differing = drawn[0].filter((value, at) => Math.abs(value - drawn[1][at]) > 32).length;
  return [differing / drawn[0].length, drawn[1][3]];
}"""


def test_who_edits_sees_every_change_even_where_a_site_was_kept_before(visit, versions, stage, tmp_path: Path) -> None:
    one, two = versions
    edited = tmp_path / "edited"
    shutil.copytree(two, edited)
    (edited / "worker.js").write_text(
        'self.addEventListener("install", () => self.skipWaiting());\n'
        'self.addEventListener("activate", (event) => event.waitUntil(self.registration.unregister()));\n'
    )
    there = stage(one)
    page = keep(visit, there).page
    there.folder = edited
    page.reload()
    until(page, "async () => !(await navigator.serviceWorker.getRegistration())")
    page.goto(there.at("alarms/line-open/index.html"))
    assert page.inner_text("h1").startswith("Second ")
