"""The built site in a real browser, by http and from a folder, with and without scripts."""

from __future__ import annotations

import gzip
from collections.abc import Callable, Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote, urljoin, urlsplit

import pytest
from playwright.sync_api import Page

from small_library import HOSTILE_AS_READ

SCHEMES = ("http", "file")
FACTS = ("index.html", "about.html", "rules/index.html", "safety/index.html", "settings/index.html")


@pytest.mark.parametrize("script", [True, False], ids=["script", "no-script"])
@pytest.mark.parametrize("scheme", SCHEMES)
def test_pages_open_without_a_fault_and_without_another_host(visit, site, scheme: str, script: bool) -> None:
    trees = [f"alarms/{tree}/index.html" for tree in site.some(len(scheme) + script)]
    first = visit(site.address(scheme, "index.html"), java_script_enabled=script)
    for page in (*trees, *FACTS, "rules/wrong-remedy/index.html", "words/index.html", "sources/index.html"):
        first.page.goto(site.address(scheme, page))
        assert first.page.locator("h1").count() == 1, page
    assert first.faults == [] and first.foreign(site) == []


@pytest.mark.parametrize("scheme", SCHEMES)
def test_home_lists_every_alarm_and_each_link_opens_its_page(visit, site, scheme: str) -> None:
    home = visit(site.address(scheme, "index.html"), java_script_enabled=False)
    assert (
        sorted(home.page.locator("[data-tree]").evaluate_all("all => all.map(one => one.dataset.tree)")) == site.trees
    )
    for tree in site.some(len(scheme)):
        home.page.goto(site.address(scheme, "index.html"))
        home.page.click(f'[data-tree="{tree}"]')
        assert home.page.url == site.address(scheme, f"alarms/{tree}/index.html")
    assert home.faults == []


@pytest.mark.parametrize("width", [360, 1280])
@pytest.mark.parametrize("scheme", SCHEMES)
def test_search_finds_alarms_by_title_and_by_other_names(visit, site, scheme: str, width: int) -> None:
    tried = visit(site.address(scheme, "index.html"), width=width)
    page = tried.page
    for words, tree in (("kinked", "gas-line-kinked"), ("hose off", "gas-line-disconnected")):
        # A walk on a phone has no room for it: there the way leads over all alarms.
        page.goto(site.address(scheme, "settings/index.html"))
        page.click(".top__find" if width == 360 else ".search__input")
        page.fill(".search__input", words)
        found = page.locator(".md-search-result__item > a")
        found.filter(has_text=words.split()[0]).first.wait_for()
        assert f"alarms/{tree}/index.html" in found.first.get_attribute("href")
        found.first.click()
        page.wait_for_url(f"**/alarms/{tree}/index.html*")
    assert tried.faults == [] and tried.foreign(site) == []


def test_search_puts_what_is_read_at_the_bedside_before_what_editors_look_up(visit, site) -> None:
    page = visit(site.address("file", "about.html"), width=1280).page
    page.fill(".search__input", "heparin")
    page.locator(".md-search-result__item").nth(4).wait_for()
    assert page.inner_text(".md-search-result__meta").endswith(" pages found")
    found = page.locator(".md-search-result__item > a").evaluate_all("all => all.map(one => one.pathname)")
    places = {name: min((at for at, path in enumerate(found) if name in path), default=99) for name in LOOKED_UP}
    assert places["anticoagulation-and-bleeding"] < min(places["sources/"], places["settings/"], places["safety/"])


LOOKED_UP = ("anticoagulation-and-bleeding", "sources/", "settings/", "safety/")


def test_search_needs_no_mouse(visit, site) -> None:
    page = visit(site.address("http", "index.html"), width=1280).page
    page.focus(".search__input")
    page.keyboard.type("kinked")
    page.locator(".md-search-result__item").first.wait_for()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    page.wait_for_url("**/alarms/gas-line-kinked/index.html*")


# Presses a link as a finger does: where it is seen, and only if nothing lies over it.
PRESSED = """([step, number]) => {
    const link = document.getElementById(step).querySelectorAll("a[data-to]")[number];
    link.scrollIntoView({block: "center"});
    const box = link.getClientRects()[0];
    const x = box.left + box.width / 2, y = box.top + box.height / 2, seen = document.elementFromPoint(x, y);
    if (seen && link.contains(seen)) link.click();
}"""
LANDED = (
    """step => [location.href, document.querySelector(`section[id="${step}"] :is(h2, h3)`).getBoundingClientRect().y]"""
)


