"""The table of qualities, and chords seen as a row of it with some tones changed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.theory import Degree, parse_chord
from genex.theory.qualities import FORMS, QUALITIES, ascending, read_quality


def degrees(text: str) -> tuple[Degree, ...]:
    return tuple(Degree.parse(word) for word in text.split())


def test_rows_ascend_and_no_two_hold_the_same_tones() -> None:
    assert all(row.degrees == ascending(set(row.degrees)) for row in QUALITIES.values())
    assert len({row.degrees for row in QUALITIES.values()}) == len(QUALITIES)
    assert all(row.names for row in QUALITIES.values())


def test_a_form_belongs_to_one_row() -> None:
    forms = [form for row in QUALITIES.values() for form in row.forms]
    assert len(set(forms)) == len(forms) == len(FORMS)


# The nearest row and what differs [common practice].
@pytest.mark.parametrize(
    ("tones", "text", "name"),
    [
        ("1 3 5 b7", "7", "dominant seventh"),
        ("1 3 b5", "(b5)", "major triad, flat five"),
        ("1 3 b5 b7 #9", "7(b5,#9)", "dominant seventh, flat five, sharp nine"),
        ("1 3 5 b7 #11 b13", "7(#11,b13)", "dominant seventh, sharp eleven, flat thirteen"),
        ("1 3 b5 b7 9", "9b5", "dominant ninth, flat five"),
        ("1 3 5 b6", "(b6)", "major triad, flat six"),
        ("1 b3 5 b7 b13", "m7b13", "minor seventh, flat thirteen"),
        ("1 3 5 13", "(add13)", "major triad, add thirteen"),
        ("1 3 b7", "7(no5)", "dominant seventh, no five"),
        ("3 5", "(no1)", "major triad, no root"),
        ("1 b3", "m(no5)", "minor triad, no five"),
    ],
)
def test_a_chord_beside_the_table_is_the_nearest_row_changed(tones: str, text: str, name: str) -> None:
    reading = read_quality(degrees(tones))
    assert (reading.text, reading.name) == (text, name)


@given(st.sampled_from(sorted(QUALITIES)))
def test_a_row_is_read_as_itself(key: str) -> None:
    reading = read_quality(QUALITIES[key].degrees)
    assert reading.base is QUALITIES[key]
    assert not (reading.altered or reading.added or reading.omitted)


@given(st.sets(st.sampled_from([d for row in QUALITIES.values() for d in row.degrees]), min_size=2))
def test_base_and_changes_make_up_the_tones(tones: set[Degree]) -> None:
    reading = read_quality(ascending(tones))
    replaced = {d.number for d in reading.altered}
    kept = {d for d in reading.base.degrees if d not in reading.omitted}
    kept = {d for d in kept if d in tones or not (d.alter == 0 and d.number in replaced)}
    assert kept | set(reading.altered) | set(reading.added) == tones


def test_double_accidentals_are_spoken() -> None:
    assert parse_chord("Cdim7").reading.name == "diminished seventh"
    assert read_quality(degrees("1 3 5 bb13")).name == "major triad, double flat thirteen"
    assert read_quality(degrees("1 3 5 ##11")).name == "major triad, double sharp eleven"
