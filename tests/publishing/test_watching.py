"""A process that stays and follows what is saved: real saves, as editors make them, and Ctrl-C."""

from __future__ import annotations

import json
import os
import selectors
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from genex.publishing.jobs import Wishes
from genex.publishing.watching import Round, Watch

RECIPE = "title: Rain\nchords: {chords}\ntempo: 120\nexercise: arpeggio\noutputs: [midi, tab]\n"
PATIENCE_SECONDS = 60


def recipe(chords: str = "Gm7 | C7 |", more: str = "") -> str:
    return RECIPE.format(chords=chords) + more


def save_over(path: Path, text: str) -> None:
    """As most editors save: a new file beside the old one, which then takes its name."""
    part = path.with_name(f".{path.name}.swp")
    part.write_text(text)
    part.replace(path)


class Watching:
    """``genex build --watch --json`` in a process of its own."""

    def __init__(self, folder: Path, *words: str) -> None:
        self.folder = folder
        self.process = subprocess.Popen(
            [sys.executable, "-m", "genex", "build", *words, "--watch", "--json"],
            cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, bufsize=0,
        )  # fmt: skip
        self._line = b""

    def events(self, last: str) -> list[dict[str, Any]]:
        """All that it tells up to an event, within a minute."""
        assert self.process.stdout is not None
        found: list[dict[str, Any]] = []
        end = time.monotonic() + PATIENCE_SECONDS
        with selectors.DefaultSelector() as selector:
            selector.register(self.process.stdout, selectors.EVENT_READ)
            while not found or found[-1]["event"] != last:
                assert selector.select(max(0.0, end - time.monotonic())), f"no {last}: {found}"
                sign = self.process.stdout.read(1)
                assert sign, f"it ended: {found}, {self.process.stderr and self.process.stderr.read()}"
                self._line += sign
                if sign == b"\n":
                    found.append(json.loads(self._line))
                    self._line = b""
        return found

    def until_it_waits(self) -> list[dict[str, Any]]:
        return self.events("watching")

    def stop(self) -> tuple[int, str]:
        """Ctrl-C: the exit code, and what stands on the standard error."""
        self.process.send_signal(signal.SIGINT)
        _, said = self.process.communicate(timeout=PATIENCE_SECONDS)
        return self.process.returncode, said.decode()


@contextmanager
def watching(folder: Path, *words: str) -> Iterator[Watching]:
    one = Watching(folder, *words)
    try:
        yield one
    finally:
        one.process.kill()
        one.process.communicate()


def kinds(events: list[dict[str, Any]]) -> list[str]:
    return [event["event"] for event in events]


def tab(folder: Path) -> str:
    return (folder / "lessons" / "rain" / "rain.tab.txt").read_text()


def test_a_save_is_built_and_ctrl_c_ends_it(tmp_path):
    path = tmp_path / "rain.yaml"
    path.write_text(recipe())
    with watching(tmp_path, "rain.yaml") as one:
        first = one.until_it_waits()
        assert kinds(first) == ["started", "lesson", "built", "watching"]
        assert str(path) in first[-1]["files"]
        before = tab(tmp_path)

        path.write_text(recipe("Gm7 | F7 |"))  # written in place
        assert "built" in kinds(one.until_it_waits())
        assert "F7" in tab(tmp_path) and tab(tmp_path) != before

        save_over(path, recipe())
        assert "built" in kinds(one.until_it_waits())
        assert tab(tmp_path) == before

        save_over(path, recipe("Gm7 | F7 |"))  # there and back and there again
        assert "built" in kinds(one.until_it_waits())
        assert "F7" in tab(tmp_path)

        assert one.stop() == (0, "")
    assert [entry.name for entry in (tmp_path / "lessons").iterdir()] == ["rain"]


def test_a_bad_save_leaves_the_last_good_files_and_a_good_one_follows(tmp_path):
    path = tmp_path / "rain.yaml"
    path.write_text(recipe())
    with watching(tmp_path, "rain.yaml") as one:
        one.until_it_waits()
        before = tab(tmp_path)
        save_over(path, recipe("Gm7 | Hm |"))
        failed, waits = one.until_it_waits()
        assert (failed["event"], failed["recipe"], failed["line"]) == ("failed", "rain.yaml", 2)
        assert waits["event"] == "watching" and tab(tmp_path) == before
        save_over(path, recipe("Gm7 | F7 |"))
        assert "failed" not in kinds(one.until_it_waits())
        assert "F7" in tab(tmp_path)
        assert one.stop()[0] == 0


def test_what_a_saved_recipe_names_is_watched_from_then_on(tmp_path):
    """A groove file that is not there yet, is written, and is saved again."""
    path, groove = tmp_path / "rain.yaml", tmp_path / "feels" / "own.yaml"
    built_in = (Path(__file__).parents[2] / "genex" / "band" / "grooves" / "bossa.yaml").read_text()
    path.write_text(recipe())
    midi = tmp_path / "lessons" / "rain" / "rain.mid"
    groove.parent.mkdir()
    with watching(tmp_path, "rain.yaml") as one:
        one.until_it_waits()
        plain = midi.read_bytes()
        save_over(path, recipe(more="feel: ./feels/own.yaml\n"))
        events = one.until_it_waits()
        assert kinds(events) == ["failed", "watching"] and str(groove) in events[-1]["files"]
        groove.write_text(built_in)
        assert "built" in kinds(one.until_it_waits())
        with_groove = midi.read_bytes()
        assert with_groove != plain
        save_over(groove, built_in.replace("title:", "title: Other", 1))
        assert "built" in kinds(one.until_it_waits())
        groove.write_text("title: [")
        assert kinds(one.until_it_waits()) == ["failed", "watching"]
        assert one.stop()[0] == 0


