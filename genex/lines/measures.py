"""What a line amounts to, in numbers: how dense, how wide, how syncopated, how it moves.

The tests hold the levels by these figures, and ``genex check`` tells them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from genex.exact import Fraction
from genex.lines.ladders import chord_tones
from genex.lines.phrase_places import chord_over, strong_beats
from genex.score import Note, Timeline

BarRhythm = tuple[tuple[Fraction, Fraction], ...]
"""Onset from the bar line and length of each note of a bar, in beats, cut at the bar line; at last the
bar's end, with no length: bars of different meters are different rhythms."""


@dataclass(frozen=True)
class LineFigures:
    """notes_a_bar         over all bars, rests counted in
    range_semitones     from the lowest to the highest note
    syncopation         share of the notes that begin off the pulse and sound over the next one
    tied_bars           share of the bar lines that a note is held over
    strong_chord_tones  share of the notes on strong beats that are tones of their chord
    mean_leap           mean distance from note to note, in semitones
    largest_leap        the largest within half a bar
    """

    notes_a_bar: float
    range_semitones: int
    syncopation: float
    tied_bars: float
    strong_chord_tones: float
    mean_leap: float
    largest_leap: int

    def __str__(self) -> str:
        return (
            f"{self.notes_a_bar:.1f} notes a bar within {self.range_semitones} semitones, "
            f"{self.syncopation:.0%} of them syncopated"
        )


def figures_of(timeline: Timeline, notes: Sequence[Note]) -> LineFigures:
    """The figures of a line, which has a note at least."""
    strong = syncopated = at_home = tied = 0
    for note in notes:
        bar = timeline.bar_at(note.onset_beats)
        pulse = bar.meter.pulse_beats
        into = note.onset_beats - bar.onset_beats
        left = pulse - into % pulse
        syncopated += into % pulse != 0 and note.duration_beats > left
        tied += note.written_end_beats > bar.end_beats
        if into in strong_beats(bar.meter):
            strong += 1
            chord = chord_over(timeline, note.onset_beats, note.duration_beats, pulse)
            at_home += chord is not None and bool(chord_tones(chord, (note.midi,)))
    leaps = [abs(b.midi - a.midi) for a, b in pairwise(notes) if b.onset_beats - a.written_end_beats < 1]
    midis = [note.midi for note in notes]
    bars = len(timeline.bars)
    return LineFigures(
        len(notes) / bars,
        max(midis) - min(midis),
        syncopated / len(notes),
        tied / max(1, bars - 1),
        at_home / max(1, strong),
        sum(leaps) / max(1, len(leaps)),
        max(leaps, default=0),
    )


def bar_rhythms(timeline: Timeline, notes: Sequence[Note]) -> list[BarRhythm]:
    """The rhythm of each bar in which something is struck."""
    found = []
    for bar in timeline.bars:
        own = [note for note in notes if bar.onset_beats <= note.onset_beats < bar.end_beats]
        if own:
            end = bar.end_beats
            notes_of = (
                (n.onset_beats - bar.onset_beats, min(n.written_end_beats, end) - n.onset_beats)
                for n in own
            )
            found.append((*notes_of, (bar.length_beats, Fraction(0))))
    return found


def shared_bars(one: Sequence[object], other: Sequence[object]) -> float:
    """The share of their bars that two tunes have in common, each bar of one paired with one equal
    bar of the other at most: 1 for tunes of the same bars in any order."""
    common = sum((Counter(one) & Counter(other)).values())
    return common / max(1, min(len(one), len(other)))
