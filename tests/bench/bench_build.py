"""How long the site takes to build, beside a bare site of as many pages in the same theme.

Run on demand (pytest does not collect it):

    python tests/bench/bench_build.py [--rounds 2] [--no-serve]

The repository is cloned to a new folder without anything kept from earlier builds, the files at work are laid over
it, and the site is built: first as it is, then once more after a word of one tree was changed. The bare site has as
many pages of plain Markdown with about as many words as the search finds on ours, 500 a page; a short nav, and the
search. It has no pictures, no sheets of paper and no second set of all steps, so the ratio is the stricter one. Each
build is a process of its own; counted are the seconds of processor time of it and of all that it starts, and the
fastest of the rounds, for other work on the machine only adds time. Exit status 1 where a ratio is above its goal.

Then the site is served, the same tree is changed, and the seconds are told until its page is there with the new word:
by the clock, so they count on an idle machine only, and more than the goal is an exit status of 1 as well.
"""

from __future__ import annotations

import argparse
import os
import resource
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

REPOSITORY = Path(__file__).resolve().parents[2]
COPIED = ("kb", "trees", "schema", "site_src", "mkdocs.yml")
MOST_FIRST, MOST_AGAIN, MOST_SERVED = 4.0, 1.5, 3.0
TREE = "trees/gas-line-kinked.yml"
WORDS = ("Every", "Each", "All", "Some", "Both")
"""What the edits write, in turn, so that no build can have seen it."""

BARE = """site_name: Bare
theme: {name: material, font: false}
plugins: [search]
use_directory_urls: false
nav: [{First: index.md}, {Second: page-1.md}]
validation: {omitted_files: ignore}
markdown_extensions: [admonition, attr_list, def_list, tables]
"""
SENTENCE = "The river is wide here, and whoever wants to cross it **waits** for the [ferry](page-{}.md) at the stairs. "


def main() -> int:
    """Build, print, and judge."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rounds", type=int, default=2)
    parser.add_argument("--no-serve", action="store_true", help="leave out the server, which the clock judges")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        library, bare = Path(folder) / "library", Path(folder) / "bare"
        _copy(library)
        first = min(_built(library, fresh=True) for _ in range(args.rounds))
        pages = sum(1 for path in (library / "site").rglob("*.html") if "slides" not in path.parts)
        _write_bare(bare, pages)
        plain = min(_built(bare) for _ in range(args.rounds))
        again = min(_edited(library, word) for word in WORDS[: args.rounds])
        print(f"{pages} pages, seconds of processor time; the bare site: {plain:.1f}")
        print(f"first build   {first:5.1f}  ratio {first / plain:5.2f} (at most {MOST_FIRST:g})")
        print(f"after an edit {again:5.1f}  ratio {again / plain:5.2f} (at most {MOST_AGAIN:g})")
        missed = first > MOST_FIRST * plain or again > MOST_AGAIN * plain
        if not args.no_serve:
            served = _served(library)
            print(
                f"served        {served:5.1f}  seconds by the clock from the edit to the page (at most {MOST_SERVED:g})"
            )
            missed = missed or served > MOST_SERVED
    return int(missed)


def _copy(to: Path) -> None:
    subprocess.run(["git", "clone", "--quiet", REPOSITORY, to], check=True)
    for name in COPIED:
        source = REPOSITORY / name
        if source.is_dir():
            shutil.rmtree(to / name, ignore_errors=True)
            shutil.copytree(source, to / name, ignore=shutil.ignore_patterns("__pycache__", "*.local.yml"))
        else:
            shutil.copy2(source, to / name)


def _write_bare(folder: Path, pages: int) -> None:
    (folder / "docs").mkdir(parents=True)
    (folder / "mkdocs.yml").write_text(BARE, encoding="utf-8")
    for number in range(pages):
        parts = [f"# Page {number}"]
        for part in range(8):
            parts += [f"## Part {part}", SENTENCE.format((number + part) % pages or 1) * 3, "- one\n- two\n- three"]
        name = "index.md" if number == 0 else f"page-{number}.md"
        (folder / "docs" / name).write_text("\n\n".join(parts) + "\n", encoding="utf-8")


def _built(root: Path, fresh: bool = False) -> float:
    """Seconds of processor time of a build."""
    if fresh:
        for name in (".cache", "site"):
            shutil.rmtree(root / name, ignore_errors=True)
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, "-m", "mkdocs", "build", "--quiet"], cwd=root, check=True, env=_environment(root))
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def _environment(root: Path) -> dict[str, str]:
    """The copied program, if there is one, and not the one that is installed."""
    return {**os.environ, "PYTHONPATH": str(root / "site_src"), "NO_MKDOCS_2_WARNING": "1"}


def _edited(root: Path, word: str) -> float:
    _edit(root, word)
    return _built(root)


def _edit(root: Path, word: str) -> None:
    """Write a word into the first reason that a tree gives."""
    path = root / TREE
    original = (REPOSITORY / TREE).read_text(encoding="utf-8")
    assert "why: " in original
    path.write_text(original.replace("why: ", f"why: {word} word counts. ", 1), encoding="utf-8")


def _served(root: Path) -> float:
    """Seconds by the clock from an edit until the served page shows it."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "mkdocs", "serve", "--quiet", "--dev-addr", f"127.0.0.1:{port}"]
    address = f"http://127.0.0.1:{port}/alarms/{Path(TREE).stem}/index.html"
    server = subprocess.Popen(command, cwd=root, env=_environment(root))
    try:
        _awaited(address, "<article", 120)
        time.sleep(2)  # the server looks for changes only after its first answer
        found = []
        for word in ("Never", "Always", "Seldom"):
            _edit(root, word)
            begin = time.monotonic()
            _awaited(address, f"{word} word counts", 60)
            found.append(time.monotonic() - begin)
            time.sleep(1)
        return min(found)
    finally:
        server.terminate()
        server.wait(timeout=30)


def _awaited(address: str, text: str, patience: float) -> None:
    until = time.monotonic() + patience
    while time.monotonic() < until:
        try:
            with urllib.request.urlopen(address, timeout=30) as answer:
                if text in answer.read().decode("utf-8"):
                    return
        except OSError:
            pass
        time.sleep(0.05)
    raise TimeoutError(f"{address}: “{text}” was not there after {patience:g} s")


if __name__ == "__main__":
    sys.exit(main())
