"""The site as built: a broken library changes nothing, nothing private gets out, and serving survives faults."""

from __future__ import annotations

import json
import re
import socket
import subprocess
import sys
import threading
import time
import urllib.request
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path

import pytest

from once import once
from small_library import contents, make, restamp, swap

Run = Callable[..., subprocess.CompletedProcess[str]]

BROKEN = ("to: plug}", "to: plog}")
"""Sends the first answer of the first tree to a step that is not there; stands in line 22."""


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, mkdocs: Run) -> Path:
    """The site of the small library as it is, for those who only look."""

    def build(folder: Path) -> None:
        done = mkdocs(make(folder / "library"), "build", "--strict")
        assert done.returncode == 0, done.stderr

    return once(tmp_path_factory, "plain", build) / "library" / "site"


def test_build_is_strict_clean_and_pages_lie_where_the_contract_says(site: Path) -> None:
    for page in ("index", "alarms/line-open/index", "alarms/supply-low/index", "rules/index", "rules/cycle/index"):
        assert (site / f"{page}.html").is_file(), page
    for page in ("safety/index", "words/index", "sources/index", "settings/index", "about"):
        assert (site / f"{page}.html").is_file(), page


def test_fictional_hospital_is_named_so_on_every_page_until_replaced(
    site: Path, small_library: Path, mkdocs: Run
) -> None:
    pages = {path.relative_to(site): path.read_text(encoding="utf-8") for path in site.rglob("*.html")}
    assert all("Testfield General is a fictional hospital." in html for html in pages.values())
    # A copy of the shipped file with another name above it, and nothing in it that says what it is.
    copied = (small_library / "kb" / "settings.yml").read_text(encoding="utf-8").replace("Testfield General", "Ours")
    copied = copied.replace('fictional: "yes"', 'fictional: "no"').replace(" (fictional)", "")
    (small_library / "kb" / "settings.local.yml").write_text(copied, encoding="utf-8")
    assert mkdocs(small_library, "build").returncode == 0
    for path in pages:
        html = (small_library / "site" / path).read_text(encoding="utf-8")
        assert "is a fictional hospital" not in html
        # Its values are still there, and every page says so.
        assert "<b>7 entries invented:</b> values or numbers of Testfield General" in html, path
        assert "tel:" not in html, "no invented number is dialled"
    alarm = (small_library / "site" / "alarms" / "line-open" / "index.html").read_text(encoding="utf-8")
    assert "Not reviewed by anybody of this house." in alarm and "of Testfield General, an invented hospital" in alarm


def test_all_cautions_stand_on_the_about_page(site: Path) -> None:
    about = (site / "about.html").read_text(encoding="utf-8")
    assert "Look at the patient before the machine." in about and "The danger is in the patient." in about
    assert 'href="sources/index.html#doe-2001"' in about


def test_broken_library_leaves_the_old_site_as_it_was(small_library: Path, mkdocs: Run) -> None:
    assert mkdocs(small_library, "build").returncode == 0
    before = contents(small_library / "site")
    swap(small_library / "trees" / "line-open.yml", *BROKEN)
    done = mkdocs(small_library, "build")
    assert done.returncode == 1
    assert re.search(r"trees/line-open\.yml:\d+:\d+: error: .*plog.* \[unknown-target\]", done.stderr)
    assert "Traceback" not in done.stderr
    assert contents(small_library / "site") == before


def test_unreadable_tree_is_a_fault_with_a_place_too(small_library: Path, mkdocs: Run) -> None:
    (small_library / "trees" / "odd.yml").write_text("a: [\n", encoding="utf-8")
    done = mkdocs(small_library, "build")
    assert done.returncode == 1 and re.search(r"trees/odd\.yml:\d+:\d+: error: ", done.stderr)
    assert "Traceback" not in done.stderr and not (small_library / "site").exists()


def test_library_without_trees_is_said_in_one_line(small_library: Path, mkdocs: Run) -> None:
    for path in (small_library / "trees").iterdir():
        path.unlink()
    (small_library / "trees").rmdir()
    done = mkdocs(small_library, "build")
    assert done.returncode == 1 and "no folder trees/ here" in done.stderr and "Traceback" not in done.stderr


