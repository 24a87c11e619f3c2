"""Tab in plain text: read back by an independent reader, and compared with the MIDI file."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from fractions import Fraction

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import InputError
from genex.exercises import Player
from genex.exercises.models.comping import Grips
from genex.export.midi import midi_bytes
from genex.export.tab import tab_text
from genex.fretboard import HandMove
from genex.lines.comping import grips_through
from genex.score import (
    Articulation,
    Fretting,
    Note,
    Part,
    Role,
    Score,
    Slide,
    TempoChange,
    TempoMap,
)
from genex.theory import Degree, Pitch

from ..lines.line_charts import chart
from .builders import GUITAR, beats, fretted, lead, small_score, timeline
from .tab_reader import read_tab


def midi_notes(score: Score, name: str, bar_beats: Fraction) -> list[tuple[int, Fraction, int]]:
    """(bar, onset in it, key) of a part, from the MIDI file."""
    file = mido.MidiFile(file=io.BytesIO(midi_bytes(score)))
    track = next(track for track in file.tracks if track.name == name)
    at, found = 0, []
    for message in track:
        at += message.time
        if message.type == "note_on":
            bar, onset = divmod(Fraction(at, 960), bar_beats)
            found.append((bar + 1, onset, message.note))
    return sorted(found)


def rows(text: str) -> list[str]:
    return text.split("\n")


def test_a_line_reads_from_bar_number_to_fingers():
    notes = [
        fretted(0, 1, 6, 8, 2),
        fretted(1, "1/2", 5, 7, 1),
        fretted("3/2", "1/2", 5, 10, 3),
        fretted(2, 2, 4, 10, 4),
        fretted(4, 4, 3, 9, 2),
    ]
    score = Score("Lamps on the Canal", "swing", timeline("C6 | N.C.", key="C"), (lead(notes),))
    assert (
        tab_text(score, width=60)
        == """\
Lamps on the Canal: exercise
Key: C major   Tempo: quarter = 120   Meter: 4/4
Feel: swing
Tuning: E2 A2 D3 G3 B3 E4 (string 6 to string 1)
note values: w whole, h half, q quarter, e eighth
under the strings: fingers 1 to 4, 0 = open

  [A]
  1                         2
    C6                        N.C.
    q     e  e  h             w
e |-------------------------|-------------------------||
B |-------------------------|-------------------------||
G |-------------------------|-9-----------------------||
D |-------------10----------|-------------------------||
A |-------7--10-------------|-------------------------||
E |-8-----------------------|-------------------------||
    2     1  3  4             2
