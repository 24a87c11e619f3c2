"""A grip and the names of its tones."""

from __future__ import annotations

from genex.fretboard import STANDARD, TUNINGS
from genex.fretboard.grip import named_grip
from genex.fretboard.held import held_chord
from genex.theory import parse_chord


def test_tones_are_named_from_the_lowest_voice_up() -> None:
    held = held_chord({5: 3, 4: 2, 2: 1, 3: 0, 1: 0}, STANDARD)
    assert held is not None
    grip = named_grip("open", parse_chord("C"), STANDARD, held)
    assert grip.strings == (5, 4, 3, 2, 1)
    assert [str(pitch) for pitch in grip.pitches] == ["C3", "E3", "G3", "C4", "E4"]
    assert [str(grip.degrees[string]) for string in grip.strings] == ["1", "3", "5", "1", "3"]
    assert str(grip.bass) == "1" and grip.midis == (48, 52, 55, 60, 64)
    assert grip.position == 1, "finger 1 on fret 1, 2 on 2, 3 on 3"


def test_voices_go_by_pitch_where_strings_do_not() -> None:
    held = held_chord({4: 0, 3: 0, 2: 0, 1: 3}, TUNINGS["ukulele"])
    assert held is not None
    grip = named_grip("open", parse_chord("C"), TUNINGS["ukulele"], held)
    assert grip.strings == (3, 2, 4, 1) and list(grip.midis) == sorted(grip.midis)


def test_the_position_is_the_fret_of_the_first_finger() -> None:
    for symbol, frets, position in (
        ("G7", {6: 3, 4: 3, 3: 4}, 3),
        ("Dm7", {5: 5, 4: 3, 3: 5}, 3),
        ("Em", {3: 0, 2: 0, 1: 0}, 0),
        ("Cmaj7", {5: 3, 4: 5, 3: 4, 2: 5}, 3),
    ):
        held = held_chord(frets, STANDARD)
        assert held is not None
        assert named_grip("shell", parse_chord(symbol), STANDARD, held).position == position