def test_warning_is_shown_with_its_place_and_fails_a_strict_build(small_library: Path, mkdocs: Run) -> None:
    swap(small_library / "trees" / "line-open.yml", "summary: The line", "summary: That line")
    done = mkdocs(small_library, "build", "--strict")
    assert done.returncode == 1
    assert re.search(r"WARNING.*trees/line-open\.yml:\d+:\d+: warning: .* \[review-stale\]", done.stderr)
    assert mkdocs(small_library, "build").returncode == 0


def test_written_page_is_never_replaced(small_library: Path, mkdocs: Run) -> None:
    for name in ("index.md", "README.md", "alarms/line-open.md", "alarms/line-open/index.md"):
        path = small_library / "kb" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("# Mine\n", encoding="utf-8")
        done = mkdocs(small_library, "build")
        if name == "alarms/line-open.md":  # another address: both pages can stand
            assert done.returncode == 0, done.stderr
        else:
            assert done.returncode == 1 and str(path) in done.stderr and "give the file another name" in done.stderr
        path.unlink()


def test_private_values_show_as_values_and_never_as_a_file(small_library: Path, mkdocs: Run) -> None:
    (small_library / "kb" / "settings.local.yml").write_text(
        "# secret-note\nvalues:\n  resting_warning: {say: A, value: 13, unit: min}\n", encoding="utf-8"
    )
    assert mkdocs(small_library, "build").returncode == 0
    files = contents(small_library / "site")
    assert not [name for name in files if name.endswith((".yml", ".yaml", ".py", ".map"))]
    assert not [name for name, content in files.items() if "settings.local" in name or b"secret-note" in content]
    assert "13\u00a0min" in files["alarms/line-open/index.html"].decode()
    with zipfile.ZipFile(small_library / "site" / "balloon-pump-alarms.zip") as archive:
        assert not [name for name in archive.namelist() if name.endswith((".yml", ".yaml"))]
        assert not [name for name in archive.namelist() if b"secret-note" in archive.read(name)]


def test_private_file_stays_out_even_where_the_configuration_lets_it_in(small_library: Path, mkdocs: Run) -> None:
    overlay = small_library / "kb" / "settings.local.yml"
    overlay.write_text("values: {resting_warning: {say: A, value: 13, unit: min}}\n", encoding="utf-8")
    swap(small_library / "mkdocs.yml", "  *.yml\n", "  *.nothing\n")
    done = mkdocs(small_library, "build")
    assert done.returncode == 0, done.stderr
    files = contents(small_library / "site")
    assert [name for name in files if name.endswith(".yml")], "the configuration lets such files in"
    assert not [name for name in files if "settings.local" in name]
    with zipfile.ZipFile(small_library / "site" / "balloon-pump-alarms.zip") as archive:
        assert not [name for name in archive.namelist() if "settings.local" in name]


def test_site_is_sealed_after_all_others_have_written(site: Path) -> None:
    """The search's files are written last by another plugin: the worker's list has to know them as they are."""
    files = contents(site)
    listed = json.loads(re.search(r"const FILES = (\{.*?\});", files["worker.js"].decode(), re.DOTALL)[1])
    assert "search/search_index.js" in listed and "404.html" in listed and "app.webmanifest" in listed
    beside = {"worker.js", "balloon-pump-alarms.zip"}
    assert listed == {name: sha256(data).hexdigest() for name, data in files.items() if name not in beside}


def test_one_changed_word_gives_another_build_on_every_page(site: Path, small_library: Path, mkdocs: Run) -> None:
    def builds(folder: Path) -> set[str]:
        pages = [path.read_text(encoding="utf-8") for path in folder.rglob("*.html")]
        return {re.search(r'<meta name="build" content="([0-9a-f]{12})">', html)[1] for html in pages}

    before = builds(site)
    swap(small_library / "kb" / "about.md", "# About", "# About it")
    assert mkdocs(small_library, "build").returncode == 0
    after = builds(small_library / "site")
    assert len(before) == len(after) == 1 and before != after


def test_search_knows_each_tree_once_and_by_its_words_alone(site: Path) -> None:
    index = json.loads((site / "search" / "search_index.json").read_text(encoding="utf-8"))
    entries = [entry for entry in index["docs"] if entry["location"].startswith("alarms/line-open/")]
    assert [entry["location"] for entry in entries] == ["alarms/line-open/index.html"]
    assert "hose off" in entries[0]["tags"] and "Push the plug home until it locks." in entries[0]["text"]
    for noise in ("go to", "Step", "At any time", "5 0001", "priority", "Trained staff", "Rests on"):
        assert noise not in entries[0]["text"], noise
    assert not re.search(r"[\d]", entries[0]["text"].replace("15", "")), entries[0]["text"]
    assert not [entry for entry in index["docs"] if entry["location"].startswith("rules/cycle")]


