"""Several exercises in one recipe: each a recipe of its own, with its own places in the file."""

import pytest

from genex.errors import RecipeError
from genex.recipe import parse_recipe

LESSON = """\
title: Evening
key: F
tempo: 100
sections: {A: Gm7 | C7, B: Fmaj7 | D7}
intro: A
outputs: midi take handout captions
audio: {format: flac, rate: 44100}
handout: {paper: letter, writing_lines: 4}
exercises:
"""


def lesson(entries, head=LESSON):
    return parse_recipe(head + entries)


def entries(*said):
    return "".join(f"  - {{{one}}}\n" for one in said)


def test_an_entry_has_what_the_recipe_says_but_for_its_own_words():
    found = lesson(
        entries(
            "title: Shapes, exercise: shapes, tempo: 70, audio: {format: wav16}",
            "title: Changes, exercise: changes, form: B, outputs: tab take, aim: One line",
        )
    )
    shapes, changes = found.exercises
    assert [one.slug for one in found.exercises] == ["01-shapes", "02-changes"]
    assert (found.slug, found.title, found.fields.handout.writing_lines) == ("evening", "Evening", 4)
    assert (shapes.versions[0].tempo, changes.versions[0].tempo) == (70, 100)
    assert (shapes.fields.audio.format, shapes.fields.audio.rate) == ("wav16", 44100)
    assert [section.name for section in shapes.intro + shapes.form] == ["A", "B"]
    assert ([s.name for s in changes.form], changes.intro) == (["B"], ())
    assert str(changes.key) == "F major" and changes.fields.aim == "One line"
    assert shapes.fields.handout.writing_lines == 0, "lines to write on stand once"


def test_sheet_take_and_page_are_made_once():
    found = lesson(
        entries("title: A, exercise: shapes", "title: B, exercise: shapes, outputs: midi take"),
        LESSON.replace("midi take", "midi take page"),
    )
    assert found.outputs == ("handout", "take", "page", "midi", "captions")
    assert [one.outputs for one in found.exercises] == [("midi", "captions"), ("midi", "take")]


def test_a_chart_of_its_own_takes_the_place_of_sections():
    (one,) = lesson(entries("title: A, chords: Bb | Bb, exercise: changes")).exercises
    assert [len(section.bars) for section in one.sections] == [2]


def test_keys_and_tempos_of_the_recipe_are_those_of_the_whole():
    head = LESSON.replace("tempo: 100", "tempos: [90, 100]").replace("key: F", "key: F\nkeys: [F, Bb]")
    found = lesson(entries("title: A, exercise: shapes, tempo: 60", "title: B, exercise: changes"), head)
    assert [version.suffix for version in found.versions] == [".F.90", ".F.100", ".Bb.90", ".Bb.100"]
    assert [version.suffix for version in found.exercises[0].versions] == [".F", ".Bb"]
    alone = lesson(entries("title: A, exercise: shapes, tempos: [50, 60]"))
    assert [version.suffix for version in alone.versions] == [""]
    assert [version.suffix for version in alone.exercises[0].versions] == [".50", ".60"]


def test_two_lines_of_a_kind_begin_apart():
    first, second = lesson(entries("title: A, exercise: etude", "title: B, exercise: etude")).exercises
    assert second.draws[:1] == first.draws and len(second.draws) == 2


def test_outputs_of_the_recipe_are_made_where_they_can_be():
    head = LESSON.replace("midi take", "midi tab take")
    plain, line = lesson(
        entries("title: A, parts: drums", "title: B, exercise: changes"), head
    ).exercises
    assert ("tab" in plain.outputs, "tab" in line.outputs) == (False, True)


@pytest.mark.parametrize(
    ("said", "place", "message"),
    [
        ("exercise: shapes", "11:5", "exercise 2 has no title"),
        ("title: B, exercise: shape", "11:26", "'shape' is not a kind of 'exercise'"),
        ("title: B, temp: 90", "11:16", "there is no field 'temp'"),
        ("title: B, tempo: fast", "11:23", "'fast' is not a number in 'tempo'"),
        ("title: B, form: C", "11:22", "'form' names a section 'C'"),
        ("title: B, chords: Gm7 | Hm7", "11:30", "Hm7"),
        ("title: B, letterhead: {school: X}", "11:16", "'letterhead' is the whole lesson's"),
        ("title: B, exercises: []", "11:16", "'exercises' is the whole lesson's"),
        ("title: B, handout: {paper: a4}", "11:26", "'paper' is the whole sheet's"),
        ("title: B, outputs: tab handout", "11:25", "'handout' is one for all"),
        ("title: B, outputs: spoken", "11:25", "'spoken' is one for all"),
        ("title: B, outputs: [tab, handout]", "11:25", "'handout' is one for all"),
        ("title: B, capo: 90", "11:22", "90 is too large for 'capo'"),
    ],
)
def test_what_is_wrong_in_an_entry_is_told_with_its_own_line(said, place, message):
    with pytest.raises(RecipeError) as caught:
        lesson(entries("title: A, exercise: changes", said))
    assert message in caught.value.message
    assert str(caught.value.place) == f"recipe.yaml:{place}"
    assert caught.value.hint


@pytest.mark.parametrize("written", ["[]", "[shapes, changes]", "shapes", "{title: A}"])
def test_what_is_no_list_of_exercises_is_told(written):
    with pytest.raises(RecipeError, match="'exercises") as caught:
        parse_recipe(f"chords: C\nexercises: {written}\n")
    assert caught.value.place.line == 2 and "title: Shapes in Time" in caught.value.hint


def test_a_fault_in_the_recipe_s_own_chart_is_told_there():
    with pytest.raises(RecipeError) as caught:
        lesson(entries("title: A, exercise: changes"), LESSON.replace("C7", "Hx7"))
    assert caught.value.place.line == 4
