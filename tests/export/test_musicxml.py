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

from genex.export.chord_chart import chart_svg
from genex.export.musicxml import lead_sheet_text, musicxml_text
from genex.export.notation import written_measure
from genex.export.page_bars import measures
from genex.export.xml_chords import KINDS, harmony, printed_kind
from genex.score import Articulation, Note, Part, Role, Score, Slide, TempoChange, TempoMap
from genex.theory import Degree, Key, Pitch, parse_chord

from .builders import beats, fretted, lead, small_score, timeline
from .test_tab import lines

DATA = Path(__file__).parent.parent / "data"

# Symbols of every family, with what music21 10.5.1 finds in them [package: music21 10.5.1].
SYMBOLS = (
    "C Cm Cdim Caug Csus4 Csus2 C5 C6 Cm6 C7 Cmaj7 Cm7 Cm7b5 Cdim7 Cmmaj7 C9 Cm9 Cmaj9 C11 Cm11 C13 "
    "C7sus4 Cadd9 C7b9 C7#9 C7#11 Cmaj7#11 C7b5 C7#5 C6/9 C/G Bbm7/Ab F#7b9 Ebmaj7 C9sus4 C13b9"
).split()


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


def test_tempo_meter_key_and_title():
    score = small_score(tempo=97, key="Bb")
    opened = read(musicxml_text(score))
    assert opened.metadata.title == "Lamps on the Canal"
    flat = opened.parts[0].flatten()
    assert flat.getElementsByClass("MetronomeMark")[0].getQuarterBPM() == 97
    assert flat.getElementsByClass("TimeSignature")[0].ratioString == "4/4"
    assert flat.getElementsByClass("KeySignature")[0].sharps == -2


def test_compound_meters_count_dotted_quarters():
    part = lead([fretted(Fraction(index, 2), "1/2", 3, 5) for index in range(12)])
    text = musicxml_text(Score("Slow", "slow blues", timeline("C", meter="12/8", tempo=90), (part,)))
    root = valid(text)
    assert root.find(".//metronome/beat-unit-dot") is not None
    assert root.findtext(".//metronome/per-minute") == "60"
    beams = [n.findtext("beam") for n in root.iter("note") if n.findtext("staff") == "1"]
    assert beams == ["begin", "continue", "end"] * 4


def test_tempo_changes_stand_at_their_bars():
    tempo = TempoMap((TempoChange(beats(0), beats(80)), TempoChange(beats(8), beats(84))))
    root = valid(musicxml_text(small_score(tempo_map=tempo)))
    found = [(s.getparent().getparent().get("number"), s.get("tempo")) for s in root.iter("sound")]
    assert found == [("1", "80"), ("3", "84")]


@pytest.mark.parametrize("symbol", SYMBOLS)
def test_music21_hears_the_chord_in_kind_and_degrees(symbol):
    score = Score("One", "straight", timeline(symbol), (lead([fretted(0, 4, 3, 5)]),))
    text = musicxml_text(score)
    valid(text)
    (found,) = read(text).parts[0].flatten().getElementsByClass("ChordSymbol")
    chord = parse_chord(symbol)
    heard = {pitch.pitchClass for pitch in found.pitches}
    expected = chord.pitch_classes | {chord.bass.pitch_class}
    # music21 10.5.1 leaves out the fifth of an eleventh and thirteenth chord, as players may.
    assert heard in (expected, expected - {(chord.root.pitch_class + 7) % 12}), (heard, expected)


def test_kinds_need_no_degrees_where_musicxml_has_one():
    for symbol, kind in {
        "C": "major", "Dm": "minor", "G7": "dominant", "Fmaj7": "major-seventh", "Am7": "minor-seventh",
        "Bm7b5": "half-diminished", "Bdim7": "diminished-seventh", "Cmmaj7": "major-minor",
        "C6": "major-sixth", "C9": "dominant-ninth", "C13": "dominant-13th", "Csus4": "suspended-fourth",
        "C5": "power", "Caug": "augmented", "C7#5": "augmented-seventh",
    }.items():  # fmt: skip
        assert (harmony(parse_chord(symbol)).kind, harmony(parse_chord(symbol)).changes) == (kind, ())


def test_degrees_count_as_musicxml_counts():
    def changes(symbol: str) -> list[tuple[int, int, str]]:
        return [(c.number, c.alter, c.kind) for c in harmony(parse_chord(symbol)).changes]

    # [published: MusicXML 4.0, degree-alter]
    assert changes("C7sus4") == [(3, 0, "subtract"), (4, 0, "add")]
    assert changes("C7b9") == [(9, -1, "add")]
    assert changes("C7b5") == [(5, -1, "alter")]
    assert changes("C7no5") == [(5, 0, "subtract")]
    assert changes("Cmaj7#11") == [(11, 1, "add")]
    assert "dominant" in KINDS


def test_the_printed_kind_is_what_the_chart_says():
    kinds = [printed_kind(parse_chord(s)) for s in ("Bbm7b5", "F#7", "C6/9", "CΔ/E", "A")]
    assert kinds == ["m7b5", "7", "6/9", "Δ", ""]


def test_no_chord_is_written_as_such():
    root = valid(musicxml_text(small_score()))
    last = list(root.iter("harmony"))[-1]
    assert (last.findtext("kind"), last.find("kind").get("text")) == ("none", "N.C.")


def test_a_chord_inside_a_held_note_has_an_offset():
    score = Score("Held", "straight", timeline("Gm7 C7"), (lead([fretted(0, 4, 3, 5)]),))
    root = valid(musicxml_text(score))
    assert [h.findtext("offset") for h in root.iter("harmony")] == [None, "2"]


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


def test_accidentals_hold_to_the_bar_line():
    part = Part.of(
        "line",
        Role.LEAD,
        26,
        [
            Note(beats(at), beats(1), Pitch.parse(p))
            for at, p in enumerate("F#4 F#4 F4 F5 F#4 Bb4 B4 Bb4".split())
        ],
    )
    made = timeline("F | F", key="F")
    shown = [w.accidentals for m in measures(part, made) for w in written_measure(m, Key.parse("F"))]
    # F# once, natural for F, nothing for the other octave; new bar: F# again, Bb is in the key
    assert shown == [(1,), (None,), (0,), (None,), (1,), (None,), (0,), (-1,)]


def test_beams_join_half_bars_of_eighths_and_single_beats_of_sixteenths():
    def beams(*lengths: str) -> list[tuple[str, ...]]:
        at, notes = Fraction(0), []
        for length in lengths:
            notes.append(fretted(at, length, 3, 5))
            at += Fraction(length)
        made = timeline("C")
        return [w.beams for m in measures(lead(notes), made) for w in written_measure(m, made.key)]

    assert beams(*["1/2"] * 4, "2") == [("begin",), ("continue",), ("continue",), ("end",), ()]
    assert beams("1/4", "1/4", "1/2", "1", "2") == [
        ("begin", "begin"),
        ("continue", "end"),
        ("end",),
        (),
        (),
    ]
    assert beams("3/4", "1/4", "1", "2") == [("begin",), ("end", "backward hook"), (), ()]
    assert beams("1/2", "1", "1/2", "2") == [(), (), (), ()]
    assert beams(*["1/3"] * 3, "1", "2") == [("begin",), ("continue",), ("end",), (), ()]


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