def test_edit_link_opens_the_tree_where_a_repository_is_named(site: Path, small_library: Path, mkdocs: Run) -> None:
    page = Path("alarms", "line-open", "index.html")
    assert 'rel="edit"' not in (site / page).read_text(encoding="utf-8")
    with (small_library / "mkdocs.yml").open("a", encoding="utf-8") as file:
        file.write("\nrepo_url: https://git.example/ward/alarms\nedit_uri: edit/main/kb/\n")
    assert mkdocs(small_library, "build").returncode == 0
    assert 'href="https://git.example/ward/alarms/edit/main/trees/line-open.yml"' in (
        small_library / "site" / page
    ).read_text(encoding="utf-8")
    index = small_library / "site" / "index.html"
    assert 'rel="edit"' not in index.read_text(encoding="utf-8")


def test_two_builds_of_one_library_are_the_same(site: Path, small_library: Path, mkdocs: Run) -> None:
    assert mkdocs(small_library, "build", "-d", "two").returncode == 0
    one, two = contents(site), contents(small_library / "two")
    assert [name for name in one if one[name] != two.get(name)] == []
    assert one.keys() == two.keys() and "balloon-pump-alarms.zip" in one


def test_nothing_in_the_site_asks_another_host(site: Path) -> None:
    for path in site.rglob("*.html"):
        html = path.read_text(encoding="utf-8")
        assert not re.findall(r'(?:src|<link[^>]*href)="(?:https?:)?//[^"]*', html), path
    styles = [path.read_text(encoding="utf-8") for path in site.rglob("*.css")]
    home = (site / "index.html").read_text(encoding="utf-8")
    assert not [css for css in [*styles, *re.findall(r"<style>(.*?)</style>", home, re.DOTALL)] if "url(" in css]
    assert not [css for css in styles if "@import" in css]


@contextmanager
def serving(root: Path) -> Iterator[tuple[str, Callable[[str], None]]]:
    """A running server: its address, and a function that waits until it has said something more."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-u", "-m", "mkdocs", "serve", "--dev-addr", f"127.0.0.1:{port}"]
    process = subprocess.Popen(command, cwd=root, stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True)
    said: list[str] = []
    assert process.stderr is not None
    reader = threading.Thread(target=lambda: said.extend(iter(process.stderr.readline, "")), daemon=True)
    seen = 0

    def wait_for(pattern: str) -> None:
        nonlocal seen
        for _ in range(300):
            text = "".join(said)
            if match := re.search(pattern, text[seen:]):
                seen += match.end()
                return
            time.sleep(0.1)
        raise AssertionError(f"{pattern} was not said: {''.join(said)}")

    try:
        reader.start()
        wait_for(r"Serving on http://")
        yield f"http://127.0.0.1:{port}/", wait_for
    finally:
        process.terminate()
        process.wait(10)
        reader.join(10)
        process.stderr.close()


def test_serving_shows_a_fault_with_its_place_and_goes_on(small_library: Path) -> None:
    tree = small_library / "trees" / "line-open.yml"
    with serving(small_library) as (address, wait_for):

        def shown() -> str:
            with urllib.request.urlopen(f"{address}alarms/line-open/index.html", timeout=20) as answer:
                html: str = answer.read().decode()
            return html

        assert "Line is open" in shown() and 'class="faults"' not in shown()
        # Who edits must not be shown what the browser has kept.
        with urllib.request.urlopen(f"{address}worker.js", timeout=20) as answer:
            assert b"unregister" in answer.read()
        assert "offline.js" not in shown() and "@@" not in shown()
        swap(tree, *BROKEN)
        wait_for(r"trees/line-open\.yml:\d+:\d+: error: .*\[unknown-target\]")
        wait_for(r"Reloading browsers")
        assert "Line is open" in shown()
        assert re.search(r'<pre class="faults">[^<]*trees/line-open\.yml:\d+:\d+: error: ', shown())
        swap(tree, *reversed(BROKEN))
        swap(tree, "title: Line is open", "title: Line has come open")
        restamp(tree)
        wait_for(r"Reloading browsers")
        assert "Line has come open" in shown() and 'class="faults"' not in shown()
