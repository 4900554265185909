"""The binder: every sheet and every article of a built site as one PDF, with a cover, contents and page numbers.

Run as `python -m alarmtrees.site.binder`. A browser prints it twice: first to learn on which page each part
begins, then with these pages in the contents.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import unescape
from pathlib import Path
from posixpath import dirname, join, normpath

from pypdf import PdfReader

from ..model.addresses import JOB, REFERENCE, tree_path
from .markup import DRAFT, STRIP, esc, untagged

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome")
"""Programs that can print a page, looked for on the PATH unless the variable CHROMIUM names one."""

_SECONDS = 180
_OWN_STYLE = """
.binder { font: 10pt/1.35 Arial, "Liberation Sans", Helvetica, sans-serif; }
.binder { font-size-adjust: .519; font-variant-ligatures: none; }
.binder .part { border: 0; margin: 0; padding: 0; break-before: page; }
.binder .part--article { max-width: 150mm; }
.binder .part--article :is(h1, h2, h3) { break-after: avoid; }
.binder .part--article li { break-inside: avoid; }
.cover { height: 250mm; display: flex; flex-direction: column; justify-content: center; gap: 6mm; page: cover; }
.cover h1 { font-size: 30pt; margin: 0; }
.cover p { font-size: 13pt; margin: 0; }
.contents a { display: flex; gap: 3mm; color: #000; text-decoration: none; padding: .8mm 0; font-size: 11pt; }
.contents a span:first-child { flex: 1; border-bottom: .5pt solid #999; }
.contents h2 { font-size: 12pt; margin: 5mm 0 1mm; }
@page { @bottom-right { content: "Page " counter(page) " of " counter(pages) } }
@page cover { @bottom-right { content: none } }
"""


class BinderError(Exception):
    """The binder cannot be made; the text says why, in one line."""


@dataclass(frozen=True, slots=True)
class Part:
    """One part of the binder.

    Attributes:
        kind: the heading of the contents that it stands under.
        path: its page in the site, without an ending.
        title: as the contents name it; HTML.
        body: HTML without links and anchors of its own.
        style: what stands in the margins of its pages; `{page}` is their name.
    """

    kind: str
    path: str
    title: str
    body: str
    style: str = ""


def make_binder(site: Path, root: Path, out: Path) -> int:
    """Write the binder.

    Args:
        site: the folder of a built site.
        root: the library's folder; its kb/ says which pages are articles.
        out: the PDF to write; it is replaced only when the new one is whole.

    Returns:
        The number of its pages.

    Raises:
        BinderError: there is no site, no browser, or the browser fails.
    """
    found = parts(site, root)
    with tempfile.TemporaryDirectory() as folder:
        page, printed = Path(folder) / "binder.html", Path(folder) / "binder.pdf"
        pages: Sequence[int] = [0] * len(found)
        for _ in range(3):
            page.write_text(document(site, found, pages), encoding="utf-8")
            _print(page, printed, Path(folder) / "profile")
            total, first = _first_pages(printed, len(found))
            if first == pages:
                out.parent.mkdir(parents=True, exist_ok=True)
                shutil.move(printed, out)
                return total
            pages = first
    raise BinderError("the pages of the binder move each time they are printed; its contents would be wrong")


def parts(site: Path, root: Path) -> list[Part]:
    """All parts in their order: sheets as the home page lists them, articles as the page of the job does, other
    written pages by name, then what they refer to.

    Raises:
        BinderError: there is no built site.
    """
    if not (site / "index.html").is_file():
        raise BinderError(f"{site}: no built site here; run `mkdocs build` first")
    trees = sorted(path.parent.name for path in (site / "alarms").glob("*/index.html") if not _is_draft(path))
    listed = dict.fromkeys(re.findall(r'data-tree="([^"]+)"', _read(site, "index")))
    order = [*(tree for tree in listed if tree in trees), *(tree for tree in trees if tree not in listed)]
    written = sorted(path.stem for path in (root / "kb").glob("*.md") if (site / f"{path.stem}.html").is_file())
    job = _read(site, JOB) if (site / "articles" / "index.html").is_file() else ""
    named = [name for name in dict.fromkeys(re.findall(r'data-article="([^"]+)"', job)) if name in written]
    articles = [*named, *(name for name in written if name not in named)]
    return [
        *(_sheet(site, tree_path(tree)) for tree in order),
        *(_article(site, name, "Articles") for name in articles if name != "index"),
        *(_article(site, path, "Reference") for path in REFERENCE if (site / f"{path}.html").is_file()),
    ]


def _is_draft(page: Path) -> bool:
    """Whether a page is that of a draft, which is for no paper."""
    return f'class="{DRAFT}"' in page.read_text(encoding="utf-8")


def document(site: Path, found: Sequence[Part], pages: Sequence[int]) -> str:
    """The whole binder as one HTML document; `pages` says on which page each part begins."""
    styles = ("look.css", "listed.css", "print.css", "article.css", "drawn.css", "pictures.css")
    looks = "".join((site / "assets" / name).read_text(encoding="utf-8") for name in styles)
    names = {part.path: f"part-{number}" for number, part in enumerate(found)}
    margins = "".join(part.style.replace("{page}", names[part.path]) for part in found)
    bodies = (_bound(part, names, site) for part in found)
    return (
        f'<!doctype html><html lang="en"><meta charset="utf-8"><title>Balloon pump alarms</title>'
        f"<style>{looks}{_OWN_STYLE}{margins}</style>"
        f'<body class="binder">{_cover(site, found)}{_contents(found, pages)}{"".join(bodies)}</body></html>'
    )


def _read(site: Path, path: str) -> str:
    return (site / f"{path}.html").read_text(encoding="utf-8")


def _sheet(site: Path, path: str) -> Part:
    """A tree's sheet; of a withdrawn tree, its page, which has none."""
    html = _read(site, path)
    start = html.find('<aside class="sheet"')
    if start < 0:
        return _article(site, path, "Alarms")
    sheet = html[start : html.index("</aside>", start) + len("</aside>")]
    style = re.search(r"<style>@media print\{(@page \{.*?\}\})", sheet, re.DOTALL)
    named = style.group(1).replace("@page ", "@page {page} ", 1) if style else ""
    body = re.sub(r"<style>.*?</style>", "", sheet, count=1, flags=re.DOTALL)
    return Part("Alarms", path, _title(html), body, named)


def _article(site: Path, path: str, kind: str) -> Part:
    html = _read(site, path)
    body = html[html.index('<article class="page"') : html.rindex("</article>") + len("</article>")]
    return Part(kind, path, _title(html), re.sub(r'(<[^>]*?) id="[^"]*"', r"\1", body))


def _title(html: str) -> str:
    heading = re.search(r"<h1[^>]*>(.*?)</h1>", html, re.DOTALL)
    return untagged(heading.group(1)).strip() if heading else "?"


def _bound(part: Part, names: Mapping[str, str], site: Path) -> str:
    """A part as it stands in the binder: links to other parts stay, all others lead nowhere on paper; pictures are
    those of the site."""

    def shown(match: re.Match[str]) -> str:
        file = normpath(join(dirname(part.path), unescape(match.group(1))))
        return f' src="{esc((site.resolve() / file).as_uri())}"'

    def linked(match: re.Match[str]) -> str:
        target = normpath(join(dirname(part.path), unescape(match.group(1)).partition("#")[0]))
        name = names.get(target.removesuffix(".html"))
        return f' href="#{name}"' if name and not match.group(1).startswith("#") else ""

    name = names[part.path]
    css = "part" if part.style else "part part--article"
    body = re.sub(r' href="([^"]*)"', linked, part.body)
    body = re.sub(r' src="([^":]*)"', shown, body).replace(' loading="lazy"', "")
    return f'<section class="{css}" id="{name}" style="page:{name}">{body}</section>'


def _cover(site: Path, found: Sequence[Part]) -> str:
    home = _read(site, "index")
    whose = re.search(r'<span class="top__whose">(.*?)</span>\s*\n', home, re.DOTALL)
    build = re.search(r'<meta name="build" content="([^"]*)"', home)
    until = sorted(day for part in found for day in re.findall(r"Do not use after (\d{4}-\d\d-\d\d)<", part.body))
    told = [
        "<h1>Balloon pump alarms</h1>",
        f"<p>{untagged(whose.group(1)).strip()}</p>" if whose else "",
        f"<p><b>Look at the patient first.</b> {STRIP}</p>",
        "<p>Reference and teaching for trained staff, not a medical device. "
        "It diagnoses nothing and decides nothing.</p>",
        f"<p><b>Each sheet says until when it may be used; the first ends on {until[0]}.</b></p>" if until else "",
        f"<p>Build {esc(build.group(1))}.</p>" if build else "",
    ]
    return f'<section class="cover">{"".join(told)}</section>'


def _contents(found: Sequence[Part], pages: Sequence[int]) -> str:
    """The list of all parts. A number takes the room of any other, so that filling them in moves nothing."""
    lines = ['<section class="part contents"><h1>Contents</h1>']
    for number, (part, page) in enumerate(zip(found, pages, strict=True)):
        if number == 0 or part.kind != found[number - 1].kind:
            lines.append(f"<h2>{part.kind}</h2>")
        lines.append(f'<a href="#part-{number}"><span>{part.title}</span><span>{page}</span></a>')
    return "".join([*lines, "</section>"])


def browser() -> str:
    """The program that prints.

    Raises:
        BinderError: there is none.
    """
    named = os.environ.get("CHROMIUM")
    program = next((path for name in ((named,) if named else BROWSERS) if (path := shutil.which(name))), None)
    if program is None:
        wanted = f"CHROMIUM names {named}, which cannot be run" if named else "Chromium is not installed"
        raise BinderError(f"{wanted}: the binder is printed with it; install Chromium or set CHROMIUM to its path")
    return program


def _print(page: Path, out: Path, profile: Path) -> None:
    """Let the browser print a page. What it prints is our own file, and asks nobody for anything."""
    command = [browser(), "--headless", "--disable-gpu", f"--user-data-dir={profile}", "--no-first-run"]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.append("--no-sandbox")  # for root, as in a container, it does not start with one
    command += ["--no-pdf-header-footer", f"--print-to-pdf={out}", page.as_uri()]
    out.unlink(missing_ok=True)
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=_SECONDS)
    except (OSError, subprocess.TimeoutExpired) as fault:
        raise BinderError(f"{command[0]}: {fault}") from fault
    if not out.is_file():
        last = (done.stderr.strip().splitlines() or [f"exit status {done.returncode}"])[-1]
        raise BinderError(f"{command[0]} printed nothing: {last}")


def _first_pages(printed: Path, count: int) -> tuple[int, list[int]]:
    """How many pages there are, and on which one each part begins, from 1."""
    reader = PdfReader(printed)
    places = reader.named_destinations
    missing = [number for number in range(count) if f"/part-{number}" not in places and f"part-{number}" not in places]
    if missing:
        raise BinderError(f"the browser did not say where part {missing[0] + 1} of the binder begins")
    found = (places.get(f"part-{number}") or places[f"/part-{number}"] for number in range(count))
    return len(reader.pages), [(reader.get_destination_page_number(place) or 0) + 1 for place in found]


def main(arguments: Sequence[str] | None = None) -> int:
    """The command. Exit status 0 where the binder is written, 1 where it cannot be."""
    parser = argparse.ArgumentParser(prog="binder", description="Prints a built site as one PDF.")
    parser.add_argument("--root", type=Path, default=Path(), help="the library's folder")
    parser.add_argument("--site", type=Path, default=Path("site"), help="the folder of the built site")
    parser.add_argument("--out", type=Path, default=Path("build/binder.pdf"), help="the PDF to write")
    chosen = parser.parse_args(arguments)
    try:
        pages = make_binder(chosen.site, chosen.root, chosen.out)
    except (BinderError, OSError) as fault:
        print(fault, file=sys.stderr)
        return 1
    print(f"{chosen.out}: {pages} pages")
    return 0


if __name__ == "__main__":
    sys.exit(main())
