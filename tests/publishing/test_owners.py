"""One folder, one owner: within one build, across builds, wherever recipes lie."""

import json
import shutil

import pytest

from tests.publishing.builds import build_all

LESSON = "title: Rain\nchords: C | F\nparts: guide\noutputs: {}\n"
SERIES = "title: Rain\nlessons: [{}]\n"


@pytest.fixture
def place(tmp_path):
    for week, output in (("week1", "midi"), ("week2", "tab")):
        (tmp_path / week).mkdir()
        (tmp_path / week / "l.yaml").write_text(LESSON.format(output))
        (tmp_path / week / "s.yaml").write_text(SERIES.format("l.yaml"))
    return tmp_path


def files(place):
    found = (path.relative_to(place / "out") for path in (place / "out").rglob("*") if path.is_file())
    return sorted(map(str, found))


PAIRS = [
    ("week1/l.yaml", "week2/l.yaml"),
    ("week1/l.yaml", "week1/s.yaml"),
    ("week1/s.yaml", "week1/l.yaml"),
    ("week1/s.yaml", "week2/s.yaml"),
]


@pytest.mark.parametrize(("first", "second"), PAIRS)
def test_two_recipes_that_would_share_a_folder_are_refused(genex, place, first, second):
    out = place / "out"
    together = genex("build", place / first, place / second, "--out", out)
    assert (together.code, "is also made by" in together.err) == (2, True)
    assert not out.exists()
    assert genex("build", place / first, "--out", out).code == 0
    before = files(place)
    later = genex("build", place / second, "--out", out)
    assert (later.code, "holds the lesson of another recipe" in later.err) == (2, True)
    # Not even if one is up to date.
    both = genex("build", place / first, place / second, "--out", out)
    assert (both.code, "is also made by" in both.err) == (2, True)
    assert files(place) == before


@pytest.mark.parametrize(("first", "second"), PAIRS)
def test_a_folder_is_taken_over_if_that_is_asked_for(genex, place, first, second):
    out = place / "out"
    genex("build", place / first, "--out", out)
    answer = genex("build", place / second, "--out", out, "--take-over")
    assert answer.code == 0
    made = files(place)
    shutil.rmtree(out)
    genex("build", place / second, "--out", out)
    assert [name for name in made if not name.endswith(".zip")] == [
        name for name in files(place) if not name.endswith(".zip")
    ]


def test_one_recipe_under_two_names_is_built_once(genex, place, monkeypatch):
    monkeypatch.chdir(place)
    (place / "link.yaml").symlink_to(place / "week1" / "l.yaml")
    answer = genex("build", "week1/l.yaml", place / "week1" / "l.yaml", "link.yaml", "--out", "out")
    assert (answer.code, answer.out.count("Rain:")) == (0, 1)


def test_recipes_and_lessons_may_move_together(genex, place):
    genex("build", place / "week1" / "l.yaml", "--out", place / "out")
    (place / "moved").mkdir()
    for name in ("week1", "out"):
        (place / name).rename(place / "moved" / name)
    answer = genex("build", place / "moved" / "week1" / "l.yaml", "--out", place / "moved" / "out")
    assert answer.code == 0


def test_a_manifest_names_its_owner_and_no_place_on_the_disk(genex, place):
    genex("build", place / "week1" / "s.yaml", "--out", place / "out")
    for path in (place / "out").rglob("manifest.json"):
        manifest = json.loads(path.read_text())
        assert len(manifest["owner"]) == 32
        assert str(place) not in path.read_text() and "week1" not in path.read_text()


@pytest.mark.parametrize(("name", "code"), [("l.yaml", 0), ("other.yaml", 2)])
def test_folders_of_earlier_versions_go_on_belonging_to_a_recipe_of_that_name(genex, place, name, code):
    genex("build", place / "week1" / "l.yaml", "--out", place / "out")
    path = place / "out" / "rain" / "manifest.json"
    manifest = json.loads(path.read_text())
    del manifest["owner"]
    path.write_text(json.dumps(manifest | {"recipe": name}))
    assert genex("build", place / "week2" / "l.yaml", "--out", place / "out").code == code


def test_several_recipes_in_one_build_have_folders_of_their_own(place):
    (place / "other.yaml").write_text(LESSON.format("midi").replace("Rain", "Snow"))
    paths = [place / "week1" / "l.yaml", place / "other.yaml"]
    list(build_all(paths, place / "out", report=lambda text: None))
    assert {name.partition("/")[0] for name in files(place)} == {"rain", "snow"}
