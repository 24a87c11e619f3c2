"""What is up to date is not built again; whatever changes is."""

import json
import os
import time

import pytest

from genex.publishing import up_to_date
from genex.publishing.up_to_date import Request

RECIPE = "title: Rain\nchords: Gm7 | C7 |\noutputs: midi tab\n"


@pytest.fixture
def rain(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    path = tmp_path / "rain.yaml"
    path.write_text(RECIPE)
    return path


def built(genex, rain, *more):
    """Whether the command built anything, and what it printed."""
    answer = genex("build", rain, "--out", rain.parent / "out", *more)
    assert answer.code == 0
    assert all(line.startswith("note: ") and " kept as " in line for line in answer.err.splitlines())
    return "(unchanged)" not in answer.out, answer.out


def test_the_second_build_has_nothing_to_do_and_says_the_same(genex, rain):
    first, text = built(genex, rain)
    again, same = built(genex, rain)
    assert (first, again) == (True, False)
    assert same == text + "  (unchanged)\n"


@pytest.mark.parametrize("name", ["rain.mid", "rain.tab.txt", "manifest.json"])
def test_a_file_that_is_gone_or_changed_is_made_again(genex, rain, name):
    built(genex, rain)
    made = rain.parent / "out" / "rain" / name
    before = made.read_bytes()
    made.unlink()
    assert built(genex, rain)[0]
    assert made.read_bytes() == before
    made.write_bytes(b"spoiled")
    assert built(genex, rain)[0]
    assert made.read_bytes() == before


def test_a_changed_recipe_is_built(genex, rain):
    built(genex, rain)
    rain.write_text(RECIPE.replace("C7", "C9"))
    assert built(genex, rain)[0]


def test_a_defaults_file_that_comes_changes_or_goes_is_noticed(genex, rain):
    defaults = rain.with_name("genex-defaults.yaml")
    built(genex, rain)
    defaults.write_text("humanise: 0\n")
    assert built(genex, rain)[0]
    assert not built(genex, rain, defaults)[0], "and it is no recipe"
    defaults.write_text("humanise: 0.5\n")
    why = genex("build", rain, "--out", rain.parent / "out", "--why", "--dry-run").out
    assert "rain.mid: settings changed: humanise" in why
    assert built(genex, rain)[0]
    defaults.unlink()
    assert built(genex, rain)[0]


def test_a_changed_groove_file_is_noticed(genex, rain):
    groove = rain.parent / "mine.yaml"
    groove.write_text(
        "title: Mine\nabout: Ours.\nmeters: [4/4]\ntempo: {from: 60, to: 200, usual: 100}\nswing: none\n"
        'drums:\n  kit: standard\n  layers:\n    a:\n      - {kick: "7 . 7 ."}\n'
    )
    rain.write_text(RECIPE + "feel: ./mine.yaml\n")
    assert built(genex, rain)[0]
    assert not built(genex, rain)[0]
    groove.write_text(groove.read_text().replace("7 . 7 .", "7 . . ."))
    assert built(genex, rain)[0]


def test_rebuilding_can_be_asked_for(genex, rain):
    built(genex, rain)
    assert built(genex, rain, "--rebuild")[0]


def test_another_version_of_genex_builds_again(genex, rain, monkeypatch):
    built(genex, rain)
    monkeypatch.setattr(up_to_date, "__version__", "999")
    up_to_date.versions.cache_clear()
    assert built(genex, rain)[0]
    up_to_date.versions.cache_clear()


@pytest.mark.parametrize("damage", ["", "{", "[]", '{"versions": {}}', "\x00" * 100])
def test_a_damaged_note_means_building(genex, rain, damage):
    built(genex, rain)
    note = Request(rain, rain.parent / "out").note
    note.write_text(damage)
    assert built(genex, rain)[0]
    assert json.loads(note.read_text())["content"]["printed"]


def test_a_cache_that_cannot_be_written_is_no_fault(genex, rain, monkeypatch):
    (rain.parent / "file").write_text("")
    monkeypatch.setenv("XDG_CACHE_HOME", str(rain.parent / "file"))
    assert built(genex, rain)[0]
    assert built(genex, rain)[0]


def test_the_notes_are_bounded(genex, rain, monkeypatch):
    monkeypatch.setattr(up_to_date, "MOST_NOTES", 3)
    folder = Request(rain, rain.parent).note.parent
    folder.mkdir(parents=True)
    for number in range(6):
        path = folder / f"{number}{('.json', '.large', '.1.part')[number % 3]}"
        path.write_text("{}")
        os.utime(path, (time.time() - 100 + number,) * 2)
    built(genex, rain)
    assert len(list(folder.iterdir())) == 3 and Request(rain, rain.parent / "out").note.is_file()


def test_two_recipes_of_one_title_are_refused_even_if_one_is_up_to_date(genex, rain):
    built(genex, rain)
    other = rain.parent / "other.yaml"
    other.write_text(RECIPE)
    answer = genex("build", rain, other, "--out", rain.parent / "out")
    assert (answer.code, "also made by" in answer.err) == (2, True)


def test_an_unchanged_recipe_that_takes_its_meter_from_its_feel_beside_a_new_one(genex, rain):
    rain.write_text("title: Five\nfeel: five-four\nchords: C Dm Em F G7 | C\noutputs: midi\n")
    built(genex, rain)
    other = rain.with_name("other.yaml")
    other.write_text("title: Other\nchords: C\noutputs: midi\n")
    answer = genex("build", rain, other, "--out", rain.parent / "out")
    assert (answer.code, answer.err) == (0, "")
    assert "(unchanged)" in answer.out and "Other" in answer.out


def test_a_note_is_no_way_to_write_or_wait_elsewhere(genex, rain, tmp_path):
    """A link in place of the part is not followed, a pipe in place of a note not waited for."""
    folder = tmp_path / "cache" / "genex" / "builds"
    precious = tmp_path / "precious"
    precious.write_bytes(b"mine")
    path = folder / "a.json"
    folder.mkdir(parents=True, exist_ok=True)
    path.with_suffix(f".{os.getpid()}.part").symlink_to(precious)
    up_to_date._write_note(path, ["new"])
    assert precious.read_bytes() == b"mine"
    assert up_to_date._read_note(path) == ["new"]
    path.unlink()
    os.mkfifo(path)
    with pytest.raises(OSError, match="pipe"):
        up_to_date._read_note(path)
