"""A build that is killed at any instant leaves nothing wrong, and the next one finishes right."""

import hashlib
import json
import os
import random
import signal
import time

import pytest

from genex.publishing.jobs import build_all

RECIPE = (
    "title: Rain\nchords: Gm7 | C7\ntempo: 240\nparts: bass guide\noutputs: midi loop tab\nseed: {}\n"
)
KILLS = 50


def build(recipe, out):
    for _ in build_all([recipe], out, soundfont=None, report=lambda text: None):
        pass


def require_whole(folder):
    """If there is a manifest, every file it lists is there as it says."""
    manifest = folder / "manifest.json"
    if not manifest.exists():
        return
    for entry in json.loads(manifest.read_text())["files"]:
        data = (folder / entry["name"]).read_bytes()
        assert hashlib.sha256(data).hexdigest() == entry["sha256"], entry["name"]


@pytest.mark.slow
def test_a_build_killed_at_any_instant(tmp_path):
    recipe, out = tmp_path / "rain.yaml", tmp_path / "out"
    recipe.write_text(RECIPE.format(0))
    started = time.monotonic()
    build(recipe, out)
    lasts = time.monotonic() - started
    rng = random.Random("kill")
    for turn in range(KILLS):
        # Another seed each time, so that every build has new files to put into place.
        recipe.write_text(RECIPE.format(turn))
        child = os.fork()
        if child == 0:
            try:
                build(recipe, out)
            finally:
                os._exit(0)
        time.sleep(rng.uniform(0, lasts))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        require_whole(out / "rain")
        assert {path.name for path in (out / "rain").iterdir()} <= {
            "manifest.json",
            "rain.mid",
            "rain.tab.txt",
            "rain.wav",
        }
    build(recipe, out)
    require_whole(out / "rain")
    assert (out / "rain" / "manifest.json").exists()
    assert [path.name for path in out.iterdir()] == ["rain"]
