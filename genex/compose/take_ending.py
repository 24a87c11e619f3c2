"""How a take ends: at home, on a tonic that is held.

A loop leads back to its beginning; a take is over. What players do then [common practice]: the
last bar has the tonic; a turnaround that began in the bar before gives way to the tonic too; a
fifth that stood in the last bar moves into the second half of the bar before, so that the
cadence is still heard. A blues ends on its own tonic seventh.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

from genex.exact import Fraction
from genex.score import Bar, ChordSpan, Timeline
from genex.theory import Chord, Degree, Key, parse_chord


def tonic_chord(chords: Iterable[ChordSpan], key: Key) -> Chord:
    """The chord that a chart rests on: its own tonic, the one that sounds longest.

    A dominant seventh on the tonic counts only where the chart has no other tonic, as a blues has
    none. Without any the mode's own chord is taken, a triad where the chart is made of triads.
    """
    spans = [(span.chord, span.length_beats) for span in chords if span.chord is not None]
    lengths: Counter[str] = Counter()
    known: dict[str, Chord] = {}
    for chord, length in spans:
        if is_tonic(chord, key) and not chord.has_slash:
            known.setdefault(chord.symbol, chord)
            lengths[chord.symbol] += length  # type: ignore[assignment]
    if known:
        plain = [symbol for symbol in known if not _is_dominant(known[symbol])] or list(known)
        best = max(plain, key=lambda symbol: (lengths[symbol], -list(known).index(symbol)))
        return known[best]
    has_sevenths = sum(chord.find(7, 6) is not None for chord, _ in spans) * 2 > len(spans)
    return parse_chord(f"{key.tonic}{_quality_of(key, seventh=has_sevenths)}")


def is_tonic(chord: Chord, key: Key) -> bool:
    """Whether a chord stands on the tonic and has the mode's third, or none."""
    third = chord.find(3)
    return chord.root.pitch_class == key.tonic.pitch_class and (
        third is None or chord.is_minor == (key.plain_mode == "minor")
    )


def at_home(timeline: Timeline, *, led: bool = True) -> Timeline:
    """The timeline with its last bars changed so that it ends on the tonic of its key.

    Unchanged if the last bar has nothing but a tonic, or no chord at all. Without ``led`` only the
    last bar is changed.
    """
    last = timeline.chords_in(timeline.bars[-1])
    if all(span.chord is None for span in last):
        return timeline
    rests = [span.chord is not None and is_tonic(span.chord, timeline.key) for span in last]
    home = tonic_chord(timeline.chords, timeline.key)
    if all(rests) and not any(_is_off(span.chord, home) for span in last):
        return timeline
    changed: dict[Bar, list[tuple[Chord | None, Fraction]]] = {
        timeline.bars[-1]: [(home, timeline.bars[-1].length_beats)]
    }
    if led and len(timeline.bars) > 1:
        changed |= _led(timeline, timeline.bars[-2], last, home)
    spans = []
    for bar in timeline.bars:
        onset = bar.onset_beats
        if bar not in changed:
            spans += list(timeline.chords_in(bar))
            continue
        for chord, length in changed[bar]:
            spans.append(ChordSpan(onset, length, chord))
            onset += length
    return replace(timeline, chords=tuple(spans))


def with_last_bar(timeline: Timeline) -> Timeline:
    """The timeline with one bar more, on the tonic, if it does not end there by itself.

    For pieces that are full to their end, such as calls with the silence to answer them.
    """
    last = timeline.bars[-1]
    home = tonic_chord(timeline.chords, timeline.key)
    at_end = timeline.chords[-1].chord
    if at_end is None or (is_tonic(at_end, timeline.key) and not _is_off(at_end, home)):
        return timeline
    bar = replace(
        last, number=last.number + 1, form_number=last.form_number + 1, onset_beats=last.end_beats
    )
    section = timeline.sections[-1]
    longer = replace(section, length_beats=section.length_beats + bar.length_beats)
    return replace(
        timeline,
        bars=(*timeline.bars, bar),
        chords=(*timeline.chords, ChordSpan(bar.onset_beats, bar.length_beats, home)),
        sections=(*timeline.sections[:-1], longer),
    )


def _is_off(chord: Chord | None, home: Chord) -> bool:
    """Whether a chord on the tonic is the dominant of elsewhere, as C7 is at the end of a C6 tune."""
    return chord is not None and _is_dominant(chord) and not _is_dominant(home)


def _led(
    timeline: Timeline, bar: Bar, last: Sequence[ChordSpan], home: Chord
) -> dict[Bar, list[tuple[Chord | None, Fraction]]]:
    """What the bar before the last becomes, if anything."""
    before = timeline.chords_in(bar)
    first = before[0].chord
    if first is not None and is_tonic(first, timeline.key) and not _is_off(first, home):
        return {bar: [(first, bar.length_beats)]} if len(before) > 1 else {}
    leading = [span.chord for span in last if span.chord is not None and _leads(span.chord, home)]
    pulses = bar.meter.pulses
    if not leading or len(before) > 1 or first is None or _is_fifth(first, home) or len(pulses) < 2:
        return {}
    half = pulses[(len(pulses) + 1) // 2]
    return {bar: [(first, half), (leading[-1], bar.length_beats - half)]}


def _leads(chord: Chord, home: Chord) -> bool:
    """Whether a chord goes home: the fifth or its substitute, the fourth, the lowered seventh."""
    distance = _above(chord, home)
    return _is_fifth(chord, home) or distance == 5 or (distance == 10 and not chord.is_minor)


def _is_fifth(chord: Chord, home: Chord) -> bool:
    """Whether a chord is the fifth of home, or the dominant a tritone away from it."""
    distance = _above(chord, home)
    return distance == 7 or (distance == 1 and _is_dominant(chord))


def _above(chord: Chord, home: Chord) -> int:
    return (chord.root.pitch_class - home.root.pitch_class) % 12


def _is_dominant(chord: Chord) -> bool:
    return Degree(7, -1) in chord.degrees and not chord.is_minor


def _quality_of(key: Key, *, seventh: bool) -> str:
    """The quality of the mode's tonic chord."""
    lowered = {degree.number for degree in key.degrees if degree.alter == -1}
    if 5 in lowered:
        return "m7b5" if seventh else "dim"
    if 3 in lowered:
        return "m7" if seventh else "m"
    return ("7" if 7 in lowered else "maj7") if seventh else ""
