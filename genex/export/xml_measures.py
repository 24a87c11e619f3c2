"""What every MusicXML document and measure of genex has: header, bar lines, directions, chords.

``musicxml.py`` builds parts and lead sheets on this. Underscores in attribute names stand for
hyphens, as in ``child(measure, "print", new_system="yes")``.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Collection, Sequence
from dataclasses import replace
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from genex import __version__
from genex.exact import Fraction
from genex.export.note_names import chord_name
from genex.export.page_signs import BETWEEN, UNDERSTOOD_TIMES, Signs
from genex.export.phrases import words
from genex.export.repeat_signs import PageBar
from genex.export.tempo_words import TempoSigns
from genex.export.typography import with_signs, xml_safe
from genex.export.xml_chords import harmony, printed_kind
from genex.score import Bar, ChordSpan, NoteValue, Score, TempoChange, Timeline
from genex.theory import NO_CHORD, STEPS, Pitch

_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)

ACCIDENTALS = {
    -3: "triple-flat",
    -2: "flat-flat",
    -1: "flat",
    0: "natural",
    1: "sharp",
    2: "double-sharp",
    3: "triple-sharp",
}
"""What alterations are called [published: MusicXML 4.0, type accidental-value]."""


def document_text(root: Element) -> str:
    """The document as text, indented, without characters that XML cannot hold."""
    indent(root, " ")
    return _HEAD + xml_safe(tostring(root, encoding="unicode")) + "\n"


def child(parent: Element, tag: str, content: object = None, /, **attributes: str) -> Element:
    """A new child; underscores in attribute names stand for hyphens."""
    element = SubElement(
        parent, tag, {name.replace("_", "-"): value for name, value in attributes.items()}
    )
    if content is not None:
        element.text = str(content)
    return element


def document(score: Score) -> tuple[Element, Element]:
    """A new document with its header, and its list of parts, still empty."""
    root = Element("score-partwise", version="4.0")
    child(child(root, "work"), "work-title", score.title)
    identification = child(root, "identification")
    encoding = child(identification, "encoding")
    child(encoding, "software", f"genex {__version__}")
    for element in ("accidental", "beam", "stem"):
        child(encoding, "supports", element=element, type="yes" if element != "stem" else "no")
    return root, child(root, "part-list")


def numbered(bar: Bar) -> dict[str, str]:
    """The attributes of a measure; a pickup counts for none [published: MusicXML 4.0, ``implicit``]."""
    return {"number": str(bar.number), **({"implicit": "yes"} if bar.is_pickup else {})}


class MeasureWriter(ABC):
    """What parts and lead sheets have in common: attributes, directions, harmonies, bar lines."""

    def __init__(
        self,
        score: Score,
        page: Sequence[PageBar],
        break_every: int | None,
    ) -> None:
        self.score, self.timeline, self.page = score, score.timeline, page
        self.section_onsets = {section.onset_beats for section in self.timeline.sections}
        self.fresh_onsets = fresh_onsets(self.timeline, page)
        self.break_every = break_every
        self.tempo_signs = TempoSigns(self.timeline, [entry.bar for entry in page])
        self.divisions = 1
        self.has_tab = False
        self.phrases = words()

    def duration(self, beats: Fraction) -> int:
        value = beats * self.divisions
        assert value.denominator == 1, "divisions hold every length"
        return value.numerator

    def type(self, element: Element, value: NoteValue | None) -> None:
        """The type and dots of a note; of a rest that fills its bar there are none."""
        if value is not None:
            child(element, "type", value.base.type_name)
            for _ in range(value.dots):
                child(element, "dot")

    def tuplet_ratio(self, element: Element, value: NoteValue | None) -> None:
        if value is not None and value.tuplet > 1:
            ratio = child(element, "time-modification")
            child(ratio, "actual-notes", value.tuplet)
            child(ratio, "normal-notes", value.normal_notes)

    def begin(self, measure: Element, index: int, bar: Bar, before: Bar | None) -> None:
        """What stands in a bar before its first note."""
        self.breaks(measure, index)
        self.opening_barline(measure, index)
        self.attributes(measure, bar, before)
        self.jump_signs_before(measure, index)
        self.directions(measure, bar)

    def breaks(self, measure: Element, index: int) -> None:
        if self.break_every and index and index % self.break_every == 0:
            child(measure, "print", new_system="yes")

    def opening_barline(self, measure: Element, index: int) -> None:
        signs = self.page[index].signs
        if signs.opens or signs.ending_begins:
            self._opening_line(measure, signs)

    def jump_signs_before(self, measure: Element, index: int) -> None:
        """Segno and coda before a bar."""
        signs = self.page[index].signs
        for name in ("segno", "coda"):
            if getattr(signs, name):
                self._jump(measure, name, None, **{name: name})

    def _jump_signs_behind(self, measure: Element, signs: Signs) -> None:
        """Where a jump leaves, and the jump itself, behind a bar."""
        for said in filter(None, signs.said.split(BETWEEN)):
            sound = {"Fine": {"fine": "yes"}, "To Coda": {"tocoda": "coda"}}.get(said)
            if sound is None:
                sound = {"dalsegno": "segno"} if said.startswith("D.S.") else {"dacapo": "yes"}
            self._jump(measure, "words", said, **sound)

    def _jump(self, measure: Element, tag: str, said: str | None, **sound: str) -> None:
        look = {"font_style": "italic", "halign": "right"} if said else {}
        child(self._above(measure, tag, said, **look), "sound", **sound)

    def _above(self, measure: Element, tag: str, said: str | None, **look: str) -> Element:
        """A direction above the upper staff."""
        direction = child(measure, "direction", placement="above")
        child(child(direction, "direction-type"), tag, said, **look)
        if self.has_tab:
            child(direction, "staff", 1)
        return direction

    def _opening_line(self, measure: Element, signs: Signs) -> None:
        barline = child(measure, "barline", location="left")
        if signs.opens:
            child(barline, "bar-style", "heavy-light")
        if signs.ending_begins:
            child(barline, "ending", f"{signs.ending}.", number=str(signs.ending), type="start")
        if signs.opens:
            child(barline, "repeat", direction="forward")

    def closing_barline(self, measure: Element, index: int) -> None:
        """The bar line; the last ending's bracket stays open, as the music goes on behind it."""
        signs = self.page[index].signs
        self._jump_signs_behind(measure, signs)
        after = self.page[index + 1].bar if index + 1 < len(self.page) else None
        section_ends = after is not None and after.onset_beats in self.section_onsets
        section_ends = section_ends and not self.page[index].bar.is_pickup
        if not (after is None or section_ends or signs.closes or signs.ending_ends):
            return
        if signs.times > UNDERSTOOD_TIMES:
            self._above(measure, "words", f"{signs.times}x", font_style="normal", halign="right")
        barline = child(measure, "barline", location="right")
        if after is None or signs.closes:
            child(barline, "bar-style", "light-heavy")
        elif section_ends:
            child(barline, "bar-style", "light-light")
        if signs.ending_ends:
            kind = "discontinue" if signs.is_last_ending else "stop"
            child(barline, "ending", number=str(signs.ending), type=kind)
        if signs.closes:
            repeat = child(barline, "repeat", direction="backward")
            if signs.times > 0:
                repeat.set("times", str(signs.times))

    def attributes(self, measure: Element, bar: Bar, before: Bar | None) -> None:
        """Divisions and clefs at the beginning, key and meter wherever they change."""
        key_before = None if before is None else self.timeline.key_at(before.onset_beats)
        key_here = self.timeline.key_at(bar.onset_beats)
        changes_meter = before is None or before.meter != bar.meter
        if not changes_meter and key_before == key_here:
            return
        attributes = child(measure, "attributes")
        if before is None:
            child(attributes, "divisions", self.divisions)
        if key_before != key_here:
            key = child(attributes, "key")
            child(key, "fifths", key_here.fifths)
            child(key, "mode", key_here.mode)
        if not changes_meter:
            return
        time = child(attributes, "time", **({"number": "1"} if self.has_tab else {}))
        child(time, "beats", bar.meter.count)
        child(time, "beat-type", bar.meter.unit)
        if self.has_tab:
            time = child(attributes, "time", number="2", print_object="no")
            child(time, "beats", bar.meter.count)
            child(time, "beat-type", bar.meter.unit)
        if before is None:
            self.clefs(attributes)

    @abstractmethod
    def clefs(self, attributes: Element) -> None:
        """The clef of each staff, inside an open ``attributes``."""

    def directions(self, measure: Element, bar: Bar) -> None:
        """Section name, tempo and feel where they begin."""
        for section in self.timeline.sections:
            if section.onset_beats == bar.onset_beats and section.name.strip():
                direction = child(measure, "direction", placement="above")
                chorus = f" ({section.chorus})" if section.chorus > 1 else ""
                child(child(direction, "direction-type"), "rehearsal", f"{section.name}{chorus}")
        first = self.page[0].bar
        for change in self.timeline.tempo.changes:
            # The first tempo stands where the page begins, over a pickup too.
            at = change.onset_beats or first.onset_beats
            if bar.onset_beats <= at < bar.end_beats:
                self._tempo(measure, bar, replace(change, onset_beats=at))
        if words := self.tempo_signs.words(bar):
            self._above(measure, "words", words, font_style="italic", halign="left")
        if bar is first:
            direction = child(measure, "direction", placement="above")
            child(child(direction, "direction-type"), "words", self.score.feel)

    def _tempo(self, measure: Element, bar: Bar, change: TempoChange) -> None:
        direction = child(measure, "direction", placement="above")
        metronome = child(child(direction, "direction-type"), "metronome")
        child(metronome, "beat-unit", "half" if bar.meter.mark_beats == 2 else "quarter")
        if bar.meter.is_compound:
            child(metronome, "beat-unit-dot")
        child(metronome, "per-minute", f"{float(change.mark(bar.meter)):.6g}")
        if offset := change.onset_beats - bar.onset_beats:
            child(direction, "offset", self.duration(offset))
        child(direction, "sound", tempo=f"{float(change.tempo_bpm):.6f}".rstrip("0").rstrip("."))

    def harmony(self, measure: Element, span: ChordSpan, offset: Fraction) -> None:
        """A chord symbol ``offset`` beats after the place in the measure that is reached.

        A pushed chord stands before its beat: at the beginning of a measure its offset is negative.
        """
        offset -= span.push_beats
        element = child(measure, "harmony", placement="above")
        root = child(element, "root")
        if span.chord is None:
            child(root, "root-step", "C", text="")
            child(element, "kind", "none", text=NO_CHORD)
        elif self.phrases["note_names"] != "english":
            # Nothing but what the engraver is to print.
            child(root, "root-step", "C", text="")
            child(element, "kind", "other", text=with_signs(chord_name(span.chord, self.phrases)))
        else:
            chord = span.chord
            child(root, "root-step", STEPS[chord.root.step])
            if chord.root.alter:
                child(root, "root-alter", chord.root.alter)
            found = harmony(chord)
            child(element, "kind", found.kind, text=with_signs(printed_kind(chord)))
            if chord.has_slash:
                bass = child(element, "bass")
                child(bass, "bass-step", STEPS[chord.bass.step])
                if chord.bass.alter:
                    child(bass, "bass-alter", chord.bass.alter)
            for change in found.changes:
                # The printed form of the symbol already names them.
                degree = child(element, "degree", print_object="no")
                child(degree, "degree-value", change.number)
                child(degree, "degree-alter", change.alter)
                child(degree, "degree-type", change.kind)
        if offset:
            child(element, "offset", self.duration(offset))

    def chord_changes(self, bar: Bar) -> list[ChordSpan]:
        """The chords that are printed in a bar."""
        return printed_chords(self.timeline, bar, self.fresh_onsets)


def fresh_onsets(timeline: Timeline, page: Sequence[PageBar]) -> set[Fraction]:
    """Where a chord is printed again: at the start of a section, a repeat or an ending."""
    sections = {section.onset_beats for section in timeline.sections}
    return sections | {entry.bar.onset_beats for entry in page if entry.signs.is_fresh}


def printed_chords(timeline: Timeline, bar: Bar, fresh: Collection[Fraction]) -> list[ChordSpan]:
    """Chords that begin in a bar and differ from the one before; where one is ``fresh`` always.

    None at all in a piece without chords: N.C. then says nothing.
    """
    if not timeline.has_chords:
        return []
    return [
        span
        for span in timeline.chords_in(bar)
        if span.onset_beats in fresh
        or span.push_beats
        or timeline.chord_before(span.onset_beats).chord != span.chord
    ]


def pitch_element(element: Element, pitch: Pitch) -> None:
    """A pitch as a child of a note."""
    found = child(element, "pitch")
    child(found, "step", STEPS[pitch.name.step])
    if pitch.name.alter:
        child(found, "alter", pitch.name.alter)
    child(found, "octave", pitch.octave)
