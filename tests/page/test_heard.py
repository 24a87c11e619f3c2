"""What comes out of the page's audio graph against genex's own files, in Chromium.

The page's scheduler runs into an ``OfflineAudioContext``; genex renders the same score. Limits are the
project's: 1.0 dB for the mix, 1.5 dB for a part. ``tests/bench/bench_page.py`` measures all keys.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from genex.audio import Renderer
from genex.resources import default_soundfont
from tests.page.listening import RATE_HZ, distance_db, lag_frames
from tests.page.pages import BENT, moved, page, rendered, tune, write

BEGUN = RATE_HZ  # by then what rings over from the end of genex's loop has died away
OF_THE_MIX, OF_A_PART = 1.0, 1.5


@pytest.fixture(scope="module")
def renderer() -> Iterator[Renderer]:
    with Renderer(default_soundfont()) as loaded:
        yield loaded


@pytest.mark.parametrize(("percent", "shift"), [(100, 0), (50, -5), (150, 6)])
def test_the_mix_is_that_of_the_file_at_every_tempo_and_key(
    shown: Any, renderer: Renderer, percent: int, shift: int
) -> None:
    if shown is None:
        return
    meant = renderer.loop(moved(tune().score, shift, percent)).planes
    heard = rendered(shown, percent=percent, shift=shift)
    assert heard.shape == meant.shape  # a pass has exactly the file's length
    assert lag_frames(heard[:, BEGUN:], meant[:, BEGUN:]) == 0
    assert distance_db(heard[:, BEGUN:], meant[:, BEGUN:]) <= OF_THE_MIX
    level = 10 * np.log10((heard[:, BEGUN:] ** 2).mean() / (meant[:, BEGUN:] ** 2).mean())
    assert abs(level) < 0.5


@pytest.mark.parametrize("name", ["exercise", "guide", "drums", "bass", "comping"])
def test_every_part_is_that_of_the_file(shown: Any, renderer: Renderer, name: str) -> None:
    if shown is None:
        return
    meant = renderer.loop(tune().score.only(name)).planes[:, : 4 * RATE_HZ]
    heard = rendered(shown, only=[name], span=(0, 9 * 960))[:, : 4 * RATE_HZ]
    count = min(heard.shape[1], meant.shape[1])
    heard, meant = heard[:, BEGUN:count], meant[:, BEGUN:count]
    assert lag_frames(heard, meant) == 0
    assert distance_db(heard, meant) <= OF_A_PART


def test_bends_and_vibrato_are_those_of_the_file(
    browser: Any, renderer: Renderer, tmp_path: Path
) -> None:
    """Without them the line would be 8 dB away. Vibrato keeps its speed at a slower tempo."""
    if browser is None:
        return
    tab = browser.new_page()
    tab.goto(write(tmp_path, page(BENT)).as_uri())
    line = tune(BENT).score.only("exercise")
    for percent, shift in ((100, 0), (70, -5)):
        meant = renderer.loop(moved(line, shift, percent)).planes[:, BEGUN:]
        heard = rendered(tab, percent=percent, shift=shift, only=["exercise"])[:, BEGUN:]
        assert heard.shape == meant.shape
        assert abs(lag_frames(heard, meant)) <= 1
        assert distance_db(heard, meant) <= OF_A_PART
    tab.close()


def test_the_second_pass_begins_at_the_sample(shown: Any) -> None:
    if shown is None:
        return
    bar = 4 * 960
    both = rendered(shown, only=["bass"], passes=2, span=(0, bar))
    once = rendered(shown, only=["bass"], span=(0, bar))
    assert both.shape[1] == 2 * once.shape[1]
    length, attack = once.shape[1], RATE_HZ // 8
    again = both[:, length : length + attack] - once[:, :attack]
    first = once[:, :attack]
    # What rings over from the first pass is added; the new notes themselves are the same.
    assert np.corrcoef(both[0, length : length + attack], first[0])[0, 1] > 0.9
    assert np.abs(again).max() < 0.7 * np.abs(first).max() + 0.05


def test_no_part_is_silent_and_nothing_is_clipped(shown: Any) -> None:
    if shown is None:
        return
    heard = rendered(shown, span=(0, 4 * 960))
    peak = float(np.abs(heard).max()) * 10 ** (8 / 20)  # the page's own gain
    assert 0.2 < peak < 1.2
