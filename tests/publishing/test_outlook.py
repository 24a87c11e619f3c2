"""What a build will do, and how much it will be, told before it is done."""

import json

import pytest

from genex.publishing import amounts, outlook
from genex.publishing.jobs import check_all
from genex.resources import example_recipes

RECIPE = (
    "title: Rain\nchords: Gm7 | C7\ntempo: 120\nexercise: arpeggio\ncount_in: 1\nkeys: [F, Bb]\n"
    "outputs: midi loop band stems take tab captions timeline chart diagrams handout musicxml "
    "leadsheet page\n"
)


@pytest.fixture
def rain(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    path = tmp_path / "rain.yaml"
    path.write_text(RECIPE)
    return path


def foreseen(genex, recipe, *more):
    answer = genex("build", recipe, "--out", recipe.parent / "out", "--dry-run", "--json", *more)
    assert answer.code == 0, answer.err
    return json.loads(answer.out)[0]


def made(recipe):
    out = recipe.parent / "out" / "rain"
    return {str(path.relative_to(out)) for path in out.rglob("*") if path.is_file()}


def test_a_dry_run_names_what_is_made_and_makes_nothing(genex, rain):
    answer = foreseen(genex, rain)
    assert not (rain.parent / "out").exists()
    genex("build", rain, "--out", rain.parent / "out")
    assert set(answer["make"]) == made(rain)
    assert answer["replace"] == answer["remove"] == answer["keep"] == []


def test_a_dry_run_names_what_is_replaced_removed_and_kept(genex, rain):
    out = rain.parent / "out" / "rain"
    rain.write_text(RECIPE.replace("keys: [F, Bb]", "tempos: [120, 140]"))
    genex("build", rain, "--out", out.parent)
    before = {path: path.read_bytes() for path in out.iterdir()}
    (out / "rain.120.tab.txt").write_text("with a remark")
    (out / "rain.140.tab.txt").write_text("with another")
    rain.write_text(RECIPE.replace("keys: [F, Bb]", "tempos: [120, 130]"))
    answer = foreseen(genex, rain)
    (kept,) = answer["keep"]
    assert kept["path"] == "rain.120.tab.txt" and kept["as"].startswith("rain.120.tab.kept-")
    assert answer["stays"] == ["rain.140.tab.txt"]
    assert "rain.140.mid" in answer["remove"] and "rain.130.mid" in answer["make"]
    assert all(path.exists() for path in before)
    text = genex("build", rain, "--out", out.parent, "--dry-run").out
    assert "  leave    rain.140.tab.txt (edited)" in text and "  remove   rain.140.mid" in text
    genex("build", rain, "--out", out.parent)
    now = made(rain)
    assert set(answer["make"]) <= now and not set(answer["remove"]) & now
    assert kept["as"] in now and "rain.140.tab.txt" in now


def test_a_dry_run_of_what_is_up_to_date(genex, rain):
    genex("build", rain, "--out", rain.parent / "out")
    assert "(unchanged)" in genex("build", rain, "--out", rain.parent / "out", "--dry-run").out


def test_check_tells_files_sound_and_disk_closely(genex, rain):
    (answer,), _ = check_all([rain])
    genex("build", rain, "--out", rain.parent / "out")
    out = rain.parent / "out" / "rain"
    entries = json.loads((out / "manifest.json").read_text())["files"]
    much = answer["outlook"]
    assert much["files"] == len(made(rain))
    seconds = sum(e["length_samples"] / e["sample_rate_hz"] for e in entries if "length_samples" in e)
    assert much["sound_seconds"] == pytest.approx(seconds, rel=0.3)  # takes ring out
    size = sum(path.stat().st_size for path in out.iterdir())
    assert much["disk_bytes"] == pytest.approx(size, rel=0.3)
    assert "of sound" in genex("check", rain).out


@pytest.mark.parametrize(
    ("audio", "bytes_a_sample", "coded"),
    [
        ("{}", 8, 0),
        ("{passes: 2}", 12, 0),
        ("{format: flac, passes: 4}", 10, 1),
        ("{format: mp3}", 16, 1),
    ],
)
def test_check_counts_the_room_of_a_long_sound_while_it_is_made(tmp_path, audio, bytes_a_sample, coded):
    """Per sample; the coder's file lies there once more."""
    path = tmp_path / "long.yaml"
    text = "title: Long\nchords: C | F\nparts: bass\noutputs: loop\ntempo: 60\nrepeats: {}\naudio: {}\n"
    path.write_text(text.format(1, audio))
    (short,), _ = check_all([path])
    assert "while it is made" not in short["will_be"]
    path.write_text(text.format(20, audio))
    (answer,), _ = check_all([path])
    samples = round(answer["outlook"]["longest_seconds"] * 48_000)
    making = answer["outlook"]["disk_bytes"] - amounts.OTHER_FILE_BYTES
    of_file = making - samples * bytes_a_sample
    assert of_file > 0
    rate = {"flac": 160_000, "mp3": 32_000}.get(
        path.read_text().partition("format: ")[2][:4].strip(",}")
    )
    size = (rate or 288_000) * answer["outlook"]["longest_seconds"]
    assert of_file == pytest.approx(size * (1 + coded), rel=0.01)
    assert "more while it is made" in answer["will_be"]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("chords: C | F\nrepeats: 64\ntempo: 40\naudio: {passes: 8}\n", "a sound would last 1:42:24"),
        (
            "chords: C | F\nrepeats: 40\naudio: {passes: 4}\nkeys: fourths\n"
            "tempos: {start: 40, end: 115, step: 5}\n",
            "hours in one build",
        ),
        (
            "chords: C | F\nrepeats: 40\naudio: {passes: 4}\nkeys: fourths\n"
            "tempos: {start: 40, end: 115, step: 5}\noutputs: stems\n",
            "GB in one build",
        ),
    ],
)
def test_what_is_far_beyond_a_lesson_is_refused_with_a_hint(genex, tmp_path, monkeypatch, text, message):
    if "GB" in message:
        monkeypatch.setattr(outlook, "MOST_HOURS", 10_000)
    path = tmp_path / "long.yaml"
    path.write_text(f"title: Long\n{text}")
    for words in (("check", path), ("build", path, "--out", tmp_path / "out")):
        answer = genex(*words)
        assert (answer.code, message in answer.err) == (2, True), answer.err
        assert "hint: at most" in answer.err and f"{path}:" in answer.err
    assert not (tmp_path / "out").exists()


def test_a_large_build_is_told_beforehand(genex, tmp_path, monkeypatch):
    monkeypatch.setattr(amounts, "LARGE_SECONDS", 1)
    path = tmp_path / "r.yaml"
    path.write_text("title: R\nchords: C | F\nparts: bass\noutputs: loop\n")
    answer = genex("build", path, "--out", tmp_path / "out")
    assert answer.err.startswith("note: that makes 2 files, 0:04 of sound")


def test_every_example_is_within_the_limits():
    answers, errors = check_all(sorted(example_recipes().glob("*.yaml")))
    assert errors == [] and all(answer["will_be"] for answer in answers)
