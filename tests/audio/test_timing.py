from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from genex.audio.timing import Placement, SampleClock, Strike, choke_gaps, placements
from genex.score import Bend, TempoChange, TempoMap
from tests.audio.material import drums, note, part, slide

tempos = st.fractions(min_value=20, max_value=400, max_denominator=1000)


@st.composite
def tempo_maps(draw: st.DrawFn) -> TempoMap:
    onsets = sorted(draw(st.sets(st.integers(1, 300), max_size=3)))
    changes = [TempoChange(Fraction(onset), draw(tempos)) for onset in [0, *onsets]]
    return TempoMap(tuple(changes))


@given(tempo_maps(), st.integers(-500, 300_000), st.sampled_from([44_100, 48_000]), st.integers(0, 8))
def test_the_clock_agrees_with_the_tempo_map_to_the_sample(
    tempo: TempoMap, ticks: int, rate_hz: int, lead: int
) -> None:
    clock = SampleClock(tempo, rate_hz, Fraction(lead))
    shifted = tempo.shifted(Fraction(lead)) if lead else tempo
    assert clock.sample_at(ticks) == shifted.sample_at(Fraction(ticks, 960) + lead, rate_hz)


def test_equal_notes_are_one_strike() -> None:
    line = part(note("0", "1", 60), note("1", "1", 60), note("2", "1", 62), note("3", "1/2", 60))
    placed = placements(line, SampleClock(TempoMap.constant(Fraction(120)), 48_000))
    assert [p.start_sample for p in placed] == [0, 24_000, 48_000, 72_000]
    assert len({p.strike for p in placed}) == 3
    assert placed[0].strike == Strike(False, 24, 60, 90, 375)


def test_a_bend_becomes_a_curve_in_blocks_and_cents() -> None:
    bent = replace(note("0", "1", 60), bend=Bend(2, releases=True))
    (placed,) = placements(part(bent), SampleClock(TempoMap.constant(Fraction(120)), 48_000))
    # a third of half a second up, held to its middle, a quarter of it back
    assert placed.strike.curve == ((0, 0), (125, 200), (188, 200), (281, 0))
    assert not placed.strike.keeps_pitch
    assert placed.strike.bend_semitones == 0


def test_a_slide_becomes_a_bend_of_its_own_length() -> None:
    line = part(note("0", "1", 60, slide=slide(-2, "1/4")))
    (placed,) = placements(line, SampleClock(TempoMap.constant(Fraction(120)), 48_000))
    assert (placed.strike.bend_semitones, placed.strike.bend_blocks) == (-2, 94)


def hits(*found: tuple[int, int]) -> list[Placement]:
    return [Placement(sample, Strike(True, 0, key, 90, 10)) for sample, key in found]


OPEN, CLOSED, SNARE = 46, 42, 38
CLASSES = {OPEN: 1, CLOSED: 1, SNARE: 0}


def test_a_closed_hi_hat_cuts_off_the_open_one() -> None:
    gaps = choke_gaps(hits((0, OPEN), (3200, SNARE), (6400, CLOSED)), CLASSES, None)
    assert [gap for _, gap in gaps] == [100, 0, 0]


def test_in_a_loop_the_last_open_hi_hat_is_cut_off_by_the_first_note_of_the_next_pass() -> None:
    gaps = choke_gaps(hits((640, CLOSED), (32_000, OPEN)), CLASSES, 64_000)
    assert [gap for _, gap in gaps] == [490, 510]


def test_drums_take_kits_and_percussion_keys() -> None:
    (placed,) = placements(
        drums(note("0", "1/4", SNARE), kit=40), SampleClock(TempoMap.constant(Fraction(60)), 48_000)
    )
    assert placed.strike == Strike(True, 40, SNARE, 90, 188)
