"""Score -> a lead sheet without melody in MusicXML 4.0: chord symbols over slashes.

A slash stands on each counted beat; the hits of the band are a rhythm of slashes with accents, and
rests between [common practice].
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from xml.etree.ElementTree import Element, SubElement

from genex.exact import Fraction
from genex.export.metric_values import values_at
from genex.export.note_values import VALUES
from genex.export.page_bars import rests
from genex.export.repeat_signs import PageBar, signed_page
from genex.export.xml_measures import MeasureWriter, child, document, document_text, numbered
from genex.score import BASE_VALUES, Bar, NoteValue, Score

Marks = tuple[str, ...]
"""Of a lead sheet's note: ``beat``, ``rest`` or ``hit``; ends of its ties, ``stop`` and ``start``."""

_PLAIN = NoteValue(BASE_VALUES[2])
"""Printed for lengths that are no value."""


def lead_sheet_text(score: Score, *, bars_per_system: int | None = 4) -> str:
    """A lead sheet without melody: chord symbols over slashes, with repeats and endings."""
    root, part_list = document(score)
    entry = SubElement(part_list, "score-part", id="P1")
    child(entry, "part-name", "Chords")
    root.append(_SheetWriter(score, signed_page(score.timeline), bars_per_system).element("P1"))
    return document_text(root)


class _SheetWriter(MeasureWriter):
    """A staff of slashes under chord symbols."""

    def __init__(self, score: Score, page: Sequence[PageBar], break_every: int | None) -> None:
        super().__init__(score, page, break_every)
        timeline = score.timeline
        lengths = [bar.length_beats for bar in timeline.bars]
        lengths += [bar.meter.pulse_beats for bar in timeline.bars]
        lengths += [time for span in timeline.chords for time in (span.onset_beats, span.push_beats)]
        lengths += [change.onset_beats for change in timeline.tempo.changes]
        lengths += [length for entry in page for length, _, _ in _slashes(entry.bar)]
        self.divisions = math.lcm(*(length.denominator for length in lengths))

    def element(self, identifier: str) -> Element:
        element = Element("part", id=identifier)
        before: Bar | None = None
        for index, bar in enumerate(entry.bar for entry in self.page):
            measure = child(element, "measure", **numbered(bar))
            self.begin(measure, index, bar, before)
            changes = self.chord_changes(bar)
            at = bar.onset_beats
            held = self.tempo_signs.fermatas(bar)
            for length, value, marks in _slashes(bar):
                while changes and changes[0].onset_beats < at + length:
                    span = changes.pop(0)
                    self.harmony(measure, span, span.onset_beats - at)
                is_held = any(at <= onset < at + length for onset in held)
                self.note(measure, length, value or _PLAIN, marks, is_held=is_held)
                at += length
            self.closing_barline(measure, index)
            before = bar
        return element

    def clefs(self, attributes: Element) -> None:
        clef = child(attributes, "clef")
        child(clef, "sign", "G")
        child(clef, "line", 2)

    def note(
        self, measure: Element, length: Fraction, value: NoteValue, marks: Marks, *, is_held: bool
    ) -> None:
        """A slash on a beat, a hit (or what is tied to one), or a rest; a fermata over what is held."""
        note = child(measure, "note")
        if "rest" in marks:
            child(note, "rest")
        else:
            place = child(note, "unpitched")
            child(place, "display-step", "B")
            child(place, "display-octave", 4)
        child(note, "duration", self.duration(length))
        ties = [way for way in ("stop", "start") if way in marks]
        for way in ties:
            child(note, "tie", type=way)
        child(note, "voice", 1)
        self.type(note, value)
        self.tuplet_ratio(note, value)
        if "beat" in marks:
            child(note, "stem", "none")
        if "rest" not in marks:
            child(note, "notehead", "slash")
        if ties or "hit" in marks or is_held:
            notations = child(note, "notations")
            for way in ties:
                child(notations, "tied", type=way)
            if "hit" in marks:
                child(child(notations, "articulations"), "accent")
            if is_held:
                child(notations, "fermata")


def _slashes(bar: Bar) -> Iterator[tuple[Fraction, NoteValue | None, Marks]]:
    """Length, value and marks of all that stands in a bar: its beats, or its hits and rests."""
    if bar.is_pickup:
        yield from _rests(bar, bar.onset_beats, bar.end_beats)
        return
    if bar.hits is None:
        for start, end in pairwise([*bar.meter.pulses, bar.length_beats]):
            yield end - start, VALUES.get(end - start), ("beat",)
        return
    at = bar.onset_beats
    for hit in bar.hits:
        start = bar.onset_beats + hit.onset_beats
        yield from _rests(bar, at, start)
        values = values_at(hit.onset_beats, hit.length_beats, bar.meter)
        for index, value in enumerate(values):
            first, last = index == 0, index == len(values) - 1
            marks = ("hit" if first else "stop", *([] if last else ["start"]))
            yield value.beats, value, marks
        at = start + hit.length_beats
    yield from _rests(bar, at, bar.end_beats)


def _rests(
    bar: Bar, start: Fraction, end: Fraction
) -> Iterator[tuple[Fraction, NoteValue | None, Marks]]:
    for event in rests(bar, start, end):
        yield event.duration_beats, VALUES.get(event.duration_beats), ("rest",)