def test_every_end_is_reached_by_links_alone(visit, site) -> None:
    tried = visit(site.address("file", "index.html"), java_script_enabled=False)
    page = tried.page
    for tree in site.some(2, 12):
        address = site.address("file", f"alarms/{tree}/index.html")
        page.goto(address)
        links = dict(
            page.locator("section[data-node]").evaluate_all(
                """all => all.map(one => [one.id,
                    [...one.querySelectorAll("a[data-to]")].map(link => link.dataset.to)])"""
            )
        )
        ends = page.locator("[data-end]").evaluate_all("all => all.map(one => one.id)")
        start = next(iter(links))
        reached, waiting = {start}, [start]
        while waiting:
            step = waiting.pop()
            for number, to in enumerate(links[step]):
                if to not in reached:
                    page.evaluate(PRESSED, [step, number])
                    where, top = page.evaluate(LANDED, to)
                    assert where == f"{address}#{to}" and top < 640, (step, to)
                    reached.add(to)
                    waiting.append(to)
        assert set(ends) <= reached and reached == set(links), tree
    page.goto(address)
    page.locator(f'section[id="{start}"] a[data-to]').first.click()  # once by a real mouse
    assert page.url == f"{address}#{links[start][0]}"
    assert tried.faults == []


def test_handing_over_lands_on_the_page_and_step_it_names(visit, site) -> None:
    page = visit(site.address("file", "index.html"), java_script_enabled=False).page
    seen = 0
    for tree in site.some(3, 12):
        page.goto(site.address("file", f"alarms/{tree}/index.html"))
        for href in page.locator('[data-end="go"] a.answer').evaluate_all("all => all.map(one => one.href)"):
            page.goto(href)
            anchor = urlsplit(href).fragment
            assert page.locator("h1").count() == 1 and (
                not anchor or page.locator(f'[data-node="{anchor}"]').count() == 1
            )
            seen += 1
    assert seen


class _Anchors(HTMLParser):
    """The ids of a page, and where its links lead; nothing of it is made by a script."""

    def __init__(self, address: str) -> None:
        super().__init__()
        self.ids: set[str] = set()
        self.base, self.links = address, list[str]()

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        found = dict(attributes)
        if found.get("id"):
            self.ids.add(str(found["id"]))
        if tag == "base" and found.get("href"):
            self.base = urljoin(self.base, str(found["href"]))
        if tag in ("a", "area") and "href" in found:
            self.links.append(urljoin(self.base, found["href"] or ""))


def anchors_of(path: Path, address: str) -> _Anchors:
    told = _Anchors(address)
    told.feed(path.read_text(encoding="utf-8"))
    told.close()
    return told


def test_all_links_of_all_pages_lead_somewhere(visit, site) -> None:
    told = {}
    for name in site.pages:
        address = site.address("file", name)
        told[address] = anchors_of(site.folder / name, address)
    links = {(here, href) for here, one in told.items() for href in one.links}
    assert not [href for _, href in links if href.startswith("tel:")], "an invented number is never dialled"
    inside = {(here, href) for here, href in links if href.startswith("file:")}
    assert len(inside) > len(told)
    for here, href in inside:
        there, _, anchor = href.partition("#")
        if not there.endswith(".html"):  # a file to keep, such as the whole site in one
            assert Path(unquote(urlsplit(there).path)).is_file(), (here, href)
            continue
        assert there in told, (here, href)
        assert not anchor or unquote(anchor) in told[there].ids, (here, href)
    # What was read here is what a browser reads.
    page = visit("about:blank", java_script_enabled=False).page
    for address in [site.address("file", name) for name in ("index.html", "checks/index.html", "words/index.html")]:
        page.goto(address)
        ids, hrefs = page.evaluate(
            """() => [[...document.querySelectorAll("[id]")].map(one => one.id),
                [...document.querySelectorAll("a[href]")].map(one => one.href)]"""
        )
        assert set(ids) == told[address].ids and [unquote(href) for href in hrefs] == [
            unquote(href) for href in told[address].links
        ]


FIRST_SCREEN = """() => {
    const box = one => one.getBoundingClientRect(), size = one => parseFloat(getComputedStyle(one).fontSize);
    const first = document.querySelector(".step--first"), question = first.querySelector("h2");
    return {
        strip: box(document.querySelector(".strip")).bottom, top: box(question).top, bottom: box(question).bottom,
        answers: box(first.querySelector(".answers")).bottom, size: size(question),
        largest: Math.max(...[...document.querySelectorAll("h1, h2, h3")].map(size)),
    };
}"""


