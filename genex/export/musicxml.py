"""Score -> MusicXML 4.0 (score-partwise): lead parts in notation and tab, and lead sheets.

A part with strings has two staves: notation (voice 1) and tab (voice 2). Left-hand fingers stand
on the notation staff, strings and frets on the tab staff. Pitches are sounding pitches; the clef
carries the octave (treble 8 below for guitars, bass 8 below for basses).

A slide from the note before, on the same string, is a ``slide``; one from nowhere is a
``scoop`` (from below) or ``plop`` (from above). Dead notes have an x for a notehead, ghost notes
parentheses. [published: MusicXML 4.0, W3C Music Notation Community Group, 2021]
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal
from xml.etree.ElementTree import Element

from genex.exact import Fraction
from genex.export.held_grips import hand_changes
from genex.export.notation import Written, add_courtesy_accidentals, written_measure
from genex.export.page_bars import Event, Measure, measures
from genex.export.phrases import words
from genex.export.repeat_signs import PageBar, full_page, signed_page
from genex.export.resolving import UNDERLINES, Resolving, resolving_notes
from genex.export.tab_layout import string_names
from genex.export.xml_measures import (
    ACCIDENTALS,
    MeasureWriter,
    child,
    document,
    document_text,
    numbered,
    pitch_element,
)
from genex.export.xml_techniques import Techniques, slides, struck, words_over
from genex.score import Articulation, Bar, Note, Part, Score, Stroke, Timeline, program_name
from genex.theory import STEPS

Look = Literal["notes", "slashes", "blank"]


@dataclass(frozen=True, slots=True)
class _Clef:
    sign: str
    line: int
    octave: int = 0


def musicxml_text(
    score: Score,
    part_names: Sequence[str] | None = None,
    *,
    show_degrees: bool = False,
    fold_repeats: bool = False,
    bars_per_system: int | None = None,
    courtesy: bool = False,
) -> str:
    """A MusicXML document of the named parts, or of all lead parts.

    show_degrees     chord degrees as lyrics below the notes; syllables to count with stand there anyway
    fold_repeats     what is alike in all parts is written once, between repeat signs: choruses,
                     sections that follow themselves, the chart's repeats with their endings
    bars_per_system  a system break every so many bars; None leaves it to the reader
    courtesy         accidentals that remind, marked as cautionary

    Raises KeyError for an unknown part.
    """
    parts = score.lead_parts if part_names is None else tuple(score.part(name) for name in part_names)
    page = (signed_page if fold_repeats else full_page)(score.timeline, parts)
    root = parts_document(
        score,
        parts,
        page,
        show_degrees=show_degrees,
        bars_per_system=bars_per_system,
        courtesy=courtesy,
    )
    return document_text(root)


def parts_document(
    score: Score,
    parts: Sequence[Part],
    page: Sequence[PageBar],
    *,
    show_degrees: bool = False,
    show_positions: bool = False,
    chord_fingers: bool = True,
    bars_per_system: int | None = None,
    courtesy: bool = False,
    look: Look = "notes",
    engraved_in: str | None = None,
) -> Element:
    """The root of a MusicXML document of these parts of the score in the bars of a page.

    ``show_positions`` writes where the hand lies and what it does above the notes. Without
    ``chord_fingers`` the fingers of chords are left to diagrams beside it. ``look``: as notes; as
    a rhythm in slashes; or blank, with the rests left out, to write into.
    ``engraved_in`` is the language of a document for genex's own engraver: chords and strings are named
    as there, which other readers would not understand.
    """
    root, part_list = document(score)
    for index, part in enumerate(parts, start=1):
        identifier = f"P{index}"
        _list_part(part_list, identifier, part, index)
        writer = _PartWriter(
            score, part, page, show_degrees=show_degrees, break_every=bars_per_system, look=look
        )
        writer.phrases = words(engraved_in or "en")
        if part.chordal and not chord_fingers:
            writer.fingered = frozenset()
        if show_positions:
            writer.hand_marks = words_over(part)
            writer.resolving = resolving_notes(part, score.timeline)
        if courtesy:
            add_courtesy_accidentals(writer.rows)
        root.append(writer.element(identifier))
    return root


def _list_part(part_list: Element, identifier: str, part: Part, index: int) -> None:
    entry = child(part_list, "score-part", id=identifier)
    child(entry, "part-name", part.name)
    instrument = child(entry, "score-instrument", id=f"{identifier}-I1")
    child(instrument, "instrument-name", program_name(part.program))
    midi = child(entry, "midi-instrument", id=f"{identifier}-I1")
    channel = (index - 1) % 15 + 1
    child(midi, "midi-channel", channel if channel < 10 else channel + 1)
    child(midi, "midi-program", part.program + 1)


class _PartWriter(MeasureWriter):
    """A part in notation, and in tab where it has strings."""

    def __init__(
        self,
        score: Score,
        part: Part,
        page: Sequence[PageBar],
        *,
        show_degrees: bool,
        break_every: int | None,
        look: Look,
    ) -> None:
        super().__init__(score, page, break_every)
        self.part, self.show_degrees, self.look = part, show_degrees, look
        self.hand_marks: Mapping[Fraction, str] = {}
        self.resolving: Mapping[Fraction, Resolving] = {}
        self.held: set[Fraction] = set()
        self.has_tab = bool(part.strings)
        on_page = {entry.bar.number for entry in self.page}
        played = measures(part, score.timeline)
        self.measures = [measure for measure in played if measure.bar.number in on_page]
        if look == "blank":
            # A rest a beat, so that chord symbols stand where they come.
            self.measures = [Measure(m.bar, tuple(_beats(m.bar))) for m in self.measures]
        self.rows = [
            written_measure(measure, score.timeline.key_at(measure.bar.onset_beats))
            for measure in self.measures
        ]
        found = list(slides(part))
        self.techniques = Techniques(part)
        self.slid_from = {struck(before) for before, _ in found}
        self.slid_to = {struck(note) for _, note in found}
        # Of chords only the fingers that are new, and the ways of strums where there are both.
        self.fingered = hand_changes(part) if part.chordal else None
        self.has_words = any(note.syllable for note in part.notes)
        self.word_goes_on = False
        self.has_strokes = any(note.stroke is Stroke.UP for note in part.notes)
        self.divisions = _divisions(self.rows, score.timeline)

    def element(self, identifier: str) -> Element:
        element = Element("part", id=identifier)
        before: Bar | None = None
        for index, (measure, row) in enumerate(zip(self.measures, self.rows, strict=True)):
            element.append(self.measure(index, measure, row, before))
            before = measure.bar
        return element

    def measure(
        self, index: int, source: Measure, row: Sequence[Written], before: Bar | None
    ) -> Element:
        bar = source.bar
        measure = Element("measure", numbered(bar))
        self.begin(measure, index, bar, before)
        changes = self.chord_changes(bar)
        self.held = {_at(row, onset) for onset in self.tempo_signs.fermatas(bar)}
        for written in row:
            end = written.onset_beats + written.duration_beats
            while changes and changes[0].onset_beats < end:
                span = changes.pop(0)
                self.harmony(measure, span, span.onset_beats - written.onset_beats)
            if written.is_start and (mark := self.hand_marks.get(written.onset_beats)):
                direction = child(measure, "direction", placement="above")
                words = {"font_style": "normal", "halign": "center"}
                child(child(direction, "direction-type"), "words", mark, **words)
                child(direction, "staff", 1)
            for element in self.staff_notes(written):
                measure.append(element)
        if self.has_tab:
            child(child(measure, "backup"), "duration", self.duration(bar.length_beats))
            for written in row:
                for element in self.tab_notes(written):
                    measure.append(element)
        self.closing_barline(measure, index)
        return measure

    def clefs(self, attributes: Element) -> None:
        clef = _clef(self.part)
        if self.has_tab:
            child(attributes, "staves", 2)
        element = child(attributes, "clef", **({"number": "1"} if self.has_tab else {}))
        child(element, "sign", clef.sign)
        child(element, "line", clef.line)
        if clef.octave:
            child(element, "clef-octave-change", clef.octave)
        if self.has_tab:
            element = child(attributes, "clef", number="2")
            child(element, "sign", "TAB")
            child(element, "line", (len(self.part.strings) + 1) // 2 + 2)
            _staff_details(attributes, self.part, self.phrases)

    def staff_notes(self, written: Written) -> Iterator[Element]:
        """The notes of the notation staff."""
        if written.is_rest:
            yield self.rest(written, staff=1)
            return
        for index, note in enumerate(written.notes):
            element = Element("note")
            if index:
                child(element, "chord")
            pitch_element(element, note.pitch)
            self.length_and_ties(element, written, voice=1)
            self.type(element, written.value)
            alter = written.accidentals[index]
            if alter is not None and self.look != "slashes":
                reminds = {"cautionary": "yes"} if written.reminders[index] else {}
                child(element, "accidental", ACCIDENTALS[alter], **reminds)
            self.tuplet_ratio(element, written.value)
            if self.look == "slashes":
                child(element, "notehead", "slash")
            elif note.articulation is Articulation.DEAD:
                child(element, "notehead", "x")
            elif note.articulation is Articulation.GHOST:
                child(element, "notehead", "normal", parentheses="yes")
            if self.has_tab:
                child(element, "staff", 1)
            if index == 0:
                for level, beam in enumerate(written.beams, start=1):
                    child(element, "beam", beam, number=str(level))
            self.notations(element, written, note, is_tab=False)
            shows_degree = self.show_degrees and not self.part.chordal and not self.has_words
            below = note.syllable or str((shows_degree and note.degree) or "")
            if below and written.is_start and index == 0:
                lyric = child(element, "lyric", number="1")
                child(lyric, "syllabic", self._syllabic(below))
                lines = UNDERLINES[self.resolving.get(note.onset_beats, "")]
                is_underlined = not note.syllable and self.is_guide_tone(note)
                said = below.removesuffix("-")
                child(lyric, "text", said, **({"underline": lines} if is_underlined else {}))
            yield element

    def _syllabic(self, below: str) -> str:
        """Where in its word a syllable stands [published: MusicXML 4.0, type syllabic]."""
        went_on, self.word_goes_on = self.word_goes_on, below.endswith("-")
        if went_on:
            return "middle" if self.word_goes_on else "end"
        return "begin" if self.word_goes_on else "single"

    def is_guide_tone(self, note: Note) -> bool:
        """Whether a note is a guide tone of the chord it was made for: this one or the next."""
        at = self.timeline.chord_at(note.onset_beats)
        chords = [at.chord]
        if at.end_beats < self.timeline.length_beats:
            chords.append(self.timeline.chord_at(at.end_beats).chord)
        for chord in chords:
            if chord is not None and chord.degree_of(note.midi) == note.degree:
                return note.degree in chord.guide_tones
        return False

    def tab_notes(self, written: Written) -> Iterator[Element]:
        """The same notes on the tab staff: strings and frets, without stems and rests."""
        if written.is_rest:
            element = self.rest(written, staff=2)
            element.set("print-object", "no")
            yield element
            return
        for index, note in enumerate(written.notes):
            # A fret that is not struck again is not printed again.
            element = Element("note", {} if written.is_start else {"print-object": "no"})
            if index:
                child(element, "chord")
            pitch_element(element, note.pitch)
            self.length_and_ties(element, written, voice=2)
            self.type(element, written.value)
            self.tuplet_ratio(element, written.value)
            child(element, "stem", "none")
            if note.articulation is Articulation.DEAD:
                child(element, "notehead", "x")
            child(element, "staff", 2)
            self.notations(element, written, note, is_tab=True)
            yield element

    def rest(self, written: Written, staff: int) -> Element:
        element = Element("note", {"print-object": "no"} if self.look == "blank" else {})
        child(element, "rest", **({"measure": "yes"} if written.event.fills_bar else {}))
        child(element, "duration", self.duration(written.duration_beats))
        child(element, "voice", staff)
        self.type(element, written.value)
        self.tuplet_ratio(element, written.value)
        if self.has_tab:
            child(element, "staff", staff)
        is_held = staff == 1 and written.onset_beats in self.held
        if written.tuplet_start or written.tuplet_stop or is_held:
            notations = child(element, "notations")
            _tuplet(notations, written, is_shown=staff == 1)
            if is_held:
                child(notations, "fermata")
        return element

    def length_and_ties(self, element: Element, written: Written, voice: int) -> None:
        child(element, "duration", self.duration(written.duration_beats))
        if written.tie_stop:
            child(element, "tie", type="stop")
        if written.tie_start:
            child(element, "tie", type="start")
        child(element, "voice", voice)

    def notations(self, element: Element, written: Written, note: Note, *, is_tab: bool) -> None:
        notations = Element("notations")
        if written.tie_stop:
            child(notations, "tied", type="stop")
        if written.tie_start:
            child(notations, "tied", type="start")
        if note is written.notes[0]:
            _tuplet(notations, written, is_shown=not is_tab)
        # A slide leaves the last of tied notes and reaches the first.
        if written.is_start and struck(note) in self.slid_to:
            child(notations, "slide", type="stop", number="1", line_type="solid")
        if not written.tie_start and struck(note) in self.slid_from:
            child(notations, "slide", type="start", number="1", line_type="solid")
        if not is_tab and not self.hand_marks:  # there letters say it, which meet no finger
            self.techniques.on_staff(notations, note, written)
        if is_tab or written.is_start:
            self.technical(notations, written, note, is_tab=is_tab)
        if written.is_start and not is_tab:
            self.articulations(notations, note)
        if not is_tab and note is written.notes[0] and written.onset_beats in self.held:
            child(notations, "fermata")
        if len(notations):
            element.append(notations)

    def technical(self, notations: Element, written: Written, note: Note, *, is_tab: bool) -> None:
        place = note.fretting
        if place is None:
            return
        if is_tab:
            technical = child(notations, "technical")
            child(technical, "string", place.string)
            child(technical, "fret", place.fret)
            self.techniques.technical(technical, note, written)
            return
        technical = Element("technical")
        if self.has_strokes and note.stroke is not None and note is written.notes[0]:
            # The signs of the bow are those of the plectrum [published: MusicXML 4.0].
            child(technical, "down-bow" if note.stroke is Stroke.DOWN else "up-bow")
        if place.finger is not None and (self.fingered is None or note.onset_beats in self.fingered):
            child(technical, "fingering", place.finger)
        if len(technical):
            notations.append(technical)

    def articulations(self, notations: Element, note: Note) -> None:
        found = []
        if note.articulation is Articulation.ACCENT:
            found.append("accent")
        if note.articulation is Articulation.STACCATO:
            found.append("staccato")
        if note.slide is not None and struck(note) not in self.slid_to:
            found.append("scoop" if note.slide.from_semitones < 0 else "plop")
        if found:
            articulations = child(notations, "articulations")
            for name in found:
                child(articulations, name)


def _at(row: Sequence[Written], onset_beats: Fraction) -> Fraction:
    """Onset of what is written in a bar at a time."""
    return max(written.onset_beats for written in row if written.onset_beats <= onset_beats)


def _beats(bar: Bar) -> Iterator[Event]:
    """A rest for each beat of a bar."""
    for start, end in pairwise((*bar.meter.pulses, bar.length_beats)):
        yield Event(bar.onset_beats + start, end - start)


def _divisions(rows: Iterable[Sequence[Written]], timeline: Timeline) -> int:
    """Divisions of a quarter note that hold every length and every offset of a chord or tempo."""
    times = [
        time for row in rows for written in row for time in (written.duration_beats, written.onset_beats)
    ]
    times += [bar.length_beats for bar in timeline.bars]
    times += [time for span in timeline.chords for time in (span.onset_beats, span.push_beats)]
    times += [change.onset_beats for change in timeline.tempo.changes]
    return math.lcm(*(time.denominator for time in times))


def _clef(part: Part) -> _Clef:
    """Treble for what lies high, treble 8 below for guitars, bass 8 below for basses."""
    pitches = [pitch.midi for pitch in part.strings] or [note.midi for note in part.notes] or [60]
    middle = sum(pitches) / len(pitches)
    if part.strings:
        if middle < 45:
            return _Clef("F", 4, -1)
        return _Clef("G", 2, -1) if middle < 62 else _Clef("G", 2)
    return _Clef("F", 4) if middle < 57 else _Clef("G", 2)


def _staff_details(attributes: Element, part: Part, phrases: Mapping[str, str]) -> None:
    """Strings as tuned and the capo, which raises them [published: MusicXML 4.0, element capo]."""
    details = child(attributes, "staff-details", number="2")
    if phrases["note_names"] != "english":
        details.set("names", " ".join(string_names(part.strings, phrases)))
    child(details, "staff-lines", len(part.strings))
    for line, pitch in enumerate(reversed(part.strings), start=1):
        tuning = child(details, "staff-tuning", line=str(line))
        child(tuning, "tuning-step", STEPS[pitch.name.step])
        if pitch.name.alter:
            child(tuning, "tuning-alter", pitch.name.alter)
        child(tuning, "tuning-octave", pitch.octave)
    if part.capo:
        child(details, "capo", part.capo)


def _tuplet(notations: Element, written: Written, *, is_shown: bool) -> None:
    """Ends of a tuplet; it is played, but not drawn, on the tab staff."""
    if written.tuplet_start:
        hidden = {} if is_shown else {"show-number": "none"}
        bracket = "yes" if is_shown and not written.beams else "no"
        child(notations, "tuplet", type="start", number="1", bracket=bracket, **hidden)
    if written.tuplet_stop:
        child(notations, "tuplet", type="stop", number="1")