"""
    )


def test_rests_triplets_and_ties_over_the_bar_line():
    score = small_score()
    found = read_tab(tab_text(score))
    assert [(n.bar, n.onset, n.midi, n.duration) for n in found] == [
        (1, 0, 55, 1),
        (1, 1, 58, beats("1/2")),
        (1, beats("3/2"), 60, beats("1/2")),
        (1, 2, 64, 2),
        (2, 0, 67, beats("1/3")),
        (2, beats("1/3"), 64, beats("1/3")),
        (2, beats("2/3"), 60, beats("1/3")),
        (2, 2, 55, 4),
    ]
    text = tab_text(score)
    assert "h~" in text
    assert "(5)" in text
    assert "rq" in text
    assert "N.C." in text


def test_tied_values_reach_the_beat_first():
    notes = [fretted("1/2", "7/2", 3, 5), fretted(4, "5/2", 3, 5)]
    text = tab_text(Score("Ties", "straight", timeline("C | C"), (lead(notes),)))
    assert "re  q.~h" in text
    assert "h~e" in text


def test_slides_stand_before_the_fret():
    notes = [
        fretted(0, 1, 3, 5, slide=Slide(-2, beats("1/4"))),
        fretted(1, 1, 3, 4, slide=Slide(1, beats("1/4"))),
    ]
    text = tab_text(Score("Slides", "straight", timeline("C"), (lead(notes),)))
    assert "/5" in text
    assert "\\4" in text
    assert [note.slide for note in read_tab(text)] == ["/", "\\"]


def test_rolls_and_shifts_stand_under_the_fingers():
    def note(at: int, string: int, fret: int, finger: int, move: HandMove) -> Note:
        return replace(fretted(at, 1, string, fret), fretting=Fretting(string, fret, finger, move))

    notes = [
        note(0, 5, 7, 1, HandMove.NONE),
        note(1, 5, 10, 3, HandMove.SHIFT),
        note(2, 4, 10, 3, HandMove.ROLL),
        note(3, 5, 7, 1, HandMove.SHIFT),
    ]
    text = tab_text(Score("Hand", "straight", timeline("C"), (lead(notes),)))
    assert [played.under for played in read_tab(text)] == [("1", ""), ("3", ">"), ("3", "="), ("1", "<")]
    assert "= : roll" in text
    plain = tab_text(Score("Hand", "straight", timeline("C"), (lead(notes),)), show_fingers=False)
    assert {played.under for played in read_tab(plain)} == {()}


def test_degrees_on_request():
    notes = [
        replace(fretted(0, 2, 3, 5, 3), degree=Degree(11, 1)),
        replace(fretted(2, 2, 3, 4, 2), degree=Degree(3)),
    ]
    score = Score("Degrees", "straight", timeline("Cmaj7"), (lead(notes),))
    assert [played.under[-1] for played in read_tab(tab_text(score, show_degrees=True))] == ["#11", "3"]
    assert "#11" not in tab_text(score)


def test_dead_notes_and_accents():
    notes = [
        replace(fretted(0, 1, 3, 5), articulation=Articulation.DEAD),
        replace(fretted(1, 1, 3, 5), articulation=Articulation.ACCENT),
        replace(fretted(2, 1, 3, 5), articulation=Articulation.STACCATO),
        replace(fretted(3, 1, 3, 5), articulation=Articulation.GHOST),
    ]
    text = tab_text(Score("Touch", "straight", timeline("C"), (lead(notes),)))
    assert "G |-x---5---5---5---||" in rows(text)
    assert "        !   '   o" in rows(text)


def test_header_of_a_compound_meter_counts_dotted_quarters():
    score = Score("Slow", "slow blues", timeline("C", meter="12/8", tempo=90), (lead([]),))
    assert "Tempo: dotted quarter = 60" in tab_text(score)


def test_a_rising_tempo_is_shown_at_its_bars():
    tempo = TempoMap((TempoChange(beats(0), beats(80)), TempoChange(beats(4), beats(84))))
    text = tab_text(Score("Ladder", "straight", timeline("C | F", tempo_map=tempo), (lead([]),)))
    assert "Tempo: quarter = 80, changing to 84" in text
    assert any(row.split() == ["1", "2", "=84"] for row in rows(text))


def test_a_page_too_narrow_is_refused():
    with pytest.raises(InputError, match="39 columns"):
        tab_text(small_score(), width=39)


def test_a_note_without_a_place_is_a_fault():
    part = Part.of("line", Role.LEAD, 26, [Note(beats(0), beats(1), Pitch.parse("C4"))], strings=GUITAR)
    with pytest.raises(ValueError, match="place on the neck"):
        tab_text(Score("Nowhere", "straight", timeline("C"), (part,)))


def test_parts_can_be_chosen():
    other = lead([fretted(0, 4, 3, 5)], name="guide")
    score = Score("Two", "straight", timeline("C"), (lead([fretted(0, 4, 3, 7)]), other))
    assert tab_text(score).count("Tuning:") == 2
    assert "Two: guide" in tab_text(score, ["guide"])
    assert "Two: exercise" not in tab_text(score, ["guide"])


TUNINGS = (
    "E4 B3 G3 D3 A2 E2",
    "A4 E4 C4 G4",
    "G2 D2 A1 E1",
    "E4 B3 G3 D3 A2 E2 B1",
    "D4 A3 G3 D3 A2 D2",
)

RHYTHMS = (
    "1", "2", "3", "4", "1/2 1/2", "1/3 1/3 1/3", "2/3 1/3", "1/4 1/4 1/4 1/4", "3/4 1/4", "3/2 1/2",
    "1/2 1 1/2", "5/2 1/2", "1/2 1/2 1/2", "1/2 1/4 1/4",
)  # fmt: skip


@st.composite
def lines(draw: st.DrawFn) -> tuple[Score, Fraction]:
    """A random single line on a random instrument, with rests, ties, triplets and slides."""
    strings = tuple(Pitch.parse(text) for text in draw(st.sampled_from(TUNINGS)).split())
    meter, bar_beats = draw(
        st.sampled_from(
            [("4/4", Fraction(4)), ("3/4", Fraction(3)), ("12/8", Fraction(6)), ("7/8", Fraction(7, 2))]
        )
    )
    capo = draw(st.sampled_from([0, 0, 1, 3, 7]))
    bars = draw(st.integers(1, 9))
    notes: list[Note] = []
    at = Fraction(0)
    while at < bars * bar_beats and len(notes) < 60:
        for length in draw(st.sampled_from(RHYTHMS)).split():
            duration = min(Fraction(length), bars * bar_beats - at)
            if duration > 0 and draw(st.integers(0, 5)):
                string, fret = draw(st.integers(1, len(strings))), draw(st.integers(0, 19))
                finger = draw(st.integers(1, 4)) if fret else 0
                place = Fretting(string, fret, finger, draw(st.sampled_from(list(HandMove))))
                pitch = Pitch.from_midi(strings[string - 1].midi + capo + fret)
                slide = (
                    None
                    if draw(st.integers(0, 6))
                    else Slide(draw(st.sampled_from([-2, 1])), Fraction(1, 8))
                )
                notes.append(Note(at, duration, pitch, fretting=place, slide=slide))
            at += Fraction(length)
    chart = " | ".join(
        draw(st.sampled_from(["Gm7", "C7 F7", "Fmaj7", "N.C.", "Bbm7b5"])) for _ in range(bars)
    )
    cut = draw(st.integers(0, bars - 1))
    sections = (("A", cut), ("B", bars - cut)) if cut else (("A", bars),)
    part = Part.of("line", Role.EXERCISE, 26, notes, strings=strings, capo=capo)
    return Score(
        "Random", "straight", timeline(chart, meter=meter, sections=sections), (part,)
    ), bar_beats


@given(lines(), st.integers(40, 130), st.booleans())
@settings(max_examples=100, deadline=None)
def test_tab_read_back_has_the_pitches_and_times_of_the_midi_file(made, width, degrees):
    score, bar_beats = made
    text = tab_text(score, width=width, show_degrees=degrees)
    assert max(len(row) for row in rows(text)) <= width
    found = read_tab(text, exact=width >= 80)
    assert [(note.bar, note.onset, note.midi) for note in found] == midi_notes(score, "line", bar_beats)
    part = score.part("line")
    assert [note.duration for note in found] == [note.duration_beats for note in part.notes]
    fingers = [str(note.fretting.finger) for note in part.notes if note.fretting]
    assert [note.under[0] for note in found if note.under] == fingers


def test_two_guide_voices_are_double_stops_in_one_system():
    """A player reads them as one: both notes of a pair stand in one column."""
    upper = [fretted(0, 4, 3, 5, 4), fretted(4, 4, 3, 4, 3)]
    lower = [fretted(0, 4, 4, 3, 2), fretted(4, 4, 4, 3, 2)]
    parts = tuple(
        Part.of(name, Role.GUIDE, 26, notes, strings=GUITAR)
        for name, notes in (("guide-1", upper), ("guide-2", lower))
    )
    score = replace(small_score(), parts=parts, timeline=timeline("Dm7 | G7"))
    text = tab_text(score)

    assert text.count("guide") == 1
    rows = text.splitlines()
    for name, frets in (("G", ["5", "4"]), ("D", ["3", "3"])):
        row = next(row for row in rows if re.match(rf"{name} +\|", row))
        assert row.replace("-", "").split("|")[1:3] == frets
    assert rows[-1].split() == ["42", "32"]
    assert "two together: the thinner string's first" in text


def grips_score(text: str, *, tempo: int = 120, **fields: object) -> Score:
    at = chart(text, tempo=tempo)
    part = grips_through(at, Grips(**fields), Player())  # type: ignore[arg-type]
    return Score("Steps", "Swing", at, (part,))


def test_chords_are_columns_of_frets_with_the_fingers_where_they_change():
    score = grips_score("Dm7 | G7", strings="2 3 4 5", rhythm="charleston")
    block = tab_text(score).split("\n\n")[1].splitlines()
    assert [line.rstrip() for line in block] == [
        "  [A]",
        "  1                                 2",
        "    Dm7                               G7",
        "    q.          e   rh                q.          e   rh",
        "e |---------------------------------|---------------------------------||",
        "B |-6-----------6-------------------|-6-----------6-------------------||",
        "G |-5-----------5-------------------|-4-----------4-------------------||",
        "D |-7-----------7-------------------|-5-----------5-------------------||",
        "A |-5-----------5-------------------|-5-----------5-------------------||",
        "E |---------------------------------|---------------------------------||",
        "    d           u                     d           u",
        "    1423                              2314",
        "                                      <",
    ]
    head = tab_text(score)
    assert "of a chord from the lowest string up, where they change" in head
    assert "d u : strum down, up" in head and "two together" not in head


@pytest.mark.parametrize("rhythm", ["quarters", "charleston", "off-beats", "anticipated"])
@pytest.mark.parametrize("voicings", ["drop 2", "shell", "open, barre"])
def test_chords_read_back_from_tab_are_the_chords(rhythm, voicings):
    score = grips_score("Dm7 | G7 C7 | N.C. | F", rhythm=rhythm, voicings=tuple(voicings.split(", ")))
    part = score.lead_parts[0]
    found = sorted(
        (note.bar, note.onset, note.midi, note.duration) for note in read_tab(tab_text(score))
    )
    assert found == sorted(
        (int(n.onset_beats // 4) + 1, n.onset_beats % 4, n.midi, n.duration_beats) for n in part.notes
    )


def test_degrees_of_chords_stand_below_their_fingers():
    text = tab_text(grips_score("Dm7", strings="2 3 4 5", rhythm="whole"), show_degrees=True)
    assert text.splitlines()[-1].split() == ["1", "5", "b7", "b3"]
    assert "d u" not in text, "one way needs no sign"
