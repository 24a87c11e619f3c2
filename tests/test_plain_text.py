"""Nothing that steers a terminal, turns writing round or runs in a spreadsheet leaves genex."""

import csv
import io
import json

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.errors import InputError, Place
from genex.plain_text import cell, clean, message

BAD = [
    ("\x1b[31mred\x1b[0m", "red"),  # ECMA-48 SGR
    ("\x1b]0;title\x07text", "text"),  # OSC, which names a window
    ("\x1b]8;;http://x\x1b\\link\x1b]8;;\x1b\\", "link"),
    ("\x9b2Jcleared", "cleared"),  # the 8-bit CSI
    ("a\u202egnp.exe", "agnp.exe"),  # right-to-left override
    ("\u2066a\u2069\u200f\u061c", "a"),
    ("one\ntwo\tthree\u2028four", "one two three four"),
    ("bell\x07, null\x00, delete\x7f", "bell, null, delete"),
    ("zero\u200bwidth\ufeff", "zerowidth"),
    ("\udcff", "\ufffd"),
    ("cut off \x1b[", "cut off "),
]


@pytest.mark.parametrize(("text", "plain"), BAD)
def test_signs_that_do_something_are_left_away(text, plain):
    assert clean(text) == plain


@pytest.mark.parametrize(
    "text", ["Über den Dächern", "雨", "می\u200cروم", "👩\u200d🎤", "C♭ Δ ø 𝄫", "½"]
)
def test_what_people_write_stays(text):
    assert clean(text) == text


@given(st.text())
def test_clean_text_is_clean_and_stays_so(text):
    plain = clean(text)
    assert clean(plain) == plain
    assert not any(sign < " " or "\x7f" <= sign < "\xa0" or sign in "\u202e\u2067" for sign in plain)
    plain.encode("utf-8")


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "=cmd|' /C calc'!A0"])
def test_a_cell_is_no_formula(text):
    """[published: OWASP, CSV injection]"""
    assert cell(text) == f"'{text}"
    assert cell(f"A{text}") == f"A{text}"


def test_long_values_are_cut_in_messages_and_places_are_clean():
    error = InputError(f"'{'x' * 5000}' is \x1b[2Jno feel", place=Place("a\x1b[1m\n.yaml", 1, 2))
    assert len(str(error)) < 250 and "…' is no feel" in str(error)
    assert "\x1b" not in str(error)
    assert message("'short'") == "'short'"


STEERS = "\\e[31mRain\\u202e\\a"
RECIPE = (
    f'title: "{STEERS}"\nsections: {{"={STEERS}": C | F}}\nexercise: arpeggio\ncount_in: 1\n'
    "outputs: midi tab chart captions timeline musicxml leadsheet loop handout take page\n"
    "audio: {format: flac}\n"
)


def test_nothing_of_it_reaches_any_file(genex, tmp_path):
    import soundfile

    (tmp_path / "r.yaml").write_text(RECIPE)
    answer = genex("build", tmp_path / "r.yaml", "--out", tmp_path / "out")
    assert (answer.code, answer.err) == (0, "")
    folder = tmp_path / "out" / "rain"
    texts = [answer.out, json.dumps(json.loads((folder / "manifest.json").read_text()))]
    for path in folder.iterdir():
        if path.suffix in (".txt", ".vtt", ".csv", ".json", ".svg", ".musicxml", ".html"):
            texts.append(path.read_text())
        elif path.suffix == ".mid":
            names = [m for track in mido.MidiFile(path).tracks for m in track if m.is_meta]
            texts += [str(m.dict().get("name", "")) + str(m.dict().get("text", "")) for m in names]
        elif path.suffix == ".flac":
            with soundfile.SoundFile(path) as sound:
                texts.append(str(sound.copy_metadata()))
    assert len(texts) > 12
    for text in texts:
        assert not any(sign in text for sign in "\x1b\x07\u202e") and "[31m" not in text
    rows = csv.DictReader(io.StringIO((folder / "rain.timeline.csv").read_text()))
    assert {row["section"] for row in rows} == {"'=Rain"}


def test_names_of_tracks_and_files_in_messages(genex, tmp_path):
    file = mido.MidiFile()
    for name in ("\x1b[31mlead", "second"):
        track = mido.MidiTrack([mido.MetaMessage("track_name", name=name)])
        track += [
            mido.Message("note_on", note=60, velocity=9),
            mido.Message("note_off", note=60, time=9),
        ]
        file.tracks.append(track)
    path = tmp_path / "two\x1b[2J.mid"
    file.save(path)
    for words in (
        ("tab", path),
        ("check", tmp_path / "\x1b[2J.yaml"),
        ("chord", "\x1b[31mC"),
        ("feels", "\x1b[31m"),
        ("\x1b[31m",),
    ):
        answer = genex(*words)
        assert answer.code == 2
        assert "\x1b" not in answer.err + answer.out
