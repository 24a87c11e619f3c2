"""What a player would not practise in an etude, counted: each kind was found in a reading of forty."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import groupby, pairwise

from genex.exact import Fraction
from genex.lines.measures import bar_rhythms
from genex.lines.phrase import Phrase
from genex.lines.vocabulary import Kind
from genex.score import Note, Timeline

LEADING = (Kind.APPROACH, Kind.ENCLOSE_ABOVE, Kind.ENCLOSE_BELOW, Kind.BLUE)


def faults_of(timeline: Timeline, phrases: Sequence[Phrase], level: int) -> Counter[str]:
    """How often each kind of fault comes in an etude."""
    notes = [note for phrase in phrases for note in phrase.notes]
    found: Counter[str] = Counter()
    found["notes"] = len(notes)
    found["bars"] = len(timeline.bars)
    found["etudes"] = 1
    found["again"] = sum(a.midi == b.midi for a, b in pairwise(notes))
    for phrase in phrases:
        own = phrase.notes
        found["quick again"] += sum(map(is_quick_again, own, own[1:]))
        found["wild leap"] += wild_leaps(own)
        found["circles"] += circles(own, level)
        found["hanging"] += sum(
            kind in LEADING and b.onset_beats > a.written_end_beats
            for (a, b), kind in zip(pairwise(own), phrase.kinds, strict=False)
        )
    found["far over a rest"] += sum(
        abs(a.notes[-1].midi - b.notes[0].midi) > 12 for a, b in pairwise(phrases)
    )
    rhythms = bar_rhythms(timeline, notes)
    found["three bars alike"] += sum(max(0, len(list(run)) - 2) for _, run in groupby(rhythms))
    found["one bar all over"] += sum(
        max(Counter(rhythms[at : at + 8]).values()) > 4 for at in range(len(rhythms) - 7)
    )
    longest = max((b.onset_beats - a.written_end_beats for a, b in pairwise(notes)), default=Fraction(0))
    found["hole"] += longest > timeline.meter.bar_beats
    found["early peak"] += level > 1 and is_early_peak(timeline, notes)
    found["weak peak"] += level > 1 and is_weak_peak(timeline, notes)
    return found


def is_quick_again(a: Note, b: Note) -> bool:
    """A pitch struck twice within less than a beat, and not held the second time."""
    return a.midi == b.midi and b.onset_beats - a.onset_beats < 1 and b.duration_beats < 1


def wild_leaps(notes: Sequence[Note]) -> int:
    """Leaps of more than a fifth into a short note, from a short note or left alone before a rest."""
    found = 0
    for index, (a, b) in enumerate(pairwise(notes), start=1):
        alone = index + 1 < len(notes) and notes[index + 1].onset_beats > b.written_end_beats
        quick = a.duration_beats < 1 and b.duration_beats < 1
        found += (
            abs(a.midi - b.midi) > 7
            and b.duration_beats < 1
            and (quick or alone)
            and a.written_end_beats == b.onset_beats
        )
    return found


def circles(notes: Sequence[Note], level: int) -> int:
    """Eight notes in a row of which one pitch is more than half, or which have three pitches only."""
    found = 0
    for at in range(len(notes) - 7):
        counts = Counter(note.midi for note in notes[at : at + 8])
        found += max(counts.values()) > 4 or (level > 2 and len(counts) < 4)
    return found


def is_early_peak(timeline: Timeline, notes: Sequence[Note]) -> bool:
    top = max(note.midi for note in notes)
    last = max(note.onset_beats for note in notes if note.midi == top)
    return last < timeline.length_beats * Fraction(2, 5)


def is_weak_peak(timeline: Timeline, notes: Sequence[Note]) -> bool:
    """The highest pitch is never on a beat nor held a beat."""
    top = max(note.midi for note in notes)
    pulse = timeline.meter.pulse_beats
    return all(
        (note.onset_beats - timeline.bar_at(note.onset_beats).onset_beats) % pulse != 0
        and note.duration_beats < 1
        for note in notes
        if note.midi == top
    )
