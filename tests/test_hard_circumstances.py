"""Faults of files and systems are answered as what they are, with the place; never by a traceback."""

import contextlib
import errno
import json
import os
import subprocess
import sys
from types import SimpleNamespace

import mido
import pytest

from genex.inputs import NotPlainFileError, may_follow, open_plain
from genex.publishing.maker import VersionWriter

RECIPE = "title: Rain\nchords: C | F\nparts: bass\noutputs: midi\n"


def run(*words, prepare="", **more):
    """The command line in a process of its own, after a line of Python."""
    code = f"import os, sys, resource\n{prepare}\nfrom genex.cli import main\nmain()\n"
    return subprocess.run(
        [sys.executable, "-c", code, *map(os.fspath, words)], capture_output=True, check=False, **more
    )


@pytest.fixture
def rain(tmp_path):
    path = tmp_path / "rain.yaml"
    path.write_text(RECIPE)
    return path


# MIDI files


def header(division, tracks=1):
    return b"MThd" + (6).to_bytes(4, "big") + bytes([0, 0, 0, tracks]) + division.to_bytes(2, "big")


def track(*events):
    data = b"".join(events) + b"\x00\xff\x2f\x00"
    return b"MTrk" + len(data).to_bytes(4, "big") + data


NOTE = b"\x00\x90\x3c\x40\x60\x80\x3c\x00"
MIDI = {
    "division 0": header(0) + track(NOTE),
    "division in frames": header(0xE728) + track(NOTE),
    "tempo 0": header(96) + track(b"\x00\xff\x51\x03\x00\x00\x00", NOTE),
    "impossible key": header(96) + track(b"\x00\xff\x59\x02\x60\x07", NOTE),
    "meter 0/4": header(96) + track(b"\x00\xff\x58\x04\x00\x02\x18\x08", NOTE),
    "meter 4/1099511627776": header(96) + track(b"\x00\xff\x58\x04\x04\x28\x18\x08", NOTE),
    "millions of beats of rest": header(1) + track(b"\x84\xb1\xdb\x00\x90\x3c\x40", NOTE[4:]),
    "a rest inside": header(1) + track(NOTE, b"\x83\x80\x80\x00\x90\x3c\x40\x01\x80\x3c\x00"),
    "one header, no track": header(96),
    "cut short": (header(96) + track(NOTE))[:-9],
    "too large": header(96) + bytes(5 << 20),
}


@pytest.mark.parametrize("name", MIDI)
def test_midi_files_that_are_no_phrase(genex, tmp_path, name):
    path = tmp_path / "phrase.mid"
    path.write_bytes(MIDI[name])
    answer = genex("tab", path)
    if answer.code == 0:  # bars of rest before the phrase are left away
        assert name in ("millions of beats of rest", "cut short") and len(answer.out) < 5000
        return
    assert answer.code == 2
    assert "fault in genex" not in answer.err and len(answer.err) < 400
    recipe = tmp_path / "r.yaml"
    recipe.write_text("chords: C\noutputs: midi\nexercise: {kind: positions, phrase: phrase.mid}\n")
    answer = genex("check", recipe)
    assert (answer.code, f"{recipe}:3:" in answer.err) == (2, True), answer.err


def test_a_phrase_in_a_meter_that_the_feel_lacks(genex, tmp_path):
    file = mido.MidiFile(ticks_per_beat=480)
    line = mido.MidiTrack([mido.MetaMessage("time_signature", numerator=5, denominator=4)])
    for key in (60, 62, 64, 65, 67):
        line.append(mido.Message("note_on", note=key, velocity=90, time=0))
        line.append(mido.Message("note_off", note=key, velocity=0, time=480))
    file.tracks.append(line)
    file.save(tmp_path / "phrase.mid")
    recipe = tmp_path / "r.yaml"
    recipe.write_text(
        "chords: C\nfeel: swing\noutputs: midi\nparts: drums bass exercise\n"
        "exercise: {kind: positions, phrase: phrase.mid}\n"
    )
    answer = genex("check", recipe)
    assert answer.code == 2 and "fault in genex" not in answer.err
    assert f"{recipe}:" in answer.err and "5/4" in answer.err


# Files that are none


