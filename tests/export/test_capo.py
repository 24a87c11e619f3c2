"""A capo, from a line to every page: strings as tuned, frets from the capo, pitches as they sound."""

from __future__ import annotations

import re
from fractions import Fraction
from xml.etree import ElementTree

import pytest

from genex.exercises import Player
from genex.exercises.models.over_the_chart import Arpeggio
from genex.export.chord_chart import chart_text
from genex.export.chord_chart_svg import chart_svg
from genex.export.diagrams import DiagramStyle, shape_svg, sheet_svg
from genex.export.handout import HandoutSettings
from genex.export.handout.content import handout_data
from genex.export.handout.shape_score import path_score
from genex.export.musicxml import musicxml_text
from genex.export.neck_text import shapes_text
from genex.export.tab import tab_text
from genex.export.under_chords import texts_under
from genex.fretboard import TUNINGS, chord_shape, chord_shapes, tuning
from genex.lines.arpeggio import arpeggio_exercise
from genex.score import Score
from genex.theory import parse_chord

from .builders import timeline
from .tab_reader import midi_number, read_tab
from .test_musicxml import sounding, valid
from .test_tab import midi_notes

COUNTED = "capo at fret 3; frets count from the capo"


def played(name: str, capo: int) -> Score:
    over = timeline("Am7 | D7 | Gmaj7 | C6", key="G")
    neck = tuning(name, capo=capo)
    return Score("Canal", "swing", over, (arpeggio_exercise(over, Arpeggio(), Player(tuning=neck)),))


def string_keys(root: ElementTree.Element) -> list[int]:
    """Keys of the open strings, string 1 first, as a reader works them out: tuning and capo."""
    names = {
        int(t.get("line")): t.findtext("tuning-step")
        + {None: "", "1": "#", "-1": "b"}[t.findtext("tuning-alter")]
        + t.findtext("tuning-octave")
        for t in root.iter("staff-tuning")
    }
    # [published: MusicXML 4.0, element capo] it raises the strings by so many half steps
    capo = int(root.findtext(".//capo") or 0)
    return [midi_number(names[line]) + capo for line in sorted(names, reverse=True)]


@pytest.mark.parametrize("capo", [0, 3])
@pytest.mark.parametrize("name", TUNINGS)
def test_tab_musicxml_and_midi_agree(name: str, capo: int) -> None:
    score = played(name, capo)
    (part,) = score.parts
    keys = [note.midi for note in part.notes]
    found = read_tab(tab_text(score, width=100))
    assert [(n.bar, n.onset, n.midi) for n in found] == midi_notes(score, part.name, Fraction(4))
    text = musicxml_text(score)
    root = valid(text)
    opens = string_keys(root)
    tab = [note for note in root.iter("note") if note.find("notations/technical/fret") is not None]
    assert [opens[int(n.findtext(".//string")) - 1] + int(n.findtext(".//fret")) for n in tab] == keys
    assert [key for _, key, _ in sounding(text)] == keys


def test_the_page_names_the_strings_as_tuned_and_the_capo() -> None:
    text = tab_text(played("standard", 3), width=100)
    assert f"Tuning: E2 A2 D3 G3 B3 E4 (string 6 to string 1), {COUNTED}\n" in text
    assert re.findall(r"^(\S+) +\|", text, re.M)[:6] == ["e", "B", "G", "D", "A", "E"]
    assert "capo" not in tab_text(played("standard", 0))
    root = valid(musicxml_text(played("standard", 3)))
    details = [element.tag for element in root.find(".//staff-details")]
    assert details == ["staff-lines", *["staff-tuning"] * 6, "capo"]
    assert root.findtext(".//capo") == "3"
    assert valid(musicxml_text(played("standard", 0))).find(".//capo") is None


def test_a_practice_path_keeps_the_capo() -> None:
    neck = tuning("standard", capo=3)
    chord = parse_chord("C7")
    (part,) = path_score(chord, chord_shape(chord, neck, "A"), neck).parts
    assert (part.strings, part.capo) == (tuning("standard").strings, 3)
    for note in part.notes:
        assert note.midi == part.strings[note.fretting.string - 1].midi + 3 + note.fretting.fret


