"""MusicXML: valid by the official schema, and the same music to other readers."""

from __future__ import annotations

import importlib.util
import warnings
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from lxml import etree

from genex.exercises import Player, Struck
from genex.exercises.models.comping import Grips
from genex.export.chord_chart_svg import chart_svg
from genex.export.lead_sheet import lead_sheet_text
from genex.export.musicxml import musicxml_text
from genex.lines.comping import grips_through
from genex.score import Articulation, Note, Part, Role, Score, Slide
from genex.theory import Degree, Pitch

from ..lines.line_charts import chart
from .builders import beats, fretted, lead, small_score, timeline
from .test_tab import grips_score, lines

DATA = Path(__file__).parent.parent / "data"


@cache
def schema() -> etree.XMLSchema:
    """The official MusicXML 4.0 schema [package: musicxml 1.6.3], its two imports made local."""
    package = Path(importlib.util.find_spec("musicxml").origin).parent / "generate_classes"
    local = {name: DATA / name for name in ("xml.xsd", "xlink.xsd")}

    class Local(etree.Resolver):
        def resolve(self, url, public_id, context):
            name = url.rsplit("/", 1)[-1]
            return self.resolve_filename(str(local[name]), context) if name in local else None

    parser = etree.XMLParser()
    parser.resolvers.add(Local())
    return etree.XMLSchema(etree.parse(str(package / "musicxml_4_0.xsd"), parser))


def valid(text: str) -> etree._Element:
    root = etree.fromstring(text.encode())
    assert schema().validate(root), schema().error_log
    return root


def read(text: str):
    import music21

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return music21.converter.parseData(text, format="musicxml")


def sounding(text: str, staff: int = 0) -> list[tuple[Fraction, int, Fraction]]:
    """(onset, key, length) of the notes of a staff as music21 reads them, ties joined."""
    found: list[tuple[Fraction, int, Fraction]] = []
    for note in read(text).parts[staff].flatten().notes:
        if "Harmony" in note.classes:
            continue
        length = Fraction(note.quarterLength).limit_denominator(1000)
        if note.tie is not None and note.tie.type in ("continue", "stop"):
            onset, midi, before = found.pop()
            assert (midi, onset + before) == (
                note.pitch.midi,
                Fraction(note.offset).limit_denominator(1000),
            )
            found.append((onset, midi, before + length))
        else:
            found.append((Fraction(note.offset).limit_denominator(1000), note.pitch.midi, length))
    return found


def wanted(part: Part) -> list[tuple[Fraction, int, Fraction]]:
    return [(n.onset_beats, n.midi, n.duration_beats) for n in part.notes]


def test_the_schema_refuses_what_is_wrong():
    text = musicxml_text(small_score())
    valid(text)
    broken = etree.fromstring(text.replace(">dominant<", ">maj7<").encode())
    assert not schema().validate(broken)


def test_both_staves_hold_the_notes_of_the_part():
    score = small_score()
    text = musicxml_text(score, show_degrees=True, bars_per_system=2)
    valid(text)
    assert sounding(text, 0) == sounding(text, 1) == wanted(score.part("exercise"))


def test_strings_frets_and_fingers_can_be_read_back():
    root = valid(musicxml_text(small_score()))
    notes = small_score().part("exercise").notes
    struck = [n for n in root.iter("note") if n.findtext("staff") == "2" and n.find("rest") is None]
    struck = [n for n in struck if n.get("print-object") != "no"]
    places = [
        tuple(int(n.findtext(f"notations/technical/{tag}")) for tag in ("string", "fret"))
        for n in struck
    ]
    assert places == [(note.fretting.string, note.fretting.fret) for note in notes]
    fingers = [element.text for element in root.iter("fingering")]
    assert fingers == [str(note.fretting.finger) for note in notes]


def test_tuning_runs_from_the_lowest_line_up():
    root = valid(musicxml_text(small_score()))
    # [published: MusicXML 4.0, staff-tuning] line 1 is the lowest
    rows = [
        (t.get("line"), t.findtext("tuning-step"), t.findtext("tuning-octave"))
        for t in root.iter("staff-tuning")
    ]
    assert rows == [
        ("1", "E", "2"),
        ("2", "A", "2"),
        ("3", "D", "3"),
        ("4", "G", "3"),
        ("5", "B", "3"),
        ("6", "E", "4"),
    ]
    assert [c.findtext("sign") for c in root.iter("clef")] == ["G", "TAB"]
    assert root.findtext(".//clef-octave-change") == "-1"


