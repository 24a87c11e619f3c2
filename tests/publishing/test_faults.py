"""What can go wrong around a build: nothing wrong stays under a final name, the message says what
happened, and the next build is right. Killing is tested in ``test_killed.py``."""

import hashlib
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from genex.resources import default_soundfont
from tests.publishing.builds import build_all

pytestmark = pytest.mark.processes

RECIPE = (
    "title: Rain\nchords: Gm7 | C7\ntempo: 200\nparts: drums bass guide\n"
    "outputs: midi loop tab\nseed: {}\n"
)
FILES = {"manifest.json", "rain.mid", "rain.tab.txt", "rain.wav"}
BEGIN = "import sys\nfrom genex.cli import main\nprint('begin', flush=True)\nmain()\n"


def files(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def require_whole(folder):
    """All files are there, none beside them, and each is as the manifest says."""
    found = files(folder)
    assert found.keys() == FILES
    for entry in json.loads(found["manifest.json"])["files"]:
        assert hashlib.sha256(found[entry["name"]]).hexdigest() == entry["sha256"], entry["name"]


@pytest.fixture
def rain(tmp_path):
    path = tmp_path / "rain.yaml"
    path.write_text(RECIPE.format(1))
    return path


def begin(recipe, out):
    """Begin a build in a process of its own; it has said that it begins."""
    words = [sys.executable, "-c", BEGIN, "build", str(recipe), "--out", str(out), "--rebuild"]
    process = subprocess.Popen(
        words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True
    )
    assert process.stdout.readline() == "begin\n"
    return process


def wait_for_files(process, out):
    """Until a build has begun to write."""
    while not list(out.glob(".rain~*.part")):
        assert process.poll() is None, process.stderr.read()
        time.sleep(0.002)


@pytest.fixture
def start():
    """As ``begin``; what has not ended with the test is ended."""
    started = []

    def started_build(recipe, out):
        started.append(begin(recipe, out))
        return started[-1]

    yield started_build
    for process in started:
        if process.poll() is None:
            process.kill()
        process.communicate()


@pytest.fixture(scope="module")
def other(tmp_path_factory):
    """The files of the recipe with another seed, and the seconds that their build took."""
    folder = tmp_path_factory.mktemp("other")
    (folder / "rain.yaml").write_text(RECIPE.format(2))
    process = begin(folder / "rain.yaml", folder / "out")
    begun = time.monotonic()
    process.communicate(timeout=60)
    return files(folder / "out" / "rain"), time.monotonic() - begun


@pytest.fixture
def clean(genex, rain, tmp_path):
    """The files of a build that nothing disturbs."""
    assert genex("build", rain, "--out", tmp_path / "clean").code == 0
    return files(tmp_path / "clean" / "rain")


def test_two_builds_of_one_recipe_at_once(genex, rain, start, clean, tmp_path):
    out = tmp_path / "out"
    for _ in range(2):
        for process in [start(rain, out), start(rain, out)]:
            _, error = process.communicate(timeout=60)
            assert (process.returncode, error) == (0, "")
        require_whole(out / "rain")
        assert files(out / "rain") == clean
        assert [path.name for path in out.iterdir()] == ["rain"]


def test_two_builds_at_once_of_a_recipe_that_is_edited_meanwhile(genex, rain, start, clean, tmp_path):
    out = tmp_path / "out"
    first = start(rain, out)
    wait_for_files(first, out)
    rain.write_text(RECIPE.format(2))
    second = start(rain, out)
    for process in (first, second):
        _, error = process.communicate(timeout=60)
        assert (process.returncode, error) == (0, "")
    require_whole(out / "rain")
    seed = json.loads((out / "rain" / "manifest.json").read_text())["seed"]
    assert genex("build", rain, "--out", out).code == 0
    require_whole(out / "rain")
    assert json.loads((out / "rain" / "manifest.json").read_text())["seed"] == 2 >= seed


@pytest.mark.parametrize("after", [0.0, 0.1, 0.3])
def test_the_output_folder_goes_away_under_the_build(genex, rain, start, clean, tmp_path, after):
    out = tmp_path / "out"
    process = start(rain, out)
    wait_for_files(process, out)
    time.sleep(after)
    shutil.rmtree(out, ignore_errors=True)
    _, error = process.communicate(timeout=60)
    assert "Traceback" not in error and "fault in genex" not in error
    if process.returncode:  # else it had just been finished
        assert process.returncode == 1
        assert "removed meanwhile" in error and "build once more" in error
    assert genex("build", rain, "--out", out).code == 0
    assert files(out / "rain") == clean


@pytest.mark.parametrize("share", [0.02, 0.2, 0.4, 0.6, 0.8, 0.95])
def test_ctrl_c_at_any_instant(genex, rain, start, clean, other, tmp_path, share):
    out, (expected, lasts) = tmp_path / "out", other
    shutil.copytree(tmp_path / "clean", out)
    rain.write_text(RECIPE.format(2))
    process = start(rain, out)
    time.sleep(share * lasts)
    os.killpg(process.pid, signal.SIGINT)  # as a terminal does it
    _, error = process.communicate(timeout=60)
    if process.returncode:  # else it had just been finished
        assert process.returncode == 130, error
        assert error == (
            "genex: stopped; lessons that were finished are in place, all else is as it was\n"
        )
        assert files(out / "rain") in (clean, expected)
    assert [path.name for path in out.iterdir()] == ["rain"]
    assert genex("build", rain, "--out", out).code == 0
    assert files(out / "rain") == expected


def test_ctrl_c_twice_is_no_more_than_once(rain, start, tmp_path):
    out = tmp_path / "out"
    process = start(rain, out)
    wait_for_files(process, out)
    for _ in range(3):
        os.killpg(process.pid, signal.SIGINT)
        time.sleep(0.003)
    _, error = process.communicate(timeout=60)
    assert process.returncode == 130
    assert error.count("\n") == 1 and error.startswith("genex: stopped")
    assert list(out.iterdir()) == []


def overwritten(at):
    """Four bytes at a share of the file, or at an offset, are others."""

    def damage(path):
        data = bytearray(path.read_bytes())
        start = min(at if isinstance(at, int) else int(at * len(data)), len(data) - 4)
        data[start : start + 4] = bytes(byte ^ 0x5A for byte in data[start : start + 4])
        path.write_bytes(data)

    return damage


def cut(share):
    return lambda path: path.write_bytes(path.read_bytes()[: int(share * path.stat().st_size)])


def a_folder(path):
    path.unlink()
    path.mkdir()


def rubbish(path):
    path.write_bytes(os.urandom(path.stat().st_size))


DAMAGES = {
    "magic": overwritten(0),
    "length of the header": overwritten(8),
    "checksum of the header": overwritten(12),
    "header": overwritten(20),
    "further on": overwritten(600),
    "early samples": overwritten(0.1),
    "samples": overwritten(0.5),
    "last samples": overwritten(1.0),
    "cut in the samples": cut(0.9),
    "cut early": cut(0.001),
    "empty": cut(0),
    "rubbish": rubbish,
    "a folder in its place": a_folder,
}


@pytest.fixture(scope="module")
def first_ever(tmp_path_factory):
    """A folder of a recipe that was built once, with the cache that this left."""
    folder = tmp_path_factory.mktemp("first")
    (folder / "rain.yaml").write_text(RECIPE.format(1))
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(folder / "cache"))
        list(build_all([folder / "rain.yaml"], folder / "out", report=lambda text: None))
    return folder