@pytest.mark.shown_in("narrow", "wide")
def test_first_step_stands_on_the_first_screen_of_a_small_phone(visit, site) -> None:
    page = visit(site.address("file", "index.html"), java_script_enabled=False).page
    for tree in site.some(5, 2):
        page.goto(site.address("file", f"alarms/{tree}/index.html"))
        found = page.evaluate(FIRST_SCREEN)
        assert 0 < found["strip"] <= found["top"] and found["bottom"] <= 640, tree
        assert found["size"] == found["largest"] == 28, tree
        assert found["bottom"] < found["answers"] <= 640, tree


# Opens some pages beside each other, each on a small screen of its own, and tells of each what is asked.
BESIDE = """async ([pages, question]) => {
    const ask = new Function("screen", `return (${question})(screen)`);
    document.body.replaceChildren();
    return Promise.all(pages.map(page => new Promise(done => {
        const screen = document.createElement("iframe");
        Object.assign(screen, {width: 320, height: 640, style: "border: 0", src: page});
        screen.onload = () => done([page, ask(screen.contentWindow)]);
        document.body.append(screen);
    })));
}"""


def of_pages(page: Page, site, pages: list[str], question: str) -> Iterator[tuple[str, Any]]:
    """The address of each of some pages, and its answer to a question: a function of the page's window."""
    # No page of the site may show others in itself.
    blank = '<!doctype html><link rel="icon" href="data:,"><body>'
    page.route("**/beside", lambda asked: asked.fulfill(content_type="text/html", body=blank))
    page.goto(site.address("http", "beside"))
    for start in range(0, len(pages), 12):
        some = [site.address("http", name) for name in pages[start : start + 12]]
        yield from page.evaluate(BESIDE, [some, question])


@pytest.mark.shown_in("wide")
def test_nothing_scrolls_sideways_on_a_narrow_screen(visit, site) -> None:
    wide = """screen => {
        const root = screen.document.documentElement;
        return [screen.innerWidth, root.querySelectorAll("h1").length, root.scrollWidth];
    }"""
    told = dict(of_pages(visit("about:blank").page, site, site.unlike, wide))
    assert len(told) == len(site.unlike)
    assert {page: found for page, found in told.items() if found != [320, 1, 320]} == {}