def test_slides_between_notes_and_from_nowhere():
    notes = [
        fretted(0, 1, 3, 5, slide=Slide(-2, beats("1/4"))),
        fretted(1, 1, 3, 7, slide=Slide(-2, beats("1/4"))),
        fretted(2, 1, 2, 5, slide=Slide(1, beats("1/4"))),
    ]
    root = valid(musicxml_text(Score("Slides", "straight", timeline("C"), (lead(notes),))))
    staff = [n for n in root.iter("note") if n.findtext("staff") == "1"]
    assert [[s.get("type") for s in n.iter("slide")] for n in staff] == [["start"], ["stop"], [], []]
    assert [n.find(".//scoop") is not None for n in staff] == [True, False, False, False]
    assert [n.find(".//plop") is not None for n in staff] == [False, False, True, False]


def test_touch_is_marked():
    notes = [
        replace(fretted(index, 1, 3, 5), articulation=touch)
        for index, touch in enumerate(
            (Articulation.ACCENT, Articulation.STACCATO, Articulation.DEAD, Articulation.GHOST)
        )
    ]
    root = valid(musicxml_text(Score("Touch", "straight", timeline("C"), (lead(notes),))))
    staff = [n for n in root.iter("note") if n.findtext("staff") == "1"]
    assert [n.findtext("notehead") for n in staff] == [None, None, "x", "normal"]
    assert [n.find(".//accent") is not None for n in staff] == [True, False, False, False]
    assert [n.find(".//staccato") is not None for n in staff] == [False, True, False, False]


def test_degrees_stand_under_the_notes_on_request():
    notes = [replace(fretted(0, 4, 3, 5), degree=Degree(3, -1))]
    score = Score("Degrees", "straight", timeline("Am7"), (lead(notes),))
    assert [t.text for t in valid(musicxml_text(score, show_degrees=True)).iter("text")] == ["b3"]
    assert "lyric" not in musicxml_text(score)


def choruses(count: int, last: int = 3) -> Score:
    """Two bars played ``count`` times, the last note of the last chorus on fret ``last``."""
    once = timeline("Gm7 | C7")
    bars, chords, sections, notes = [], [], [], []
    for chorus in range(count):
        shift = chorus * Fraction(8)
        for bar in once.bars:
            bars.append(
                replace(
                    bar,
                    number=bar.number + 2 * chorus,
                    chorus=chorus + 1,
                    onset_beats=bar.onset_beats + shift,
                )
            )
        chords += [replace(span, onset_beats=span.onset_beats + shift) for span in once.chords]
        sections += [
            replace(s, onset_beats=s.onset_beats + shift, chorus=chorus + 1) for s in once.sections
        ]
        fret = last if chorus == count - 1 else 3
        notes += [fretted(shift, 4, 3, 5), fretted(shift + 4, 4, 3, fret)]
    whole = replace(once, bars=tuple(bars), chords=tuple(chords), sections=tuple(sections))
    return Score("Round", "swing", whole, (lead(notes),))


def test_courtesy_accidentals_are_cautionary_and_only_on_request():
    notes = [fretted(0, 4, 2, 5), fretted(4, 4, 3, 4)]  # E5 is not altered before
    notes[0] = replace(notes[0], pitch=Pitch.parse("Eb5"))
    notes[1] = replace(notes[1], pitch=Pitch.parse("E4"))
    score = replace(small_score(), timeline=timeline("C | C", key="C"), parts=(lead(notes),))
    asked = musicxml_text(score, courtesy=True)
    assert asked.count('<accidental cautionary="yes">natural</accidental>') == 1
    assert "cautionary" not in musicxml_text(score)


def test_equal_choruses_become_a_repeat():
    score = choruses(3)
    text = musicxml_text(score, fold_repeats=True)
    root = valid(text)
    assert len(list(root.iter("measure"))) == 2
    assert [(r.get("direction"), r.get("times")) for r in root.iter("repeat")] == [
        ("forward", None), ("backward", "3"),
    ]  # fmt: skip
    expanded = read(text).parts[0].expandRepeats().flatten().notes
    keys = [n.pitch.midi for n in expanded if "ChordSymbol" not in n.classes]
    assert keys == [note.midi for note in score.part("exercise").notes]


def test_choruses_that_differ_are_written_out():
    assert len(list(valid(musicxml_text(choruses(3, last=4), fold_repeats=True)).iter("measure"))) == 6
    assert len(list(valid(musicxml_text(choruses(3))).iter("measure"))) == 6


