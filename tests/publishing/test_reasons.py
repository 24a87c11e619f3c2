"""Why each file is made or left: after each kind of change, the reason that a person would give."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from genex.publishing import up_to_date

RECIPE = "title: Rain\nchords: Gm7 | C7 |\ntempo: 120\nexercise: arpeggio\noutputs: [midi, tab]\n"


@pytest.fixture
def rain(tmp_path: Path) -> Path:
    path = tmp_path / "rain.yaml"
    path.write_text(RECIPE)
    return path


@pytest.fixture
def why(genex, rain: Path) -> Callable[..., dict[str, str]]:
    """Reasons by file, of a build that is made (or only told)."""

    def ask(*words: object) -> dict[str, str]:
        answer = genex("build", rain, "--out", rain.parent / "out", "--why", "--json", *words)
        assert answer.code == 0, answer
        if "--dry-run" in words:
            (one,) = json.loads(answer.out)
            return {entry["file"]: entry["why"] for entry in one["why"]}
        events = [json.loads(line) for line in answer.out.splitlines()]
        return {one["file"]: one["why"] for one in events if one["event"] == "why"}

    return ask


def test_new_then_up_to_date(why):
    foreseen = why("--dry-run")
    assert (
        foreseen
        == why()
        == dict.fromkeys(("rain.mid", "rain.tab.txt"), "new: no earlier build is known")
    )
    assert why() == why("--dry-run") == dict.fromkeys(("rain.mid", "rain.tab.txt"), "up to date")


def test_settings_that_changed_are_named(why, rain):
    why()
    rain.write_text(RECIPE.replace("120", "100").replace("C7", "F7") + "seed: 3\n")
    assert set(why().values()) == {"settings changed: chords, tempo, seed"}
    rain.write_text(RECIPE.replace("120", "100").replace("C7", "F7"))
    assert set(why().values()) == {"settings changed: seed"}


def test_a_comment_changes_nothing(why, rain):
    why()
    rain.write_text("# Week 3\n" + RECIPE)
    assert set(why().values()) == {"up to date"}


def test_an_input_that_changed_is_named(why, rain):
    groove = rain.parent / "own.yaml"
    text = (Path(up_to_date.__file__).parents[1] / "band" / "grooves" / "bossa.yaml").read_text()
    groove.write_text(text)
    rain.write_text(RECIPE + "feel: ./own.yaml\n")
    why()
    groove.write_text(text + "\n# quieter\n")
    assert set(why().values()) == {"input changed: own.yaml"}


def test_a_key_more_leaves_the_others(why, rain):
    rain.write_text(RECIPE + "keys: [F, C]\n")
    why()
    rain.write_text(RECIPE + "keys: [F, C, G]\n")
    found = why()
    made = {name: reason for name, reason in found.items() if reason != "up to date"}
    assert set(made.values()) == {"new: this version was not built before"}
    assert len(made) == 2 and len(found) == 6  # MIDI and tab of the new key, of three


def test_files_that_are_gone_or_edited(why, rain):
    why()
    folder = rain.parent / "out" / "rain"
    (folder / "rain.mid").unlink()
    (folder / "rain.tab.txt").write_text("mine")
    said = "output gone: rain.mid missing; rain.tab.txt edited"
    assert set(why().values()) == {said}


def test_a_file_that_is_asked_for_no_longer(why, rain):
    why()
    rain.write_text(RECIPE.replace("[midi, tab]", "[midi]"))
    found = why()
    assert found["rain.tab.txt"] == "removed: the recipe asks for it no longer"
    assert found["rain.mid"] == "settings changed: outputs"


def test_other_versions_and_rebuild(why, monkeypatch):
    why()
    now = up_to_date.versions()
    monkeypatch.setattr("genex.publishing.reasons.versions", lambda: now | {"numpy": "9.9"})
    monkeypatch.setattr("genex.publishing.units.versions", lambda: now | {"numpy": "9.9"})
    assert set(why().values()) == {f"other versions: numpy {now['numpy']} to 9.9"}
    monkeypatch.undo()
    assert set(why("--rebuild").values()) == {"all is made anew, as asked for"}


def test_as_text(genex, rain):
    answer = genex("build", rain, "--out", rain.parent / "out", "--why")
    assert answer.out.startswith(f"{rain}:\n  make   rain.mid: new: no earlier build is known\n")
    assert genex("build", rain, "--out", rain.parent / "out", "--why", "--quiet").out == ""
