"""A house file of fingerings beside a recipe changes what is built from it, and is noticed."""

from __future__ import annotations

import json

import pytest

RECIPE = """\
title: House fingers
chords: C
exercise: {kind: shapes, forms: [A]}
outputs: [tab, midi, diagrams, handout]
diagrams: {label: fingers}
"""
HOUSE = "C, A form: 5/3-2 4/2-1 4/5-4 3/5-4 2/5-4 1/3-2\n"


@pytest.fixture
def lesson(tmp_path):
    path = tmp_path / "house.yaml"
    path.write_text(RECIPE, "utf-8")
    return path


def built(genex, lesson):
    answer = genex("build", lesson, "--out", lesson.parent / "out")
    assert answer.code == 0, answer.err
    folder = lesson.parent / "out" / "house-fingers"
    kinds = ("tab.txt", "mid", "shapes-c.svg", "handout.pdf")
    return [(folder / f"house-fingers.{kind}").read_bytes() for kind in kinds]


def test_a_house_file_changes_tab_sound_diagram_and_sheet_and_its_coming_is_noticed(genex, lesson):
    before = built(genex, lesson)
    (lesson.parent / "fingerings.txt").write_text(HOUSE, "utf-8")
    after = built(genex, lesson)
    assert all(old != new for old, new in zip(before, after, strict=True))
    assert b"2   1   4   4   4   2" in after[0]
    (lesson.parent / "fingerings.txt").unlink()
    assert built(genex, lesson) == before


def test_a_file_that_is_named_is_used_in_its_place(genex, lesson):
    (lesson.parent / "fingerings.txt").write_text(HOUSE, "utf-8")
    other = HOUSE.replace("4/5-4 3/5-4 2/5-4", "4/5-3 3/5-3 2/5-3")
    (lesson.parent / "mine.txt").write_text(other, "utf-8")
    lesson.write_text(RECIPE + "fingerings: mine.txt\n", "utf-8")
    assert b"2   1   3   3   3   2" in built(genex, lesson)[0]


def test_mistakes_in_it_have_their_place(genex, lesson):
    (lesson.parent / "fingerings.txt").write_text("C, A: 5/3-2 4/3-1\n", "utf-8")
    answer = genex("build", lesson, "--out", lesson.parent / "out")
    assert answer.code == 2
    assert "fingerings.txt:1:13: 4/3 sounds F" in answer.err
    lesson.write_text(RECIPE + "fingerings: none.txt\n", "utf-8")
    answer = genex("build", lesson, "--out", lesson.parent / "out")
    assert answer.code == 2
    assert "house.yaml:6" in answer.err and "cannot be read" in answer.err


def test_shapes_are_written_as_a_file_to_start_from_and_read_again(genex, tmp_path):
    written = genex("shapes", "C", "--written").out
    assert "C, open: 5/3-3 4/2-2 3/0-0 2/1-1 1/0-0 1/3-3 | 5/3-4 6/3-3 6/0-0" in written
    assert "C, A form: 5/3-2 4/2-1 4/5-2 3/5-3 2/5-4 1/3-1 | 5/3-3 6/3-2" in written.splitlines()
    house = tmp_path / "start.txt"
    house.write_text(written, "utf-8")
    plain = json.loads(genex("shapes", "C", "--json").out)
    assert json.loads(genex("shapes", "C", "--json", "--fingerings", house).out) == plain
    house.write_text(HOUSE, "utf-8")
    short = genex("shapes", "C", "--frets", "12", "--fingerings", house)
    assert "your shape 'A' does not lie on this neck for Ab, A, Bb" in short.err


# End to end: what a file gives is what every file of a lesson and a series holds.

OWN = """\
C, evening sweep: 5/3-1 4/2-1 3/0-0 2/1-1 1/0-0 1/3-4
C, A form: 5/3-1 4/5-3 3/5-4 2/8-4 1/8-4 1/12-4 4/2-1
"""
PATH = [48, 55, 60, 67, 72, 76, 52]  # C3 G3 C4 G4 C5 E5 E3, in the order of practice
SERIES = """\
title: A Term
lessons: [house.yaml]
matrix:
  {types: [major], roots: [C, Eb], lesson: {exercise: {kind: shapes, forms: [A]}, outputs: midi}}
book: {types: [major], roots: [C]}
"""


