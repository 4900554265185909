"""Plays the guide for a first change through, and draws its pictures: kb/first-edit.md and kb/first-edit/.

What the programs print goes between the markers of the page, as in pull_request.py. The pictures show the lines of the
same small invented tree. A test plays and draws again and compares; to write all anew:

    python -m played.first_edit        # in tests/; with --reader also the picture of the site, with Chromium
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

from played.pull_request import REPOSITORY, TODAY, TREE, Played, Stage, _fenced, _set_up, filled

PAGE = REPOSITORY / "kb" / "first-edit.md"
PICTURES = REPOSITORY / "kb" / "first-edit"
READER = "reader.png"

NAME = ("in two parts]", "in two parts, tube came off]")
QUESTION = "ask: Does the balloon move with every beat?"
SLIP = "ask: After each beat: does the balloon move?"
QUOTED = 'ask: "After each beat: does the balloon move?"'


def play(folder: Path) -> tuple[Played, dict[str, str]]:
    """Play the change through.

    Args:
        folder: an empty folder to work in.

    Returns:
        What was printed, and the pictures by file name.
    """
    stage, played = Stage(folder), Played()
    _set_up(stage)
    tree = stage.root / TREE
    pictures = {"file.svg": _file(tree), "journey.svg": _journey()}
    stage.git("switch", "-q", "-c", "first-change")
    stage.edit((NAME,))
    pictures["name.svg"] = _name(tree)
    stage.edit(((QUESTION, SLIP),))
    played.blocks["slip"] = _fenced(stage.alarmtrees("check", "--today", TODAY, status=1))
    pictures["slip.svg"] = _question(
        tree, SLIP, "The second colon: the program cannot tell what is name, what is text."
    )
    stage.edit(((SLIP, QUOTED),))
    played.blocks["mended"] = _fenced(stage.alarmtrees("check", "--today", TODAY))
    pictures["quotes.svg"] = _question(tree, QUOTED, "Quotes around the whole text, and the colon belongs to it.")
    stage.git("commit", "-q", "-am", "A name, and a question that says when to look")
    played.blocks["compare"] = _fenced(stage.alarmtrees("compare", "main", "first-change"))
    return played, pictures


# ------------------------------------------------------------------ pictures

WIDE, ROW, LEFT, SIGN = 656, 24, 44, 8.4
"""Width of a picture, height of a line, where the text begins, width of a sign: all in pixels."""
_SANS = "system-ui, 'Segoe UI', Roboto, 'DejaVu Sans', sans-serif"
_MONO = "ui-monospace, Consolas, 'DejaVu Sans Mono', monospace"
_INK, _QUIET, _LINK, _PAPER, _MARK, _EDGE = "#17212B", "#465360", "#24523A", "#FBFAF7", "#D5EBDB", "#7A8692"


@dataclass(frozen=True)
class Line:
    """One line of a file.

    Attributes:
        number: its number; None for a gap.
        text: its signs.
        marked: the part that is marked, "" for none.
        note: what is said below it, "" for nothing.
    """

    number: int | None
    text: str
    marked: str = ""
    note: str = ""


def _lines(path: Path) -> list[str]:
    return path.read_text("utf-8").splitlines()


def _at(lines: list[str], beginning: str) -> int:
    """The number of the one line that begins so."""
    (number,) = [number for number, line in enumerate(lines, 1) if line.strip().startswith(beginning)]
    return number


def _shown(lines: list[str], beginning: str, marked: str = "", note: str = "") -> Line:
    number = _at(lines, beginning)
    text = lines[number - 1]
    if len(text) > 70:  # the end matters less than that it fits, unless the end is marked
        text = f"{text[:20]} … {text[-46:]}" if marked and marked in text[-46:] else f"{text[:68]} …"
    return Line(number, text, marked, note)


def _file(tree: Path) -> str:
    lines = _lines(tree)
    return drawn(
        "The beginning of the file of an alarm, with what each part is",
        [
            _shown(lines, "title:", "title:", "A name, a colon, a blank, then its text: here the title of the page."),
            _shown(lines, "aliases:", "aliases:", "A list: the other names, in brackets, commas between them."),
            Line(None, ""),
            _shown(
                lines,
                "look-at-patient:",
                "look-at-patient:",
                "A step has a name of its own. What belongs to it stands further in.",
            ),
            _shown(lines, "ask: Are pulse", "ask:", "The question, as the reader sees it."),
            Line(_at(lines, "ask: Are pulse") + 2, "    answers:"),
            _shown(lines, "- {say: As before,", "say: As before", "A dash for each answer. “say” is what is seen …"),
            _shown(lines, "- {say: Weaker", "to: worse", "… and “to” is the step that comes next."),
        ],
    )


def _name(tree: Path) -> str:
    lines = _lines(tree)
    note = "New: a comma, a blank, the words. The bracket stays last."
    return drawn(
        "The line with the other names, one more at its end", [_shown(lines, "aliases:", ", tube came off", note)]
    )


def _question(tree: Path, text: str, note: str) -> str:
    lines = _lines(tree)
    number = _at(lines, "does-it-move:")
    return drawn(
        "The question in the file",
        [Line(number, lines[number - 1]), _shown(lines, text, text.removeprefix("ask: "), note)],
    )


def drawn(title: str, lines: list[Line]) -> str:
    """Lines of a file as a picture, numbered, marked and explained."""
    body: list[str] = []
    y = ROW
    for line in lines:
        body += _row(line, y)
        y += ROW
        if line.note:
            body.append(_text(LEFT + SIGN * 2, y, f"↑ {line.note}", _LINK, _SANS, 14))
            y += ROW + 6
    return _svg(title, y - 8, body)


def _row(line: Line, y: int) -> Iterator[str]:
    if line.number is None:
        yield _text(LEFT, y, "…", _QUIET, _MONO, 14)
        return
    if line.marked:
        begin, size = line.text.index(line.marked), len(line.marked)
        x = LEFT + begin * SIGN - 2
        yield f'<rect x="{x:.1f}" y="{y - 17}" width="{size * SIGN + 4:.1f}" height="{ROW}" rx="3" fill="{_MARK}"/>'
    yield _text(LEFT - 14, y, str(line.number), _QUIET, _MONO, 14, ' text-anchor="end"')
    indent = len(line.text) - len(line.text.lstrip())
    text = line.text.strip()
    fixed = f' textLength="{len(text) * SIGN:.1f}" lengthAdjust="spacingAndGlyphs"'  # whatever the machine's font
    yield _text(LEFT + indent * SIGN, y, text, _INK, _MONO, 14, fixed)


def _text(x: float, y: int, text: str, fill: str, font: str, size: int, more: str = "") -> str:
    return (
        f'<text x="{x:.1f}" y="{y}" font-family="{font}" font-size="{size}" fill="{fill}"{more}>{escape(text)}</text>'
    )


def _svg(title: str, height: int, body: list[str]) -> str:
    frame = f'<rect x="0.5" y="0.5" width="{WIDE - 1}" height="{height - 1}" rx="6" fill="{_PAPER}" stroke="{_EDGE}"/>'
    head = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE} {height}" width="{WIDE}" height="{height}"'
    return "\n".join([f'{head} role="img" aria-label={quoteattr(title)}>', frame, *body, "</svg>", ""])


_STATIONS = [
    ("You", "change the words"),
    ("The checks", "read every way"),
    ("A colleague", "reads whose advice changes"),
    ("The lead", "signs the page"),
    ("The reader", "sees it on the site"),
]


def _journey() -> str:
    body = []
    for number, (who, what) in enumerate(_STATIONS):
        y = 14 + number * 62
        body.append(f'<rect x="118" y="{y}" width="420" height="42" rx="6" fill="#FFFFFF" stroke="{_EDGE}"/>')
        body.append(_text(134, y + 26, who, _LINK, _SANS, 16, ' font-weight="600"'))
        body.append(_text(270, y + 26, what, _INK, _SANS, 16))
        if number:
            body.append(
                f'<path d="M328 {y - 19} v13 m-5 -5 l5 5 l5 -5" fill="none" stroke="{_INK}" stroke-width="1.5"/>'
            )
    back = "Whoever finds a fault sends it back to you. Nothing is lost, and no reader has seen it."
    y = 14 + len(_STATIONS) * 62 + 8
    body.append(_text(WIDE / 2, y, back, _INK, _SANS, 14, ' text-anchor="middle"'))
    return _svg("The way of a change: you, the checks, a colleague, the lead, the reader", y + 20, body)


def reader(folder: Path) -> bytes:
    """The changed step on the built site, as a phone shows it: a picture by Chromium."""
    from playwright.sync_api import sync_playwright

    stage = Stage(folder)
    _set_up(stage)
    stage.edit((NAME, (QUESTION, QUOTED)))
    stage.alarmtrees("sign", "line-apart", "--by", "lead perfusionist", "--on", TODAY)
    site = folder / "site"
    stage.run(sys.executable, "-m", "mkdocs", "build", "-q", "-d", str(site))
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=_chromium())
        page = browser.new_page(viewport={"width": 360, "height": 560}, color_scheme="light")
        page.goto((site / "alarms" / "line-apart" / "index.html").as_uri())
        for to in ("look-for-blood", "reconnect", "does-it-move"):
            page.locator(f'button[data-to="{to}"]:visible').first.click()
        page.locator('[data-node="does-it-move"]').first.scroll_into_view_if_needed()
        picture = page.screenshot()
        browser.close()
    return _small(picture)


def _small(picture: bytes) -> bytes:
    """The same in 64 colours, a quarter of the size."""
    from PIL import Image

    small = BytesIO()
    Image.open(BytesIO(picture)).convert("RGB").quantize(64).save(small, "PNG", optimize=True)
    return small.getvalue()


def _chromium() -> str:
    found = subprocess.run(["which", "chromium", "chromium-browser"], capture_output=True, text=True, check=False)
    return found.stdout.split()[0]


def main() -> None:
    """Write page and pictures anew."""
    with tempfile.TemporaryDirectory() as folder:
        played, pictures = play(Path(folder))
    for name, text in pictures.items():
        (PICTURES / name).write_text(text, "utf-8")
    PAGE.write_text(filled(PAGE.read_text("utf-8"), played), "utf-8")
    if "--reader" in sys.argv:
        with tempfile.TemporaryDirectory() as folder:
            (PICTURES / READER).write_bytes(reader(Path(folder)))


if __name__ == "__main__":
    main()
