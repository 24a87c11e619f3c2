"""No tone is dropped by any kind that walks over chords or scales: all tunings, all positions.

The oracle is an enumeration that knows nothing of hands or forms: between two notes of a line that
follow each other lies no tone of the chord or scale, and a walk has every tone from its lowest to
its highest.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from itertools import groupby, pairwise

import pytest

from genex.errors import LineError
from genex.exercises import Player
from genex.exercises.models.asking import Drill
from genex.exercises.models.over_shapes import Shapes, ShapeSequence, Tour
from genex.exercises.models.over_the_chart import Arpeggio, Changes, Scales
from genex.fretboard import SEQUENCES, TUNINGS, Tuning, pitch_at
from genex.lines.arpeggio import arpeggio_exercise
from genex.lines.changes import arpeggio_line
from genex.lines.drills import drill
from genex.lines.scale_lines import scale_line
from genex.lines.study import practice_path, sequence_study
from genex.score import Note, Part
from genex.theory import find_scale, parse_chord
from tests.lines.line_charts import chart

CHANGES = "Dm7 | G7 | Cmaj7 | Am7"
SYMBOLS = ("C", "Gm7", "Bb7", "Ebmaj7", "F#m7b5")


def left_out(notes: Sequence[Note], classes: Collection[int]) -> list[tuple[str, str]]:
    """Neighbours of a line that have a tone of these pitch classes between them."""
    found = []
    for before, after in pairwise(notes):
        low, high = sorted((before.midi, after.midi))
        if any(midi % 12 in classes for midi in range(low + 1, high)):
            found.append((str(before.pitch), str(after.pitch)))
    return found


def gaps(notes: Sequence[Note], classes: Collection[int]) -> list[int]:
    """Tones between the lowest and the highest note that never come."""
    played = {note.midi for note in notes}
    return [m for m in range(min(played), max(played)) if m % 12 in classes and m not in played]


def sounds_where_it_is_stopped(part: Part, neck: Tuning) -> bool:
    return all(
        note.fretting is not None
        and pitch_at(neck, note.fretting.string, note.fretting.fret) == note.midi
        for note in part.notes
    )


@pytest.mark.parametrize("name", TUNINGS)
def test_scales_arpeggios_and_lines_through_changes_in_every_position(name: str) -> None:
    neck, timeline = TUNINGS[name], chart(CHANGES)
    for position in range(1, neck.last_fret - 2):
        player = Player(tuning=neck)
        line = scale_line(timeline, Scales(position=position), player)
        for before, after in pairwise(line.notes):
            reading = timeline.reading_at(after.onset_beats)
            chord = timeline.chord_at(after.onset_beats).chord
            assert reading is not None and chord is not None
            classes = reading.scale.pitch_classes(chord.root)
            assert not left_out((before, after), classes), position
        through = arpeggio_line(timeline, Changes(position=position), player)
        around = arpeggio_exercise(timeline, Arpeggio(position=position), player)
        for part in (through, around):
            spans = groupby(part.notes, key=lambda note: timeline.chord_at(note.onset_beats).chord)
            for chord, group in spans:
                assert chord is not None
                assert not left_out(list(group), chord.pitch_classes), (position, chord)
        assert all(sounds_where_it_is_stopped(part, neck) for part in (line, through, around))


@pytest.mark.parametrize("name", TUNINGS)
@pytest.mark.parametrize("falling", [False, True])
def test_a_line_that_moves_from_form_to_form(name: str, falling: bool) -> None:
    neck, timeline = TUNINGS[name], chart(CHANGES)
    part = arpeggio_line(timeline, Changes(moving=True, falling=falling), Player(tuning=neck))
    for chord, group in groupby(part.notes, key=lambda n: timeline.chord_at(n.onset_beats).chord):
        assert chord is not None
        assert not left_out(list(group), chord.pitch_classes), chord
    assert sounds_where_it_is_stopped(part, neck)


@pytest.mark.parametrize(
    ("name", "scale"),
    [  # every tuning with two of the three
        (name, scale)
        for turn, name in enumerate(TUNINGS)
        for index, scale in enumerate((None, "dorian", "minor pentatonic"))
        if (turn + index) % 3
    ],
)
def test_shapes_and_tours(name: str, scale: str | None) -> None:
    neck = TUNINGS[name]
    for symbol in SYMBOLS[len(name) % 3 :: 2]:
        chord = parse_chord(symbol)
        classes = chord.pitch_classes
        if scale is not None:
            classes = find_scale(scale).pitch_classes(chord.root)
        for exercise in (Shapes(scale=scale), Tour(scale=scale)):
            plan = practice_path(chart(symbol), exercise, Player(tuning=neck))
            (part,) = plan.parts
            for cue in plan.cues:
                walk = [n for n in part.notes if cue.onset_beats <= n.onset_beats < cue.end_beats]
                assert not left_out(walk, classes), (symbol, cue.text)
                assert {note.midi % 12 for note in walk} == classes
            assert sounds_where_it_is_stopped(part, neck)


def dealt() -> list[tuple[str, str]]:
    """Every pattern in standard tuning and in every sixth other one, another sixth for the next."""
    others = [name for name in TUNINGS if name != "standard"]
    return [
        (name, pattern)
        for turn, pattern in enumerate(SEQUENCES)
        for name in ("standard", *others[turn % 6 :: 6])
    ]


@pytest.mark.parametrize(("name", "pattern"), dealt())
def test_sequences(name: str, pattern: str) -> None:
    neck = TUNINGS[name]
    row = SEQUENCES[pattern]
    strings = tuple(range(1, row.strings + 1))
    for symbol in (SYMBOLS[(len(name) + len(pattern)) % len(SYMBOLS)], "C"):
        chord = parse_chord(symbol)
        exercise = ShapeSequence(pattern=pattern, strings=strings)
        try:
            plan = sequence_study(chart(symbol), exercise, Player(tuning=neck))
        except LineError as error:
            assert error.hint is not None
            assert len(neck.strings) < 6, "a shape of six strings holds every pattern"
            continue
        (part,) = plan.parts
        for cue in plan.cues:
            walk = [n for n in part.notes if cue.onset_beats <= n.onset_beats < cue.end_beats]
            classes = chord.pitch_classes
            if pattern == "triad pairs":
                # Two triads without a tone in common; the chord may have others.
                classes = frozenset(n.midi % 12 for n in walk)
                assert len(classes) == 6, (symbol, cue.text)
            assert not gaps(walk, classes), (symbol, cue.text)
        assert sounds_where_it_is_stopped(part, neck)


@pytest.mark.parametrize("name", TUNINGS)
@pytest.mark.parametrize("ask", ["interval", "degree"])
def test_the_ways_of_drills_go_by_step(name: str, ask: str) -> None:
    """The confirmation: from the one note to the other, or home to the tonic"""
    neck = TUNINGS[name]
    exercise, timeline = Drill.model_validate({"ask": ask}), chart("C | C | C | C")
    try:
        plan = drill(timeline, exercise, Player(tuning=neck))
    except LineError as error:
        # what this position lacks another one has, and the user is told which
        assert name == "ukulele" and error.hint is not None
        position = int(re.findall(r"\d+", error.hint)[0])
        plan = drill(timeline, Drill(ask="degree", position=position), Player(tuning=neck))
    part = next(part for part in plan.parts if part.strings)
    answers = [cue for cue in plan.cues if cue.kind == "answer"]
    assert len(answers) > 4
    for cue in answers:
        way = [note for note in part.notes if cue.onset_beats <= note.onset_beats < cue.end_beats]
        assert way
        assert all(abs(a.midi - b.midi) <= 2 for a, b in pairwise(way)), [str(n.pitch) for n in way]
    assert sounds_where_it_is_stopped(part, neck)


@pytest.mark.parametrize("name", [name for name, neck in TUNINGS.items() if len(neck.strings) >= 6])
def test_three_notes_on_every_string(name: str) -> None:
    neck, timeline = TUNINGS[name], chart("C | C | C | C")
    classes = {name.pitch_class for name in timeline.key.scale}
    for position in (2, 5, 7):
        try:
            part = scale_line(
                timeline, Scales(position=position, three_a_string=True), Player(tuning=neck)
            )
        except LineError as error:
            assert error.hint is not None
            continue
        assert not left_out(part.notes, classes), position
