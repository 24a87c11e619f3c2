"""Sections in a key and at a tempo of their own, in every output.

Lengths are worked out by hand: bars of four beats at so many a minute [common practice].
"""

from __future__ import annotations

import io
from fractions import Fraction as F

import pretty_midi
import pytest

from genex.compose import Composer, compose
from genex.errors import RecipeError
from genex.export.chord_chart import chart_of, chart_text
from genex.export.chord_chart_svg import chart_svg
from genex.export.lead_sheet import lead_sheet_text
from genex.export.midi import midi_bytes
from genex.export.musicxml import musicxml_text
from genex.export.tab import tab_text
from genex.recipe import parse_recipe
from genex.score import FileClock
from tests.export.test_musicxml import read, valid

UP = """
title: Stairs Going Up
key: Bb
tempo: 120
feel: swing
sections:
  A: Bbmaj7 | Cm7 F7 | Bbmaj7 | G7
  Bridge: {key: Db, tempo: 140, chords: "Dbmaj7 | Ebm7 Ab7 | Dbmaj7 | F7"}
  Out: {tempo: 90, chords: "Cm7 | F7 | Bb6 | %"}
form: A Bridge A
outro: Out
exercise: arpeggio
parts: exercise bass
"""


@pytest.fixture(scope="module")
def score():
    return compose(parse_recipe(UP)).score


def test_a_loop_has_the_samples_that_its_tempos_say(score):
    seconds = 2 * 16 * F(60, 120) + 16 * F(60, 140) + 16 * F(60, 90)
    assert score.tempo.seconds_at(score.length_beats) == seconds
    clock = FileClock.of(score)
    assert clock.sample(score.length_beats, 48000) == round(seconds * 48000)
    assert clock.sample(F(0), 48000, 2) == 2 * round(seconds * 48000)


def test_another_tempo_of_the_piece_changes_those_of_sections_in_proportion():
    recipe = parse_recipe(UP + "tempos: [60, 120]\n")
    composer = Composer(recipe)
    for version in recipe.versions:
        found = composer.piece(version).score.tempo
        tempos = [change.tempo_bpm for change in found.changes]
        assert tempos == [tempo * version.tempo / 120 for tempo in (120, 140, 120, 90)]


def test_midi_has_tempo_and_key_where_they_change(score):
    """[package: pretty_midi 0.2]"""
    found = pretty_midi.PrettyMIDI(io.BytesIO(midi_bytes(score)))
    times, tempos = found.get_tempo_changes()
    at = {round(float(time), 3): round(float(tempo)) for time, tempo in zip(times, tempos, strict=True)}
    assert at[0.0] == 120 and at[8.0] == 140 and at[14.857] == 120 and at[22.857] == 90
    names = [pretty_midi.key_number_to_key_name(k.key_number) for k in found.key_signature_changes]
    assert names == ["Bb Major", "Db Major", "Bb Major"]
    assert [round(k.time, 3) for k in found.key_signature_changes] == [0, 8, 14.857]


def test_musicxml_has_them_too_and_spells_by_the_key_in_force(score):
    """[package: music21 10.5]"""
    for text in (musicxml_text(score, fold_repeats=True), lead_sheet_text(score)):
        valid(text)
        part = read(text).parts[0]
        keys = part.recurse().getElementsByClass("KeySignature")
        assert [(k.sharps, k.getOffsetInHierarchy(part)) for k in keys] == [(-2, 0), (-5, 16), (-2, 32)]
        marks = part.recurse().getElementsByClass("MetronomeMark")
        assert [(m.number, m.getOffsetInHierarchy(part)) for m in marks] == [
            (120, 0), (140, 16), (120, 32), (90, 48),
        ]  # fmt: skip
    bridge = list(read(musicxml_text(score)).parts[0].getElementsByClass("Measure"))[4]
    shown = [n.pitch.accidental.displayStatus for n in bridge.recurse().notes if "Note" in n.classes
             and n.pitch.accidental is not None]  # fmt: skip
    assert shown and not any(shown)  # Dbmaj7 in Db major needs no accidental


def test_a_transposed_version_has_its_sections_keys_moved():
    recipe = parse_recipe(UP + "keys: [C]\n")
    timeline = compose(recipe).score.timeline
    assert [str(timeline.key_at(F(at))) for at in (0, 16, 32)] == ["C major", "Eb major", "C major"]