def test_a_lead_sheet_has_slashes_and_a_repeat():
    root = valid(lead_sheet_text(choruses(2)))
    assert [n.findtext("notehead") for n in root.iter("note")] == ["slash"] * 8
    assert [h.findtext("root/root-step") for h in root.iter("harmony")] == ["G", "C"]
    assert root.find(".//repeat[@times='2']") is not None


def test_a_part_without_strings_has_one_staff():
    notes = [Note(beats(0), beats(4), Pitch.parse("Bb4"))]
    part = Part.of("flute", Role.LEAD, 73, notes)
    root = valid(musicxml_text(Score("Solo", "straight", timeline("Bb"), (part,))))
    assert [c.findtext("sign") for c in root.iter("clef")] == ["G"]
    assert root.find(".//staves") is None


@given(lines())
@settings(max_examples=25, deadline=None)
def test_any_line_is_valid_and_the_same_music_to_music21(made):
    score, _ = made
    text = musicxml_text(score)
    valid(text)
    assert sounding(text) == wanted(score.part("line"))


def test_same_score_same_text():
    assert musicxml_text(small_score()) == musicxml_text(small_score())


def test_a_title_of_any_characters_stays_xml():
    score = replace(small_score(), title="a\x00b\x07<&>\"'\ufffe \U0001f3b8")
    assert valid(musicxml_text(score)).findtext(".//work-title") == "ab<&>\"' \U0001f3b8"
    valid(lead_sheet_text(score))
    etree.fromstring(chart_svg(score).encode())


NAMES = {
    # what music21 calls the chords that are held [package: music21 10.5.1]
    "Dm7": ("D", "minor seventh chord"),
    "G7": ("G", "dominant seventh chord"),
    "Cmaj7": ("C", "major seventh chord"),
    "Bm7b5": ("B", "half-diminished seventh chord"),
    "F#dim7": ("F#", "diminished seventh chord"),
    "Am": ("A", "minor triad"),
    "F": ("F", "major triad"),
}


@pytest.mark.parametrize("voicings", ["drop 2", "drop 3", "open, barre", "triad"])
@pytest.mark.parametrize("touch", ["strum", "pluck"])
def test_music21_reads_the_chords_of_grips(voicings, touch):
    """Pitches, root and name of every chord, on both staves; the file is valid."""
    symbols = list(NAMES) if voicings in ("drop 2", "drop 3") else ["Am", "F"]
    score = grips_score(
        " | ".join(symbols), rhythm="charleston", touch=touch, voicings=tuple(voicings.split(", "))
    )
    text = musicxml_text(score)
    valid(text)
    part = score.lead_parts[0]
    struck = {}
    for note in part.notes:
        struck.setdefault(note.onset_beats, []).append(note)
    for staff in (0, 1):
        found = [n for n in read(text).parts[staff].flatten().notes if "Harmony" not in n.classes]
        assert [Fraction(c.offset) for c in found] == list(struck)
        for chord, notes in zip(found, struck.values(), strict=True):
            assert sorted(pitch.midi for pitch in chord.pitches) == sorted(n.midi for n in notes)
            assert chord.quarterLength == notes[0].duration_beats
            symbol = score.timeline.chord_at(notes[0].onset_beats).chord.symbol
            root, name = NAMES[symbol]
            assert chord.commonName == name
            if name != "diminished seventh chord":  # any of its tones may be its root
                assert chord.root().name == root


def test_chords_have_their_fingers_once_and_the_ways_of_strums():
    score = grips_score("Dm7 | G7", rhythm="charleston")
    root = valid(musicxml_text(score))
    assert len(list(root.iter("fingering"))) == 8, "two grips of four"
    assert (len(list(root.iter("down-bow"))), len(list(root.iter("up-bow")))) == (2, 2)
    plucked = valid(musicxml_text(grips_score("Dm7 | G7", rhythm="charleston", touch="pluck")))
    assert list(plucked.iter("down-bow")) == [] == list(plucked.iter("up-bow"))


def test_muted_strums_have_crosses():
    at = chart("Dm7")
    bar = (Struck(Fraction(0), Fraction(1)), Struck(Fraction(1), Fraction(1), is_muted=True))
    part = grips_through(at, Grips(), Player(comping=(bar,)))
    root = valid(musicxml_text(Score("t", "f", at, (part,))))
    assert [head.text for head in root.iter("notehead")] == ["x"] * 8, "four strings, two staves"
