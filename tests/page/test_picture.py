"""The picture of the page in the documentation is of the page as it is."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from tests.page.pictures import PICTURE, taken

MOST_APART = 12.0
"""Of 255, in the mean: the letters are those of whatever machine it is."""


def test_the_picture_shows_the_page_as_it_is(browser: Any, tmp_path: Path) -> None:
    if browser is None:
        return
    kept, now = (
        np.asarray(Image.open(io.BytesIO(data)).convert("L"), dtype=float)
        for data in (PICTURE.read_bytes(), taken(browser, tmp_path))
    )
    assert kept.shape == now.shape
    assert np.abs(kept - now).mean() < MOST_APART
