"""The exercise of grips as it is written and as it sounds."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction as F
from itertools import groupby

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.compose import compose
from genex.errors import LineError, RecipeError
from genex.exercises import Player, Struck
from genex.exercises.models.comping import Grips
from genex.fretboard import TUNINGS
from genex.lines.comping import grips_through
from genex.recipe import parse_recipe
from genex.score import Articulation, Part, Stroke
from genex.score.checks import chord_faults
from tests.lines.line_charts import chart

PLAYER = Player()
TUNE = "Dm7 | G7 | Cmaj7 | A7"


def part(text: str = TUNE, *, player: Player = PLAYER, tempo: int = 120, **fields) -> Part:
    return grips_through(chart(text, tempo=tempo), Grips(**fields), player)


def strokes(part: Part) -> list[list]:
    return [list(group) for _, group in groupby(part.notes, key=lambda note: note.onset_beats)]


def test_a_grip_is_held_on_every_chord() -> None:
    found = part(rhythm="whole")
    assert found.chordal and [len(stroke) for stroke in strokes(found)] == [4] * 4
    assert chord_faults(found) == []
    for stroke in strokes(found):
        assert {note.duration_beats for note in stroke} == {4}
        assert all(note.fretting and note.fretting.finger and note.degree for note in stroke)


@pytest.mark.parametrize("spread", [10, 20, 40])
@pytest.mark.parametrize("tempo", [60, 120, 220])
def test_a_strum_takes_its_milliseconds_whatever_the_tempo(spread: int, tempo: int) -> None:
    found = part(rhythm="quarters", spread=spread, tempo=tempo)
    for stroke in strokes(found):
        starts = [float(note.offset_beats) * 60_000 / tempo for note in stroke]
        assert starts == sorted(starts), "down: from the thickest string"
        assert starts[0] == 0 and starts[-1] == pytest.approx(spread, abs=1)
        assert {note.stroke for note in stroke} == {Stroke.DOWN}
        assert {note.onset_beats for note in stroke} == {stroke[0].onset_beats}, "written together"


def test_an_up_stroke_goes_from_the_thinnest_string() -> None:
    for stroke in strokes(part(rhythm="off-beats")):
        assert {note.stroke for note in stroke} == {Stroke.UP}
        starts = [note.offset_beats for note in stroke]
        assert starts == sorted(starts, reverse=True) and starts[-1] == 0


def test_plucked_strings_sound_together() -> None:
    for note in part(rhythm="charleston", touch="pluck").notes:
        assert note.offset_beats == 0 and note.stroke is None


def test_a_feel_that_picks_lets_the_strings_ring() -> None:
    picks = tuple(Struck(F(k, 2), F(1, 2), voice=k % 3) for k in range(8))
    found = part(voicings="shell", player=Player(comping=(picks,)))
    assert all(len(stroke) == 1 for stroke in strokes(found)) and chord_faults(found) == []
    first = found.notes[0]
    assert first.duration_beats == F(1, 2) and first.sounding_beats > F(5, 4), "rings on"


def test_a_pattern_for_more_strings_goes_round_above_the_bass() -> None:
    picks = tuple(Struck(F(k, 2), F(1, 2), voice=v) for k, v in enumerate((0, 2, 3, 4, 3)))
    found = part("Dm7", voicings="shell", player=Player(comping=(picks,)))
    ladder = sorted({note.midi for note in found.notes})
    assert [ladder.index(note.midi) for note in found.notes] == [0, 2, 1, 2, 1]


def test_muted_strums_are_dead_and_short() -> None:
    bar = (Struck(F(0), F(1)), Struck(F(1), F(1), is_muted=True))
    found = part(player=Player(comping=(bar,)))
    dead = [note for note in found.notes if note.articulation is Articulation.DEAD]
    assert len(dead) == 16 and all(note.sounding_beats <= F(1, 10) for note in dead)


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(["whole", "half", "quarters", "off-beats", "charleston", "anticipated"]),
    st.sampled_from(["strum", "pluck"]),
    st.sampled_from([(("drop 2",)), ("shell", "drop 3"), ("open", "barre"), ("triad",)]),
    st.integers(40, 300),
    st.integers(10, 40),
    st.sampled_from(["standard", "ukulele", "seven-string", "open G"]),
)
def test_no_string_sounds_twice_at_a_time(rhythm, touch, voicings, tempo, spread, neck) -> None:
    player = Player(tuning=TUNINGS[neck])
    found = part(
        "Dm7 G7 | C | N.C. | F7", player=player, tempo=tempo, rhythm=rhythm, touch=touch,
        voicings=voicings, spread=spread,
    )  # fmt: skip
    assert chord_faults(found) == []


RECIPE = """
key: C
tempo: 140
feel: {feel}
chords: Dm7 | G7 | Cmaj7 | A7
exercise: {{kind: grips, voicings: "{voicings}"}}
"""


@pytest.mark.parametrize(
    "feel", ["swing", "bossa", "funk", "pop-ballad", "reggae", "shuffle", "rock", "fast-swing", "click"]
)
def test_every_feel_makes_a_sound_score_and_a_take_that_rests(feel: str) -> None:
    _rests(feel, "drop 2", 4)


@pytest.mark.parametrize("feel", ["pop-ballad", "waltz", "ballad-6-8", "nine-eight"])
@pytest.mark.parametrize("voicings", ["open, barre", "shell", "triad"])
def test_picked_feels_too_whatever_is_held(feel: str, voicings: str) -> None:
    meters = {"waltz": "3/4", "ballad-6-8": "6/8", "nine-eight": "9/8"}
    _rests(feel, voicings, 3, meter=meters.get(feel, "4/4"))


def _rests(feel: str, voicings: str, least: int, meter: str = "4/4") -> None:
    """Composes loop and take, which are checked as they are composed, and reads the take's end."""
    recipe = parse_recipe(RECIPE.format(feel=feel, voicings=voicings) + f"meter: {meter}\n")
    piece = compose(recipe).score  # a score is checked as it is composed
    assert {p.name for p in piece.parts} == {"exercise", *({"drums", "bass"} if feel != "click" else
                                             {p.name for p in piece.parts} - {"exercise"})}  # fmt: skip
    take = compose(recipe, ending=True).score
    last = take.timeline.bars[-1]
    final = [n for n in take.part("exercise").notes if n.written_end_beats == take.length_beats]
    assert {n.duration_beats for n in final} == {take.length_beats - final[0].onset_beats}
    assert len(final) >= least and final[0].onset_beats <= last.onset_beats + 2
    assert not [n for n in take.part("exercise").notes if n.onset_beats > final[0].onset_beats]


