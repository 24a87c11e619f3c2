"""Own shapes and fingerings: the text, what it gives, and what it is told where it is wrong."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from genex.errors import FretboardError
from genex.fretboard import (
    STANDARD,
    HandMove,
    Shape,
    Tuning,
    along_strings,
    chord_shape,
    chord_shapes,
    fingered_sequence,
    shapes,
    tuning,
)
from genex.fretboard.own_shapes_file import (
    parse_fingerings,
    read_fingerings,
    unplayable_roots,
    written_shape,
)
from genex.theory import NoteName, parse_chord, transpose_chord
from genex.theory.key import all_keys
from genex.theory.qualities import QUALITIES

HOUSE = """\
# the little finger rolls here, and a shape of our own
C, A form: 5/3-2 4/2-1 4/5-4 3/5-4 2/5-4 1/3-2   # the old way
Cm7, evening sweep: 5/3-1 4/5-3 3/3-1 2/4-2
  1/3-1 1/6-4
F#dim, circle: 5/9 4/10 3/11 4/10 2/10 3/11
"""


def with_house(text: str = HOUSE, name: str = "standard") -> Tuning:
    return replace(tuning(name), own=parse_fingerings(text, "house.txt").own)


def spoken(shape: Shape) -> str:
    return " ".join(f"{s.note.string}/{s.note.fret}-{s.note.finger}" for s in shape.path)


def test_one_entry_serves_every_root() -> None:
    neck = with_house()
    for symbol, fret in (("C", 3), ("D", 5), ("Bb", 13), ("B", 2)):
        found = chord_shape(parse_chord(symbol), neck, "A")
        assert [note.finger for note in found.notes] == [2, 1, 4, 4, 4, 2]
        assert found.notes[found.lowest_root].fret == fret
        assert min(note.fret for note in found.notes) >= 1


def test_what_it_leaves_open_is_computed() -> None:
    neck = with_house()
    assert chord_shape(parse_chord("C"), neck, "E") == chord_shape(parse_chord("C"), STANDARD, "E")
    assert chord_shapes(parse_chord("Am"), neck) == chord_shapes(parse_chord("Am"), STANDARD)
    own = chord_shape(parse_chord("F#dim"), neck, "circle")
    assert all(1 <= note.finger <= 4 for note in own.notes)
    half = with_house("C, A form: 5/3-2 4/2-1 4/5 3/5 2/5 1/3-1 | 5/3-3 6/3")
    found = chord_shape(parse_chord("C"), half, "A form")
    assert spoken(found) == spoken(chord_shape(parse_chord("C"), STANDARD, "A"))


def test_a_shape_of_its_own_name_stands_beside_the_others() -> None:
    found = chord_shapes(parse_chord("Cm7"), with_house())
    assert sorted(each.form for each in found) == sorted([*"CAGED", "evening sweep"])
    assert chord_shape(parse_chord("Dm7"), with_house(), "Evening Sweep").form == "evening sweep"


def test_an_order_that_does_not_rise_is_practised_as_it_stands() -> None:
    found = chord_shape(parse_chord("F#dim"), with_house(), "circle")
    places = [str(step.note.place) for step in found.path]
    assert places == "5/9 4/10 3/11 4/10 2/10 3/11".split()
    assert [found.notes[index].place for index in found.path_indices] == [
        s.note.place for s in found.path
    ]


def test_it_is_for_necks_of_its_own_intervals() -> None:
    lower = with_house(name="half-step down")
    assert [note.finger for note in chord_shape(parse_chord("B"), lower, "A").notes][:3] == [2, 1, 4]
    bass = replace(tuning("four-string bass"), own=with_house().own)
    assert chord_shapes(parse_chord("C"), bass) == chord_shapes(
        parse_chord("C"), tuning("four-string bass")
    )
    dropped = parse_fingerings("tuning: drop D\nD, low: 6/0-0 6/4-3 5/0-0 4/0-0", "x").own
    drop_d = replace(tuning("drop D"), own=dropped)
    found = chord_shape(parse_chord("D"), drop_d, "low")
    assert spoken(found).startswith("6/0-0 6/4-3 5/0-0 4/0-0")
    # open strings do not move along the neck
    assert "low" not in {each.form for each in chord_shapes(parse_chord("E"), drop_d)}


def test_sequences_keep_the_own_fingers() -> None:
    neck = with_house()
    found = chord_shape(parse_chord("C"), neck, "A")
    walked = fingered_sequence("up and down", found, neck)
    assert [step.note.finger for step in walked][:6] == [2, 1, 4, 4, 4, 2]
    assert along_strings(parse_chord("C").degrees, parse_chord("C").root, neck, (2,)).form == "string 2"


@pytest.mark.parametrize("quality", ["", "m", "7", "maj7", "m7", "m7b5", "dim7", "9", "13", "7sus4"])
def test_what_is_written_is_read_again_as_it_was(quality: str) -> None:
    chord = parse_chord(f"C{quality}")
    for computed in chord_shapes(chord, STANDARD):
        text = written_shape(f"C{quality}", computed)
        neck = replace(STANDARD, own=parse_fingerings(text, "written.txt").own)
        assert spoken(chord_shape(chord, neck, computed.form)) == spoken(computed)


def test_roots_that_a_shape_cannot_have_are_named() -> None:
    (own,) = parse_fingerings("C, A: 5/3-2 4/2-1 4/5-4 3/5-4 2/5-4 1/3-2", "x").own
    assert unplayable_roots(own, STANDARD) == ()
    short = tuning("standard", frets=12)
    names = [str(root) for root in unplayable_roots(own, short)]
    assert names == ["Ab", "A", "Bb"]  # fret 13 twice; the root at fret 1 with a note at the nut
    for key in all_keys():
        chord = transpose_chord(parse_chord("C"), all_keys()[0], key)
        lies = own.at(chord.root.pitch_class, short.open_midi, short.last_fret) is not None
        assert lies != (chord.root.pitch_class in (8, 9, 10))


@pytest.mark.parametrize(
    ("text", "line", "column", "message"),
    [
        ("C A form 5/3-2", 1, 15, "no colon"),
        ("\nC A form: 5/3-2", 2, 1, "names no form"),
        ("C, A: 5/3-2 4/3-1", 1, 13, "4/3 sounds F, which is not in C"),
        ("C, A: 5/3-2\n  4/2-1 5/x", 2, 9, "'5/x' is not a note"),
        ("C, A: 5/3-0 4/2-1", 1, 7, "finger 0 at fret 3"),
        ("C, A: 9/3-1 4/2-1", 1, 7, "no string 9"),
        ("C, A: 5/3-2 4/2-1", 1, 1, "lacks G of C"),
        ("Cq, A: 5/3-2", 1, 1, "Cq"),
        ("C, A: 5/3 | 6/3 | 6/3", 1, 17, "second bar"),
        ("  5/3-2", 1, 1, "without a chord"),
        ("F, low: 6/1-4 5/3-3 4/3-4 3/2-2", 1, 9, "no hand"),
        ("prefer: fewer frets", 1, 1, "'fewer frets' is not a preference"),
        ("tuning: drop Q\nC, A: 5/3", 1, 1, "drop Q"),
    ],
)
def test_mistakes_are_answered_with_line_and_column(
    text: str, line: int, column: int, message: str
) -> None:
    with pytest.raises(FretboardError, match=message) as caught:
        parse_fingerings(text, "house.txt")
    place = caught.value.place
    assert place is not None
    assert (place.file, place.line, place.column) == ("house.txt", line, column)
    assert caught.value.hint


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(FretboardError, match="cannot be read"):
        read_fingerings(tmp_path / "none.txt")
    (tmp_path / "house.txt").write_text(HOUSE, "utf-8")
    assert len(read_fingerings(tmp_path / "house.txt").own) == 3


# Tastes.


def moves(neck: Tuning, move: HandMove) -> int:
    """How often all forms of some chords roll or shift."""
    symbols = ("C", "Cm", "C7", "Cm7", "Cmaj7", "Csus4", "Caug", "Cm7b5")
    return sum(
        step.move is move
        for symbol in symbols
        for found in chord_shapes(parse_chord(symbol), neck)
        for step in found.path
    )


def tasting(text: str) -> Tuning:
    return parse_fingerings(f"prefer: {text}", "house.txt").on(STANDARD)


def test_fewer_rolls_and_fewer_shifts() -> None:
    usual = {move: moves(STANDARD, move) for move in (HandMove.ROLL, HandMove.SHIFT)}
    assert moves(tasting("fewer rolls"), HandMove.ROLL) < usual[HandMove.ROLL]
    assert moves(tasting("fewer shifts"), HandMove.SHIFT) < usual[HandMove.SHIFT]


@pytest.mark.parametrize(("text", "finger"), [("first", 1), ("second", 2)])
def test_the_finger_on_the_root_where_it_asks_for_no_more_shifts(text: str, finger: int) -> None:
    def begun(neck: Tuning) -> list[tuple[int, int]]:
        """First finger and shifts on the way up, of every form."""
        ups = [
            [step.note for step in found.path][: len(found.notes) - found.lowest_root]
            for quality in QUALITIES.values()
            for found in shapes(quality.degrees, NoteName.parse("C"), neck)
        ]
        return [(up[0].finger, sum(a.position != b.position for a, b in pairwise(up))) for up in ups]

    usual, liked = begun(STANDARD), begun(tasting(f"{text} finger on the root"))
    assert [f for f, _ in liked].count(finger) > [f for f, _ in usual].count(finger)
    for (before, shifts_before), (after, shifts_after) in zip(usual, liked, strict=True):
        assert after in (before, finger) and shifts_after <= shifts_before


def test_an_own_shape_is_stronger_than_a_taste() -> None:
    neck = parse_fingerings(HOUSE + "prefer: fewer rolls\n", "house.txt").on(STANDARD)
    assert [note.finger for note in chord_shape(parse_chord("C"), neck, "A").notes] == [2, 1, 4, 4, 4, 2]


def test_all_tones_in_order() -> None:
    neck = tasting("all tones in order")
    ninth = parse_chord("C9")
    assert chord_shapes(ninth, neck) == shapes(ninth.degrees, ninth.root, neck, in_thirds=False)
    assert chord_shapes(ninth, neck) != chord_shapes(ninth, STANDARD)
