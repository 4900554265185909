"""Draws the site's icons from its one mark: `python tests/browser/icons.py` writes them anew."""

from __future__ import annotations

import shutil
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

ASSETS = Path(__file__).parents[2] / "site_src" / "theme" / "assets"
MARK = ASSETS / "mark.svg"

# Name, width in pixels, and the part of it that the mark fills. A system may cut a maskable icon down to a circle
# of 80 % of the width: the mark's strokes stay inside it, its ground fills the rest.
ICONS = (("mark-192", 192, 1.0), ("mark-512", 512, 1.0), ("maskable-512", 512, 0.8))
GROUND = "#4A2F8A"


def drawn(browser: Browser, width: int, part: float) -> bytes:
    """The mark as a PNG of `width` pixels, filling `part` of it; any rest is of the mark's own ground."""
    page = browser.new_page(viewport={"width": width, "height": width})
    ground = GROUND if part < 1 else "transparent"
    size = round(width * part)
    inset = (width - size) // 2
    mark = MARK.read_text(encoding="utf-8")
    style = f"body {{margin: 0; background: {ground}}} svg {{position: fixed; inset: {inset}px; width: {size}px}}"
    page.set_content(f"<style>{style}</style>{mark}")
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