def test_only_the_recipe_that_was_saved_is_built(tmp_path):
    for name in ("rain", "snow"):
        (tmp_path / f"{name}.yaml").write_text(recipe().replace("Rain", name.title()))
    with watching(tmp_path, "rain.yaml", "snow.yaml") as one:
        assert kinds(one.until_it_waits()).count("built") == 2
        save_over(tmp_path / "snow.yaml", recipe("Dm7 | G7 |").replace("Rain", "Snow"))
        (built,) = [event for event in one.until_it_waits() if event["event"] == "built"]
        assert built["recipe"] == "snow.yaml"


def test_a_recipe_that_goes_and_comes_back(tmp_path):
    path = tmp_path / "rain.yaml"
    path.write_text(recipe())
    with watching(tmp_path, "rain.yaml") as one:
        one.until_it_waits()
        path.unlink()
        assert kinds(one.until_it_waits()) == ["failed", "watching"]
        assert tab(tmp_path)
        path.write_text(recipe("Gm7 | F7 |"))
        assert "built" in kinds(one.until_it_waits())
        assert "F7" in tab(tmp_path)


def test_what_is_saved_twice_while_it_is_built_is_built_as_it_is_at_last(tmp_path):
    """In this process, so that the saves come in the middle of a build."""
    path = tmp_path / "rain.yaml"
    path.write_text(recipe())
    told: list[str] = []
    saves = iter(["Gm7 | F7 |", "Gm7 | Eb7 |"])

    def save_between(text: str) -> None:
        told.append(text)
        if "MIDI" in text and (chords := next(saves, None)):
            save_over(path, recipe(chords))
            watch._looked = 0.0  # a glance now, and not a tenth of a second later

    rounds = (watch := Watch([path], tmp_path / "lessons", wishes=Wishes(), report=save_between)).run()
    (last,) = (next(rounds),)
    assert last.error is None and last.saved == (path,)
    assert "Eb7" in tab(tmp_path) and "F7" not in tab(tmp_path)
    assert sum("MIDI" in text for text in told) == 3  # two were given up
    rounds.close()
    assert [entry.name for entry in (tmp_path / "lessons").iterdir()] == ["rain"]


def rounds_until_it_waits(paths: list[Path], out: Path) -> list[Round]:
    """All builds that a watch makes until it would wait."""

    class _WaitsError(Exception):
        pass

    def waits(files: list[Path]) -> None:
        raise _WaitsError

    found = []
    with pytest.raises(_WaitsError):
        for one in Watch(paths, out, wishes=Wishes(), waiting=waits).run():
            found.append(one)
            assert len(found) < 9, "it builds for ever"
    return found


def test_what_cannot_be_read_as_a_whole_is_no_reason_to_build_for_ever(tmp_path):
    """A recipe beyond the limit is read in part only, a folder or a pipe not at all."""
    for name, make in (
        ("long", lambda path: path.write_text("# " + "x" * 300_000)),
        ("folder", lambda path: path.mkdir()),
        ("pipe", os.mkfifo),
        ("empty", lambda path: path.touch()),
        ("missing", lambda path: None),
    ):
        path = tmp_path / f"{name}.yaml"
        make(path)
        rounds = rounds_until_it_waits([path], tmp_path / "lessons")
        assert 1 <= len(rounds) <= 3 and all(one.error for one in rounds), name


def test_a_link_is_followed_to_what_it_leads_to(tmp_path):
    real = tmp_path / "elsewhere" / "real.yaml"
    real.parent.mkdir()
    real.write_text(recipe())
    (tmp_path / "rain.yaml").symlink_to(real)
    with watching(tmp_path, "rain.yaml") as one:
        one.until_it_waits()
        save_over(real, recipe("Gm7 | F7 |"))
        assert "built" in kinds(one.until_it_waits())
        assert "F7" in tab(tmp_path)


def test_a_lesson_is_the_same_whether_it_was_followed_or_built_once(tmp_path, genex):
    path = tmp_path / "rain.yaml"
    sounding = recipe("Gm7 | F7 |").replace("[midi, tab]", "[midi, tab, loop]")
    path.write_text(recipe().replace("[midi, tab]", "[midi, tab, loop]"))
    with watching(tmp_path, "rain.yaml") as one:
        one.until_it_waits()
        save_over(path, sounding)
        one.until_it_waits()
    assert genex("build", path, "--out", tmp_path / "once", "--rebuild").code == 0
    for name in ("rain.mid", "rain.tab.txt", "rain.wav"):
        followed = (tmp_path / "lessons" / "rain" / name).read_bytes()
        assert followed == (tmp_path / "once" / "rain" / name).read_bytes(), name
