from __future__ import annotations

from collections.abc import Iterator

import pytest

from genex.audio import Renderer, Soundfont
from genex.resources import default_soundfont


@pytest.fixture(scope="session")
def renderer() -> Iterator[Renderer]:
    with Renderer(default_soundfont()) as loaded:
        yield loaded


@pytest.fixture(scope="session")
def soundfont() -> Iterator[Soundfont]:
    with Soundfont(default_soundfont(), 48_000) as loaded:
        yield loaded
