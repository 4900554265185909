"""A browser under test shows text in the fonts of the tests alone, whatever this machine has."""

from __future__ import annotations

import os

import pytest
from playwright.sync_api import Browser

import fonts
from small_library import REPOSITORY

STYLE = (REPOSITORY / "site_src" / "theme" / "assets" / "look.css").read_text("utf-8")
PAGE = f"""<style>{STYLE}</style><h1>Look at the patient first</h1><p>first <b>first</b></p><code>0123abcd</code>
<svg><text y="20" style="font: 13px Arial, 'No such font', sans-serif">Gas line</text></svg><button>Done</button>"""

pytestmark = pytest.mark.skipif(
    not fonts.installed() and not os.environ.get("CI"),
    reason="the fonts of the tests are missing: npm ci --prefix tests",
)


@pytest.mark.parametrize("font", fonts.FAMILIES, indirect=True)
def test_all_text_is_shown_in_the_fonts_of_the_tests(browser: Browser, font: str) -> None:
    page = browser.new_page()
    page.set_content(PAGE)
    devtools = page.context.new_cdp_session(page)
    for domain in ("DOM", "CSS"):
        devtools.send(f"{domain}.enable")
    root = devtools.send("DOM.getDocument")["root"]["nodeId"]

    def families(selector: str) -> set[str]:
        node = devtools.send("DOM.querySelector", {"nodeId": root, "selector": selector})["nodeId"]
        return {one["familyName"] for one in devtools.send("CSS.getPlatformFontsForNode", {"nodeId": node})["fonts"]}

    for selector in ("h1", "p", "b", "text", "button"):
        assert families(selector) == {fonts.FAMILIES[font]}, selector
    assert families("code") == {"DejaVu Sans Mono"}
    page.close()


def test_fonts_differ_in_width(browsers) -> None:
    wide = []
    for font in fonts.FAMILIES:
        page = browsers.of(font)[0].new_page()
        page.set_content('<span style="font: 100px sans-serif">Look at the patient first</span>')
        wide.append(page.locator("span").bounding_box()["width"])
        page.close()
    narrow, common, widest = wide
    assert narrow < 0.92 * common and widest > 1.08 * common
