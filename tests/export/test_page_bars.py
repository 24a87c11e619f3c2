"""A part as bars of notes, rests and ties."""

from __future__ import annotations

from fractions import Fraction as F

from hypothesis import given

from genex.export.page_bars import measures
from genex.score import Note, Part, Role
from genex.theory import Pitch

from .builders import fretted, lead, timeline
from .test_tab import lines


def events(notes, chart="C | F", meter="4/4"):
    """(onset, length, what) a bar: R a rest, N a note, with ~ where it is tied."""
    made = measures(lead(notes), timeline(chart, meter=meter))
    return [
        [
            (
                str(event.onset_beats - measure.bar.onset_beats),
                str(event.duration_beats),
                ("~" if event.tied_from else "")
                + ("N" if event.notes else "R")
                + ("~" if event.tied_to else ""),
            )
            for event in measure.events
        ]
        for measure in made
    ]


def test_a_note_over_the_bar_line_is_tied():
    assert events([fretted(2, 4, 3, 5)]) == [
        [("0", "2", "R"), ("2", "2", "N~")],
        [("0", "2", "~N"), ("2", "2", "R")],
    ]


def test_an_empty_bar_is_one_rest():
    (first, second) = measures(lead([]), timeline("C | F"))
    assert [event.fills_bar for event in (*first.events, *second.events)] == [True, True]


def test_rests_show_the_pulses():
    # [common practice] the broken pulse is filled up first; halves of the bar are not hidden
    (bar,) = events([fretted("1/2", "1/4", 3, 5)], "C")
    assert bar == [
        ("0", "1/2", "R"),
        ("1/2", "1/4", "N"),
        ("3/4", "1/4", "R"),
        ("1", "1", "R"),
        ("2", "2", "R"),
    ]
    (bar,) = events([fretted(0, "1/2", 3, 5)], "C", "6/8")
    assert bar == [("0", "1/2", "N"), ("1/2", "1", "R"), ("3/2", "3/2", "R")]


def test_a_note_ends_where_the_next_begins():
    assert events([fretted(0, 4, 3, 5), fretted(1, 3, 2, 5)], "C") == [
        [("0", "1", "N"), ("1", "3", "N")]
    ]


def test_notes_struck_together_are_one_event():
    low, high = (Note(F(0), F(n), Pitch.parse(pitch)) for n, pitch in ((1, "C4"), (2, "E4")))
    chord = Part.of("chord", Role.LEAD, 0, [low, high])
    (bar,) = measures(chord, timeline("C"))
    assert [len(event.notes) for event in bar.events] == [2, 0]
    assert bar.events[0].duration_beats == 2


@given(lines())
def test_events_fill_every_bar(made):
    score, _ = made
    for measure in measures(score.part("line"), score.timeline):
        at = measure.bar.onset_beats
        for event in measure.events:
            assert event.onset_beats == at
            at = event.end_beats
        assert at == measure.bar.end_beats
