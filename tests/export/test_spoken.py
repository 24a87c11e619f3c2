"""Lines in words: what a bar says, note by note."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from genex.export.phrases import LANGUAGES, words
from genex.export.spoken import (
    bar_sentence,
    chart_in_words,
    chord_in_words,
    degree_in_words,
    rhythm_sentences,
    shape_in_words,
    signs_in_words,
    spoken_bars,
    type_names,
    value_in_words,
)
from genex.fretboard import STANDARD, HandMove, chord_shapes
from genex.score import (
    BASE_VALUES,
    Articulation,
    Bend,
    Legato,
    Meter,
    NoteValue,
    TempoChange,
    TempoMap,
)
from genex.theory import Degree, Key, parse_chord
from genex.theory.qualities import QUALITIES

from .builders import fretted, lead, small_score, timeline

WORDS = words()


def test_a_bar_names_chord_value_finger_string_fret_and_note() -> None:
    """The words of the order itself: second finger, fifth string, fret three, C."""
    note = replace(fretted(0, 4, 5, 3, 2), degree=Degree(1))
    (told,) = spoken_bars(lead([note]), timeline("Cmaj7")).values()
    assert told == (
        "bar 1, C major seventh",
        "whole: second finger, fifth string, fret three, C, root",
    )
    assert bar_sentence(told).startswith("Bar 1, C major seventh: whole: second")


def test_a_value_is_said_once_and_again_where_it_changes() -> None:
    notes = [fretted(0, 1, 5, 3, 2), fretted(1, 1, 4, 2, 1), fretted(2, Fraction(1, 2), 3, 0)]
    _, text = spoken_bars(lead(notes), timeline("C"))[1]
    assert text == (
        "quarter: second finger, fifth string, fret three, C; first finger, fourth string, fret two, E; "
        "eighth: open third string, G; rest; quarter: rest"
    )


def test_every_bar_of_the_score_is_there_with_ties_slides_tuplets_and_rests() -> None:
    score = small_score()
    told = spoken_bars(score.lead_parts[0], score.timeline)
    assert [heading for heading, _ in told.values()] == [
        "bar 1, G minor seventh",
        "bar 2, C dominant seventh",
        "bar 3, F major seventh",
        "bar 4, no chord",
    ]
    assert "slide up into it, first finger" in told[1][1]
    assert told[2][1].startswith("triplet eighth: fourth finger")
    assert told[3][1].startswith("half: held on")
    assert told[4][1] == "rest for the whole bar"


def test_chords_within_a_bar_are_said_with_their_beat() -> None:
    notes = [fretted(0, 2, 5, 3, 2), fretted(2, 2, 6, 3, 2)]
    _, text = spoken_bars(lead(notes), timeline("C G7"))[1]
    assert "; beat three, G dominant seventh: second finger, sixth string" in text
    silent = spoken_bars(lead([]), timeline("C G7"))[1][1]
    assert silent == "rest for the whole bar; beat three, G dominant seventh"


def test_the_hand_and_the_stroke_are_said_before_the_note() -> None:
    note = fretted(0, 4, 5, 3, 2)
    assert note.fretting is not None
    moved = replace(
        note,
        fretting=replace(note.fretting, move=HandMove.SHIFT),
        articulation=Articulation.STACCATO,
    )
    assert (
        "whole: shift the hand, short, second finger" in spoken_bars(lead([moved]), timeline("C"))[1][1]
    )
    dead = replace(note, articulation=Articulation.DEAD)
    assert spoken_bars(lead([dead]), timeline("C"))[1][1].startswith("whole: dead note, second finger")


def test_what_string_and_fretting_hand_do_is_said() -> None:
    notes = [
        replace(fretted(0, 1, 3, 5, 1), rings=True),
        replace(fretted(1, 1, 3, 7, 3), rings=True, legato=Legato.HAMMER_ON),
        replace(fretted(2, 1, 3, 5, 1), legato=Legato.PULL_OFF, vibrato=True),
        replace(fretted(3, "0.5", 2, 8, 3), bend=Bend(2)),
        replace(fretted("3.5", "0.5", 2, 8, 3), bend=Bend(3, releases=True)),
    ]
    told = spoken_bars(lead(notes), timeline("C"))[1][1].split("; ")
    assert told[0].endswith("fret five, C, let it ring")
    assert told[1] == "hammer on, third finger, third string, fret seven, D"  # of several the first
    assert told[2] == "pull off, first finger, third string, fret five, C, with vibrato"
    assert told[3].endswith("fret eight, G, bent up a whole step")
    assert told[4].endswith("G, bent up 3 half steps and let back")


def test_pushed_chords_and_another_key_or_meter_are_said_where_they_begin() -> None:
    over = timeline("C <F | <G7 | G7 | C", sections=[("A", 2), ("B", 2)])
    sections = (over.sections[0], replace(over.sections[1], key=Key.parse("Eb")))
    bars = (*over.bars[:3], replace(over.bars[3], meter=Meter(2, 2)))
    said = chart_in_words(replace(over, sections=sections, bars=bars), bars, WORDS)
    assert said == (
        "Bar 1, C major triad; beat three, F major triad, an eighth before its beat. "
        "Bar 2, G dominant seventh, an eighth before its beat. "
        "Bar 3, Key: E flat major, G dominant seventh. "
        "Bar 4, Meter: 2/2, C major triad."
    )


def test_another_tempo_is_said_where_it_begins() -> None:
    changes = [(0, 100), (4, 140), (9, 150), (12, 100)]
    tempo = TempoMap(tuple(TempoChange(Fraction(at), Fraction(bpm)) for at, bpm in changes))
    over = timeline("C | F | G7 | C", tempo_map=tempo)
    said = chart_in_words(over, over.bars, WORDS)
    assert said == (
        "Bar 1, C major triad. Bar 2, 140 quarter notes a minute, F major triad. "
        "Bar 3, G dominant seventh. Bar 4, 100 quarter notes a minute, C major triad."
    )


@pytest.mark.parametrize(
    ("symbol", "told"),
    [
        ("Bbmaj7", "B flat major seventh"),
        ("F#m7b5", "F sharp half-diminished seventh"),
        ("C/E", "C major triad over E"),
        ("C7b9", "C dominant seventh flat nine"),
    ],
)
def test_chords_are_called_by_their_names(symbol: str, told: str) -> None:
    """[common practice]"""
    assert chord_in_words(parse_chord(symbol), WORDS) == told


@pytest.mark.parametrize(
    ("language", "symbol", "told"),
    [
        ("es", "Bbm7b5", "B bemol menor siete bemol cinco"),
        ("es", "C", "C mayor"),
        ("de", "Cmaj7", "C major sieben"),
        ("de", "F#m", "F Kreuz Moll"),
        ("fr", "G7(b9,#11)", "G sept bémol neuf dièse onze"),
        ("it", "Am7/G", "A minore sette con basso G"),
        ("pt", "D7sus4", "D sete suspenso quatro"),
    ],
)
def test_chords_are_read_out_sign_by_sign_in_other_languages(
    language: str, symbol: str, told: str
) -> None:
    """[common practice]"""
    assert chord_in_words(parse_chord(symbol), words(language)) == told


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_quality_has_a_name(language: str) -> None:
    chords = [parse_chord(f"C{key}") for key in QUALITIES]
    names = {type_names(chord, words(language))[0] for chord in chords}
    assert len(names) == len(QUALITIES)


@pytest.mark.parametrize(
    ("language", "value", "pause", "degree"),
    [
        ("es", "corchea de tresillo", "silencio de negra con puntillo", "séptima menor"),
        ("de", "Triolen-Achtel", "punktierte Viertel-Pause", "kleine Septime"),
        ("fr", "croche de triolet", "silence de noire pointée", "septième mineure"),
    ],
)
def test_values_and_degrees_in_other_languages(
    language: str, value: str, pause: str, degree: str
) -> None:
    table = words(language)
    quarter, eighth = BASE_VALUES[2], BASE_VALUES[3]
    assert value_in_words(NoteValue(eighth, tuplet=3), table) == value
    dotted = value_in_words(NoteValue(quarter, dots=1), table)
    assert table["say_value_rest"].format(value=dotted) == pause
    assert degree_in_words(Degree.parse("b7"), table) == degree


@pytest.mark.parametrize(
    ("language", "named"),
    [
        ("en", "third, flat third, flat fifth, sharp eleventh, double flat seventh, seventh"),
        ("de", "große Terz, kleine Terz, verminderte Quinte, übermäßige Undezime, verminderte Septime, "
         "große Septime"),
        ("fr", "tierce majeure, tierce mineure, quinte diminuée, onzième augmentée, septième diminuée, "
         "septième majeure"),
    ],
)  # fmt: skip
def test_intervals_are_named_as_the_language_does(language: str, named: str) -> None:
    """[common practice]"""
    degrees = map(Degree.parse, ("3", "b3", "b5", "#11", "bb7", "7"))
    assert ", ".join(degree_in_words(degree, words(language)) for degree in degrees) == named


def test_signs_become_words() -> None:
    assert signs_in_words("B♭ (♭7) falls to A (3)", WORDS) == "B flat (flat 7) falls to A (3)"
    assert signs_in_words("E♭♭ and F♯", WORDS) == "E double flat and F sharp"
    assert signs_in_words("Rain", WORDS) == "Rain"


def test_a_shape_goes_up_the_strings() -> None:
    shape = chord_shapes(parse_chord("Cmaj7"), STANDARD)[0]
    told = shape_in_words(shape)
    assert told.count(";") == len(shape.notes) - 1
    assert told.index("sixth string") < told.index("first string")


def test_a_rhythm_is_its_values_alone() -> None:
    notes = [fretted(0, 1, 5, 3), fretted(1, Fraction(1, 2), 5, 3)]
    over = timeline("C")
    (told,) = rhythm_sentences(lead(notes), over, over.bars[:1], WORDS)
    assert told == "Bar 1: quarter, eighth, eighth rest, half rest."


def test_signs_of_degrees_stand_where_the_language_has_them() -> None:
    """[common practice] English says the sign first, Romance languages last."""
    told = [signs_in_words("B♭ (♭7)", words(language)) for language in ("en", "de", "es", "it")]
    assert told == [
        "B flat (flat 7)",
        "B b (erniedrigte 7)",
        "B bemol (7 bemol)",
        "B bemolle (7 bemolle)",
    ]
