"""Takes of the band alone come to their loudness without being flattened, at every tempo."""

from __future__ import annotations

import pytest

from genex.audio import TARGET_LUFS, Renderer, limiting_for, master
from genex.audio.mastering import CLICK_LIMITING_DB, MOST_LIMITING_DB, Measurement
from genex.band import groove_names
from genex.compose import compose
from genex.recipe import parse_recipe
from genex.resources import default_soundfont
from tests.band.charts import GROOVES

WORST_DB = 4.0
STILL_OVER_DB = {
    "ballad": 7.0,
    "bolero": 6.7,
    "five-four": 5.3,
    "funk": 5.2,
    "shuffle": 4.9,
    "slow-blues": 5.2,
}
"""Feels whose chord and bass fall together in one peak at the slowest tempo: measured, a little more."""
SETTLING_DB = 0.1
"""Limiting aims at a gain; the filter below 20 Hz after it moves a peak by so much."""


def taken(renderer: Renderer, name: str, tempo: float) -> Measurement:
    groove = GROOVES[name]
    meter = str(groove.meters[0]) if groove.meters else "4/4"
    score = compose(
        parse_recipe(
            f"feel: {name}\nmeter: {meter}\ntempo: {tempo:g}\nrepeats: 2\n"
            "chords: 'Dm7 | G7 | Cmaj7 | Am7 |'\nparts: [drums, bass, comping]"
        ),
        ending=True,
    ).score
    take = renderer.take(score)
    return master(take, TARGET_LUFS, loop=False, most_limiting_db=limiting_for(score.parts))[1]


def test_a_click_alone_is_as_loud_as_little_limiting_allows() -> None:
    with Renderer(default_soundfont()) as renderer:
        found = taken(renderer, "click", 60)
    assert found.limited_db == pytest.approx(CLICK_LIMITING_DB, abs=SETTLING_DB)
    assert found.integrated_lufs is not None and -25 < found.integrated_lufs < TARGET_LUFS
    assert CLICK_LIMITING_DB < MOST_LIMITING_DB


@pytest.mark.slow
@pytest.mark.parametrize("name", [name for name in groove_names() if GROOVES[name].bass is not None])
def test_takes_reach_their_loudness_with_little_limiting(name: str) -> None:
    """Within 0.2 LU [published: ITU-R BS.1770-5, as measured], with 4 dB of limiting at the most but in
    the few feels of the table, at the slowest, usual and fastest tempo: a wish of those who listen."""
    groove = GROOVES[name]
    with Renderer(default_soundfont()) as renderer:
        for tempo in sorted({groove.tempo_low, groove.tempo_usual, groove.tempo_high}):
            found = taken(renderer, name, tempo)
            assert found.integrated_lufs == pytest.approx(TARGET_LUFS, abs=0.2), tempo
            assert found.limited_db <= STILL_OVER_DB.get(name, WORST_DB) + SETTLING_DB, tempo
