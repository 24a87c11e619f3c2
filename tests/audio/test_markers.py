from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from genex.audio import Marker, loop_markers, take_markers
from genex.score import ChordSpan, Score
from genex.theory.symbol import parse_chord
from tests.audio.material import count_in, part, score


def music() -> Score:
    plain = score(part(), beats=3)
    spans = (
        ChordSpan(Fraction(0), Fraction(1, 2), parse_chord("Gm7")),
        ChordSpan(Fraction(1, 2), Fraction(1, 2), parse_chord("C7")),
        ChordSpan(Fraction(1), Fraction(1), parse_chord("C7")),
        ChordSpan(Fraction(2), Fraction(1), None),
    )
    return replace(plain, timeline=replace(plain.timeline, chords=spans))


LABELS = [(0, "bar 1 | Gm7"), (12_000, "C7"), (24_000, "bar 2"), (48_000, "bar 3 | N.C.")]


def test_bars_and_chord_changes_are_marked() -> None:
    assert loop_markers(music(), 48_000) == tuple(Marker(*label) for label in LABELS)


def test_every_pass_of_a_loop_is_marked() -> None:
    twice = loop_markers(music(), 48_000, passes=2)
    assert twice[4:] == tuple(Marker(72_000 + sample, label) for sample, label in LABELS)


def test_markers_of_a_take_count_from_its_count_in() -> None:
    assert take_markers(music(), 48_000) == loop_markers(music(), 48_000)
    counted = take_markers(replace(music(), lead_in=count_in(2)), 48_000)
    assert counted[0] == Marker(0, "count-in")
    assert counted[1:] == tuple(Marker(48_000 + sample, label) for sample, label in LABELS)
