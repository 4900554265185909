"""Every text of the page, of slides and of drawn pictures stands out from its ground, and links mean no priority."""

from __future__ import annotations

import colorsys
import re
from itertools import product
from pathlib import Path

import pytest

from played import first_edit

SOURCE = Path(__file__).parents[1] / "site_src"
SHEETS = {
    "page": SOURCE / "theme" / "assets" / "look.css",
    "slides": SOURCE / "alarmtrees" / "site" / "teaching" / "assets" / "slides.css",
}
TEXTS = [
    *product(("ink", "link"), ("paper", "strip")),
    ("quiet", "paper"),
    *((f"on-{name}", name) for name in ("link", "high", "medium", "low")),
]


def _colours(sheet: str, dark: bool) -> dict[str, str]:
    """The colours a style sheet names, as they stand for light or for dark."""
    text = SHEETS[sheet].read_text("utf-8")
    light, _, rest = text.partition("@media (prefers-color-scheme: dark)")
    found = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{3,6});", light))
    return found | (dict(re.findall(r"--([\w-]+): (#[0-9a-f]{3,6});", rest.partition("\n}")[0])) if dark else {})


def _parts(colour: str) -> tuple[float, float, float]:
    digits = colour.lstrip("#")
    digits = digits if len(digits) == 6 else "".join(digit * 2 for digit in digits)
    red, green, blue = (int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4))
    return red, green, blue


def _luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in _parts(colour)]
    return sum(share * part for share, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one: str, other: str) -> float:
    """The contrast ratio of WCAG 2.2."""
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)


def _turn(one: str, other: str) -> float:
    """How far two hues are apart on the colour circle, in degrees."""
    first, second = (colorsys.rgb_to_hsv(*_parts(colour))[0] * 360 for colour in (one, other))
    return min(abs(first - second), 360 - abs(first - second))


def test_contrast_by_the_ends_that_the_standard_names() -> None:
    assert contrast("#000", "#ffffff") == pytest.approx(21)
    assert contrast("#17212b", "#17212b") == 1


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize("sheet", SHEETS)
def test_every_text_reaches_seven_to_one(sheet: str, dark: bool) -> None:
    colours = _colours(sheet, dark)
    weak = {pair: contrast(colours[pair[0]], colours[pair[1]]) for pair in TEXTS}
    assert not {pair: ratio for pair, ratio in weak.items() if ratio < 7}
    assert contrast(colours["line"], colours["paper"]) >= 3


@pytest.mark.parametrize("dark", [False, True])
def test_a_link_has_the_colour_of_no_priority(dark: bool) -> None:
    colours = _colours("page", dark)
    assert min(_turn(colours["link"], colours[name]) for name in ("high", "medium", "low")) > 30
    assert {name: colours[name] for name in ("link", "paper")} == {
        name: _colours("slides", dark)[name] for name in ("link", "paper")
    }


def test_drawn_pictures_wear_the_colours_of_the_page() -> None:
    colours = _colours("page", dark=False)
    drawn = {"ink": first_edit._INK, "quiet": first_edit._QUIET, "link": first_edit._LINK, "paper": first_edit._PAPER}
    assert {name: colour.lower() for name, colour in drawn.items()} == {name: colours[name] for name in drawn}
    assert contrast(first_edit._INK, first_edit._MARK) >= 7


def test_the_mark_wears_the_colours_of_the_page() -> None:
    mark = (SOURCE / "theme" / "assets" / "mark.svg").read_text("utf-8").lower()
    light, dark = _colours("page", False), _colours("page", True)
    assert set(re.findall(r"#[0-9a-f]{6}", mark)) == {light["ink"], light["paper"], dark["link"], dark["line"]}
