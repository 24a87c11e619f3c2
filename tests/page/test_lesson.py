from __future__ import annotations

import json

from genex.fretboard import STANDARD, chord_shapes
from genex.page.lesson import PageLesson, PageSetting, lesson_data
from genex.theory import Key, transpose_chord
from genex.units import TICKS_PER_BEAT, beats_to_ticks
from tests.page.pages import BENT, DRILL, TUNE, lesson, piece, tune


def data(text: str = TUNE) -> dict:
    return lesson_data(lesson(text), lambda score: None)


def test_every_note_of_the_score_is_there_with_its_place() -> None:
    setting = data()["settings"][0]
    for part, told in zip(tune().score.parts, setting["parts"], strict=True):
        assert told["name"] == part.name
        for note, row in zip(part.notes, told["rows"], strict=True):
            start, end = note.sounding_ticks
            assert row[:5] == [
                beats_to_ticks(note.onset_beats),
                start - beats_to_ticks(note.onset_beats),
                end - start,
                note.midi,
                note.velocity,
            ]
            if note.fretting:
                finger = -1 if note.fretting.finger is None else note.fretting.finger
                assert row[5:8] == [note.fretting.string, note.fretting.fret, finger]


def test_bars_and_chords_are_those_of_the_chart() -> None:
    setting = data()["settings"][0]
    home = setting["keys"][setting["home"]]
    shown = [[home["chords"][c["chord"]] for c in bar["chords"]] for bar in setting["bars"]]
    assert shown == [["Gm7"], ["Am7♭5", "D7♭9"], ["Gm7"], ["D7♭9"]]
    assert setting["length"] == 16 * TICKS_PER_BEAT


def test_pushes_and_jumps_stand_in_the_chart_and_techniques_with_their_notes() -> None:
    setting = data(BENT)["settings"][0]
    bars = setting["bars"]
    assert [(bar["before"], bar["behind"]) for bar in bars] == [
        ("Segno", "To Coda"),
        ("", "D.S. al Coda"),
        ("", ""),  # played again
        ("Coda", ""),
    ]
    assert [bar["chords"][0].get("pushed") for bar in bars] == [None, "<", None, None]
    rows = setting["parts"][0]["rows"]
    assert [row[14] for row in rows] == ["full", "full, back", "vib.", "H", "full vib."]
    up, back, swaying, struck, both = (row[13] for row in rows)
    assert up == [[[0, 0], [480, 2]], None]  # a whole step in an eighth [common practice]
    assert back[0][-1] == [1440, 0] and struck is None
    # Vibrato begins after half a beat, from the note or from the bent pitch, 5.5 times a second.
    assert swaying == [[], [480, 0, 5.5, 0.3333]] and both[1] == [480, 2, 5.5, 0.3333]


def test_chords_and_names_are_spelled_for_each_key() -> None:
    keys = {key["name"]: key for key in data()["settings"][0]["keys"]}
    assert len(keys) == 12
    # ii-V in F minor and in B minor [common practice: key signatures].
    assert keys["F minor"]["chords"] == ["Fm7", "Gm7♭5", "C7♭9"]
    assert keys["B minor"]["chords"] == ["Bm7", "C♯m7♭5", "F♯7♭9"]


def test_guide_tones_are_third_and_seventh() -> None:
    setting = data()["settings"][0]
    names = setting["keys"][setting["home"]]["names"]
    first = setting["chords"][0]
    assert [(g["degree"], names[g["name"]]) for g in first["guides"]] == [("♭3", "B♭"), ("♭7", "F")]


def test_questions_tell_where_the_answer_comes_and_what_is_played() -> None:
    setting = data(DRILL)["settings"][0]
    questions = setting["questions"]
    answers = tune(DRILL).answers
    assert [q["number"] for q in questions] == [a.number for a in answers]
    for question, answer in zip(questions, answers, strict=True):
        assert question["keys"] == [note.midi for note in answer.notes]
        assert question["at"] < question["answer_at"] < question["at"] + question["length"]
    assert sum(q["length"] for q in questions) + questions[0]["at"] == setting["length"]


def test_several_keys_are_several_settings() -> None:
    other = piece(TUNE.replace("key: G minor", "key: A minor"))
    both = (PageSetting(tune().score), PageSetting(other.score))
    told = lesson_data(PageLesson("x", "x", both), lambda score: None)
    assert [setting["key"] for setting in told["settings"]] == ["G minor", "A minor"]


def test_it_is_plain_data() -> None:
    assert json.loads(json.dumps(data())) == data()


def test_a_lesson_without_count_in_has_no_stroke_to_count_with() -> None:
    text = TUNE.replace("count_in: 1", "count_in: 0")
    assert data(text)["settings"][0]["tick"] is None
    assert data()["settings"][0]["tick"]["preset"] == "kit 32"


def test_every_key_has_the_shapes_that_the_handout_would_draw_in_it() -> None:
    found = data()
    setting, neck = found["settings"][0], found["neck"]
    home = tune().score.timeline.key
    chord = tune().score.timeline.merged_chords[0].chord
    assert chord is not None
    for key in setting["keys"]:
        target = Key.parse(key["name"].replace("♭", "b").replace("♯", "#"))
        wanted = [
            [one.form, one.position, [[n.string, n.fret, n.finger] for n in one.notes]]
            for one in chord_shapes(transpose_chord(chord, home, target), STANDARD)
        ]
        assert neck["sets"][key["shapes"][0]] == wanted
    assert neck["forms"] == ["A", "C", "D", "E", "G"]
    # The E form of Gm7 lies at the third fret, root on string 6 [common practice].
    shapes = neck["sets"][setting["keys"][setting["home"]]["shapes"][0]]
    e_form = next(notes for form, _, notes in shapes if form == "E")
    assert e_form[0] == [6, 3, 1]


def test_tones_of_chords_are_named() -> None:
    setting = data()["settings"][0]
    names = setting["keys"][setting["home"]]["names"]
    told = [(degree, names[name]) for degree, name, _ in setting["tones"][0]]
    assert told == [("1", "G"), ("♭3", "B♭"), ("5", "D"), ("♭7", "F")]


def test_a_lesson_without_chords_has_no_shapes_to_show() -> None:
    assert data(DRILL)["neck"] is None