@pytest.mark.parametrize("damage", DAMAGES.values(), ids=DAMAGES.keys())
def test_a_damaged_cache_changes_nothing(genex, first_ever, tmp_path, monkeypatch, damage):
    clean = files(first_ever / "out" / "rain")
    rain, out = tmp_path / "rain.yaml", tmp_path / "out"
    shutil.copytree(first_ever, tmp_path, dirs_exist_ok=True)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    kept = [path for path in (tmp_path / "cache").rglob("*") if path.is_file()]
    assert any(path.stat().st_size > 100_000 for path in kept)
    for path in kept:
        damage(path)
    for words in ((), ("--rebuild",)):
        answer = genex("build", rain, "--out", out, *words)
        assert (answer.code, answer.err) == (0, "")
        assert files(out / "rain") == clean


def test_a_cache_folder_that_is_a_file_or_may_not_be_written(genex, rain, clean, tmp_path, monkeypatch):
    (tmp_path / "cache").write_text("in the way")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    answer = genex("build", rain, "--out", tmp_path / "out")
    assert (answer.code, answer.err) == (0, "")
    assert files(tmp_path / "out" / "rain") == clean


@pytest.mark.parametrize(
    ("kept_bytes", "message"),
    [
        (0, "is not a soundfont"),
        (11, "is not a soundfont"),
        (4000, "is cut short"),
        (400_000, "is cut short"),
    ],
)
def test_a_soundfont_that_is_cut_short(genex, rain, clean, tmp_path, kept_bytes, message):
    font = tmp_path / "short.sf2"
    with default_soundfont().open("rb") as file:
        font.write_bytes(file.read(kept_bytes))
    shutil.copytree(tmp_path / "clean", tmp_path / "out")
    answer = genex("build", rain, "--out", tmp_path / "out", "--soundfont", font)
    assert answer.code == 2
    assert message in answer.err and str(font) in answer.err and "hint: " in answer.err
    assert files(tmp_path / "out" / "rain") == clean
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["rain"]


