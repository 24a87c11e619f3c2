"""The contour of a phrase."""

from fractions import Fraction
from random import Random

from genex.lines.contour import Contour
from genex.lines.phrase_places import places_of
from genex.lines.rhythm import PhraseRhythm
from genex.lines.vocabulary import Vocabulary
from genex.score import Meter
from tests.lines.line_charts import chart

RHYTHM = PhraseRhythm((("x", "xx", "x", "xx"), ("xx", "x", "-x", ".")), (None, None), Meter.parse("4/4"))
PLACES = places_of(chart("C | G7"), 0, RHYTHM, ())
VOCABULARY = Vocabulary(4, tuple(range(50, 80)), 64)


def drawn(seed):
    return Contour.draw(PLACES, VOCABULARY, Random(seed), (50, 70))


def test_a_contour_stays_within_its_compass_and_costs_by_the_semitone():
    for seed in range(20):
        contour = drawn(seed)
        assert all(50 <= height <= 70 for height in contour.heights)
    contour = Contour([60.0, 64.0], [3, 12])
    assert contour.cost(0, 62) == 6 and contour.cost(1, 64) == 0 and contour.cost(1, 63) == 12


def test_a_peak_lies_on_a_beat_or_is_held_and_the_line_leads_to_it():
    for seed in range(20):
        contour = drawn(seed)
        contour.reach(PLACES, 74)
        at = contour.heights.index(74)
        assert PLACES[at].carries and 0 < at < len(PLACES) - 1
        assert all(
            abs(height - 74) <= 4 * abs(index - at) for index, height in enumerate(contour.heights[:-1])
        )


def test_what_is_taken_up_keeps_its_shape_up_to_the_ending():
    known = {place.onset_beats: 60 + index for index, place in enumerate(PLACES)}
    contour = drawn(1)
    contour.lean_on(known, "answer", PLACES, Fraction(0), Random(1))
    first = [n for n, place in enumerate(PLACES) if place.bar == 0]
    assert [contour.heights[n] for n in first] == [60 + n for n in first]
    turned = drawn(1)
    turned.lean_on(known, "inversion", PLACES, Fraction(0), Random(1))
    assert [turned.heights[n] for n in first] == [60 + len(PLACES) - 1 - n for n in first]