def test_strings_that_are_not_there_and_pins_are_refused() -> None:
    with pytest.raises(LineError, match="no string 7"):
        part(strings="6 7")
    text = RECIPE.format(feel="swing", voicings="shell") + "pins: [{bar: 1, beat: 1, string: 3}]\n"
    with pytest.raises((RecipeError, LineError), match="cannot be pinned"):
        compose(parse_recipe(text))


def test_the_band_leaves_the_chords_to_the_student() -> None:
    assert "comping" not in Grips.usual_parts and "exercise" in Grips.usual_parts


def test_the_same_recipe_is_the_same_and_a_tempo_step_keeps_the_chords() -> None:
    text = RECIPE.format(feel="swing", voicings="drop 2")
    assert compose(parse_recipe(text)).score == compose(parse_recipe(text)).score
    once = compose(parse_recipe(text)).score.part("exercise").grips
    stepped = compose(
        parse_recipe(text.replace("tempo: 140", "tempo_steps: {start: 80, end: 100, step: 10}"))
    )
    grips = stepped.score.part("exercise").grips
    assert [grip.places for grip in grips] == 3 * [grip.places for grip in once]
    assert [grip.onset_beats for grip in grips] == [
        16 * turn + at for turn in range(3) for at in (0, 4, 8, 12)
    ]


def test_limits_are_told() -> None:
    player = replace(Player(), loops=False)
    with pytest.raises(LineError, match="with its top voice from"):
        part(low="C2", high="D2", player=player)


def test_a_section_in_which_the_exercise_rests_has_no_grips() -> None:
    recipe = parse_recipe(
        "sections:\n  A: Dm7 | G7\n  B: {chords: C | F, rest: exercise}\nform: A B\nexercise: grips\n"
    )
    part = compose(recipe).score.part("exercise")
    assert [grip.onset_beats for grip in part.grips] == [0, 4]
    assert max(note.onset_beats for note in part.notes) < 8
