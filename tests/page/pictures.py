"""The picture of the page in the documentation: ``python -m tests.page.pictures`` takes it anew."""

from __future__ import annotations

import io
import tempfile
from pathlib import Path
from typing import Any

from PIL import Image
from playwright.sync_api import sync_playwright

from genex.docs import FOLDER
from tests.page.pages import FLAGS, chromium, page, write

PICTURE = FOLDER / "pictures" / "page.png"
_WIDTH, _HEIGHT = 1000, 1000
_COLOURS = 32


def taken(browser: Any, folder: Path) -> bytes:
    """The tune's page, at rest in its second bar."""
    tab = browser.new_page(viewport={"width": _WIDTH, "height": _HEIGHT}, color_scheme="light")
    tab.goto(write(folder, page()).as_uri())
    tab.wait_for_selector(".system svg")
    tab.evaluate("page.loop(2, 3); page.tick = 3840 + 960; page.refresh()")
    shot = tab.screenshot()
    tab.close()
    out = io.BytesIO()
    image = Image.open(io.BytesIO(shot)).convert("RGB")
    image.quantize(_COLOURS, dither=Image.Dither.NONE).save(out, "PNG", optimize=True)
    return out.getvalue()


if __name__ == "__main__":
    with sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=chromium(), args=list(FLAGS))
        PICTURE.write_bytes(taken(opened, Path(tempfile.mkdtemp())))
        opened.close()
