from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from genex.audio import Renderer, Soundfont, integrated_lufs
from genex.audio.key_levels import TABLE, KeyLevels
from genex.resources import default_soundfont
from tests.audio.material import note, part, score
from tests.audio.test_store import softened


def loudness(renderer: Renderer, program: int, key: int, velocity: int) -> float:
    """K-weighted, of the first half second."""
    one = score(part(note("0", "1", key, velocity), program=program), beats=1)
    return integrated_lufs(renderer.loop(one)) or -99.0


@pytest.mark.parametrize(
    ("program", "keys", "velocity"),
    [
        (11, range(78, 90), 50),
        (26, range(52, 64), 90),
        (66, range(60, 72), 75),
        (33, range(28, 40), 100),
    ],
)
def test_neighbouring_keys_are_equally_loud(
    renderer: Renderer, program: int, keys: range, velocity: int
) -> None:
    """Measured by the meter for files, not by what made the table. Steps were 3 to 8 dB."""
    found = [loudness(renderer, program, key, velocity) for key in keys]
    assert np.abs(np.diff(found)).max() < 1.5


def test_gains_belong_to_the_soundfont_that_was_measured(tmp_path: Path) -> None:
    other = tmp_path / "other.sf2"
    other.write_bytes(softened(default_soundfont().read_bytes()))
    mine, others = KeyLevels(default_soundfont()), KeyLevels(other)
    assert TABLE.is_file()
    assert mine.gain(26, 76, 60) != 1
    assert others.gain(26, 76, 60) == 1
    assert mine.gain(1, 60, 90) == 1  # a program that it does not have


def test_keys_and_velocities_beyond_the_measured_ones_have_the_nearest_gain() -> None:
    mine = KeyLevels(default_soundfont())
    assert mine.gain(26, 10, 90) == mine.gain(26, 38, 90)
    assert mine.gain(26, 120, 90) == mine.gain(26, 88, 90)
    assert mine.gain(26, 60, 1) == mine.gain(26, 60, 63)
    between = mine.gain(26, 60, 85)
    assert min(mine.gain(26, 60, v) for v in (80, 90)) <= between
    assert between <= max(mine.gain(26, 60, v) for v in (80, 90))


def test_a_note_is_the_synthesizer_s_at_that_gain(renderer: Renderer, soundfont: Soundfont) -> None:
    gain = KeyLevels(default_soundfont()).gain(26, 76, 60)
    levelled = renderer.loop(score(part(note("0", "2", 76, 60), program=26)))
    plain = Renderer(default_soundfont())
    plain._levels._presets = {}
    with plain:
        unlevelled = plain.loop(score(part(note("0", "2", 76, 60), program=26)))
    assert np.allclose(levelled.samples, unlevelled.samples * gain, atol=1e-6)