def test_diagrams_say_the_capo() -> None:
    neck, plain = tuning("standard", capo=3), tuning("standard")
    chord = parse_chord("C")
    shapes = chord_shapes(chord, neck)
    for width in (60, 80):
        text = shapes_text(shapes, neck, width=width)
        assert text.startswith("Capo at fret 3; frets count from the capo\n\n")
        assert max(map(len, text.split("\n"))) <= width
    assert "apo" not in shapes_text(chord_shapes(chord, plain), plain)
    for left_handed in (False, True):
        style = DiagramStyle(left_handed=left_handed)
        assert ">capo 3<" in shape_svg(shapes[0], neck, style, title="")
        assert ">C, capo at fret 3<" in sheet_svg("C", shapes, neck, style)
    assert "capo" not in sheet_svg("C", chord_shapes(chord, plain), plain)


def test_the_head_of_a_handout_says_the_capo() -> None:
    def facts(capo: int, **more: object) -> list[str]:
        settings = HandoutSettings(blocks=("chart",), **more)  # type: ignore[arg-type]
        return list(handout_data(played("standard", capo), settings)["facts"])

    assert facts(3)[-1] == COUNTED
    assert facts(0, tuning=tuning("standard", capo=3))[-1] == COUNTED
    assert facts(0)[-1] == "tuning E A D G B E"


@pytest.mark.parametrize(
    ("chart", "key", "capo", "held"),
    [
        # [common practice] tables of capo and shape: Bb at fret 3 is G, Eb at 1 is D, at 3 is C
        ("Bb | Eb | F7 | Gm", "Bb", 3, ["G", "C", "D7", "Em"]),
        ("Eb | Ab | Bb7 | Cm7", "Eb", 1, ["D", "G", "A7", "Bm7"]),
        ("Cm7 | F/A | N.C. | Abmaj7", "C minor", 3, ["Am7", "D/F#", "", "Fmaj7"]),
        ("B | E | F#7 | G#m", "B", 2, ["A", "D", "E7", "F#m"]),
        ("B | E | F#7 | G#m", "B", 4, ["G", "C", "D7", "Em"]),
    ],
)
def test_the_chart_names_the_shapes_under_what_sounds(
    chart: str, key: str, capo: int, held: list[str]
) -> None:
    over = timeline(chart, key=key)
    texts = texts_under(over, ("numerals",), capo)
    assert [texts[span.onset_beats][0] for span in over.chords] == held
    score = Score("Canal", "swing", over, ())
    sounds, shapes = chart_text(score, capo=capo).splitlines()[4:6]
    assert [cell.split() for cell in sounds.strip("|").split("|")] == [[c] for c in chart.split(" | ")]
    assert shapes.split() == [name for name in held if name]
    assert f"capo at fret {capo}" in chart_text(score, capo=capo)
    assert f"capo at fret {capo}" in chart_svg(score, capo=capo)


def test_the_head_of_the_tab_names_the_shape_of_every_chord() -> None:
    head = tab_text(played("standard", 3), width=100)
    assert "held with the capo: F#m7 for Am7, B7 for D7, Emaj7 for Gmaj7, A6 for C6" in head
    assert "held with" not in tab_text(played("standard", 0))


def test_the_handout_names_the_shapes_under_the_chart() -> None:
    data = handout_data(played("standard", 3), HandoutSettings(tuning=tuning("standard", capo=3)))
    chart = next(block for block in data["blocks"] if block["kind"] == "chart")
    chords = [chord for bar in chart["sections"][0]["rows"][0]["bars"] for chord in bar["chords"]]
    assert [(c["symbol"], c["under"]) for c in chords][:2] == [("Am7", ["F♯m7"]), ("D7", ["B7"])]
    assert "under the chords: the shapes to hold with the capo at fret 3" in chart["remarks"]
