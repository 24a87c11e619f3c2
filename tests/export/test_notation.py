"""Accidentals and beams."""

from __future__ import annotations

from fractions import Fraction

from genex.export.notation import add_courtesy_accidentals, written_measure
from genex.export.page_bars import measures
from genex.score import Note, Part, Role
from genex.theory import Key, Pitch
from tests.export.builders import beats, fretted, lead, timeline


def test_accidentals_hold_to_the_bar_line():
    part = Part.of(
        "line",
        Role.LEAD,
        26,
        [
            Note(beats(at), beats(1), Pitch.parse(p))
            for at, p in enumerate("F#4 F#4 F4 F5 F#4 Bb4 B4 Bb4".split())
        ],
    )
    made = timeline("F | F", key="F")
    shown = [w.accidentals for m in measures(part, made) for w in written_measure(m, Key.parse("F"))]
    # F# once, natural for F, nothing for the other octave; new bar: F# again, Bb is in the key
    assert shown == [(1,), (None,), (0,), (None,), (1,), (None,), (0,), (-1,)]


def test_courtesy_accidentals_remind_in_the_next_bar_and_in_other_octaves():
    def shown(*pitches: str) -> list[tuple[int | None, bool]]:
        notes = [Note(beats(at), beats(1), Pitch.parse(p)) for at, p in enumerate(pitches)]
        made = timeline("C | C | C", key="C")
        played = measures(Part.of("line", Role.LEAD, 26, notes), made)
        rows = [written_measure(m, Key.parse("C")) for m in played]
        add_courtesy_accidentals(rows)
        return [(w.accidentals[0], w.reminders[0]) for row in rows for w in row if w.notes]

    # [common practice]: natural in the next bar, once; not one bar later; the other octave at once.
    assert shown(*"F#4 G4 A4 G4 F4 F4 G4 A4 F4".split()) == [
        (1, False), (None, False), (None, False), (None, False),
        (0, True), (None, False), (None, False), (None, False), (None, False),
    ]  # fmt: skip
    assert shown("F#4", "F5", "F5", "F#4") == [(1, False), (0, True), (None, False), (None, False)]
    # What the rules print anyway reminds nobody.
    assert shown("F#4", "F4", "G4", "G4", "F#4") == [
        (1, False), (0, False), (None, False), (None, False), (1, False),
    ]  # fmt: skip


def test_beams_join_half_bars_of_eighths_and_single_beats_of_sixteenths():
    def beams(*lengths: str) -> list[tuple[str, ...]]:
        at, notes = Fraction(0), []
        for length in lengths:
            notes.append(fretted(at, length, 3, 5))
            at += Fraction(length)
        made = timeline("C")
        return [w.beams for m in measures(lead(notes), made) for w in written_measure(m, made.key)]

    assert beams(*["1/2"] * 4, "2") == [("begin",), ("continue",), ("continue",), ("end",), ()]
    assert beams("1/4", "1/4", "1/2", "1", "2") == [
        ("begin", "begin"),
        ("continue", "end"),
        ("end",),
        (),
        (),
    ]
    assert beams("3/4", "1/4", "1", "2") == [("begin",), ("end", "backward hook"), (), ()]
    assert beams("1/2", "1", "1/2", "2") == [(), (), (), ()]
    assert beams(*["1/3"] * 3, "1", "2") == [("begin",), ("continue",), ("end",), (), ()]
