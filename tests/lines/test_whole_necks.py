"""No tone is dropped on any neck: over all tunings, kinds of exercise and positions.

The oracle is an enumeration of the neck that knows nothing of positions: between two neighbours of
a line no tone of the chord or scale lies that the instrument has.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from genex.errors import LineError
from genex.exercises import Player
from genex.exercises.models.over_the_chart import Arpeggio, Scales
from genex.fretboard import TUNINGS, pitch_at, tuning
from genex.lines.arpeggio import arpeggio_exercise
from genex.lines.placement import chosen_positions, in_position
from genex.lines.scale_lines import scale_line
from tests.lines.line_charts import chart

CHANGES = "Dm7 | G7 | Cmaj7 | Am7"


def positions(name: str) -> list[int]:
    return sorted({1, 2, 5, 7, 9, TUNINGS[name].last_fret - 4} & set(range(1, TUNINGS[name].last_fret)))


@pytest.mark.parametrize("name", TUNINGS)
def test_a_position_lacks_no_semitone(name: str) -> None:
    neck = TUNINGS[name]
    for position in range(1, neck.last_fret - 2):
        reach = in_position(neck, position)
        assert list(reach) == list(range(reach[0], reach[-1] + 1))


@pytest.mark.parametrize("name", TUNINGS)
def test_consecutive_scale_steps_are_consecutive(name: str) -> None:
    neck = TUNINGS[name]
    timeline = chart(CHANGES)
    for position in positions(name):
        part = scale_line(timeline, Scales(position=position), Player(tuning=neck))
        for before, after in pairwise(part.notes):
            chord = timeline.chord_at(after.onset_beats).chord
            classes = timeline.reading_at(after.onset_beats).scale.pitch_classes(chord.root)
            low, high = sorted((before.midi, after.midi))
            assert not [m for m in range(low + 1, high) if m % 12 in classes], (position, before, after)
        for note in part.notes:
            assert pitch_at(neck, note.fretting.string, note.fretting.fret) == note.midi


@pytest.mark.parametrize("name", TUNINGS)
def test_arpeggios_hold_every_chord_tone(name: str) -> None:
    neck = TUNINGS[name]
    for symbol in ("C", "F#m7", "Bb9", "Gdim7", "Ab7#5"):
        timeline = chart(f"{symbol} | {symbol} | {symbol} | {symbol}")
        for position in positions(name):
            part = arpeggio_exercise(timeline, Arpeggio(position=position), Player(tuning=neck))
            chord = timeline.chord_at(part.notes[0].onset_beats).chord
            assert {note.midi % 12 for note in part.notes} == chord.pitch_classes
            if any(degree.number > 8 for degree in chord.degrees):
                continue  # stacked in thirds: tested with the stack
            for before, after in pairwise(part.notes):
                low, high = sorted((before.midi, after.midi))
                assert not [m for m in range(low + 1, high) if m % 12 in chord.pitch_classes]


@pytest.mark.parametrize("name", TUNINGS)
def test_every_kind_of_line_is_fingered_in_every_position_that_may_be_chosen(name: str) -> None:
    neck = TUNINGS[name]
    for position in chosen_positions(neck):
        reach = in_position(neck, position)
        assert len(reach) > 12 or len(neck.strings) < 3


def test_strings_that_do_not_lie_side_by_side_say_what_they_lack() -> None:
    with pytest.raises(LineError, match=r"of dorian over Am7 cannot be had on[\s\S]*it lies at string"):
        scale_line(chart("Am7", key="G"), Scales(strings=(1, 6)), Player())
    with pytest.raises(LineError, match=r"of Am7 cannot be had on[\s\S]*side by side"):
        arpeggio_exercise(chart("Am7"), Arpeggio(strings=(1, 6)), Player())


def test_an_instrument_of_few_strings_is_played_at_the_nut() -> None:
    """[common practice]: C on a ukulele, F on a bass guitar"""
    from genex.fretboard import chord_shape, forms_of
    from genex.theory import parse_chord

    for name, symbol, form, places in (
        ("ukulele", "C", "1", "3/0 2/0 2/3 1/3"),
        ("four-string bass", "F", "1", "4/1 3/0 3/3 2/3 1/2"),
    ):
        neck = tuning(name)
        assert form in {each.name for each in forms_of(neck)}
        found = chord_shape(parse_chord(symbol), neck, form)
        assert " ".join(str(note.place) for note in found.notes) == places
