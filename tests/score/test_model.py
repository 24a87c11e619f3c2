"""Notes, parts and scores."""

from dataclasses import FrozenInstanceError, replace
from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.score import Note, Part, Role, Score
from genex.theory import Pitch
from genex.units import beats_to_ticks
from tests.score.test_timeline import timeline


def note(onset, length, pitch="C4", **more):
    return Note(F(onset), F(length), Pitch.parse(pitch), **more)


def part(*notes, role=Role.EXERCISE, name="line"):
    return Part.of(name, role, 24, notes)


def test_written_and_sounding_time():
    swung = note("1/2", "1/2", offset_beats=F(1, 6), sounding_beats=F(1, 3))
    assert (swung.onset_beats, swung.written_end_beats) == (F(1, 2), F(1))
    assert (swung.start_beats, swung.end_beats) == (F(2, 3), F(1))


def test_sounding_times_lie_on_ticks_and_a_note_lasts_a_tick():
    odd = note(0, 1, offset_beats=F(1, 7), sounding_beats=F(1, 100_000))
    assert (odd.start_beats * 960).denominator == 1
    assert odd.end_beats - odd.start_beats == F(1, 960)


@given(
    st.fractions(0, 200, max_denominator=5000),
    st.fractions(F(1, 2000), 8, max_denominator=5000),
    st.fractions(F(-1, 4), F(1, 4), max_denominator=5000),
    st.none() | st.fractions(F(1, 2000), 8, max_denominator=5000),
)
def test_sounding_ticks_are_the_nearest_to_the_exact_times(onset, length, offset, sounding):
    struck = Note(onset, length, Pitch.parse("C4"), offset_beats=offset, sounding_beats=sounding)
    start = beats_to_ticks(onset + offset)
    end = beats_to_ticks(onset + offset + (length if sounding is None else sounding))
    assert struck.sounding_ticks == (start, max(end, start + 1))
    assert (struck.start_beats * 960, struck.end_beats * 960) == struck.sounding_ticks


@pytest.mark.parametrize("wrong", [{"velocity": 0}, {"velocity": 128}, {"sounding_beats": F(0)}])
def test_impossible_notes(wrong):
    with pytest.raises(ValueError):
        note(0, 1, **wrong)


def test_parts_are_sorted_by_time_then_pitch():
    ordered = part(note(1, 1), note(0, 1, "G4"), note(0, 1, "C4")).notes
    assert [(n.onset_beats, str(n.pitch)) for n in ordered] == [(0, "C4"), (0, "G4"), (1, "C4")]


def test_parts_of_a_score_are_found_and_left_out():
    score = Score(
        "t", "f", timeline(["C"]), (part(note(0, 1)), part(note(0, 1), role=Role.BASS, name="bass"))
    )
    assert score.part("bass").role is Role.BASS
    assert [p.name for p in score.only("bass").parts] == ["bass"]
    assert [p.name for p in score.lead_parts] == ["line"]
    with pytest.raises(KeyError):
        score.part("piano")
    with pytest.raises(ValueError, match="unique"):
        replace(score, parts=score.parts * 2)


def test_a_plain_part_has_no_capo_and_no_strings():
    assert (part().capo, part().strings) == (0, ())
    assert part(name="a").is_percussion is False
    assert part(role=Role.CLICK).is_percussion is True


def test_scores_notes_and_parts_are_values():
    score = Score("t", "f", timeline(["C"]), (part(note(0, 1)),))
    for value, field in ((score, "title"), (score.parts[0], "name"), (note(0, 1), "velocity")):
        with pytest.raises(FrozenInstanceError):
            setattr(value, field, getattr(value, field))
    assert score.lead_in_beats == 0
