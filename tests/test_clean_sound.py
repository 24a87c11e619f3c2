"""What is heard of presets, feels and takes is clean: measured on what is written.

``tests/bench/bench_sound.py`` measures all feels and tempos; here are those that were worst, and
every preset.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from genex.audio import TARGET_LUFS, Renderer, Sound, master
from genex.resources import default_soundfont
from genex.score import INSTRUMENTS, KITS, Role
from tests.audio.material import drums, note, part, power_share, score
from tests.bench.bench_sound import lead_over_band_db, piece


@pytest.fixture(scope="module")
def renderer() -> Iterator[Renderer]:
    with Renderer(default_soundfont()) as loaded:
        yield loaded


def decibels_below_20_hz(sound: Sound) -> float:
    return float(10 * np.log10(max(power_share(sound, 0, 20), 1e-12)))


@pytest.mark.parametrize("program", sorted(set(INSTRUMENTS.values())))
def test_no_preset_has_direct_current(renderer: Renderer, program: int) -> None:
    notes = [note(str(beat), "1", 48 + 5 * beat) for beat in range(4)]
    sound, _ = master(renderer.loop(score(part(*notes, program=program, role=Role.COMPING))))
    assert decibels_below_20_hz(sound) < -60
    assert abs(sound.samples.mean()) < 1e-5


@pytest.mark.parametrize("kit", sorted(KITS.values()))
def test_no_kit_has_power_below_20_hz(renderer: Renderer, kit: int) -> None:
    notes = [note(str(beat), "1/4", key) for beat, key in enumerate((36, 38, 41, 49))]
    sound, _ = master(renderer.loop(score(drums(*notes, kit=kit))))
    assert decibels_below_20_hz(sound) < -60


@pytest.mark.parametrize(
    ("feel", "tempo"), [("ballad", 84), ("pedal", 60), ("soul", None), ("pop-ballad", 56), ("bed", None)]
)
def test_a_take_is_clean_and_as_loud_as_asked(
    renderer: Renderer, feel: str, tempo: float | None
) -> None:
    take, measured = master(renderer.take(piece(feel, tempo, ending=True)), loop=False)
    assert measured.integrated_lufs == pytest.approx(TARGET_LUFS, abs=0.2)
    assert measured.limited_db <= 4.0
    assert decibels_below_20_hz(take) < -60


@pytest.mark.parametrize("feel", ["swing", "jazz-waltz", "pop-ballad", "pedal"])
def test_the_lead_is_heard(renderer: Renderer, feel: str) -> None:
    heard = piece(feel)
    leads = [part.name for part in heard.parts if part.role.is_lead]
    others = [part.name for part in heard.parts if not part.role.is_lead]
    lead, band = (renderer.loop(heard.only(*names)) for names in (leads, others))
    assert lead_over_band_db(heard, lead, band) >= 3.0
