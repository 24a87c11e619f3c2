"""Whatever input changes, at whatever stage of a build: the next build equals a clean one."""

import json
import os
import shutil
from pathlib import Path

import pytest

from genex.publishing import lessons, maker, staging, units, up_to_date
from genex.resources import default_soundfont
from tests.publishing.builds import build_all

GROOVE = (
    "title: Mine\nabout: Ours.\nmeters: [4/4]\ntempo: {from: 60, to: 240, usual: 100}\nswing: none\n"
    'drums:\n  kit: standard\n  layers:\n    a:\n      - {kick: "%s"}\n'
)
RAIN = (
    "title: Rain\nchords: %s\nfeel: ./mine.yaml\nparts: drums exercise\ntempo: 200\n"
    "exercise: {kind: positions, phrase: phrase.mid}\noutputs: midi tab loop\n"
    "audio: {soundfont: mine.sf2}\n"
)
STAGES = ["recipe read", "composed", "first version made", "staged", "in place"]
INPUTS = ["recipe", "series", "groove", "phrase", "soundfont", "soundfont, size and date kept"]


def phrase(path, keys):
    import mido

    file = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack()
    file.tracks.append(track)
    for key in keys:
        track.append(mido.Message("note_on", note=key, velocity=90, time=0))
        track.append(mido.Message("note_off", note=key, velocity=0, time=480))
    file.save(path)


@pytest.fixture
def term(tmp_path):
    """A series of one lesson that reads every kind of file."""
    (tmp_path / "rain.yaml").write_text(RAIN % "C | F")
    (tmp_path / "term.yaml").write_text("title: Term\nlessons: [rain.yaml]\n")
    (tmp_path / "mine.yaml").write_text(GROOVE % "7 . 7 .")
    phrase(tmp_path / "phrase.mid", (60, 64, 67, 64))
    shutil.copyfile(default_soundfont(), tmp_path / "mine.sf2")
    return tmp_path / "term.yaml"


def change(folder, what):
    if what == "recipe":
        (folder / "rain.yaml").write_text(RAIN % "C | G")
    elif what == "series":
        (folder / "term.yaml").write_text("title: Term\nlessons: [rain.yaml, rain.yaml]\n")
    elif what == "groove":
        (folder / "mine.yaml").write_text(GROOVE % "7 7 7 7")
    elif what == "phrase":
        phrase(folder / "phrase.mid", (60, 62, 64, 65))
    else:
        font = folder / "mine.sf2"
        before = font.stat()
        data = bytearray(font.read_bytes())
        at = data.index(b"smpl") + 8
        data[at : at + 20_000_000] = bytes(20_000_000)  # most samples are silent
        font.write_bytes(data)
        if "kept" in what:
            os.utime(font, ns=(before.st_atime_ns, before.st_mtime_ns))


def build(recipe, out):
    return list(build_all([recipe], out, report=lambda text: None))


def contents(folder):
    return {
        str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()
    }


def at_stage(monkeypatch, stage, act):
    """Have something happen once, when a build has come so far."""
    module, name, before = {
        "recipe read": (units, "read_lessons", False),
        "composed": (units, "_fingerprints", False),
        "first version made": (maker.VersionWriter, "write_printed", True),
        "staged": (staging.Staging, "publish", True),
        "in place": (lessons, "_remember", True),
    }[stage]
    call = getattr(module, name)
    todo = [act]

    def wrapped(*words, **how):
        if before and todo:
            todo.pop()()
        answer = call(*words, **how)
        if not before and todo:
            todo.pop()()
        return answer

    monkeypatch.setattr(module, name, wrapped)
    return todo


@pytest.fixture(scope="module")
def clean():
    """What a clean build with each changed input has made."""
    return {}


@pytest.mark.slow
@pytest.mark.parametrize("stage", STAGES)
@pytest.mark.parametrize("what", INPUTS)
def test_every_input_changed_at_every_stage(term, clean, tmp_path, monkeypatch, what, stage):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setattr("genex.publishing.workshop._processors", lambda: 1)
    with monkeypatch.context() as patch:
        todo = at_stage(patch, stage, lambda: change(tmp_path, what))
        try:
            build(term, tmp_path / "out")
        except Exception as error:
            assert "was changed while the build went on" in str(error)
        assert not todo
    request = up_to_date.Request(term, tmp_path / "out")
    read_since = stage == "recipe read" and what not in ("recipe", "series", "groove")
    assert (up_to_date.remembered(request) is not None) == read_since
    build(term, tmp_path / "out")
    assert up_to_date.remembered(request) is not None
    if what not in clean:
        monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "another cache"))
        build(term, tmp_path / "clean")
        clean[what] = contents(tmp_path / "clean")
    assert contents(tmp_path / "out") == clean[what]


def test_a_build_reads_each_file_once_and_sees_one_state_of_it(term, tmp_path, monkeypatch):
    """A groove edited between reading the recipe and composing: all of it is from before."""
    groove = tmp_path / "mine.yaml"
    monkeypatch.setattr("genex.publishing.workshop._processors", lambda: 1)
    at_stage(monkeypatch, "recipe read", lambda: groove.write_text("spoiled: ["))
    build(term, tmp_path / "out")
    assert (tmp_path / "out" / "term" / "01-rain" / "rain.wav").exists()


def test_a_file_that_was_not_there_counts_when_it_comes(tmp_path):
    from genex.inputs import Inputs, read_file

    inputs = Inputs()
    with inputs.active(), pytest.raises(FileNotFoundError):
        read_file(tmp_path / "defaults.yaml", 100)
    ((path, digest),) = inputs.digests.items()
    known = up_to_date.Known(path, digest)
    assert known.is_as_it_was()
    Path(path).write_text("tempo: 90")
    assert not known.is_as_it_was()


def test_a_soundfont_is_told_by_its_content_where_its_date_has_been_set_back(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    font = tmp_path / "font.sf2"
    font.write_bytes(b"1" * 2_000_000)
    before, first = font.stat(), up_to_date.known_large(font)
    assert up_to_date.known_large(font) == first
    font.write_bytes(b"2" * 2_000_000)
    os.utime(font, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert up_to_date.known_large(font).sha256 != first.sha256
    assert not first.is_as_it_was()


def test_a_copy_of_a_folder_is_up_to_date_without_its_dates(tmp_path, monkeypatch, genex):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    recipe = tmp_path / "rain.yaml"
    recipe.write_text("title: Rain\nchords: C | F\noutputs: midi tab\n")
    genex("build", recipe, "--out", tmp_path / "out")
    for path in (tmp_path / "out" / "rain").iterdir():
        os.utime(path, (1, 1))
    assert "(unchanged)" in genex("build", recipe, "--out", tmp_path / "out").out
    note = json.loads(up_to_date.Request(recipe, tmp_path / "out").note.read_text())["content"]
    assert all(len(entry) == 3 for entry in note["written"])
