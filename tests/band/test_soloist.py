"""Lines as they are played: phrases that swell and taper, written time untouched."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from statistics import fmean

import pytest

from genex.band import play_line
from genex.band.soloist import phrases_of
from genex.score import Note, Part, Role
from genex.score.checks import line_overlaps
from genex.theory import Pitch
from tests.band.charts import GROOVES, timeline

F = Fraction
LINE = timeline(" | ".join(["C"] * 8), tempo=120)


def line(*notes: tuple[str, str, str], role: Role = Role.EXERCISE) -> Part:
    """A part from onset, length and pitch of each note."""
    return Part.of("exercise", role, 26, [Note(F(a), F(b), Pitch.parse(name)) for a, b, name in notes])


def scale_line(bars: int = 8) -> Part:
    names = "C4 D4 E4 F4 G4 A4 B4 C5".split()
    return line(*((str(F(i, 2)), "1/2", names[min(i % 16, 15 - i % 16)]) for i in range(8 * bars)))


@pytest.mark.parametrize("name", ["swing", "straight", "shuffle", "bossa", "funk"])
def test_written_time_is_untouched_and_a_single_line_stays_single(name):
    part = scale_line()
    played = play_line(part, LINE, GROOVES[name], seed=1)
    assert [replace(n, velocity=80, offset_beats=F(0), sounding_beats=None) for n in played.notes] == [
        replace(n, velocity=80) for n in part.notes
    ]
    assert line_overlaps(played) == []
    for before, after in pairwise(played.notes):
        assert before.end_beats == after.start_beats
    assert played == play_line(part, LINE, GROOVES[name], seed=1)
    assert played != play_line(part, LINE, GROOVES[name], seed=2)


def test_a_line_drifts_by_3_to_6_ms():
    """By the feel's own amount, without jumps from note to note."""
    played = play_line(scale_line(), LINE, GROOVES["straight"], seed=1).notes
    late = [float(note.start_beats - note.onset_beats) * 500 for note in played]
    mean = fmean(late)
    spread = fmean((ms - mean) ** 2 for ms in late) ** 0.5
    assert 2 < spread < 6
    assert max(abs(a - b) for a, b in pairwise(late)) < 4


def test_a_phrase_swells_to_its_highest_note_and_tapers_to_its_end():
    """[published: Todd 1992, JASA 91(6); Friberg, Bresin and Sundberg 2006, phrase arch]"""
    names = "C4 E4 G4 C5 E5 G5 E5 C5 G4 C4".split()
    part = line(*((str(F(i)), "1", name) for i, name in enumerate(names)))
    loud = [n.velocity for n in play_line(part, LINE, GROOVES["straight"], seed=1).notes]
    assert loud[5] == max(loud)
    assert loud[:6] == sorted(loud[:6])
    assert loud[5:] == sorted(loud[5:], reverse=True)
    assert loud[-1] <= loud[0] < loud[5] - 6
    assert min(loud) >= 76 and 80 <= fmean(loud) <= 92  # heard over the band to its softest note


def test_passing_notes_are_softer_than_chord_tones_beside_them():
    names = "C4 D4 E4 F4 G4 F4 E4 D4".split() * 4
    part = line(*((str(F(i, 2)), "1/2", name) for i, name in enumerate(names)))
    played = play_line(part, LINE, GROOVES["straight"], seed=1).notes
    tones = {note.onset_beats: note.velocity for note in played}
    passing = [note for note in played[1:-1] if str(note.pitch.name) in "DF"]
    softer = [
        n.velocity < (tones[n.onset_beats - F(1, 2)] + tones[n.onset_beats + F(1, 2)]) / 2
        for n in passing
    ]
    assert fmean(softer) > 0.9


def test_phrases_end_with_rests_long_notes_and_where_the_form_has_an_end():
    part = line(
        ("0", "1", "C4"), ("1", "1", "D4"), ("3", "1", "E4"),  # a rest of a beat
        ("4", "1", "C4"), ("5", "1", "D4"), ("6", "2", "E4"),  # a long note
        *((str(F(8 + i)), "1", "G4") for i in range(16)),  # on and on, over the fourth bar's end
    )  # fmt: skip
    found = phrases_of(part.notes, LINE)
    assert [len(phrase) for phrase in found] == [2, 4, 8, 8]
    assert [part.notes[phrase[0]].onset_beats for phrase in found] == [0, 3, 8, 16]


def test_an_exact_grid_has_neither_drift_nor_dynamics():
    part = scale_line()
    played = play_line(part, LINE, GROOVES["bossa"], seed=1, humanise=0)
    assert all(note.start_beats == note.onset_beats for note in played.notes)
    assert {note.velocity for note in played.notes} == {80}


@pytest.mark.parametrize("how", [{"even": True}, {"role": Role.CUE}])
def test_questions_of_a_drill_are_even(how):
    part = replace(scale_line(), role=how.pop("role", Role.LEAD))
    played = play_line(part, LINE, GROOVES["bossa"], seed=1, **how)
    assert {note.velocity for note in played.notes} == {80}
    assert all(note.start_beats == note.onset_beats for note in played.notes)


def test_a_guide_line_swells_half_as_much():
    names = "C4 E4 G4 C5 E5 C5 G4 E4".split()
    notes = [(str(F(i)), "1", name) for i, name in enumerate(names)]
    spread = []
    for role in (Role.EXERCISE, Role.GUIDE):
        loud = [
            n.velocity for n in play_line(line(*notes, role=role), LINE, GROOVES["rock"], seed=1).notes
        ]
        spread.append(max(loud) - min(loud))
    assert 0 < spread[1] < 0.7 * spread[0]


def test_the_line_builds_up_with_the_band():
    choruses = timeline("C | C | C | C", choruses=3)
    loud = play_line(scale_line(12), choruses, GROOVES["rock"], seed=1, build=0.15).notes
    means = [
        fmean(n.velocity for n in loud if choruses.bar_at(n.onset_beats).chorus == chorus)
        for chorus in (1, 2, 3)
    ]
    assert means == sorted(means)
    assert 8 <= means[2] - means[0] <= 15


@pytest.mark.parametrize("swing", [None, 1.0, 1.5, 2.0, 3.5])
def test_triplets_of_sixteenths_fill_their_half_of_a_swung_beat(swing):
    # The written triplet of a beat stays [Friberg and Sundström 2002]; one that fills the half beat
    # before or behind a swung eighth shares that half evenly.
    third = F(1, 6)
    times = [*(i * third for i in range(4)), F(1), *(F(3, 2) + i * third for i in range(4))]
    times += [F(3), F(10, 3), F(11, 3), F(4)]
    part = line(
        *((str(a), str(b - a), "A4") for a, b in pairwise(times) if b - a not in (F(1, 2), F(1)))
    )
    played = play_line(part, LINE, GROOVES["swing"], seed=1, humanise=0.0, swing=swing)
    assert not line_overlaps(played)
    starts = [note.onset_beats + note.offset_beats for note in played.notes]
    for first in (0, 3):
        steps = [b - a for a, b in pairwise(starts[first : first + 3])]
        assert steps[0] == steps[1] == played.notes[first].sounding_beats
    assert starts[6:] == [F(3), F(10, 3), F(11, 3)]
