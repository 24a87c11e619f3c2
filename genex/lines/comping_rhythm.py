"""When the chords of an exercise are struck: as its feel does, or in a rhythm that has a name.

A rhythm begins anew with every section, strikes every chord once at least, and never strikes one after
it is over. A chord struck ahead of its beat takes the place of the stroke there. A strum goes down
on the pulse and up between pulses, with sixteenths down on every eighth [common practice].
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import cycle, islice

from genex.exact import Fraction
from genex.exercises import Struck
from genex.score import Bar, Meter, Stroke, Timeline

Bars = tuple[tuple[Struck, ...], ...]

RHYTHMS = {
    # head, and the words that fill the rest of the bar over and over
    "whole": ("x", "-"),
    "half": ("", "x -"),
    "quarters": ("", "x"),
    "two and four": ("", ". x"),
    "off-beats": ("", ".x"),
    "charleston": ("x -x", "."),
    "anticipated": ("x", "-"),
}
"""A word a pulse, its letters dividing it: ``x`` strikes, ``-`` holds, ``.`` rests [common practice]."""

COMPOUND_RHYTHMS = {"off-beats": ("", "..x"), "charleston": ("x --x", ".")}
"""Where a pulse has three eighths."""

ANTICIPATED = "anticipated"
"""In its last half pulse (a compound meter: last eighth) the bar strikes the next chord ahead."""

_ACCENT, _PLAIN, _AHEAD = 6, 5, 6


@dataclass(frozen=True, slots=True)
class TuneStroke:
    """A chord struck in the tune: the one that stands at ``chord_beats``."""

    onset_beats: Fraction
    length_beats: Fraction
    chord_beats: Fraction
    loudness: int
    way: Stroke
    is_muted: bool = False
    voice: int | None = None

    @property
    def end_beats(self) -> Fraction:
        return self.onset_beats + self.length_beats


def named_rhythm(name: str, meter: Meter) -> tuple[Struck, ...]:
    """The strokes of a bar in one of ``RHYTHMS``."""
    table = RHYTHMS | COMPOUND_RHYTHMS if meter.is_compound else RHYTHMS
    head, fill = (text.split() for text in table[name])
    count = len(meter.pulses)
    words = [*head, *islice(cycle(fill), count)][:count]
    found: list[Struck] = []
    for onset, end, word in zip(meter.pulses, (*meter.pulses[1:], meter.bar_beats), words, strict=True):
        step = (end - onset) / len(word)
        for index, sign in enumerate(word):
            if sign == "x":
                loudness = _ACCENT if not found else _PLAIN
                found.append(Struck(onset + index * step, step, loudness))
            elif sign == "-" and found:
                found[-1] = replace(found[-1], length_beats=found[-1].length_beats + step)
    if name == ANTICIPATED:
        length = Fraction(1, 2) if meter.is_compound else meter.pulse_beats / 2
        start = meter.bar_beats - length
        found[-1] = replace(found[-1], length_beats=start - found[-1].onset_beats)
        found.append(Struck(start, length, _AHEAD, is_ahead=True))
    return tuple(found)


def strokes_over(timeline: Timeline, rhythm: str, feel: Bars) -> list[TuneStroke]:
    """The strokes of a whole tune, in order; none where there is N.C.

    ``rhythm`` is a name of ``RHYTHMS``, or ``feel`` for the bars of a feel (whole bars where the feel
    has none, or is in another meter).
    """
    starts = {section.onset_beats for section in timeline.sections}
    found: list[TuneStroke] = []
    place = 0
    ahead: Fraction | None = None
    for bar in timeline.bars:
        place = 0 if bar.onset_beats in starts else place + 1
        for struck in _bar(bar.meter, rhythm, feel, place):
            onset = bar.onset_beats + struck.onset_beats
            if onset == ahead:
                # What was struck ahead sounds as long as the stroke in its place would.
                end = onset + struck.length_beats
                found[-1] = replace(found[-1], length_beats=end - found[-1].onset_beats)
                continue
            stroke = _placed(struck, bar, timeline, rhythm, feel)
            if timeline.chord_at(stroke.chord_beats).chord is not None:
                found.append(stroke)
                ahead = stroke.chord_beats if struck.is_ahead else None
    return _with_pushes(list(_every_chord(found, timeline)), timeline)


def _with_pushes(strokes: list[TuneStroke], timeline: Timeline) -> list[TuneStroke]:
    """The strokes with the chart's pushed chords struck ahead, over what lay there before the beat.

    A push onto the first beat stays there, as the page begins with it.
    """
    for span in timeline.chords:
        early, beat = span.struck_beats, span.onset_beats
        if not span.push_beats or not beat or all(stroke.onset_beats != beat for stroke in strokes):
            continue
        found = []
        for stroke in strokes:
            if stroke.onset_beats == beat:
                length = stroke.length_beats + span.push_beats
                stroke = replace(stroke, onset_beats=early, length_beats=length, way=Stroke.UP)
            elif early <= stroke.onset_beats < beat:
                continue
            elif stroke.onset_beats < early < stroke.end_beats:
                stroke = replace(stroke, length_beats=early - stroke.onset_beats)
            found.append(stroke)
        strokes = found
    return strokes


def _bar(meter: Meter, rhythm: str, feel: Bars, place: int) -> tuple[Struck, ...]:
    """The strokes of a bar, ``place`` bars into its section."""
    if rhythm != "feel":
        return named_rhythm(rhythm, meter)
    strokes = feel[place % len(feel)] if feel else ()
    if not strokes or strokes[-1].onset_beats + strokes[-1].length_beats > 2 * meter.bar_beats:
        return named_rhythm("whole", meter)
    return strokes


def _placed(struck: Struck, bar: Bar, timeline: Timeline, rhythm: str, feel: Bars) -> TuneStroke:
    onset = bar.onset_beats + struck.onset_beats
    chord_beats = onset
    if struck.is_ahead:
        later = (bar.onset_beats + pulse for pulse in bar.meter.pulses)
        chord_beats = next((pulse for pulse in later if pulse > onset), bar.end_beats)
    return TuneStroke(
        onset, struck.length_beats, chord_beats, struck.loudness,
        _way(struck, bar.meter, _bar(bar.meter, rhythm, feel, 0)), struck.is_muted, struck.voice,
    )  # fmt: skip


def _way(struck: Struck, meter: Meter, bar: Sequence[Struck]) -> Stroke:
    """Down on the pulse and up between; with sixteenths in the bar down on every eighth."""
    quick = any((each.onset_beats * 4) % 2 == 1 for each in bar)
    unit = Fraction(1, 2) if quick or meter.is_compound else Fraction(1)
    return Stroke.DOWN if struck.onset_beats % unit == 0 else Stroke.UP


def _every_chord(strokes: Sequence[TuneStroke], timeline: Timeline) -> Iterator[TuneStroke]:
    """The strokes and one for each chord that none of them strikes; none outlasts its chord."""
    spans = {span.onset_beats: span for span in timeline.merged_chords}
    struck = {_span_at(s.chord_beats, timeline) for s in strokes if not s.is_muted}
    added = [
        TuneStroke(
            span.onset_beats, min(span.length_beats, Fraction(1)), span.onset_beats, _PLAIN, Stroke.DOWN
        )
        for span in spans.values()
        if span.chord is not None and span.onset_beats not in struck
    ]
    placed = {stroke.onset_beats: stroke for stroke in [*strokes, *added]}
    ordered = [placed[onset] for onset in sorted(placed)]
    nexts = [*(stroke.onset_beats for stroke in ordered), timeline.length_beats][1:]
    for stroke, after in zip(ordered, nexts, strict=True):
        chord_end = spans[_span_at(stroke.chord_beats, timeline)].end_beats
        if stroke.chord_beats >= timeline.length_beats:  # ahead of the beginning of the loop
            chord_end = timeline.length_beats
        end = min(stroke.end_beats, after, chord_end)
        yield replace(stroke, length_beats=end - stroke.onset_beats)


def _span_at(beats: Fraction, timeline: Timeline) -> Fraction:
    """Onset of the merged chord span at a time; behind the end the loop begins again."""
    at = beats % timeline.length_beats
    return max(span.onset_beats for span in timeline.merged_chords if span.onset_beats <= at)