def melody(path):
    """The pitches of the lead of a MIDI file, in order."""
    import pretty_midi

    part = next(i for i in pretty_midi.PrettyMIDI(str(path)).instruments if i.name == "exercise")
    return [note.pitch for note in sorted(part.notes, key=lambda note: note.start)]


def page_text(path):
    import pypdf

    return "\n".join(page.extract_text() for page in pypdf.PdfReader(path).pages)


def test_an_own_shape_is_what_is_heard_printed_and_drawn(genex, lesson):
    (lesson.parent / "fingerings.txt").write_text(OWN, "utf-8")
    tab, _, drawing, _ = built(genex, lesson)
    folder = lesson.parent / "out" / "house-fingers"
    assert melody(folder / "house-fingers.mid")[: len(PATH)] == PATH
    # tab: the places, and the fingers under them
    assert b"1   3   4   4   4   4   1" in tab
    assert b"evening sweep" in drawing
    assert "evening sweep" in page_text(folder / "house-fingers.handout.pdf")


def test_an_own_shape_sounds_in_a_series_in_every_key_and_stands_in_its_book(genex, lesson):
    series = lesson.parent / "term.yaml"
    series.write_text(SERIES, "utf-8")

    def pages():
        answer = genex("build", series, "--out", lesson.parent / "out")
        assert answer.code == 0, answer.err
        return page_text(lesson.parent / "out" / "a-term" / "a-term.book.pdf")

    plain = pages()
    assert "Open position" in plain and "evening sweep" not in plain
    (lesson.parent / "fingerings.txt").write_text(OWN, "utf-8")
    mine = pages()
    assert "evening sweep" in mine
    out = lesson.parent / "out" / "a-term"
    assert melody(out / "02-c" / "c.mid")[: len(PATH)] == PATH
    assert melody(out / "03-eb" / "eb.mid")[: len(PATH)] == [pitch + 3 for pitch in PATH]
    # the book's own file; then none again
    (lesson.parent / "other.txt").write_text("C, morning sweep: 5/3 4/2 4/5 3/5\n", "utf-8")
    series.write_text(SERIES + "fingerings: other.txt\n", "utf-8")
    assert "morning sweep" in pages()
    series.write_text(SERIES.replace("roots: [C]}", "roots: [C], closed: true}"), "utf-8")
    (lesson.parent / "fingerings.txt").unlink()
    assert "Open position" not in pages()


def test_mistakes_in_a_books_file_are_told_before_anything_is_made(genex, lesson):
    series = lesson.parent / "term.yaml"
    series.write_text(SERIES + "fingerings: none.txt\n", "utf-8")
    answer = genex("check", series)
    assert answer.code == 2 and "term.yaml:6:13" in answer.err and "none.txt" in answer.err
    (lesson.parent / "none.txt").write_text("C, A: 5/3-2 4/3-1\n", "utf-8")
    answer = genex("build", series, "--out", lesson.parent / "out")
    assert answer.code == 2 and "none.txt:1:13: 4/3 sounds F" in answer.err
    assert not (lesson.parent / "out").exists()


def test_the_roots_that_a_shape_cannot_have_are_told_where_they_are_played(genex, lesson):
    (lesson.parent / "fingerings.txt").write_text(OWN, "utf-8")
    answer = genex("check", lesson)
    assert "does not lie" not in answer.err + answer.out
    lesson.write_text(RECIPE.replace("chords: C", "key: C\nchords: C | E") + "keys: [C, F]\n", "utf-8")
    answer = genex("check", lesson)
    assert answer.code == 0
    told = "House fingers: your shape 'evening sweep' does not lie on this neck for E, F, A\n"
    assert told in answer.err + answer.out