@pytest.mark.parametrize(
    ("what", "kind"),
    [("recipe", "device")]
    + [(what, "pipe") for what in ("recipe", "groove", "phrase", "soundfont", "listed recipe")],
)
def test_pipes_and_devices_are_refused_and_not_waited_for(tmp_path, what, kind):
    bad = tmp_path / {"phrase": "bad.mid", "soundfont": "bad.sf2"}.get(what, "bad.yaml")
    os.mkfifo(bad) if kind == "pipe" else bad.symlink_to("/dev/zero")
    recipe = tmp_path / "r.yaml"
    recipe.write_text(
        {
            "groove": "chords: C\nfeel: ./bad.yaml\n",
            "phrase": "chords: C\nexercise: {kind: positions, phrase: bad.mid}\n",
            "soundfont": "chords: C\naudio: {soundfont: bad.sf2}\n",
            "listed recipe": "title: T\nlessons: [bad.yaml]\n",
        }.get(what, "chords: C\n")
    )
    done = run("build", bad if what == "recipe" else recipe, "--out", tmp_path / "out", timeout=60)
    assert done.returncode == 2, done.stderr
    assert b"fault in genex" not in done.stderr and b"Traceback" not in done.stderr
    assert not (tmp_path / "out").exists()


def test_whose_links_are_followed():
    """[published: Linux kernel documentation, protected_symlinks]"""
    shared, own = (SimpleNamespace(st_mode=mode, st_uid=0) for mode in (0o41777, 0o40755))
    assert may_follow(1000, own, 1001)
    assert may_follow(1001, shared, 1001) and may_follow(0, shared, 1001)
    assert not may_follow(1000, shared, 1001)


def test_somebody_elses_link_in_a_shared_folder_is_not_followed(tmp_path, monkeypatch):
    shared = tmp_path / "shared"
    shared.mkdir()
    shared.chmod(0o1777)
    (tmp_path / "real.yaml").write_text(RECIPE)
    (shared / "link.yaml").symlink_to(tmp_path / "real.yaml")
    with open_plain(shared / "link.yaml") as file:
        assert file.read().startswith(b"title")
    monkeypatch.setattr(os, "geteuid", lambda: 54321)
    lstat = os.lstat

    def elsewhere(path, **how):
        status = list(lstat(path, **how))
        status[4] = 12345 if str(path).endswith("link.yaml") else status[4]
        return os.stat_result(status)

    monkeypatch.setattr(os, "lstat", elsewhere)
    with pytest.raises(NotPlainFileError, match="somebody else's link"):
        open_plain(shared / "link.yaml")


def test_a_groove_in_a_folder_that_may_not_be_entered(genex, tmp_path, monkeypatch):
    recipe = tmp_path / "r.yaml"
    recipe.write_text("chords: C\nfeel: shut/mine.yaml\n")
    (tmp_path / "shut").mkdir()
    stat = os.stat

    def refused(path, **how):
        if "shut" in str(path):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        return stat(path, **how)

    monkeypatch.setattr(os, "stat", refused)
    answer = genex("check", recipe)
    assert (answer.code, f"{recipe}:2:7: there is no groove file" in answer.err) == (2, True)


def test_a_recipe_larger_than_allowed_is_told_by_the_line_where_that_is(genex, tmp_path):
    recipe = tmp_path / "r.yaml"
    recipe.write_text("# a remark of some length\n" * 20_000)
    answer = genex("check", recipe)
    assert answer.code == 2
    assert f"{recipe}:{262_144 // 26 + 1}: the file is larger than 256 kB" in answer.err


# Names, languages and streams


def test_names_that_are_not_utf_8(tmp_path):
    name = os.fsdecode(bytes(tmp_path) + b"/r\xe9gen.yaml")
    with open(name, "w") as file:  # noqa: PTH123
        file.write("chords: C | F\nparts: bass\noutputs: midi\n")
    for words in (("check", name), ("build", name, "--out", tmp_path / "out")):
        done = run(*words)
        assert (done.returncode, done.stderr) == (0, b"")
    again = run("build", name, "--out", tmp_path / "out")
    assert b"(unchanged)" in again.stdout
    missing = run("build", os.fsdecode(b"\xff.yaml"), "--out", tmp_path / "out")
    assert missing.returncode == 2 and b"there is no file" in missing.stderr


