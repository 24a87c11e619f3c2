"""Chords with their neighbours, as the analysis sees them [common practice]."""

from __future__ import annotations

from fractions import Fraction

import pytest

from genex.theory import Key, Place, parse_chord
from genex.theory.places import Event, can_be_five, events_of, is_blues, sight_of, sound_of


def _events(chart: str, *, closed: bool = True) -> tuple[Event, ...]:
    return events_of([Place(parse_chord(symbol)) for symbol in chart.split()], closed=closed)[0]


@pytest.mark.parametrize(
    ("symbol", "root", "kind"),
    [
        ("C/Bb", 0, "dominant"),  # the bass is the seventh
        ("Am/G", 9, "minor seventh"),
        ("Am/G#", 9, "minor major"),
        ("C/B", 0, "major seventh"),
        ("F/G", 7, "suspended"),  # a G9sus
        ("Fmaj7/G", 7, "suspended"),
        ("Dm7/G", 7, "suspended"),
        ("C/E", 0, "major"),
        ("Bdim/A", 11, "half-diminished"),
        ("C/D", 2, "suspended"),
    ],
)
def test_slash_chords_as_players_read_them(symbol: str, root: int, kind: str) -> None:
    found = sound_of(parse_chord(symbol))
    assert found[:2] == (root, kind)


def test_only_alterations_alter() -> None:
    assert sound_of(parse_chord("G7b9"))[3] and sound_of(parse_chord("G7#11"))[3]
    assert not sound_of(parse_chord("G13"))[3]


def test_equal_neighbours_are_joined_and_lengths_added() -> None:
    chart = [Place(parse_chord(symbol), Fraction(4)) for symbol in ("Dm7", "D-7", "G7", "Dm7")]
    events, at = events_of(chart, closed=True)
    assert at == (0, 0, 1, 2)
    assert [event.length_beats for event in events] == [8, 4, 4]


def test_a_pause_or_another_key_parts_equal_chords() -> None:
    chord = Place(parse_chord("C"))
    events, at = events_of([chord, Place(None), chord], closed=False)
    assert (len(events), at) == (2, (0, None, 1))
    events, at = events_of([chord, Place(chord.chord, key=Key.parse("F"))], closed=False)
    assert len(events) == 2


def test_the_next_root_is_looked_for_round_the_end() -> None:
    closed, ends = _events("Dm7 G7 C"), _events("Dm7 G7 C", closed=False)
    assert [event.step for event in closed] == [5, 5, 2]
    assert [event.step for event in ends] == [5, 5, 0]
    assert ends[0].before is None
    assert closed[0].before == (0, "major")


def test_a_chord_that_changes_on_its_root_leads_where_the_last_one_leads() -> None:
    events = _events("G7sus4 G7 C", closed=False)
    assert [event.step for event in events] == [5, 5, 0]


def test_a_chord_that_turns_minor_leads_nowhere_unless_into_a_ii() -> None:
    assert _events("C Cm F", closed=False)[0].step == 0
    assert _events("C Cm7 F7", closed=False)[0].step == 5


def test_ii_and_v_know_each_other() -> None:
    two, five, one = _events("Dm7b5 G7 Cm", closed=False)
    assert (two.is_two, five.is_two, one.is_two) == (True, False, False)
    assert (two.five_of, five.five_of, one.five_of) == ("", "half-diminished", "")
    before, *_ = _events("A7 Dm7 G7", closed=False)
    assert (before.to_kind, before.to_two) == ("minor seventh", True)
    assert _events("A7 Dm7 G7", closed=False)[2].two_arrives


@pytest.mark.parametrize(
    ("symbol", "possible"),
    [("G7", True), ("G13b9", True), ("G7sus4", True), ("F/G", True), ("G", False), ("Gsus4", False)],
)
def test_what_can_be_the_five_of_a_two(symbol: str, possible: bool) -> None:
    chord = parse_chord(symbol)
    assert can_be_five(chord, sound_of(chord)[1]) is possible


def test_a_sight_is_the_event_counted_from_a_tonic() -> None:
    (event,) = _events("G7", closed=False)
    for tonic in range(12):
        sight = sight_of(event, tonic)
        assert sight.degree == (7 - tonic) % 12
        notes = {step for step in range(12) if sight.notes >> step & 1}
        assert notes == {(note - tonic) % 12 for note in (7, 11, 2, 5)}


def test_triads_know_whether_minor_is_beside_them() -> None:
    assert sight_of(_events("C Ab Bb C")[2], 0).darkened
    assert not sight_of(_events("C F Bb C")[2], 0).darkened
    assert not sight_of(_events("C Ab Bb F")[2], 0).darkened  # A natural beside it too


@pytest.mark.parametrize(
    ("chart", "blues"),
    [
        ("C7 F7 C7 G7", True),
        ("C7 F7 C7 Cmaj7 G7", True),  # mostly
        ("C F7 C G7", False),
        ("C7 F C7 G7", False),
        ("Cm7 F7 C7", False),
        ("", False),
    ],
)
def test_blues(chart: str, blues: bool) -> None:
    assert is_blues(_events(chart), 0) is blues
