"""Under a fermata the band strikes once and holds."""

import pytest

from genex.compose import compose
from genex.recipe import parse_recipe

CHART = "C6 | Dm7 fermata G7 | C6 | Fmaj7 fermata"


@pytest.fixture(scope="module", params=["swing", "bossa", "soul"])
def take(request):
    recipe = parse_recipe(f"parts: drums bass comping\nfeel: {request.param}\nchords: '{CHART}'")
    return compose(recipe, ending=True).score


def test_nobody_plays_on_under_a_fermata(take):
    for part in take.parts:
        assert not [note for note in part.notes if 4 < note.onset_beats < 6], part.name
        assert [note for note in part.notes if 6 <= note.onset_beats < 8], "then the band goes on"


def test_bass_and_chords_hold_what_sounds_there_to_the_end(take):
    for name in ("bass", "comping"):
        held = [n for n in take.part(name).notes if n.onset_beats <= 4 < n.written_end_beats]
        assert held, name
        assert all(note.written_end_beats == 6 for note in held)
        chord = take.timeline.chord_at(4).chord
        assert all(note.pitch.pitch_class in chord.pitch_classes or name == "comping" for note in held)


def test_a_loop_plays_on():
    recipe = parse_recipe(f"parts: drums bass\nfeel: swing\nchords: '{CHART}'")
    drums = compose(recipe).score.part("drums")
    assert [note for note in drums.notes if 4 < note.onset_beats < 6]
