"""Takes the pictures of the page that the docs show, from the real page in the system's Chromium.

    python -m tests.web.screenshots [FOLDER]

Left out, the folder is docs/screenshots. Every page is taken at a desk's width; with a folder of your own also at a
phone's, and in the dark theme, to be looked at.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from kb.web.settings import Settings
from tests.web.addresses import PAGES, fill
from tests.web.conftest import FLAGS, TODAY
from tests.web.serving import in_thread

DOCS = Path(__file__).parents[2] / "docs" / "screenshots"
#: What the docs show: a few pages, cut at a screen's height.
IN_DOCS = ("choose-changed", "pair-checked", "room-wet", "shelf")


def main() -> None:
    """Serve a workspace of the invented lab, look at each page, and write a PNG of it."""
    everything = len(sys.argv) > 1
    folder = Path(sys.argv[1]) if everything else DOCS
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as workspace:
        fill(Path(workspace))
        settings = Settings(workspace=Path(workspace), today=lambda: TODAY, who="kim")
        with in_thread(settings) as site, sync_playwright() as play:
            browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=list(FLAGS))
            page = browser.new_page(base_url=site)
            for name, address in PAGES.items():
                if everything:
                    _take(page, name, address, folder, full=True)
                elif name in IN_DOCS:
                    page.set_viewport_size({"width": 1280, "height": 900})
                    page.goto(address)
                    page.screenshot(path=folder / f"{name}.png")
                print(name, file=sys.stderr)
            browser.close()


def _take(page: Page, name: str, address: str, folder: Path, *, full: bool) -> None:
    for width, theme in ((1280, "light"), (360, "dark")):
        page.set_viewport_size({"width": width, "height": 900})
        page.emulate_media(color_scheme="dark" if theme == "dark" else "light")
        page.goto(address)
        page.screenshot(path=folder / f"{name}-{width}-{theme}.png", full_page=full)


if __name__ == "__main__":
    main()
