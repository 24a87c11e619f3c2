"""Fermatas and ritardandos: what a take makes of them, and that a loop keeps its tempo."""

from fractions import Fraction as F
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.compose import compose
from genex.compose.tempo_signs import END_TEMPO, obeyed, with_last_ritardando
from genex.errors import InputError
from genex.export.midi import midi_bytes
from genex.recipe import parse_recipe
from tests.export.test_midi import read
from tests.lines.line_charts import chart


@given(st.integers(1, 9), st.sampled_from(["4/4", "3/4", "6/8", "7/8"]), st.integers(60, 200))
@settings(max_examples=40, deadline=None)
def test_a_ritardando_only_slows_down_and_only_at_the_end(count, meter, tempo):
    timeline = chart(" | ".join(["C"] * count), meter=meter, tempo=tempo)
    slowed = obeyed(with_last_ritardando(timeline))
    tempos = [change.tempo_bpm for change in slowed.changes]
    assert all(b < a for a, b in pairwise(tempos))
    assert abs(float(tempos[-1] / tempo) - END_TEMPO) < 0.01
    if count > 3:
        assert slowed.tempo_at(timeline.bars[-4].onset_beats) == tempo
    if count > 1:
        assert slowed.changes[-1].onset_beats == timeline.bars[-1].onset_beats


def score_of(chords, *, ending=True, head="tempo: 120", sections=None):
    body = f"chords: '{chords}'" if sections is None else f"sections: {sections}"
    return compose(parse_recipe(f"{head}\nparts: bass\nfeel: click\n{body}"), ending=ending).score


def tempos(score):
    return [(change.onset_beats, change.tempo_bpm) for change in score.tempo.changes]


def test_a_fermata_holds_its_chord_twice_as_long():
    take = score_of("C | Dm7 fermata G7 | C | C")
    assert tempos(take) == [(0, 120), (4, 60), (6, 120)]
    assert take.tempo.seconds_at(take.length_beats) == 9, "eight seconds, and one of the held chord's"
    assert tempos(score_of("C | Dm7 fermata G7 | C | C", ending=False)) == [(0, 120)]


def test_a_ritardando_lasts_to_the_next_word_or_the_end_of_its_section():
    take = score_of("C | rit. F | a tempo G7 | C")
    slowed = [at for at, tempo in tempos(take) if tempo < 120]
    assert slowed[0] == 4 and slowed[-1] == F(15, 2) and tempos(take)[-1] == (8, 120)
    parted = score_of("", sections="{A: 'C | rit. F', B: 'G7 | C'}")
    assert tempos(parted)[-1] == (8, 120)
    at_end = score_of("C | rit. F | G7 | C")
    assert tempos(at_end)[-1][0] == 12, "the last bar keeps the tempo that is reached"
    held = score_of("C | rit. F | G7 | C fermata")
    assert tempos(held)[-1] == (12, tempos(at_end)[-1][1] / 2)


def test_a_take_obeys_a_sign_the_last_time_that_it_comes_by():
    assert [at for at, _ in tempos(score_of("|: C | F fermata :|"))] == [0, 12]
    twice = score_of("C | F fermata", head="tempo: 120\nrepeats: 2")
    assert [at for at, _ in tempos(twice)] == [0, 12]
    fine = score_of("C | F fermata Fine | G7 | C | D.C. al Fine")
    assert [at for at, _ in tempos(fine)] == [0, 20], "at Fine, not on the way"
    stepped = "tempo_steps: {start: 80, end: 90}"
    assert [at for at, _ in tempos(score_of("C | F fermata", head=stepped))] == [0, 8, 16, 20]


def test_a_sign_is_not_repeated_with_its_bar():
    assert [s.onset_beats for s in score_of("C fermata | % | %% | F").timeline.signs] == [0]
    assert [s.onset_beats for s in score_of("C | % fermata | F").timeline.signs] == [4]
    assert [s.onset_beats for s in score_of("C7 F7𝄐 | C").timeline.signs] == [2]


@settings(max_examples=15, deadline=None)
@given(st.lists(st.sampled_from(["C", "F fermata", "rit. G7", "a tempo C", "Dm7 G7 fermata"]),
                min_size=2, max_size=6), st.sampled_from([97, 120, 133]))  # fmt: skip
def test_midi_keeps_step_with_the_exact_time(bars, tempo):
    take = score_of(" | ".join(bars), head=f"tempo: {tempo}\ncount_in: 0")
    exact = float(take.tempo.seconds_at(take.length_beats))
    assert abs(read(midi_bytes(take, include_lead_in=True)).length - exact) <= 40e-6


@pytest.mark.parametrize(
    ("chords", "place", "message"),
    [
        ("fermata C | F", "1:9", "'fermata' stands behind no chord"),
        ("C | F rit. G7", "1:15", "'rit.' stands inside a bar"),
        ("C | rit. a tempo F", "1:18", "stands inside a bar"),
        ("C | F | rit.", "1:20", "no bar follows 'rit.'"),
        ("C | F | %% fermata", "1:20", "behind no chord"),
    ],
)
def test_what_is_wrong_is_told_with_its_place(chords, place, message):
    with pytest.raises(InputError) as caught:
        parse_recipe(f"chords: {chords}")
    assert message in caught.value.message
    assert str(caught.value.place) == f"recipe.yaml:{place}"
