"""Draws the site's icons from its one mark: `python tests/browser/icons.py` writes them anew."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

ASSETS = Path(__file__).parents[2] / "site_src" / "theme" / "assets"
MARK = ASSETS / "mark.svg"

# Name, width in pixels, and the part of it that the mark's circle fills; None: the circle as it is, nothing round it.
# A system cuts the others itself, a maskable one down to a circle of 80 % of the width: what matters stays inside
# that circle, and the lines and their ground go on to the edges.
ICONS = (("mark-192", 192, None), ("mark-512", 512, None), ("touch-180", 180, 0.9), ("maskable-512", 512, 0.8))
_RIM = re.compile(r'<circle class="rim"[^>]*/>')


def uncut(mark: str, part: float) -> str:
    """The mark without its circle, which would fill `part` of the picture."""
    side = 32 / part
    beside = (32 - side) / 2
    mark = mark.replace('viewBox="0 0 32 32"', f'viewBox="{beside:g} {beside:g} {side:g} {side:g}"')
    return _RIM.sub("", mark.replace(' clip-path="url(#round)"', ""))


def drawn(browser: Browser, width: int, part: float | None) -> bytes:
    """The mark as a PNG of `width` pixels."""
    page = browser.new_page(viewport={"width": width, "height": width})
    mark = MARK.read_text(encoding="utf-8")
    style = f"body {{margin: 0; background: transparent}} svg {{position: fixed; inset: 0; width: {width}px}}"
    page.set_content(f"<style>{style}</style>{uncut(mark, part) if part else mark}")
    png = page.screenshot(omit_background=True)
    page.close()
    return png


def main() -> None:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        for name, width, part in ICONS:
            (ASSETS / "icons" / f"{name}.png").write_bytes(drawn(browser, width, part))
        browser.close()


if __name__ == "__main__":
    main()
