"""Pinned notes: where the player takes one note, the rest is fingered around it."""

from __future__ import annotations

from fractions import Fraction

import pytest

from genex.errors import LineError
from genex.exercises import Player
from genex.exercises.models.over_shapes import Shapes
from genex.exercises.models.over_the_chart import Scales
from genex.fretboard import STANDARD
from genex.fretboard.own_shapes_file import parse_fingerings
from genex.lines.pins import Pin, pinned
from genex.lines.scale_lines import scale_line
from genex.lines.study import practice_path
from genex.score import Part
from tests.lines.line_charts import chart

TIMELINE = chart("Gm7 | C7 | Fmaj7 | Fmaj7", key="F")


def line() -> Part:
    return scale_line(TIMELINE, Scales(position=5), Player())


def taken(part: Part) -> list[tuple[int, int, int | None]]:
    return [(n.fretting.string, n.fretting.fret, n.fretting.finger) for n in part.notes if n.fretting]


def test_a_pinned_note_lies_where_it_is_wished_and_the_others_stay_where_they_can() -> None:
    before = line()
    index = 9
    note = before.notes[index]
    assert note.fretting is not None
    other = note.fretting.string + 1
    part = pinned(before, TIMELINE, STANDARD, [Pin(2, Fraction(3, 2), other)])
    assert note.onset_beats == Fraction(9, 2)
    now = part.notes[index].fretting
    assert now is not None and now.string == other
    assert [n.midi for n in part.notes] == [n.midi for n in before.notes]
    same = [a == b for a, b in zip(taken(before), taken(part), strict=True)]
    assert sum(same) >= len(same) - 4
    assert all(same[: index - 3]) and all(same[index + 4 :])


def test_a_finger_can_be_pinned() -> None:
    before = line()
    place = before.notes[0].fretting
    assert place is not None and place.finger is not None
    finger = place.finger % 4 + 1
    part = pinned(before, TIMELINE, STANDARD, [Pin(1, Fraction(1), place.string, finger)])
    assert taken(part)[0] == (place.string, place.fret, finger)


def test_without_pins_nothing_changes_and_what_is_there_may_be_pinned() -> None:
    before = line()
    assert pinned(before, TIMELINE, STANDARD, []) is before
    place = before.notes[4].fretting
    assert place is not None
    part = pinned(before, TIMELINE, STANDARD, [Pin(1, Fraction(3), place.string, place.finger)])
    assert taken(part) == taken(before)


@pytest.mark.parametrize(
    ("pin", "message"),
    [
        (Pin(9, Fraction(1), 3), r"no bar 9[\s\S]*1 to 4"),
        (Pin(1, Fraction(5, 4), 3), r"no note begins on beat 1.25 of bar 1[\s\S]*begin on 1, 1.5, 2"),
        (Pin(1, Fraction(1), 1), r"does not lie on string 1[\s\S]*it lies at string"),
    ],
)
def test_what_cannot_be_pinned_is_said(pin: Pin, message: str) -> None:
    with pytest.raises(LineError, match=message):
        pinned(line(), TIMELINE, STANDARD, [pin])


def test_a_pin_leaves_the_fingers_that_a_teacher_gave() -> None:
    """Four notes with the little finger, as nobody but this teacher would have it"""
    neck = parse_fingerings("C, A form: 5/3-2 4/2-1 4/5-4 3/5-4 2/5-4 1/3-2", "house.txt").on(STANDARD)
    study = practice_path(chart("C"), Shapes(forms=("A",), times=3), Player(tuning=neck))
    before = study.parts[0]
    assert [finger for _, _, finger in taken(before)[:6]] == [2, 1, 4, 4, 4, 2]
    count = len(before.notes) // 3
    note = before.notes[count + 3]  # string 3, fret 5, on the second way up
    bar = study.timeline.bar_at(note.onset_beats)
    beat = (note.onset_beats - bar.onset_beats) / bar.meter.pulse_beats + 1
    part = pinned(before, study.timeline, neck, [Pin(bar.number, beat, 4)])
    was, now = taken(before), taken(part)
    assert now[count + 3][:2] == (4, 10)
    changed = [index for index, pair in enumerate(zip(was, now, strict=True)) if pair[0] != pair[1]]
    assert changed and all(abs(index - (count + 3)) <= 3 for index in changed)
