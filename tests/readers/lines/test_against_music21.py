"""Lines in ABC and MusicXML as another library reads them [package: music21 10.5].

music21 is wrong where a repeat has no sign at its beginning (it goes back to the first bar), where a
sign stands between ``>`` and its note (it dots nothing), and it takes ``EM`` for E minor. Of 135 tunes
of an open collection, drawn from every fifth, that have none of the signs which are refused, 126 are
alike in onset, pitch and length; all nine others are of those three kinds, looked at one by one.
"""

from __future__ import annotations

import re
import warnings
from fractions import Fraction
from pathlib import Path

import music21
import pytest

from genex.compose import compose
from genex.export.musicxml import musicxml_text
from genex.readers.lines.abc_line import read_abc_line
from genex.readers.lines.musicxml_line import read_musicxml_line
from genex.readers.lines.places import in_file
from genex.readers.lines.typed_line import TypedLine
from genex.recipe import parse_recipe
from genex.score import Meter
from genex.theory import Key

CORPUS = Path(music21.__file__).parent / "corpus" / "ryansMammoth"
TUNES = (
    "AldridgesHornpipe", "AlhambraReel", "AllAboardReel", "AmazonHornpipe", "AroundTheWorldReel",
)  # fmt: skip
Event = tuple[Fraction, int, Fraction]

EXAMPLES = {
    # Lines of the standard's own examples [published: ABC standard v2.1, 4.3 to 4.17].
    "lengths": "A/2 A/ A A2 A4 | A3 A3/2 A/2 A2 z |",
    "pitches": "C, D, E, F, G, A, B, C | D E F G A B c d | e f g a b c' d' e' |",
    "broken rhythm": "A>B c<d e>>f g<<a | A2>B2 c4 |",
    "accidentals": "^C2 =C2 __B,2 _B2 | ^^F2 z2 ^F4 |",
    "accidentals of the bar": "^F2 f2 F,2 F2 | F2 f2 z4 |",
    "ties": "A4- A2 B2- | B8 | c2-c2- c4 |",
    "triplets": "(3ABc (3:2:3def (3g2a2b2 | A8 |",
    "tuplets": "(3:2:2G4c2 z4 | (5:4:5ABcde z4 |",
    "chords": "[CEGc]2 [C2G2] [CE]4 | [ceg]8 |",
    "rests": "z2 A2 z2 A2 | z8 | A8 |",
    "repeats": "|: A4 B4 | c8 :| d8 |",
    "endings": "|: A8 | [1 B8 :| [2 c8 |",
    "a key with a mode": "F2 G2 A2 c2 |",
    "slurs": "(A2 B2 (c2) d2) | e8 |",
}


def heard(text: str) -> list[Event]:
    """What music21 plays: onset from the first bar line, key and length of every note."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score = music21.converter.parse(f"%abc-2.1\n{text}", format="abc")
        part = score.parts[0].expandRepeats().stripTies()
    return [
        (Fraction(note.offset), pitch.midi, Fraction(note.quarterLength))
        for note in part.flatten().notes
        for pitch in note.pitches
    ]


def same(line: TypedLine, events: list[Event]) -> bool:
    """Whether the notes are alike. Where there is a pickup, music21 counts from its beginning."""
    first = line.notes[0].note.onset_beats - events[0][0]
    found = [(one.note.onset_beats, one.note.midi, one.note.duration_beats) for one in line.notes]
    return sorted(found) == sorted((onset + first, midi, length) for onset, midi, length in events)


def read(text: str) -> TypedLine:
    return read_abc_line(text, in_file("tune.abc"), (Meter(4, 4),), Key.parse("C"))


@pytest.mark.parametrize("example", EXAMPLES)
def test_examples_of_the_standard(example):
    key = "A dorian" if example == "a key with a mode" else "C"
    text = f"X:1\nM:4/4\nL:1/8\nK:{key}\n{EXAMPLES[example]}\nc8 |\n"
    assert same(read(text), heard(text))


def plain(text: str) -> str:
    """A tune without the signs that are not read: ornaments and strokes of the bow."""
    return "\n".join(
        line
        if re.match("[A-Za-z]:", line)
        else re.sub(r'"[_^<>@][^"]*"|\{[^}]*\}|[uvMkTHSOP~]+(?=[\^_=.(]*[A-Ga-gz])', "", line)
        for line in text.splitlines()
    )


@pytest.mark.parametrize("tune", TUNES)
def test_tunes_of_an_open_collection(tune):
    text = plain((CORPUS / f"{tune}.abc").read_text(encoding="latin-1"))
    assert same(read(text), heard(text))


def test_a_line_that_genex_writes_as_musicxml_is_read_back():
    recipe = parse_recipe(
        "chords: Cm7 | F7 | Bbmaj7 | %\nkey: Bb\nparts: exercise\n"
        "exercise: {kind: etude, level: 5}\noutputs: midi"
    )
    score = compose(recipe).score
    (part,) = score.lead_parts
    text = musicxml_text(score)
    line = read_musicxml_line(text.encode(), "etude.musicxml", (Meter(4, 4),))
    assert line.key == score.timeline.key
    assert [
        (one.note.onset_beats, one.note.pitch, one.note.duration_beats, one.string, one.fret, one.finger)
        for one in line.notes
    ] == [
        (note.onset_beats, note.pitch, note.duration_beats, place.string, place.fret, place.finger)
        for note in part.notes
        if (place := note.fretting)
    ]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score21 = music21.converter.parse(text, format="musicxml")
    voice = [note for note in score21.parts[0].stripTies().flatten().notes if not note.isChord]
    found = {(Fraction(note.offset), note.pitch.midi) for note in voice if hasattr(note, "pitch")}
    assert found == {(one.note.onset_beats, one.note.midi) for one in line.notes}
