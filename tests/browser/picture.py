"""Takes README's picture from a built site, in the common font: `python tests/browser/picture.py site`."""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1]))

import fonts

PICTURE = Path(__file__).parents[2] / "site_src" / "picture.png"
PAGE = "alarms/gas-line-disconnected/index.html"


def main(site: Path) -> None:
    if not fonts.installed():
        sys.exit("the fonts of the tests are missing: run `npm ci` in tests/")
    with sync_playwright() as playwright, tempfile.TemporaryDirectory() as folder:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"),
            args=["--no-sandbox"],
            env={**os.environ, "FONTCONFIG_FILE": str(fonts.configured(Path(folder), "common"))},
        )
        page = browser.new_page(viewport={"width": 360, "height": 640})
        page.goto((site.resolve() / PAGE).as_uri())
        page.screenshot(path=PICTURE)
        browser.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
