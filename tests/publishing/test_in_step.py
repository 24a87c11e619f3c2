"""Only what changed is made anew: a version of a lesson, a lesson of a series."""

import json
import os
import zipfile

import pytest

from genex.publishing import lessons
from genex.publishing.maker import Maker

LESSON = "title: {}\nchords: {}\nparts: guide\noutputs: midi tab\n"


@pytest.fixture
def term(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setattr("genex.publishing.workshop._processors", lambda: 1)
    for name, chord in (("rain", "C"), ("snow", "F"), ("hail", "G")):
        (tmp_path / f"{name}.yaml").write_text(LESSON.format(name.title(), chord))
    series(tmp_path, "rain", "snow", "hail")
    return tmp_path


def series(place, *names):
    listed = ", ".join(f"{name}.yaml" for name in names)
    (place / "term.yaml").write_text(f"title: Term\nlessons: [{listed}]\nbook: {{types: m7}}\n")


@pytest.fixture
def made(monkeypatch):
    """What was made: ``slug suffix`` of each version, and the book."""
    found = []
    fulfil, book = Maker.fulfil, lessons.series_book.book_files

    def fulfilled(self, order):
        if order.stage is not None:
            recipe = self._jobs[order.lesson].recipe
            found.append(recipe.slug + recipe.versions[order.version].suffix)
        return fulfil(self, order)

    def booked(series, processes):
        found.append("book")
        return book(series, processes)

    monkeypatch.setattr(Maker, "fulfil", fulfilled)
    monkeypatch.setattr(lessons.series_book, "book_files", booked)

    def taken():
        taken, found[:] = list(found), []
        return taken

    return taken


def files(place):
    root = place / "out"
    return {str(p.relative_to(root)): p for p in root.rglob("*") if p.is_file()}


def require_like_a_clean_build(genex, place, recipe):
    """Byte for byte; the folder beside has the same place as seen from its recipe."""
    genex("build", recipe, "--out", place / "new", "--rebuild")
    new = {str(p.relative_to(place / "new")): p for p in (place / "new").rglob("*") if p.is_file()}
    assert {n: p.read_bytes() for n, p in files(place).items()} == {
        n: p.read_bytes() for n, p in new.items()
    }


def build(genex, place, recipe="term.yaml"):
    answer = genex("build", place / recipe, "--out", place / "out")
    assert answer.code == 0, answer.err
    return answer


def test_one_edited_lesson_remakes_that_lesson_and_the_zip_and_nothing_else(genex, term, made):
    build(genex, term)
    assert made() == ["rain", "snow", "hail", "book"]
    before = {name: path.stat().st_ino for name, path in files(term).items()}
    (term / "snow.yaml").write_text(LESSON.format("Snow", "F | Bb"))
    build(genex, term)
    assert made() == ["snow"]
    after = {name: path.stat().st_ino for name, path in files(term).items()}
    kept = {name for name in before if before[name] == after[name]}
    assert {name for name in kept if name.endswith((".mid", ".tab.txt", ".pdf"))} == {
        name
        for name in before
        if name.endswith((".mid", ".tab.txt", ".pdf")) and not name.startswith("term/02-snow")
    }
    with zipfile.ZipFile(term / "out" / "term.zip") as archive:
        data = archive.read("term/02-snow/snow.mid")
    assert data == (term / "out" / "term" / "02-snow" / "snow.mid").read_bytes()
    require_like_a_clean_build(genex, term, term / "term.yaml")


def test_lessons_that_left_or_moved_are_removed(genex, term, made):
    build(genex, term)
    made()
    series(term, "hail", "rain")
    build(genex, term)
    assert made() == []
    assert sorted(path.name for path in (term / "out" / "term").iterdir() if path.is_dir()) == [
        "01-hail", "02-rain",
    ]  # fmt: skip
    with zipfile.ZipFile(term / "out" / "term.zip") as archive:
        assert not [name for name in archive.namelist() if "snow" in name or "03-" in name]
    require_like_a_clean_build(genex, term, term / "term.yaml")


def test_what_was_edited_in_a_lesson_that_left_stays(genex, term, made):
    build(genex, term)
    tab = term / "out" / "term" / "02-snow" / "snow.tab.txt"
    tab.write_text("with a remark")
    (tab.parent / "mine.txt").write_text("mine")
    series(term, "rain", "hail")
    answer = build(genex, term)
    assert "snow.tab.txt is made no longer; it was edited and stays" in answer.err
    assert sorted(path.name for path in tab.parent.iterdir()) == ["mine.txt", "snow.tab.txt"]
    assert tab.read_text() == "with a remark"


def test_inside_keys_and_tempos_only_the_versions_that_changed_are_made(genex, term, made):
    recipe = term / "rain.yaml"
    text = LESSON.format("Rain", "C") + "keys: [{}]\ntempos: [{}]\n"
    recipe.write_text(text.format("C, F", "100, 120"))
    build(genex, term, "rain.yaml")
    assert len(made()) == 4
    recipe.write_text(text.format("C, F, G", "120, 140"))
    build(genex, term, "rain.yaml")
    assert sorted(made()) == ["rain.C.140", "rain.F.140", "rain.G.120", "rain.G.140"]
    assert not [name for name in files(term) if ".100." in name]
    require_like_a_clean_build(genex, term, recipe)


def test_a_remark_in_a_recipe_changes_nothing(genex, term, made):
    build(genex, term)
    made()
    before = {name: path.stat().st_ino for name, path in files(term).items()}
    path = term / "snow.yaml"
    path.write_text(f"# a remark\n{path.read_text()}")
    assert "(unchanged)" in build(genex, term).out
    assert made() == []
    assert before == {name: path.stat().st_ino for name, path in files(term).items()}


def test_an_edited_file_is_not_taken_for_one_that_can_be_kept(genex, term, made):
    build(genex, term)
    made()
    tab = term / "out" / "term" / "01-rain" / "rain.tab.txt"
    before = tab.stat()
    text = tab.read_text()
    tab.write_text(text.replace("C", "D"))
    os.utime(tab, ns=(before.st_atime_ns, before.st_mtime_ns))
    answer = build(genex, term)
    assert made() == ["rain"] and "kept as 01-rain/rain.tab.kept-" in answer.err
    assert tab.read_text() == text


def test_without_notes_all_is_made_again_and_nothing_is_kept_beside(genex, term, made, monkeypatch):
    build(genex, term)
    made()
    monkeypatch.setenv("XDG_CACHE_HOME", str(term / "another"))
    (term / "hail.yaml").write_text(LESSON.format("Hail", "G | D"))
    told = "1 of 3 made: Rain\n2 of 3 made: Snow\n3 of 3 made: Hail\n"
    assert build(genex, term).err == told
    assert made() == ["rain", "snow", "hail", "book"]
    assert not [name for name in files(term) if "kept" in name]


def test_a_lost_zip_comes_back(genex, term, made):
    build(genex, term)
    made()
    (term / "out" / "term.zip").unlink()
    build(genex, term)
    assert made() == [] and (term / "out" / "term.zip").exists()


def test_an_edited_zip_is_kept_and_told(genex, term):
    build(genex, term)
    zip_path = term / "out" / "term.zip"
    zip_path.write_bytes(b"with something of mine")
    (dry,) = json.loads(
        genex("build", term / "term.yaml", "--out", term / "out", "--dry-run", "--json").out
    )
    assert dry["keep"][0]["path"] == str(zip_path)
    assert f"{zip_path} was not as genex wrote it" in build(genex, term).err
    (kept,) = (term / "out").glob("term.kept-*.zip")
    assert kept.read_bytes() == b"with something of mine" and zipfile.is_zipfile(zip_path)


def test_a_series_names_its_zip(genex, term):
    build(genex, term)
    manifest = json.loads((term / "out" / "term" / "manifest.json").read_text())
    assert manifest["archive"]["name"] == "term.zip"
    assert manifest["archive"]["bytes"] == (term / "out" / "term.zip").stat().st_size


def test_a_series_in_another_language_has_its_book_made_anew(genex, term, made):
    path = term / "term.yaml"
    path.write_text("title: Term\nbook: {types: m7}\n")
    build(genex, term)
    assert made() == ["book"]
    path.write_text(f"{path.read_text()}language: de\n")
    build(genex, term)
    assert made() == ["book"]
