"""A build that is killed at any instant leaves old or new, and the next one finishes right.

``GENEX_KILLS=200 python -m pytest tests/publishing/test_killed.py`` kills more often.
"""

import hashlib
import json
import os
import random
import signal
import time
import zipfile

import pytest

from tests.publishing.builds import build_all

pytestmark = pytest.mark.processes

RECIPE = (
    "title: Rain\nchords: Gm7 | C7\ntempo: 240\nparts: bass guide\noutputs: midi loop tab\nseed: {}\n"
)
SERIES = "title: Term\nlessons: [rain.yaml, rain.yaml]\n"
FILES = {"manifest.json", "rain.mid", "rain.tab.txt", "rain.wav"}
KILLS = int(os.environ.get("GENEX_KILLS", "16"))


def build(recipe, out):
    for _ in build_all([recipe], out, report=lambda text: None):
        pass


def digest(data):
    return hashlib.sha256(data).hexdigest()


def require_whole(folder):
    """All that the manifest lists is there as it says, and nothing else but its owner's file."""
    files = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert files.pop("mine.txt", b"mine") == b"mine"
    assert files.keys() == FILES
    for entry in json.loads(files["manifest.json"])["files"]:
        assert digest(files[entry["name"]]) == entry["sha256"], entry["name"]
    return json.loads(files["manifest.json"])["seed"]


def require_whole_series(out):
    seeds = {require_whole(out / "term" / name) for name in ("01-rain", "02-rain")}
    assert len(seeds) == 1
    manifest = json.loads((out / "term" / "manifest.json").read_text())
    with zipfile.ZipFile(out / "term.zip") as archive:
        assert archive.testzip() is None
        same = (
            archive.read("term/01-rain/rain.mid") == (out / "term" / "01-rain" / "rain.mid").read_bytes()
        )
    # Folder and zip are two names: a kill between them is put right by the next build.
    in_step = digest((out / "term.zip").read_bytes()) == manifest["archive"]["sha256"]
    assert in_step == same or list(out.glob(".term~*.part"))
    return in_step


@pytest.mark.slow
@pytest.mark.parametrize("name", ["rain", "term"])
def test_a_build_killed_at_any_instant(tmp_path, name):
    recipe, out = tmp_path / "rain.yaml", tmp_path / "out"
    recipe.write_text(RECIPE.format(10_000))
    (tmp_path / "term.yaml").write_text(SERIES)
    wanted = tmp_path / f"{name}.yaml"
    build(wanted, out)
    mine = out / ("rain" if name == "rain" else "term/01-rain") / "mine.txt"
    mine.write_bytes(b"mine")
    recipe.write_text(RECIPE.format(10_001))
    started = time.monotonic()
    build(wanted, out)
    lasts = time.monotonic() - started
    rng = random.Random("kill")
    seen = set()
    kills = KILLS if name == "rain" else KILLS // 2  # a series takes longer
    for turn in range(kills):
        # Another seed each time, so that every build has new files to put into place.
        recipe.write_text(RECIPE.format(turn))
        child = os.fork()
        if child == 0:
            try:
                build(wanted, out)
            finally:
                os._exit(0)
        time.sleep(rng.uniform(0, lasts * 1.1))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        if name == "rain":
            seen.add(require_whole(out / "rain"))
        else:
            require_whole_series(out)
        assert mine.read_bytes() == b"mine"
    build(wanted, out)
    if name == "rain":
        assert require_whole(out / "rain") == kills - 1
        assert [path.name for path in out.iterdir()] == ["rain"]
    else:
        assert require_whole_series(out)
        assert {path.name for path in out.iterdir()} == {"term", "term.zip"}