@pytest.mark.parametrize("settings", [{"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}])
def test_ascii_locales(rain, tmp_path, settings):
    rain.write_text(RECIPE.replace("Rain", "Über ♭"), "utf-8")
    environment = {**os.environ, **settings}
    done = run("build", rain, "--out", tmp_path / "out", env=environment)
    assert (done.returncode, done.stderr) == (0, b"")
    assert run("chord", "Cm7b5", env=environment).returncode == 0


@pytest.mark.parametrize("shut", [[1], [0, 1, 2]])
def test_streams_that_are_shut(rain, tmp_path, shut):
    shell = " ".join(f"{number}>&-" for number in shut).replace("0>&-", "0<&-")
    words = f"{sys.executable} -m genex build {rain} --out {tmp_path / 'out'} {shell}"
    assert subprocess.run(["sh", "-c", words], capture_output=True, check=False).returncode == 0
    assert (tmp_path / "out" / "rain" / "rain.mid").stat().st_size > 50
    (tmp_path / "bad.yaml").write_text("chords: Hm")
    words = f"{sys.executable} -m genex check {tmp_path / 'bad.yaml'} {shell}"
    assert subprocess.run(["sh", "-c", words], capture_output=True, check=False).returncode == 2


def test_streams_that_are_full(rain, tmp_path):
    words = f"{sys.executable} -m genex build {rain} --out {tmp_path / 'out'} > /dev/full"
    done = subprocess.run(["sh", "-c", words], capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert done.stderr == (
        "the answer could not be printed: No space left on device\n"
        "  hint: make room where the output goes; what was built is in place\n"
    )
    assert (tmp_path / "out" / "rain" / "rain.mid").exists()
    words = f"{sys.executable} -m genex check {rain} nowhere.yaml 2> /dev/full"
    assert subprocess.run(["sh", "-c", words], capture_output=True, check=False).returncode == 2


# Shortages


def test_too_little_memory(genex, rain, tmp_path, monkeypatch):
    def starved(self):
        raise MemoryError

    monkeypatch.setattr(VersionWriter, "write_symbolic", starved)
    answer = genex("build", rain, "--out", tmp_path / "out")
    assert answer.code == 1
    assert answer.err.startswith("there is too little memory to make rain\n  hint: ")
    assert list((tmp_path / "out").iterdir()) == []


@pytest.mark.parametrize("where", ["making", "checking"])
def test_a_library_that_finds_no_room_is_told_as_that(genex, rain, tmp_path, monkeypatch, where):
    """Seen at 250 MB of addresses, where typesetting was loaded in a worker."""

    def starved(*words):
        raise ImportError("typesetting.so: failed to map segment from shared object")

    monkeypatch.setattr(VersionWriter, "write_symbolic" if where == "making" else "outline", starved)
    answer = genex("build", rain, "--out", tmp_path / "out")
    assert answer.code == 1
    assert answer.err.startswith("a library could not be loaded: typesetting.so: failed to map")
    assert "hint: close other programs" in answer.err
    assert not (tmp_path / "out").exists() or list((tmp_path / "out").iterdir()) == []


def test_too_few_file_handles(rain, tmp_path):
    """At every limit the build is whole, or is told as what it is."""
    told = 0
    for limit in (4, 8, 24):
        done = run(
            "build", rain, "--out", tmp_path / str(limit), "--rebuild",
            prepare="import genex.publishing.jobs, genex.publishing.lessons, mido\n"
            "import genex.publishing.series_book, genex.publishing.printed_files\n"
            f"resource.setrlimit(resource.RLIMIT_NOFILE, ({limit}, {limit}))",
        )  # fmt: skip
        if done.returncode == 0:
            assert (tmp_path / str(limit) / "rain" / "rain.mid").exists()
        else:
            told += 1
            assert b"Traceback" not in done.stderr and b"fault in genex" not in done.stderr, done.stderr
            assert b"oo many" in done.stderr
            assert not (tmp_path / str(limit) / "rain").exists()
    assert told >= 1


# The command line by convention


def test_short_help_and_the_module(tmp_path):
    for words in (["-h"], ["build", "-h"]):
        done = subprocess.run(
            [sys.executable, "-m", "genex", *words], capture_output=True, text=True, check=True
        )
        assert done.stdout.startswith("Usage: ") and "--help" in done.stdout


def test_completion_for_the_shell():
    done = subprocess.run(
        [sys.executable, "-c", "import sys; sys.argv[0] = 'genex'; from genex.cli import main; main()"],
        env=os.environ
        | {"_GENEX_COMPLETE": "complete_bash", "COMP_WORDS": "genex bui", "COMP_CWORD": "1"},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert "build" in done.stdout


@pytest.mark.parametrize(
    "words",
    [
        ("chord", "Hm"), ("shapes", "Hm"), ("tab", "nowhere.mid"), ("build", "nowhere.yaml"),
        ("verify", "nowhere"), ("new", " "), ("check", "--wrong"), ("feels", "\u202e"),
    ],
)  # fmt: skip
def test_errors_are_json_where_the_answer_would_be(genex, words):
    answer = genex(*words, "--json")
    assert (answer.code, answer.err) == (2, "")
    error = json.loads(answer.out)
    assert error["ok"] is False and error["message"] and "place" not in error


def test_several_errors_as_json(genex, tmp_path):
    for name in ("a.yaml", "b.yaml"):
        (tmp_path / name).write_text("chords: Hm")
    answer = genex("build", tmp_path / "a.yaml", tmp_path / "b.yaml", "--json")
    assert answer.code == 2
    errors = json.loads(answer.out)["errors"]
    assert [(error["line"], error["column"]) for error in errors] == [(1, 9), (1, 9)]


def test_a_build_as_json_and_a_quiet_one(genex, rain, tmp_path):
    def built():
        said = genex("build", rain, "--out", tmp_path / "out", "--json").out
        events = [json.loads(line) for line in said.splitlines()]
        (one,) = [event for event in events if event["event"] == "built"]
        return one

    first = built()
    assert first["changed"] and first["folder"] == str(tmp_path / "out" / "rain")
    again = built()
    assert not again["changed"] and again["printed"] == first["printed"]
    for words in (("build", rain, "--out", tmp_path / "out", "--rebuild"), ("check", rain)):
        for short in ("-q", "--quiet"):
            answer = genex(*words, short)
            assert (answer.code, answer.out, answer.err) == (0, "", "")


# What takes long

SLOW = """
import time
from genex import terminal
from genex.publishing import units
terminal.PATIENCE_SECONDS, terminal._PIPE_SECONDS = 0.1, 0.2
prepare = units.prepare
def slow(*words):
    time.sleep(0.9)
    return prepare(*words)
units.prepare = slow
"""


def test_a_check_that_takes_long_says_so_in_a_pipe(rain):
    """One step that lasts is told more than once: it is not the steps that tell."""
    told = run("check", rain, prepare=SLOW)
    lines = told.stderr.decode().splitlines()
    seconds = [int(line.removeprefix(f"{rain}: Rain, ").removesuffix(" s")) for line in lines]
    assert told.returncode == 0 and b"in order: Rain" in told.stdout
    assert len(seconds) >= 2 and seconds == sorted(seconds)
    for silent in ("--quiet", "--json"):
        told = run("check", rain, silent, prepare=SLOW)
        assert (told.returncode, told.stderr) == (0, b"")


def test_a_check_that_takes_long_has_a_line_of_its_own_on_a_terminal(rain, tmp_path):
    pty = pytest.importorskip("pty")
    first, second = tmp_path / "one.yaml", tmp_path / "week.yaml"
    first.write_text(RECIPE.replace("Rain", '"Ra\\e[31min"'))
    second.write_text(f"title: Week\nlessons: [{rain.name}, {first.name}]\n")
    ours, theirs = pty.openpty()
    code = f"import os, sys\n{SLOW}\nfrom genex.cli import main\nmain()\n"
    process = subprocess.Popen(
        [sys.executable, "-c", code, "check", second], stdout=subprocess.PIPE, stderr=theirs
    )
    os.close(theirs)
    seen = b""
    with contextlib.suppress(OSError):  # how a terminal ends
        while data := os.read(ours, 4096):
            seen += data
    os.close(ours)
    answer = process.communicate()[0]
    assert process.returncode == 0 and b"in order: Week" in answer
    text = seen.decode()
    assert "lesson 1 of 2, 0 s" in text and "lesson 2 of 2, 1 s" in text, text
    assert "\n" not in text and "\x1b" not in text
    assert max(map(len, text.split("\r"))) < 80  # one line, however long the path
    assert text.endswith("\r") and text.rstrip("\r").rpartition("\r")[2].strip() == ""


def test_a_check_that_is_quick_tells_nothing_besides(rain):
    told = run("check", rain, prepare="from genex import terminal; terminal.PATIENCE_SECONDS = 60")
    assert (told.returncode, told.stderr) == (0, b"")
