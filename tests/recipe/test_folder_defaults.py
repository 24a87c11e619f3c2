"""Defaults files: what a recipe inherits, from where, and what is wrong in them."""

from pathlib import Path

import pytest

from genex.errors import RecipeError
from genex.inputs import DEFAULTS_FILE, Inputs, recipes_of
from genex.recipe import parse_recipe, read_lessons, read_recipe
from genex.recipe.folder_defaults import INHERITED, inherited, is_trusted
from genex.recipe.recipe import any_feel

RECIPE = "title: Rain\nchords: C | F\nexercise: arpeggio\n"


@pytest.fixture
def home(tmp_path, monkeypatch):
    """A home folder with a folder of recipes in it."""
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))
    (tmp_path / "class" / "week1").mkdir(parents=True)
    return tmp_path


def defaults(folder, text):
    (folder / DEFAULTS_FILE).write_text(text)


def recipe(folder, more=""):
    path = folder / "rain.yaml"
    path.write_text(RECIPE + more)
    return read_recipe(path)


def test_the_nearest_file_and_the_recipe_s_own_words_win(home):
    defaults(home, "hand: small\nfrets: 24\naudio: {loudness: -20, rate: 44100}\n")
    defaults(home / "class", "hand: large\naudio: {loudness: -16, ceiling: -2}\n")
    found = recipe(home / "class" / "week1", "audio: {format: mp3, ceiling: -3}\n")
    fields = found.fields
    assert (fields.hand, fields.frets) == ("large", 24)
    audio = fields.audio
    assert (audio.format, audio.ceiling, audio.loudness, audio.rate) == ("mp3", -3, -16, 44100)
    near, far = (str(folder / DEFAULTS_FILE) for folder in (home / "class", home))
    assert inherited(found.source) == {
        "audio.loudness": near, "audio.rate": far, "frets": far, "hand": near,
    }  # fmt: skip


def test_nothing_above_the_home_folder_is_looked_at(home, monkeypatch):
    monkeypatch.setenv("HOME", str(home / "class"))
    defaults(home, "frets: 24\n")
    inputs = Inputs()
    with inputs.active():
        assert recipe(home / "class" / "week1").fields.frets == 22
    looked_at = {str(Path(path).parent) for path in inputs.digests if path.endswith(DEFAULTS_FILE)}
    assert looked_at == {str(home / "class" / "week1"), str(home / "class")}


def test_text_inherits_nothing(home, monkeypatch):
    defaults(home, "frets: 24\n")
    monkeypatch.chdir(home)
    assert parse_recipe(RECIPE).fields.frets == 22


def test_fields_for_a_sheet_are_no_wish_for_one(home):
    defaults(home, "handout: {paper: letter}\ndiagrams: {label: fingers}\n")
    found = recipe(home)
    assert not {"handout", "diagrams"} & set(found.outputs)
    assert "handout" in recipe(home, "handout: {tempos: 3}\n").outputs


def test_inherited_outputs_are_made_where_they_can_be(home):
    defaults(home, "outputs: midi tab answers loop band\n")
    assert recipe(home).outputs == ("midi", "tab", "loop", "band")
    assert recipe(home, "parts: drums bass\n").outputs == ("midi", "loop", "band")
    assert recipe(home, "outputs: midi\n").outputs == ("midi",)


def test_files_are_seen_from_where_they_are_named(home):
    (home / "mine.sf2").write_bytes(b"x")
    defaults(home, "audio: {soundfont: mine.sf2}\n")
    source = recipe(home / "class" / "week1").source
    assert source.folder_of(("audio", "soundfont")) == home
    defaults(home, "# a comment\naudio:\n  soundfont: other.sf2\n")
    with pytest.raises(RecipeError, match=r"there is no file 'other\.sf2'") as caught:
        recipe(home / "class" / "week1")
    assert str(caught.value.place) == f"{home / DEFAULTS_FILE}:3:14"
    assert caught.value.hint == "write the path as seen from this file"


@pytest.mark.parametrize(
    ("text", "said", "line"),
    [
        ("frets: 24\ntempo: 90\n", "'tempo' is a lesson's own", 2),
        ("frets: 24\nletterheads: {}\n", "there is no field 'letterheads'", 2),
        ("letterhead:\n  scool: x\n", "there is no field 'scool'", 2),
        ("audio: {format: mp5}\n", "'mp5' is not one of the words for 'audio.format'", 1),
        ("frets: [24\n", "not closed", 1),
        ("letterhead:\n  link: lantern street\n", "no address that a telephone can open", 2),
        ("letterhead:\n  logo: logo.svg\n", "there is no file 'logo.svg'", 2),
        ("letterhead:\n  logo: ''\n", "'letterhead.logo' is empty", 2),
        ("", "the file is empty", 1),
    ],
)
def test_what_is_wrong_in_it_is_told_with_its_own_line(home, text, said, line):
    defaults(home / "class", text)
    with pytest.raises(RecipeError) as caught:
        recipe(home / "class" / "week1")
    assert said in caught.value.message
    assert (caught.value.place.file, caught.value.place.line) == (
        str(home / "class" / DEFAULTS_FILE),
        line,
    )
    assert "chords:" not in caught.value.hint


def test_lessons_of_a_series_and_of_a_matrix_inherit_each_from_above_itself(home):
    defaults(home / "class", "hand: small\ntuning: drop D\n")
    defaults(home / "class" / "week1", "hand: large\n")
    recipe(home / "class" / "week1")
    path = home / "class" / "term.yaml"
    path.write_text("title: T\nlessons: [week1/rain.yaml]\nmatrix: {types: m7}\nbook: {types: m7}\n")
    found = read_lessons(path, any_feel)
    assert [lesson.fields.hand for lesson in found.lessons] == ["large", "small"]
    assert found.fields.tuning == "drop D"


def test_a_defaults_file_is_no_recipe_and_is_left_out_of_many(home):
    defaults(home, "frets: 24\n")
    path = home / DEFAULTS_FILE
    with pytest.raises(RecipeError, match="is no recipe"):
        read_lessons(path, any_feel)
    assert recipes_of([path, home / "rain.yaml"]) == [home / "rain.yaml"]
    assert recipes_of([path]) == [path]


@pytest.mark.parametrize(
    ("mode", "owner", "trusted"),
    [(0o1777, 7, True), (0o1777, 0, True), (0o1777, 8, False), (0o777, 8, True), (0o755, 8, True)],
)
def test_a_stranger_s_file_in_a_shared_folder_is_not_followed(home, mode, owner, trusted):
    home.chmod(mode)
    assert is_trusted(home.stat(), owner, 7) is trusted


def test_every_inherited_field_is_a_recipe_s():
    from genex.recipe.fields import RecipeFields

    assert set(INHERITED) < set(RecipeFields.model_fields)
