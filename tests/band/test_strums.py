"""Struck chords: the way of the hand and the time it takes, by rule and in every feel."""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction

import pytest

from genex.band import groove_names, play_band
from genex.band.kit import COMPING_GUITARS
from genex.band.strums import is_up, spread_ms
from genex.score import Articulation, Meter, Note
from tests.band.charts import GROOVES, for_groove

F = Fraction
STRUCK = tuple(
    name for name in groove_names() if GROOVES[name].comping and not GROOVES[name].comping.picked
)


@pytest.mark.parametrize(
    ("meter", "struck", "ways"),
    [
        # [common practice]: eighths, sixteenths with gaps, six-eight, triplets
        ("4/4", "0 1/2 1 3/2 2 5/2", "DUDUDU"),
        ("4/4", "0 1/2 3/4 1 5/4 3/2", "DDUDUD"),
        ("6/8", "0 1/2 1 3/2 2 5/2", "DUDDUD"),
        ("7/8", "0 1/2 1 2 5/2 3", "DUDDUD"),
        ("4/4", "0 1/3 2/3 1 5/3", "DUUDU"),
    ],
)
def test_the_hand_goes_down_on_the_numbers_and_up_between(meter, struck, ways):
    onsets = [F(text) for text in struck.split()]
    pulses = Meter.parse(meter).pulses
    assert "".join("DU"[is_up(onset, pulses, onsets)] for onset in onsets) == ways


def test_a_hard_stroke_crosses_the_strings_quicker_than_a_soft_one():
    spreads = [spread_ms(loudness, 5, 7, on_guitar=True) for loudness in range(1, 10)]
    assert spreads == sorted(spreads, reverse=True) and spreads[0] > 2 * spreads[-1]
    keys = [spread_ms(loudness, 4, 0, on_guitar=False) for loudness in range(1, 10)]
    assert keys == sorted(keys, reverse=True)
    assert spread_ms(5, 1, 7, on_guitar=True) == 0


@pytest.mark.parametrize("name", STRUCK)
def test_hands_take_their_time_in_every_feel(name):
    """10 to 40 ms on a guitar, 3 to 8 ms on keys from first to last note [common practice]."""
    groove = GROOVES[name]
    line = for_groove(name, "C | F | G7 | C | Am | Dm | G7 | C", choruses=2)
    (part,) = play_band(line, groove, parts=("comping",), seed=2)
    chords: dict[Fraction, list[Note]] = defaultdict(list)
    for note in part.notes:
        if note.articulation is not Articulation.DEAD:
            chords[note.onset_beats].append(note)
    low, high = (10, 40) if groove.comping.instrument in COMPING_GUITARS else (3, 8)
    spreads = [_spread_ms(chord, float(line.tempo.tempo_at(F(0)))) for chord in chords.values()]
    tick = 60_000 / float(line.tempo.tempo_at(F(0))) / 960
    assert len(set(spreads)) > 1
    for spread in spreads:
        assert spread == 0 or low - 2 * tick <= spread <= high + 2 * tick
    assert sum(spread > 0 for spread in spreads) > 0.9 * len(spreads)


def _spread_ms(chord: list[Note], tempo: float) -> float:
    starts = [note.start_beats for note in chord]
    return float(max(starts) - min(starts)) * 60_000 / tempo