@pytest.mark.shown_in("narrow", "wide")
@pytest.mark.parametrize("width", [360, 1280])
def test_all_that_is_pressed_is_large_enough(visit, site, width: int) -> None:
    page = visit(site.address("file", "index.html"), width=width).page
    for name in (
        "index.html",
        *(f"alarms/{tree}/index.html" for tree in site.some(width // 360)),
        "safety/index.html",
        "about.html",
    ):
        page.goto(site.address("file", name))
        small = page.evaluate(
            """() => [...document.querySelectorAll("a, button, summary, input, label")].filter(one => {
                const box = one.getBoundingClientRect(), style = getComputedStyle(one);
                const shown = box.width && style.display !== "inline" && style.opacity !== "0" && box.right > 0;
                return shown && (box.height < 44 || box.width < 44) && !one.closest(".search:not(:focus-within)");
            }).map(one => one.outerHTML)"""
        )
        assert small == [], name


ONCE = (
    *("index.html", "hourly-round.html", "alarms/limb-cold/index.html", "calculators/timing/index.html"),
    *("learn/index.html", "practice/index.html", "competence/index.html", "slides/index.html", "articles/index.html"),
)


def test_a_page_says_once_whom_it_is_for_and_what_comes_first(visit, site) -> None:
    page = visit("about:blank").page
    for name in ONCE:
        page.goto(site.address("file", name))
        said = page.evaluate("document.body.innerText").replace("’", "'")
        for words in ("rained staff", "not a medical device", "maker's instructions"):
            assert said.count(words) == 1, (name, words)
        acted_on = name.split("/")[0] not in ("learn", "practice", "competence", "slides", "articles")
        assert said.count("Look at the patient first.") == acted_on, name


# What of the header lies over something else or outside, is too small to press, or is cut off.
HEADER = """() => {
    const parts = [...document.querySelectorAll(".top__row > *")]
        .filter(one => one.getClientRects().length && getComputedStyle(one).opacity !== "0")
        .map(one => ({one, name: one.className.split(" ").pop(), box: one.getBoundingClientRect()}));
    const wrong = document.documentElement.scrollWidth > innerWidth ? ["the page"] : [];
    for (const {one, name, box} of parts) {
        const read = name === "top__whose" || name === "top__here";
        const cut = one.scrollWidth > one.clientWidth || one.scrollHeight > one.clientHeight;
        if (box.left < 0 || box.right > innerWidth + .5) wrong.push(name + " outside");
        const pressed = !read && name !== "top__here";
        if (pressed && (box.height < 44 || box.width < 44)) wrong.push(name + " small");
        if (cut && name !== "search") wrong.push(name + " cut off");
        if (name === "top__whose" && innerWidth >= 420 && box.height > 24) wrong.push(name + " on two lines");
        for (const {name: other, box: its} of parts) {
            if (name < other && box.left < its.right - .5 && its.left < box.right - .5
                && box.top < its.bottom - .5 && its.top < box.bottom - .5) wrong.push(name + " over " + other);
        }
    }
    return parts.length > 1 ? wrong : ["no header"];
}"""


@pytest.mark.shown_in("narrow", "wide")
@pytest.mark.parametrize(
    "name", ["index.html", "about.html", "alarms/pump-stopped/index.html", "alarms/limb-cold/index.html"]
)
def test_parts_of_the_header_keep_apart_at_every_width(visit, site, name: str) -> None:
    page = visit(site.address("file", name)).page
    for width in (*range(320, 480, 40), 719, *range(720, 1320, 60), 1023, 1024, 1199, 1200, 1600):
        page.set_viewport_size({"width": width, "height": 640})
        assert page.evaluate(HEADER) == [], width


def test_a_page_is_light(visit, site) -> None:
    heavy = sorted(site.trees, key=lambda tree: (site.folder / f"alarms/{tree}/index.html").stat().st_size)[-8:]
    seen = {tree: visit(site.address("http", f"alarms/{tree}/index.html"), apart=True) for tree in heavy}
    next(iter(seen.values())).page.wait_for_timeout(200)  # what a script would ask for on its own
    for tree, opened in seen.items():
        files = [site.folder / urlsplit(url).path.lstrip("/") for url in opened.asked]
        weight = sum(len(gzip.compress(Path(file).read_bytes(), 9)) for file in files)
        assert len(files) <= 6 and weight <= 45_000, (tree, files, weight)


def test_skip_link_comes_first_and_leads_to_the_content(visit, site) -> None:
    page = visit(site.address("file", f"alarms/{site.trees[0]}/index.html")).page
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "_main"


def test_step_that_was_chosen_is_marked(visit, site) -> None:
    page = visit(site.address("file", f"alarms/{site.trees[0]}/index.html"), java_script_enabled=False).page
    link = page.locator(".step--first .answer").first
    target = link.get_attribute("data-to")
    link.click()
    assert page.locator(f'[id="{target}"]').evaluate("one => getComputedStyle(one).borderLeftWidth") == "6px"


AXE_OPTIONS = """{
    resultTypes: ["violations"],
    runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    rules: {"color-contrast-enhanced": {enabled: true}}
}"""


# What can differ between a light and a dark page that are the same otherwise.
AXE_COLOURS = """{
    resultTypes: ["violations"],
    runOnly: {type: "rule", values: ["color-contrast", "color-contrast-enhanced", "link-in-text-block"]}
}"""


def judged(page, axe: str, options: str = AXE_OPTIONS) -> list[str]:
    """What axe-core finds that is serious or critical. Its contrast rules ask for 7:1 here."""
    page.evaluate(axe)
    found = page.evaluate(f"axe.run(document, {options}).then(result => result.violations)")
    return [
        f"{one['id']}: {one['help']}: {one['nodes'][0]['html'][:200]} {one['nodes'][0]['failureSummary'][:300]}"
        for one in found
        if one["impact"] in ("serious", "critical")
    ]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 1280])
