"""Hits: the band strikes together on the written counts and rests between."""

from fractions import Fraction as F

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.band import groove_names
from genex.compose import compose
from genex.compose.feels import usual_of_feel
from genex.recipe import parse_recipe
from genex.score.hits import SHORT_BEATS

BAND = "parts: drums bass comping"


def struck(score, bar):
    """By part, the written onsets in a bar."""
    inside = score.timeline.bars[bar]
    return {
        part.name: sorted(
            {
                note.onset_beats - inside.onset_beats
                for note in part.notes
                if inside.onset_beats <= note.onset_beats < inside.end_beats
            }
        )
        for part in score.parts
    }


@pytest.fixture(scope="module", params=["swing", "bossa", "funk"])
def score(request):
    chart = "'C7 | F7 {1 2& 4-} | C7 {} | Dm7 G7 {2 3&} | C7 | F7'"
    return compose(parse_recipe(f"{BAND}\nfeel: {request.param}\nchords: {chart}")).score


def test_all_strike_on_the_counts_and_nowhere_else(score):
    for part, onsets in struck(score, 1).items():
        assert onsets == [0, F(3, 2), 3], part
    for part, onsets in struck(score, 3).items():
        assert onsets == [1, F(5, 2)], part
    assert not any(struck(score, 2).values()), "a bar without counts is a break"


def test_bass_and_chords_strike_what_sounds_there_and_are_short_or_held(score):
    bass = score.part("bass")
    for bar, roots in ((1, "FFF"), (3, "DG")):
        onset = score.timeline.bars[bar].onset_beats
        inside = [note for note in bass.notes if onset <= note.onset_beats < onset + 4]
        assert "".join(str(note.pitch.name) for note in inside) == roots
        for note in (*inside, *score.part("comping").notes):
            if onset <= note.onset_beats < onset + 4:
                held = (bar, note.onset_beats) == (1, onset + 3)
                assert note.duration_beats == (1 if held else SHORT_BEATS)


def test_nothing_comes_ahead_of_hits_or_rings_into_them(score):
    """A chord struck ahead would stand in the rest before the first count."""
    for start in (4, 12):
        for part in score.parts:
            if not part.is_percussion:
                assert all(n.written_end_beats <= start for n in part.notes if n.onset_beats < start)


@settings(max_examples=10, deadline=None)
@given(
    st.sampled_from(sorted(groove_names())), st.sets(st.sampled_from(["1", "1&", "2", "2&"]), min_size=1)
)
def test_any_feel_strikes_any_counts(feel, counts):
    text = " ".join(sorted(counts))
    chart = f"{BAND}\nfeel: {feel}\nchords: 'C7 | F7 {{{text}}} | C7'"
    recipe = parse_recipe(chart, usual_of=usual_of_feel)
    for part, onsets in struck(compose(recipe).score, 1).items():
        assert len(onsets) == len(counts) or (part == "drums" and len(onsets) < len(counts)), part
