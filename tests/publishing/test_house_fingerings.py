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