def test_nothing_serious_for_axe(visit, site, axe: str, width: int, scheme: str) -> None:
    page = visit(site.address("file", "index.html"), width=width, color_scheme=scheme).page
    # Pages of one kind are made by the same steps, and some lists unfold a hundred times the same: all in one look, the
    # first of them in the others.
    is_all = (width, scheme) == (360, "light")
    some = site.some(1, 12) if is_all else site.some(width // 360 + len(scheme))[:1]
    facts = (
        ["rules/index.html", "rules/wrong-remedy/index.html", "sources/index.html", "words/index.html"]
        if is_all
        else []
    )
    unfolded = 1000 if is_all else 12
    trees = [f"alarms/{tree}/index.html" for tree in some]
    for name in ("index.html", *trees, *facts, "settings/index.html", "about.html"):
        page.goto(site.address("file", name))
        unfold = "count => [...document.querySelectorAll('details')].slice(0, count).forEach(one => one.open = true)"
        page.evaluate(unfold, unfolded)
        assert judged(page, axe, AXE_OPTIONS if scheme == "light" else AXE_COLOURS) == [], name


@pytest.mark.parametrize(("width", "scheme"), [(360, "dark"), (1280, "light")])
def test_nothing_serious_for_axe_while_searching(visit, site, axe: str, width: int, scheme: str) -> None:
    page = visit(site.address("http", "index.html"), width=width, color_scheme=scheme).page
    page.fill(".search__input", "blood")
    page.locator(".md-search-result__item").first.wait_for()
    assert judged(page, axe) == []


def test_hostile_text_is_shown_and_never_run(visit, hostile_site) -> None:
    tried = visit(hostile_site.address("http", "index.html"))
    page = tried.page
    hit = """screen => [screen.hit === undefined, screen.document.querySelectorAll("h1").length,
        screen.document.querySelectorAll(`article img,
            article script:not(#finder-data, #learning-data, #bench-data)`).length]"""
    told = dict(of_pages(page, hostile_site, hostile_site.pages, hit))
    assert len(told) == len(hostile_site.pages)
    assert {name: found for name, found in told.items() if found != [True, 1, 0]} == {}
    for name in (
        "index.html",
        "alarms/line-open/index.html",
        "settings/index.html",
        "sources/index.html",
        "words/index.html",
    ):
        page.goto(hostile_site.address("http", name))
        assert HOSTILE_AS_READ in " ".join(page.locator("article").inner_text().split()), name
        assert name == "index.html" or page.title()
    assert "<script>" in page.locator(".top__whose").inner_text()
    page.goto(hostile_site.address("http", "alarms/line-open/index.html"))
    assert page.title().startswith("<script>") and "<script>" in page.get_attribute(
        'meta[name="description"]', "content"
    )
    assert tried.faults == []


def test_hostile_text_is_harmless_in_search_results(visit, hostile_site) -> None:
    tried = visit(hostile_site.address("http", "index.html"), width=1280)
    tried.page.fill(".search__input", "hose line")
    tried.page.locator(".md-search-result__item").first.wait_for()
    assert "<script>" in tried.page.locator(".md-tag", has_text="hose").first.inner_text()
    assert tried.page.locator(".md-search-result img, .md-search-result script").count() == 0
    assert tried.page.evaluate("window.hit") is None and tried.faults == []


@pytest.mark.parametrize("typed", [True, False], ids=["typed", "in-the-address"])
def test_hostile_query_is_harmless(visit, site, typed: bool) -> None:
    query = "blood <img/src=x/onerror=window.hit=1>"
    tried = visit(site.address("http", "index.html" if typed else f"index.html?q={quote(query)}"), width=1280)
    tried.page.click(".search__input")
    tried.page.fill(".search__input", query if typed else "blood")
    tried.page.locator(".md-search-result__item").first.wait_for()
    tried.page.wait_for_timeout(500)
    assert tried.page.locator(".md-search-result img").count() == 0
    assert tried.page.evaluate("window.hit") is None and tried.faults == []


SLIPPED = """async () => {
  const refused = [];
  document.addEventListener("securitypolicyviolation", (event) => refused.push(event.effectiveDirective));
  const script = document.createElement("script");
  script.textContent = "window.hit = 1";
  const part = document.createElement("div");
  part.innerHTML = '<img src="data:," onerror="window.hit = 2"><a href="javascript:window.hit = 3">a</a>'
    + '<iframe src="https://other.example"></iframe><img src="https://other.example">';
  document.body.append(script, part);
  part.querySelector("a").click();
  await fetch("https://other.example").catch(() => {});
  await new Promise((done) => setTimeout(done, 200));
  return [window.hit || null, refused.sort()];
}"""


@pytest.mark.parametrize("scheme", SCHEMES)
def test_mark_up_that_slips_in_runs_nothing_and_asks_nobody(visit, site, scheme: str) -> None:
    tree = site.trees[0]
    kinds = ("index.html", f"alarms/{tree}/index.html", f"slides/{tree}/index.html", "calculators/timing/index.html")
    for page in kinds:
        opened = visit(site.address(scheme, page), apart=True)
        hit, refused = opened.page.evaluate(SLIPPED)
        assert hit is None, page
        scripts = ["script-src-attr", "script-src-elem", "script-src-elem"]
        assert refused == ["connect-src", "frame-src", "img-src", *scripts], page


def test_search_field_takes_pasted_words(visit: Callable, site) -> None:
    page = visit(site.address("http", "index.html"), width=1280).page
    page.focus(".search__input")
    page.keyboard.insert_text("kinked")  # as pasting and speaking do: without a key
    page.locator(".md-search-result__item").first.wait_for()