def test_a_soundfont_whose_size_is_right_and_whose_inside_is_not(genex, rain, tmp_path):
    font = tmp_path / "hollow.sf2"
    with default_soundfont().open("rb") as file:
        head = file.read(400_000)
    font.write_bytes(head[:4] + (len(head) - 8).to_bytes(4, "little") + head[8:])
    answer = genex("build", rain, "--out", tmp_path / "out", "--soundfont", font)
    assert answer.code == 2
    assert "could not be loaded as a soundfont" in answer.err
    assert list(Path(tmp_path / "out").iterdir()) == []


def test_a_recipe_says_where_its_soundfont_is_named(genex, rain, tmp_path):
    (tmp_path / "short.sf2").write_bytes(b"RIFF")
    rain.write_text(RECIPE.format(1) + "audio: {soundfont: short.sf2}\n")
    answer = genex("build", rain, "--out", tmp_path / "out")
    assert answer.code == 2
    assert f"{rain}:7:20: " in answer.err and "is not a soundfont" in answer.err


def test_four_builds_at_once(genex, rain, start, clean, tmp_path):
    """Two of one recipe, one of another, one of a series of both, into one folder."""
    out = tmp_path / "out"
    other, term = tmp_path / "snow.yaml", tmp_path / "term.yaml"
    other.write_text(RECIPE.format(3).replace("Rain", "Snow"))
    term.write_text("title: Term\nlessons: [rain.yaml, snow.yaml]\n")
    for _ in range(2):
        for process in [start(path, out) for path in (rain, rain, other, term)]:
            _, error = process.communicate(timeout=120)
            told = [line for line in error.splitlines() if " made: " not in line]
            assert (process.returncode, told) == (0, [])
        require_whole(out / "rain")
        assert files(out / "rain") == clean
        assert sorted(path.name for path in out.iterdir()) == ["rain", "snow", "term", "term.zip"]
        assert genex("verify", out).code == 0


def test_a_series_and_a_lesson_of_one_title_at_once(rain, start, tmp_path):
    """Whoever comes second is told so; nobody's files are touched."""
    term = tmp_path / "term.yaml"
    term.write_text("title: Rain\nlessons: [rain.yaml]\n")
    first, second = [start(path, tmp_path / "out") for path in (rain, term)]
    errors = [process.communicate(timeout=120)[1] for process in (first, second)]
    assert sorted((first.returncode, second.returncode)) == [0, 2]
    assert "holds the lesson of another recipe" in "".join(errors)
