"""How lines lie on the neck: approaches, passages that come again, slides, one string.

[common practice] throughout; the properties are checked on the notes alone.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.exercises import Player
from genex.exercises.models.over_the_chart import Arpeggio, Etude, Targets
from genex.fretboard import STANDARD, HandMove, along_strings, chord_shape, finger_line, pitch_at
from genex.fretboard.fingering import line_cost
from genex.fretboard.hand import IMPOSSIBLE, states_of
from genex.fretboard.wishes import Wishes
from genex.lines.arpeggio import arpeggio_exercise
from genex.lines.etude import etude
from genex.lines.placement import fingered, off_open_strings
from genex.lines.targets import APPROACHES, target_line
from genex.score import Note, Slide
from genex.theory import Pitch, parse_chord
from tests.lines.line_charts import chart

CHANGES = "Gm7 | C7 | Fmaj7 | D7"
A_A_B_A = " | ".join(
    [*("Gm7 | C7 | Fmaj7 | Fmaj7",) * 2, "Bm7b5 | E7 | Am7 | D7", "Gm7 | C7 | Fmaj7 | Fmaj7"]
)


def written(midis: list[int], start: Fraction = Fraction(0)) -> list[Note]:
    half = Fraction(1, 2)
    return [Note(start + half * i, half, Pitch.from_midi(midi)) for i, midi in enumerate(midis)]


@pytest.mark.parametrize("kind", sorted(set(APPROACHES) - {"slide up", "slide down"}))
@pytest.mark.parametrize("position", [2, 5, 9, None])
def test_an_approach_and_its_target_lie_side_by_side(kind: str, position: int | None) -> None:
    part = target_line(chart(CHANGES, key="F"), Targets(approaches=(kind,), position=position), Player())
    for before, note in pairwise(part.notes):
        a, b = before.fretting, note.fretting
        assert a is not None and b is not None
        if abs(before.midi - note.midi) <= 2:
            assert abs(a.string - b.string) <= 1
            assert abs(a.fret - b.fret) <= 4


under_the_hand = st.sampled_from([57, 60, 62, 64, 65, 67, 69, 72])


@settings(max_examples=25, deadline=None)
@given(st.lists(under_the_hand, min_size=6, max_size=10), st.lists(under_the_hand, max_size=6))
def test_a_passage_that_comes_again_is_played_alike(passage: list[int], between: list[int]) -> None:
    """In one position; where it would make the hand shift more, the passage may differ"""
    gap = Fraction(len(passage) + len(between), 2)
    notes = [
        *written(passage),
        *written(between, Fraction(len(passage), 2)),
        *written(passage, gap),
    ]
    line = [note.fretting for note in fingered(notes, STANDARD, off_open_strings(5))]
    count = len(passage)
    again = line[-count:]
    alike = [(f.string, f.fret, f.finger) for f in line[:count] if f is not None]
    assert alike == [(f.string, f.fret, f.finger) for f in again if f is not None]


def test_the_a_sections_of_a_tune_are_fingered_alike() -> None:
    """An etude that repeats its phrases: same bar, same fingers"""
    timeline = chart(A_A_B_A, key="F")
    notes = [
        *written([62, 65, 67, 70, 69, 67, 65, 64]),
        *written([62, 65, 67, 70, 69, 67, 65, 64], Fraction(16)),
        *written([71, 69, 68, 64, 62, 59, 57, 56], Fraction(32)),
        *written([62, 65, 67, 70, 69, 67, 65, 64], Fraction(48)),
    ]
    assert timeline.length_beats == 64
    line = [note.fretting for note in fingered(notes, STANDARD, off_open_strings(5))]
    first, second, last = line[:8], line[8:16], line[24:]
    assert [(f.string, f.fret, f.finger) for f in first if f] == [
        (f.string, f.fret, f.finger) for f in second if f
    ]
    assert first[1:] == last[1:]


@pytest.mark.parametrize("seed", range(8))
def test_no_roll_into_a_slide(seed: int) -> None:
    timeline = chart(A_A_B_A, key="F")
    lines = [
        etude(timeline, Etude(slides=True), Player(seed=seed)),
        target_line(timeline, Targets(approaches=("slide up", "slide down")), Player(seed=seed)),
    ]
    slid = [note for part in lines for note in part.notes if note.slide is not None]
    assert slid
    assert all(note.fretting is not None and note.fretting.move is not HandMove.ROLL for note in slid)


def test_a_note_slid_into_is_taken_by_another_finger_than_rolls() -> None:
    notes = written([64, 69])  # string 2 and 1, fret 5: rolled, were it not for the slide
    plain = fingered(notes, STANDARD, off_open_strings(5))
    assert [note.fretting.move for note in plain if note.fretting] == [HandMove.NONE, HandMove.ROLL]
    slid = [
        notes[0],
        Note(notes[1].onset_beats, Fraction(1, 2), notes[1].pitch, slide=Slide(-1, Fraction(1, 4))),
    ]
    other = [note.fretting for note in fingered(slid, STANDARD, off_open_strings(5))]
    assert other[1] is not None and other[1].move is not HandMove.ROLL


def test_a_reach_back_is_preferred_to_a_shift_and_to_the_same_pitch_elsewhere() -> None:
    """E flat at the first string's fret 11 in a C minor arpeggio that lies in twelfth position"""
    path = [60, 63, 67, 72, 75, 79]
    midis = [*path, *path[-2::-1]]
    line = finger_line(midis, STANDARD, off_open_strings(12))
    there = ["5/15", "4/13", "3/12", "2/13", "1/11", "1/15"]
    assert [str(note.place) for note in line] == [*there, *there[-2::-1]]
    assert {note.position for note in line} == {12}
    assert (line[4].finger, line[4].position, line[4].fret) == (1, 12, 11)


