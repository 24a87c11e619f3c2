"""Shapes: complete, within reach, covering the neck, for every quality, root and form.

The oracle is brute force: it looks at every place of the neck, one after another.
"""

from __future__ import annotations

import csv
from functools import cache
from itertools import pairwise, product
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import FretboardError
from genex.fretboard import (
    SEQUENCES,
    TUNINGS,
    Fingered,
    Hand,
    HandMove,
    Shape,
    Tuning,
    along_strings,
    chord_shape,
    chord_shapes,
    finger_line,
    forms_of,
    pitch_at,
    sequence_indices,
    shape,
    shapes,
    shapes_as_json,
    tuning,
)
from genex.fretboard.fingering import line_cost
from genex.fretboard.forms import form_named
from genex.fretboard.hand import states_of
from genex.theory import Chord, Degree, NoteName, Pitch, parse_chord
from genex.theory.qualities import QUALITIES

DATA = Path(__file__).parent.parent / "data"
STANDARD = tuning("standard")
ROOTS = [NoteName.parse(name) for name in "C Db D Eb E F F# G Ab A Bb B".split()]
Degrees = tuple[Degree, ...]


def read_scales() -> dict[str, Degrees]:
    with (DATA / "scales.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return {row["scale"]: tuple(map(Degree.parse, row["degrees"].split())) for row in rows}


SCALES = read_scales()
STACKS: dict[str, Degrees] = {key: row.degrees for key, row in QUALITIES.items()}


@cache
def shapes_of(degrees: Degrees, root: NoteName) -> tuple[Shape, ...]:
    return shapes(degrees, root, STANDARD, in_thirds=False)


def everything() -> list[tuple[str, Degrees]]:
    return [*STACKS.items(), *SCALES.items()]


def pitch_classes(degrees: Degrees, root: NoteName) -> set[int]:
    return {root.degree(degree).pitch_class for degree in degrees}


def text(found: Shape) -> str:
    """``6/8 2`` a note: string, fret, finger; ``r`` and ``s`` before a rolled or shifted one."""
    signs = {HandMove.NONE: "", HandMove.ROLL: "r", HandMove.SHIFT: "s"}
    walked = found.walk(range(len(found.notes)))
    return " ".join(f"{p.note.string}/{p.note.fret}:{signs[p.move]}{p.note.finger}" for p in walked)


# Every quality and scale on every root: the exhaustive pass.


@pytest.mark.parametrize(
    ("name", "degrees"), everything(), ids=lambda v: v if isinstance(v, str) else ""
)
def test_the_five_shapes_on_every_root(name: str, degrees: Degrees) -> None:
    for root in ROOTS:
        found = shapes_of(degrees, root)
        assert sorted(s.form for s in found) == sorted("CAGED")
        assert [min(n.fret for n in s.notes) for s in found] == sorted(
            min(n.fret for n in s.notes) for s in found
        )
        tones = pitch_classes(degrees, root)
        for each in found:
            assert_complete(each, tones)
            assert_within_reach(each)
            assert_spelled(each, root, degrees)
            assert_practised_in_every_sequence(each)
        assert_covers_the_neck(found, tones)
        for each in found if in_thirds(degrees) else ():
            assert_stacked_in_thirds(shape(degrees, root, STANDARD, each.form), each, degrees)


def in_thirds(degrees: Degrees) -> bool:
    return any(degree.number > 8 for degree in degrees)


def assert_stacked_in_thirds(found: Shape, full: Shape, degrees: Degrees) -> None:
    """All degrees, from the window's tones; from the lowest root up the chord's own order as far
    as the window has it, an extension once and not below the octave where it can be above."""
    held = {note.midi for note in full.notes}
    assert {note.midi for note in found.notes} <= held
    assert {note.degree for note in found.notes} == {note.degree for note in full.notes}
    assert_within_reach(found)
    root = found.notes[found.lowest_root]
    assert root.is_root
    above = [note.midi - root.midi for note in found.notes if note.midi >= root.midi]
    stack = [degree.semitones for degree in sorted(degrees, key=lambda d: d.semitones)]
    if {root.midi + semitones for semitones in stack} <= held:
        assert above[: len(stack)] == stack


def assert_complete(found: Shape, tones: set[int]) -> None:
    """Every tone between the lowest and the highest note, each pitch once, all degrees present."""
    midis = [note.midi for note in found.notes]
    assert midis == [m for m in range(midis[0], midis[-1] + 1) if m % 12 in tones]
    assert {m % 12 for m in midis} == tones
    # nothing that the window holds is left out: brute force over the neck
    window = window_of(found)
    held = {
        pitch_at(STANDARD, string, fret)
        for string, fret in product(range(1, 7), window)
        if pitch_at(STANDARD, string, fret) % 12 in tones
    }
    assert set(midis) == held
    for note in found.notes:
        assert pitch_at(STANDARD, note.string, note.fret) == note.midi


def window_of(found: Shape) -> range:
    """The five frets of the form, in the octave where the shape was placed."""
    start = form_named(found.form, STANDARD).start_for(found.root.pitch_class)
    octave = 12 if max(note.fret for note in found.notes) >= start + 12 else 0
    return range(start + octave, start + octave + 5)


def assert_within_reach(found: Shape) -> None:
    """The open hand, or one of the few departures from it; no finger is on two frets without a
    shift, fingers never cross, and the hand does not leave the window and a hop from it."""
    walked = [step.note for step in found.path]
    positions = {note.position for note in walked}
    assert max(positions) - min(positions) <= 3
    assert found.position in range(min(positions) - 1, max(positions) + 1)
    for note in walked:
        assert note.fret >= 1 and 1 <= note.finger <= 4
        # reached back, in its own place, or drawn in by one fret, the little finger by two
        departures = {1: (-1, 0), 2: (-1, 0), 3: (-1, 0), 4: (-2, -1, 0)}
        assert note.fret - note.position - (note.finger - 1) in departures[note.finger]
    for a, b in pairwise(walked):
        if a.finger == b.finger and a.fret != b.fret:
            assert a.position != b.position
        if a.position == b.position and a.fret < b.fret:
            assert a.finger < b.finger
        if a.position == b.position and a.fret > b.fret:
            assert a.finger > b.finger


def assert_spelled(found: Shape, root: NoteName, degrees: Degrees) -> None:
    for note in found.notes:
        assert note.degree in degrees
        assert note.pitch.name == root.degree(note.degree)


def assert_practised_in_every_sequence(found: Shape) -> None:
    for name, row in SEQUENCES.items():
        if row.strings == 0 and len(found.notes) >= row.min_notes:
            indices = sequence_indices(name, found)
            assert indices and min(indices) >= 0 and max(indices) < len(found.notes)


def assert_covers_the_neck(found: tuple[Shape, ...], tones: set[int]) -> None:
    """Twelve frets as one turn, every place of a tone is in a shape; neighbours share places."""
    held = [{(note.string, note.fret % 12) for note in each.notes} for each in found]
    for string, fret in product(range(1, 7), range(1, 13)):
        if pitch_at(STANDARD, string, fret) % 12 in tones:
            assert any((string, fret % 12) in places for places in held)
    for places, following in pairwise([*held, held[0]]):
        assert places & following


# What a form is.


@pytest.mark.parametrize(
    ("form", "strings"),
    # [common practice]: the strings on which each form has its roots
    [("C", {5, 2}), ("A", {5, 3}), ("G", {6, 3, 1}), ("E", {6, 4, 1}), ("D", {4, 2})],
)
@pytest.mark.parametrize("symbol", ["C", "Am7", "F#7", "Ebmaj7", "Bm7b5"])
def test_roots_lie_where_the_open_chord_has_them(form: str, strings: set[int], symbol: str) -> None:
    found = chord_shape(parse_chord(symbol), STANDARD, form)
    assert {found.notes[index].string for index in found.root_indices} == strings


@pytest.mark.parametrize(
    ("symbol", "form", "position", "expected"),
    [
        # C major [common practice]
        ("C", "G", 5, "6/8:4 5/7:3 4/5:1 3/5:r1 2/5:r1 2/8:4 1/8:r4"),
        ("C", "E", 8, "6/8:2 5/7:1 5/10:s3 4/10:4 3/9:2 2/8:1 1/8:r1"),
        ("C", "C", 12, "6/12:1 6/15:4 5/15:r4 4/14:3 3/12:1 2/13:2 1/12:1 1/15:4"),
        # one finger a fret leaves no choice [common practice]
        ("C7", "G", 5, "6/6:2 6/8:4 5/7:3 4/5:1 4/8:4 3/5:1 2/5:r1 2/8:4 1/6:2 1/8:4"),
        ("C7", "C", 12, "6/12:1 6/15:4 5/13:2 5/15:4 4/14:3 3/12:1 3/15:4 2/13:2 1/12:1 1/15:4"),
        ("Cmaj7", "E", 7, "6/7:1 6/8:2 5/7:1 5/10:4 4/9:3 4/10:4 3/9:3 2/8:2 1/7:1 1/8:2"),
        ("Cm", "D", 10, "6/11:2 5/10:1 4/10:r1 4/13:4 3/12:3 2/13:4 1/11:2"),
    ],
)
def test_fingerings_that_every_teacher_gives(
    symbol: str, form: str, position: int, expected: str
) -> None:
    found = chord_shape(parse_chord(symbol), STANDARD, form)
    assert (found.position, text(found)) == (position, expected)


@pytest.mark.parametrize(
    ("scale", "root", "form", "position", "fingers"),
    [
        # [common practice]: scale positions that need no shift
        ("major", "C", "E", 7, "1 2 4 1 2 4 1 3 4 1 3 4 2 4 1 2 4"),
        ("major", "A", "E", 4, "1 2 4 1 2 4 1 3 4 1 3 4 2 4 1 2 4"),
        ("major", "A", "C", 9, "1 2 4 1 3 4 1 3 4 1 3 1 2 4 1 2 4"),
        ("minor pentatonic", "A", "E", 5, "1 4 1 3 1 3 1 3 1 4 1 4"),
        ("minor pentatonic", "A", "A", 12, "1 4 1 4 1 3 1 3 2 4 1 4"),
        ("minor pentatonic", "A", "G", 2, "2 4 2 4 1 4 1 4 2 4 2 4"),
    ],
)
def test_scales_in_position(scale: str, root: str, form: str, position: int, fingers: str) -> None:
    found = shape(SCALES[scale], NoteName.parse(root), STANDARD, form)
    assert {note.position for note in found.notes} == {found.position} == {position}
    assert " ".join(str(note.finger) for note in found.notes) == fingers


@given(st.sampled_from(sorted(STACKS)), st.sampled_from(ROOTS), st.sampled_from(ROOTS))
def test_a_shape_keeps_its_fingers_on_every_root(quality: str, one: NoteName, other: NoteName) -> None:
    for form in "CAGED":
        if any(form_named(form, STANDARD).start_for(root.pitch_class) == 0 for root in (one, other)):
            continue  # at the nut there is one position less
        a = shape(STACKS[quality], one, STANDARD, form)
        b = shape(STACKS[quality], other, STANDARD, form)
        if min(note.fret for note in (*a.notes, *b.notes)) < 6:
            continue  # there a form may be wider than the hand
        apart = b.notes[0].fret - a.notes[0].fret
        assert [(n.string, n.fret + apart, n.finger, n.degree) for n in a.notes] == [
            (n.string, n.fret, n.finger, n.degree) for n in b.notes
        ]


# The oracle for the fingering: every way to take every note.


@settings(max_examples=15, deadline=None)
@given(
    st.sampled_from(["", "m", "dim", "aug", "sus4", "5"]),
    st.sampled_from(ROOTS),
    st.sampled_from("CAGED"),
)
def test_no_other_fingering_of_a_shape_costs_less(quality: str, root: NoteName, form: str) -> None:
    found = shape(STACKS[quality], root, STANDARD, form)
    states = states_of(STANDARD, Hand.MEDIUM)
    window = window_of(found)
    upward = found.notes[found.lowest_root :]
    lowest, highest = max(1, window[0]), max(1, window[0] + 3)
    ways = [
        [
            index
            for index in range(states.span[note.midi].start, states.span[note.midi].stop)
            if states.fret[index] in window
            and states.fret[index] > 0
            and lowest <= states.position[index] <= highest
        ]
        for note in upward
    ]
    own, change = states.own.tolist(), states.change.tolist()

    @cache
    def cheapest(note: int, before: int) -> int:
        """Cost of the cheapest way from a note to the top and back, by trying all."""
        if note == len(ways):
            return 0
        times = 1 if note == len(ways) - 1 else 2
        return min(
            times * own[i] + (2 * change[before][i] if before >= 0 else 0) + cheapest(note + 1, i)
            for i in ways[note]
        )

    there_and_back = [*upward, *upward[-2::-1]]
    walked = [Fingered(n.string, n.fret, n.finger, n.position) for n in there_and_back]
    free = finger_line(
        [note.midi for note in there_and_back],
        STANDARD,
        fixed=[note.place for note in there_and_back],
    )
    assert line_cost(walked, STANDARD) == cheapest(0, -1)
    assert line_cost(free, STANDARD) <= line_cost(walked, STANDARD)


# The practice path.


@given(st.sampled_from(sorted(STACKS)), st.sampled_from(ROOTS))
def test_the_practice_path(quality: str, root: NoteName) -> None:
    """[common practice]: lowest root, highest tone, lowest tone, lowest root; each note once a pass"""
    for each in shapes_of(STACKS[quality], root):
        indices, last = list(each.path_indices), len(each.notes) - 1
        first = each.lowest_root
        assert indices[0] == indices[-1] == first
        top = indices.index(last)
        assert indices[: top + 1] == list(range(first, last + 1))
        bottom = indices.index(0, top) if last else 0
        assert indices[top : bottom + 1] == list(range(last, -1, -1))
        assert indices[bottom:] == list(range(0, first + 1))
        assert all(abs(a - b) == 1 for a, b in pairwise(indices))
        assert each.notes[first].is_root
        assert not any(note.is_root for note in each.notes[:first])


@given(st.sampled_from(sorted(STACKS)), st.sampled_from(ROOTS))
def test_moves_are_rolls_at_equal_frets_and_shifts_of_the_hand(quality: str, root: NoteName) -> None:
    for each in shapes_of(STACKS[quality], root):
        assert each.path[0].move is HandMove.NONE
        for before, after in pairwise(each.path):
            a, b = before.note, after.note
            shifted = a.position != b.position
            rolled = not shifted and a.finger == b.finger and a.fret == b.fret and a.string != b.string
            expected = HandMove.SHIFT if shifted else HandMove.ROLL if rolled else HandMove.NONE
            assert after.move is expected


# Other necks.


@pytest.mark.parametrize("name", TUNINGS)
@pytest.mark.parametrize("symbol", ["C", "F#m7", "Bb13", "Gdim7", "Ab7alt"])
def test_every_tuning_holds_every_form(name: str, symbol: str) -> None:
    neck, chord = TUNINGS[name], parse_chord(symbol)
    found = shapes(chord.degrees, chord.root, neck, in_thirds=False)
    for each in chord_shapes(chord, neck):
        assert {note.degree for note in each.notes} == set(chord.degrees)
    assert {each.form for each in found} == {form.name for form in forms_of(neck)}
    for each in found:
        midis = [note.midi for note in each.notes]
        tones = chord.pitch_classes
        assert midis == [m for m in range(midis[0], midis[-1] + 1) if m % 12 in tones]
        assert {m % 12 for m in midis} == tones
        for note in each.notes:
            assert pitch_at(neck, note.string, note.fret) == note.midi


some_neck = st.builds(
    lambda midis, frets, capo: Tuning(
        "some", tuple(map(Pitch.from_midi, midis)), frets, min(capo, frets - 1)
    ),
    st.lists(st.integers(28, 70), min_size=1, max_size=8),
    st.integers(1, 24),
    st.integers(0, 5),
)


@settings(max_examples=40, deadline=None)
@given(some_neck, st.sampled_from(sorted(STACKS)), st.sampled_from(ROOTS))
def test_any_neck_gives_complete_shapes_or_says_why_not(
    neck: Tuning, quality: str, root: NoteName
) -> None:
    tones = pitch_classes(STACKS[quality], root)
    try:
        found = shapes(STACKS[quality], root, neck, in_thirds=False)
    except FretboardError as error:
        assert error.hint
        return
    for each in found:
        midis = [note.midi for note in each.notes]
        assert midis == [m for m in range(midis[0], midis[-1] + 1) if m % 12 in tones]
        assert {m % 12 for m in midis} == tones


def test_a_short_neck_uses_open_strings_or_names_the_forms_it_has() -> None:
    short = tuning("standard", frets=5)
    c_major = parse_chord("C")
    open_form = chord_shape(c_major, short, "C")
    assert any(note.fret == 0 and note.finger == 0 for note in open_form.notes)
    with pytest.raises(FretboardError, match=r"form E of C does not fit[\s\S]*these forms do: C, A"):
        chord_shape(c_major, short, "E")


def test_a_capo_moves_the_shapes_towards_the_nut() -> None:
    """[common practice]: with a capo at 2 the A form plays a tone higher"""
    plain = chord_shape(parse_chord("C"), STANDARD, "A")
    capoed = chord_shape(parse_chord("D"), tuning("standard", capo=2), "A")
    assert [n.place for n in plain.notes] == [n.place for n in capoed.notes]
    assert [n.midi + 2 for n in plain.notes] == [n.midi for n in capoed.notes]


def test_errors() -> None:
    with pytest.raises(FretboardError, match="its forms are C, A, G, E, D"):
        chord_shape(parse_chord("C"), STANDARD, "H")
    with pytest.raises(FretboardError, match=r"holds G B D F A E in no position[\s\S]*more strings"):
        shapes(
            tuple(map(Degree.parse, "1 3 5 b7 9 13".split())), NoteName.parse("G"), tuning(["E2", "A2"])
        )
    with pytest.raises(FretboardError, match="at least one degree"):
        shapes((), NoteName.parse("G"), STANDARD)
    with pytest.raises(FretboardError, match="no string is named"):
        along_strings(STACKS[""], NoteName.parse("G"), STANDARD, ())
    with pytest.raises(FretboardError, match="no string 9"):
        along_strings(STACKS[""], NoteName.parse("G"), STANDARD, (9,))


# Along the strings, and as data.


@pytest.mark.parametrize("strings", [(1,), (4,), (6,), (2, 3), (5, 6), (1, 6)])
def test_along_strings_every_tone_once(strings: tuple[int, ...]) -> None:
    chord = parse_chord("Gm7")
    found = along_strings(chord.degrees, chord.root, STANDARD, strings)
    expected = {
        pitch_at(STANDARD, string, fret)
        for string in strings
        for fret in range(1, 23)
        if pitch_at(STANDARD, string, fret) % 12 in chord.pitch_classes
    }
    assert [note.midi for note in found.notes] == sorted(expected)
    assert {note.string for note in found.notes} <= set(strings)


def test_shapes_as_json() -> None:
    chord: Chord = parse_chord("C7")
    data = shapes_as_json("C7", chord_shapes(chord, STANDARD))
    assert list(data) == ["chord", "shapes"] and data["chord"] == "C7"
    listed = data["shapes"]
    assert isinstance(listed, list) and [s["form"] for s in listed] == ["A", "G", "E", "D", "C"]
    g_form = listed[1]
    assert g_form["position"] == 5
    assert g_form["notes"][0] == {
        "string": 6, "fret": 6, "pitch": "Bb2", "degree": "b7", "finger": 2,
    }  # fmt: skip
    assert g_form["path"][0] == {
        "string": 6, "fret": 8, "pitch": "C3", "degree": "1", "finger": 4, "move": "none",
    }  # fmt: skip
    assert {note["move"] for s in listed for note in s["path"]} <= {"none", "roll", "shift"}
