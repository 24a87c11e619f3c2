"""Recipes for many lessons: lists, matrices and books."""

import pytest

from genex.errors import InputError
from genex.recipe import Recipe, Series, read_lessons
from genex.recipe.recipe import any_feel
from tests.recipe.test_recipe import FOLDER, SERIES


@pytest.fixture
def series(tmp_path):
    """Read a series from text, beside two little recipes."""
    (tmp_path / "a.yaml").write_text("title: Rain\nchords: C")
    (tmp_path / "b.yaml").write_text("title: Snow\nchords: F")

    def read(text):
        (tmp_path / "s.yaml").write_text(text)
        return read_lessons(tmp_path / "s.yaml", any_feel)

    return read


def test_a_recipe_is_still_a_recipe(series):
    assert isinstance(series("chords: C"), Recipe)


def test_a_list_keeps_its_order(series):
    found = series("title: Weather\nlessons: [b.yaml, a.yaml]")
    assert isinstance(found, Series)
    assert (found.slug, [lesson.title for lesson in found.lessons]) == ("weather", ["Snow", "Rain"])


def test_a_matrix_goes_type_by_type_through_the_roots(series):
    found = series("matrix: {types: major m7, roots: C Bb, lesson: {tempo: 70}}")
    assert [lesson.title for lesson in found.lessons] == ["C", "Bb", "Cm7", "Bbm7"]
    assert {lesson.fields.tempo for lesson in found.lessons} == {70}


def test_a_cycle_of_roots(series):
    found = series("matrix: {types: '7', roots: fourths}")
    assert [lesson.title for lesson in found.lessons][:4] == ["C7", "F7", "Bb7", "Eb7"]
    assert len(found.lessons) == 12


def test_a_book_lists_its_chords(series):
    found = series("book: {types: [maj7, '7'], roots: C F}")
    assert [str(chord) for chord in found.chords] == ["Cmaj7", "Fmaj7", "C7", "F7"]


@pytest.mark.parametrize(
    ("text", "place", "message"),
    [
        ("lessons: [a.yaml, nowhere.yaml]", "1:19", "no recipe 'nowhere.yaml'"),
        ("lessons: [a.yaml]\nletterhead: {logo: no.png}", "2:20", "there is no file 'no.png'"),
        ("lessons: [a.yaml]\nletterhead: {link: here}", "2:20", "no address that a telephone"),
        ("lessons: []", "1:1", "no lessons"),
        ("lesons: [a.yaml]\nbook: {types: m7}", "1:1", "no field 'lesons'"),
        ("book: {types: [maj7, q7]}", "1:22", "q7"),
        ("book: {types: []}", "1:7", "no chord type"),
        ("book: {types: m7, roots: H}", "1:26", "H"),
        ("matrix: {types: m7, lesson: {tempoo: 1}}", "1:29", "tempoo"),
        ("matrix: {types: m7, leson: {}}", "1:21", "'leson'"),
    ],
)
def test_what_is_wrong_is_pointed_at(series, text, place, message):
    with pytest.raises(InputError) as caught:
        series(text)
    assert message in str(caught.value)
    assert str(caught.value.place).endswith(f"s.yaml:{place}")


@pytest.mark.parametrize("name", SERIES)
def test_the_example_series_are_in_order(name):
    found = read_lessons(FOLDER / f"{name}.yaml", any_feel)
    assert isinstance(found, Series)
    assert found.slug == name