# Along one string.


@pytest.mark.parametrize("symbol", ["C", "Cm7", "C7", "Cmaj7", "Gm", "F#m7b5", "Adim7", "Bb9", "E"])
@pytest.mark.parametrize("string", [1, 2, 3, 4, 5, 6])
def test_along_one_string_the_hand_shifts_as_seldom_as_can_be(symbol: str, string: int) -> None:
    """The oracle counts the shifts of every fingering; one more is granted to spare a stretch"""
    chord = parse_chord(symbol)
    found = along_strings(chord.degrees, chord.root, STANDARD, (string,))
    walked = [step.note for step in found.path][: len(found.notes) - found.lowest_root]
    shifts = sum(a.position != b.position for a, b in pairwise(walked))
    states = states_of(STANDARD, None)
    fewest: dict[int, int] = {}
    for number, note in enumerate(walked):
        span = states.span[note.midi]
        ways = [i for i in range(span.start, span.stop) if states.string[i] == string]
        fewest = {
            i: min(
                (
                    count + int(states.position[i] != states.position[j])
                    for j, count in fewest.items()
                    if states.change[i, j] < IMPOSSIBLE
                ),
                default=0 if number == 0 else len(walked),
            )
            for i in ways
        }
    assert shifts <= min(fewest.values()) + 1


def test_slides_and_held_notes_keep_the_line_the_cheapest_of_those_that_keep_them() -> None:
    midis = [pitch_at(STANDARD, 3, 5), pitch_at(STANDARD, 2, 5), pitch_at(STANDARD, 2, 8)]
    free = finger_line(midis, STANDARD, Wishes(5))
    held = finger_line(midis, STANDARD, Wishes(5), held=[None, None, free[2]])
    assert held == free
    assert line_cost(held, STANDARD, Wishes(5)) == line_cost(free, STANDARD, Wishes(5))
    assert {note.move for note in free} <= set(HandMove)


@pytest.mark.parametrize(
    ("symbol", "form"),
    [*(("C", form) for form in "CAGED"), *((s, form) for s in ("Cm7", "C7") for form in "AGE")],
)
def test_an_arpeggio_in_a_form_is_fingered_as_its_shape(symbol: str, form: str) -> None:
    found = chord_shape(parse_chord(symbol), STANDARD, form)
    up = [step.note for step in found.path][: len(found.notes) - found.lowest_root]
    bars = " | ".join([symbol] * 3)
    part = arpeggio_exercise(chart(bars), Arpeggio(form=form), Player())
    frettings = [note.fretting for note in part.notes[: len(up)]]
    assert [(f.string, f.fret, f.finger) for f in frettings if f is not None] == [
        (note.string, note.fret, note.finger) for note in up
    ]


def test_a_line_comes_down_as_it_went_up() -> None:
    """Arpeggios up and back, bar by bar, left to the hand: the same places and fingers both ways"""
    bars = [
        [50, 53, 57, 60, 62, 60, 57, 53],
        [55, 59, 62, 65, 67, 65, 62, 59],
        [48, 52, 55, 59, 60, 59, 55, 52],
        [57, 61, 64, 67, 69, 67, 64, 61],
    ]
    line = [note.fretting for note in fingered(written([m for bar in bars for m in bar]), STANDARD)]
    taken = [(f.string, f.fret, f.finger) for f in line if f is not None]
    for start in range(0, 32, 8):
        bar = taken[start : start + 8]
        assert bar[1:4] == bar[:4:-1]


@pytest.mark.parametrize("seed", range(40))
def test_etudes_measured(seed: int) -> None:
    """[common practice] over 40 etudes: steps lie side by side, nothing is rolled into a slide, and
    a bar that comes again has the fingers that it had"""
    tunes = [CHANGES, "Cm7 | F7 | Bbmaj7 | G7", "Dm7b5 | G7 | Cm6 | Cm6", "Bb7 | Eb7 | Bb7 | G7"]
    a, b = tunes[seed % 4], tunes[(seed + 1) % 4]
    timeline = chart(" | ".join([a, a, b, a]), key="F")
    part = etude(timeline, Etude(level=1 + seed % 6, slides=True), Player(seed=seed))
    seen: dict[object, list[object]] = {}
    for before, note in pairwise(part.notes):
        assert before.fretting is not None and note.fretting is not None
        assert note.slide is None or note.fretting.move is not HandMove.ROLL
        if abs(before.midi - note.midi) <= 2 and before.written_end_beats == note.onset_beats:
            assert abs(before.fretting.string - note.fretting.string) <= 1
            assert abs(before.fretting.fret - note.fretting.fret) <= 4
    for bar in timeline.bars:
        notes = [n for n in part.notes if bar.onset_beats <= n.onset_beats < bar.end_beats]
        key = tuple((n.midi, n.onset_beats - bar.onset_beats, n.duration_beats) for n in notes)
        fingers = [(n.fretting.string, n.fretting.fret, n.fretting.finger) for n in notes if n.fretting]
        if len(notes) >= 6:
            assert seen.setdefault(key, list(fingers)) == fingers
