"""A line in MusicXML [published: MusicXML 4.0, W3C Community Group]: the notes of one voice of a part.

Pitches are those that sound: a part for a transposing instrument is moved as its ``transpose`` says.
Strings, frets and fingers are kept where they are written. Bars, repeats and chords are read as those of
a chart are (``readers/charts/musicxml.py``).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from genex.errors import Place
from genex.exact import Fraction
from genex.plain_text import clean
from genex.readers.charts.foreign_chart import ForeignBar, ForeignChart, cut
from genex.readers.charts.musicxml import PartReader, read_pitch, whole_number
from genex.readers.charts.xml_tree import Element, read_tree
from genex.readers.lines.marks import LOUDNESS, XML_MARKS, with_marks
from genex.readers.lines.typed_line import Measure, TypedChord, TypedLine, TypedNote, assembled, refuse
from genex.score import Meter, Note
from genex.theory import Interval

UNISON = Interval(0, 0)
_EXPORT = "export the line again as MusicXML"


def read_musicxml_line(
    data: bytes, file: str, meters: Sequence[Meter], number: int | None = None
) -> TypedLine:
    """The line of a score in parts: the first voice of a part's first staff. ``number`` counts parts
    from 1; ``meters`` are those of the bars that it is read for, where the score says none.

    Raises ChartFileError with line and column.
    """
    root = read_tree(data, file)
    if root.tag != "score-partwise":
        raise refuse(f"the file holds <{cut(root.tag)}>, no score in parts", _EXPORT, root.place)
    parts = root.all("part")
    if number is None and len(parts) > 1:
        raise refuse(f"the score has {len(parts)} parts", "choose one with 'number: 1'", parts[1].place)
    if not 1 <= (number or 1) <= len(parts):
        raise refuse(f"there is no part {number}", f"there are {len(parts)}", root.place)
    reader = _LineReader(ForeignChart(file, "MusicXML"))
    reader.read(parts[(number or 1) - 1])
    return reader.line(meters)


@dataclass
class _LineReader(PartReader):
    """Reads notes beside bars and chords."""

    notes: dict[int, list[TypedNote]] = field(default_factory=dict)
    begun: Fraction = Fraction(0)
    transposed: Interval = UNISON

    def line(self, meters: Sequence[Meter]) -> TypedLine:
        """What was read. Raises ChartFileError."""
        if not self.chart.bars:
            raise refuse("the score has no bars", _EXPORT, Place(self.chart.file))
        measures = []
        for bar in self.chart.bars:
            chords = [
                TypedChord(one.onset_beats, one.text, one.place) for one in bar.symbols if one.text
            ]
            measures.append(Measure(bar, self.notes.get(id(bar), []), chords))
        says_meter = self.meter is not None
        return assembled(measures, meters, says_meter=says_meter, key=self.chart.key)

    def note(self, note: Element, bar: ForeignBar, at: Fraction) -> None:
        together = note.find("chord") is not None
        if not together:
            self.begun = at
        voice = note.said("voice") or "1", note.said("staff") or "1"
        if note.find("grace") is not None:
            raise refuse("grace notes are not read", "write the note with a length", note.place)
        self.voice = self.voice or voice
        found = self.notes.setdefault(id(bar), [])
        if voice != self.voice:
            if voice[1] == self.voice[1]:
                raise refuse("a second voice is not read", "leave one voice in the file", note.place)
            self._beside(note, found)
            return
        pitch = note.find("pitch")
        if pitch is None:
            if note.find("rest") is None:
                raise refuse("a note without a pitch is not read", _EXPORT, note.place)
            return
        length = self.duration(note)
        if length <= 0:
            raise refuse("a note must last", _EXPORT, note.place)
        written = Note(
            self.begun, length, read_pitch(pitch).transpose(self.transposed), LOUDNESS["mf"],
            syllable="" if together else _syllable(note),
        )  # fmt: skip
        ties = any(tie.attributes.get("type") == "start" for tie in note.all("tie"))
        one = _placed(TypedNote(written, note.place, ties=ties), note)
        found.append(with_marks(one, _marks(note)))

    def _beside(self, note: Element, found: list[TypedNote]) -> None:
        """Strings and frets that a tab staff below gives the notes of the first voice."""
        pitch = note.find("pitch")
        if pitch is None or note.find("notations", "technical", "string") is None:
            return
        midi = read_pitch(pitch).transpose(self.transposed).midi
        for index, one in enumerate(found):
            if one.note.onset_beats == self.begun and one.note.midi == midi:
                found[index] = with_marks(_placed(one, note), _techniques(note))

    def transpose(self, element: Element) -> None:
        """How far what sounds lies from what is written."""
        chromatic = _whole(element.said("chromatic"))
        octaves = _whole(element.said("octave-change"))
        steps = _whole(element.said("diatonic") or str(round(chromatic * 7 / 12)))
        self.transposed = Interval(steps + 7 * octaves, chromatic + 12 * octaves)


def _syllable(note: Element) -> str:
    """What stands under a note, with its hyphen where the word goes on."""
    text = clean(note.said("lyric", "text"))
    goes_on = note.said("lyric", "syllabic") in ("begin", "middle")
    return f"{text}-" if text and goes_on else text


def _placed(one: TypedNote, note: Element) -> TypedNote:
    string = note.said("notations", "technical", "string")
    fret = note.said("notations", "technical", "fret")
    finger = note.said("notations", "technical", "fingering")
    return replace(
        one,
        string=_whole(string) or one.string,
        fret=_whole(fret) if string and fret else one.fret,
        finger=_whole(finger) if finger in ("0", "1", "2", "3", "4") else one.finger,
    )


def _marks(note: Element) -> list[str]:
    tags = [
        child.tag
        for notations in note.all("notations")
        for group in ("articulations", "technical")
        for element in notations.all(group)
        for child in element.children
    ]
    slides = [one for n in note.all("notations") for one in (*n.all("slide"), *n.all("glissando"))]
    found = [XML_MARKS[tag] for tag in dict.fromkeys(tags) if tag in XML_MARKS]
    found += _techniques(note)
    if any(slide.attributes.get("type") == "stop" for slide in slides):
        found.append("slide")
    head = note.find("notehead")
    if head is not None and head.text.strip() == "x":
        found.append("dead")
    elif head is not None and head.attributes.get("parentheses") == "yes":
        found.append("ghost")
    return found


def _techniques(note: Element) -> Iterator[str]:
    """Hammer-ons, pull-offs, bends, vibrato and ringing notes."""
    for notations in note.all("notations"):
        if any(tied.attributes.get("type") == "let-ring" for tied in notations.all("tied")):
            yield "let-ring"
        if notations.find("ornaments", "wavy-line") is not None:
            yield "vibrato"
        for technical in notations.all("technical"):
            for name in ("hammer-on", "pull-off"):
                if any(one.attributes.get("type") == "stop" for one in technical.all(name)):
                    yield name
            bends = technical.all("bend")
            if bends:
                half = "half-" if bends[0].said("bend-alter") == "1" else ""
                yield f"{half}bend" + ("-release" if len(bends) > 1 else "")


def _whole(text: str) -> int:
    return whole_number(text) or 0
