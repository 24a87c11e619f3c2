"""Takes of the band alone come to their loudness without being flattened, at every tempo."""

from __future__ import annotations

import pytest

from genex.audio import TARGET_LUFS, Renderer, levelling_for, master
from genex.audio.mastering import MOST_LIMITING_DB, Measurement
from genex.band import groove_names
from genex.compose import compose
from genex.recipe import parse_recipe
from genex.resources import default_soundfont
from tests.band.charts import GROOVES

WORST_LEVELLING_DB = 3.2
"""What sparse feels want before it, in one moment or two."""
SETTLING_DB = 0.1
"""Limiting aims at a gain; the filter below 20 Hz after it moves a peak by so much."""
SAMPLED = [name for name in groove_names() if GROOVES[name].bass is not None][::4]


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
    return master(take, TARGET_LUFS, loop=False, most_levelling_db=levelling_for(score.parts))[1]


def test_a_click_alone_is_as_loud_as_little_limiting_allows() -> None:
    with Renderer(default_soundfont()) as renderer:
        found = taken(renderer, "click", 60)
    assert found.limited_db == pytest.approx(MOST_LIMITING_DB, abs=SETTLING_DB)
    assert found.integrated_lufs is not None and -25 < found.integrated_lufs < TARGET_LUFS
    assert found.levelled_db == 0


@pytest.mark.slow
@pytest.mark.parametrize("name", SAMPLED)
def test_takes_reach_their_loudness_with_little_limiting(name: str) -> None:
    """Within 0.2 LU [published: ITU-R BS.1770-5, as measured], with 4 dB of limiting at the most, at the
    slowest tempo, where most is wanted; the bench has the others."""
    groove = GROOVES[name]
    with Renderer(default_soundfont()) as renderer:
        found = taken(renderer, name, groove.tempo_low)
        assert found.integrated_lufs == pytest.approx(TARGET_LUFS, abs=0.2)
        assert found.limited_db <= MOST_LIMITING_DB + SETTLING_DB
        assert found.levelled_db <= WORST_LEVELLING_DB