def test_chart_and_tab_say_what_changes(score):
    text = chart_text(score)
    assert "[Bridge]   Key: Db major   Tempo: 140\n" in text
    assert "[A]\n" in text and "[Out]   Tempo: 90\n" in text
    assert "Key: D♭ major · Tempo: 140" in chart_svg(score)
    tab = tab_text(score)
    assert "quarter = 120 " in tab and "5 =140" in tab and "13 =90" in tab


def test_an_intro_with_a_tempo_names_it_for_the_chart_and_the_others_theirs():
    recipe = parse_recipe(
        "tempo: 120\nsections: {I: {tempo: 80, chords: C}, A: F | G}\nintro: I\nkey: C\n"
    )
    chart = chart_of(compose(recipe).score.timeline)
    assert [section.tempo for section in chart.sections] == [None, 120]


def test_choruses_whose_tempo_changes_alike_are_written_once():
    text = lead_sheet_text(compose(parse_recipe(UP.replace("outro: Out", "repeats: 3"))).score)
    part = read(text).parts[0]
    assert len(part.getElementsByClass("Measure")) == 12
    assert len(part.expandRepeats().getElementsByClass("Measure")) == 36


def test_two_things_that_change_the_tempo_are_refused():
    with pytest.raises(RecipeError, match="tempo of its own") as raised:
        parse_recipe(UP + "tempo_steps: {start: 80, end: 120}\n")
    assert raised.value.place.line == 8


ODD = """
title: Odd Steps Home
key: G
tempo: 120
feel: straight
sections:
  A: "|: G | C | (2/4) D7 | (4/4) G :|"
  B: {meter: 6/8, tempo: 60, chords: "Em | C | Am D7 | G"}
form: A B A
"""


def test_bars_of_other_meters_have_their_length_in_every_file():
    """[package: pretty_midi 0.2] [package: music21 10.5]"""
    score = compose(parse_recipe(ODD)).score
    seconds = 4 * 14 * F(60, 120) + 4 * 2 * F(60, 60)  # 14 quarters a pass of A; two pulses a bar of B
    assert score.tempo.seconds_at(score.length_beats) == seconds
    found = pretty_midi.PrettyMIDI(io.BytesIO(midi_bytes(score)))
    assert [
        (m.numerator, m.denominator, round(m.time, 3)) for m in found.time_signature_changes[:6]
    ] == [(4, 4, 0), (2, 4, 4), (4, 4, 5), (2, 4, 11), (4, 4, 12), (6, 8, 14)]
    text = lead_sheet_text(score)
    valid(text)
    part = read(text).parts[0]
    assert len(part.getElementsByClass("Measure")) == 12
    assert part.expandRepeats().duration.quarterLength == 68
    assert "(2/4) D7" in chart_text(score) and "(6/8) Em" in chart_text(score)


def test_the_band_and_lines_fill_bars_of_every_meter():
    chart = "C | (2/4) G7 | (4/4) C | (6/8) Am7 | (7/8) F6 | (3/8) F6 | (4/4) G7 | C6"
    score = compose(parse_recipe(f"key: C\nexercise: arpeggio\nchords: '{chart}'\n")).score
    for part in score.parts:
        bars = {score.timeline.bar_at(note.onset_beats).number for note in part.notes}
        assert len(bars) >= 7, part.name
        assert all(note.written_end_beats <= score.length_beats for note in part.notes)


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        ("chords: (3/4) C | D", 1, "begins in 3/4"),
        ("sections:\n  A: {meter: 3/4, chords: C}", 2, "begins in 3/4"),
        ("chords: C | (3/4) D\nkey: C\nturnaround: G7", 3, "another meter"),
        ("sections:\n  A: {meter: waltz, chords: C}", 2, "not a meter"),
    ],
)
def test_meters_that_cannot_be_played_are_refused(text, line, said):
    with pytest.raises(RecipeError, match=said) as raised:
        parse_recipe(text)
    assert raised.value.place.line == line


def test_scales_are_wished_for_by_the_beat_of_the_bars_own_meter():
    recipe = parse_recipe("key: C\nchords: C | (6/8) Dm G7 | (4/4) C\nscales: {2.2: altered}\n")
    timeline = compose(recipe).score.timeline
    assert str(timeline.reading_at(F(11, 2)).scale) == "altered"


def test_a_chord_in_parentheses_is_printed_so_in_any_key():
    recipe = parse_recipe("key: G\nkeys: [Bb]\nchords: G | Em (C) | <D7(Am7) | G\n")
    score = compose(recipe).score
    assert "| Bb       | Gm  (Eb) | <F7(Cm7) | Bb       ||" in chart_text(score)
    assert [str(span.chord) for span in score.timeline.chords] == ["Bb", "Gm", "Eb", "F7", "Bb"]
