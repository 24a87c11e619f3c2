"""Strategies over the grammar of what people hand to genex, and what must hold for all of it.

``tests/test_fuzzed.py`` draws a few dozen of each; ``python -m tests.bench.fuzz SECONDS`` goes on for
as long as is wished.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import sys
import tempfile
from pathlib import Path

import mido
from hypothesis import strategies as st

from genex.band import groove_names
from genex.cli import main
from genex.fretboard import TUNINGS
from genex.recipe.fields import RecipeFields
from genex.recipe.series import SeriesFields
from genex.theory.qualities import QUALITIES

ROOTS = [letter + sign for letter in "CDEFGAB" for sign in ("", "b", "#")]
ENDINGS = sorted(QUALITIES)
ODD = [
    *("", " ", "\x00", "\x1b[31m", "\u202e", "🎸", "ü", "'", '"', "{", "[", "&a", "*a", "!!x", "#", "%"),
    *("|", ":", "- ", "?", "9" * 40, "-1", "1e400", "nan", "../..", "a" * 300, "\n", "\t"),
]

words = st.one_of(st.sampled_from(ODD), st.text(max_size=12))
chords = st.builds(str.__add__, st.sampled_from(ROOTS), st.sampled_from(ENDINGS))
bars = st.one_of(
    chords,
    st.lists(chords, min_size=2, max_size=4).map(" ".join),
    st.sampled_from(
        ["%", "N.C.", "Dm7 / / G7", "ii7", "V7", "Imaj7", "|: C", "F :|", "[1. G7", "[2. C"]
    ),
    words,
)
charts = st.lists(bars, min_size=1, max_size=8).map(" | ".join)
numbers = st.one_of(
    st.integers(-3, 70), st.floats(allow_nan=True, allow_infinity=True), st.integers(-(10**30), 10**30)
)
values = st.recursive(
    st.one_of(words, numbers, st.booleans(), st.none(), charts),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(words, inner, max_size=3)),
    max_leaves=5,
)
FIELDS = {
    "title": words,
    "tempo": st.one_of(st.integers(30, 300), values),
    "key": st.one_of(st.sampled_from([*ROOTS, "G minor"]), values),
    "keys": st.one_of(st.sampled_from(["fourths", ["C", "F"]]), values),
    "tempos": st.one_of(st.just([90, 120]), st.just({"start": 80, "end": 100, "step": 10}), values),
    "meter": st.one_of(st.sampled_from(["4/4", "3/4", "6/8", "12/8", "7/8", "5/4", "2/2"]), values),
    "feel": st.one_of(st.sampled_from([*groove_names(), "./mine.yaml", "phrase.mid"]), values),
    "repeats": st.one_of(st.integers(1, 3), values),
    "pickup": st.one_of(st.sampled_from([1, 0.5, "1/8"]), values),
    "exercise": st.one_of(
        st.sampled_from(["arpeggio", "changes", "targets", "scales", "etude", "shapes", "sequence",
                         "tour", {"kind": "calls", "calls": 2}, {"kind": "drill", "ask": "interval"},
                         {"kind": "positions", "phrase": "phrase.mid"},
                         "grips", {"kind": "grips", "voicings": "open, barre", "low": "E3"}]),
        values,
    ),
    "outputs": st.one_of(st.sampled_from(["midi", "loop take", "handout diagrams"]), values),
    "tuning": st.one_of(st.sampled_from([*TUNINGS]), values),
    "sections": st.one_of(st.dictionaries(words, charts, max_size=3), values),
    "lessons": st.one_of(st.just(["recipe.yaml", "other.yaml"]), values),
}  # fmt: skip
OWN_WORDS = st.fixed_dictionaries(
    {"title": st.one_of(st.just("Shapes"), words)},
    optional={name: FIELDS[name] for name in ("exercise", "tempo", "outputs", "meter", "keys", "feel")}
    | {"chords": charts, "form": words, "handout": values, "audio": values},
)
FIELDS["exercises"] = st.one_of(st.lists(OWN_WORDS, min_size=1, max_size=3), values)
ALL_FIELDS = RecipeFields.model_fields.keys() | SeriesFields.model_fields.keys()
OTHER_FIELDS = sorted(ALL_FIELDS - FIELDS.keys())


@st.composite
def recipes(draw) -> bytes:
    """Text of a recipe: often in order, often nearly so."""
    fields = {"chords": draw(charts)} if draw(st.integers(0, 9)) else {}
    for name in draw(st.lists(st.sampled_from(sorted(FIELDS)), max_size=4, unique=True)):
        fields[name] = draw(FIELDS[name])
    for name in draw(st.lists(st.sampled_from(OTHER_FIELDS), max_size=2, unique=True)):
        fields[name] = draw(values)
    lines = [f"{name}: {json.dumps(value)}" for name, value in fields.items()]
    return draw(mutated("\n".join(lines).encode("utf-8", "replace")))


GROOVE = {
    "title": "Mine", "about": "Ours.", "meters": ["4/4"], "tempo": {"from": 60, "to": 200, "usual": 100},
    "swing": "none",
    "drums": {"kit": "standard", "layers": {"a": [{"kick": "7 . 7 .", "snare": ". 7 . 7"}]},
              "fills": [{"snare": ". . . 56"}]},
    "bass": {"instrument": "acoustic bass", "patterns": {"R - v -": 3, "R - 5 a": 1}},
    "comping": {"instrument": "jazz guitar", "voicings": ["drop 2"], "rhythms": {"7 .4 . .": 2}},
}  # fmt: skip


@st.composite
def grooves(draw) -> bytes:
    """Text of a groove file with some of its values changed."""
    groove = json.loads(json.dumps(GROOVE))
    for _ in range(draw(st.integers(0, 3))):
        place = groove
        for _ in range(draw(st.integers(0, 3))):
            key = draw(st.sampled_from(sorted(place))) if place else ""
            if not isinstance(place.get(key), dict) or not place[key]:
                break
            place = place[key]
        key = draw(st.one_of(st.sampled_from(sorted(place) or [""]), words))
        if draw(st.booleans()):
            place[key] = draw(st.one_of(values, st.text("123456789 .-Rva5", max_size=12)))
        else:
            place.pop(key, None)
    return draw(mutated(json.dumps(groove).encode("utf-8", "replace")))


@st.composite
def midi_files(draw) -> bytes:
    """A phrase with odd messages in it, as bytes, some of them changed."""
    file = mido.MidiFile(ticks_per_beat=draw(st.sampled_from([1, 24, 96, 480, 32767])))
    for _ in range(draw(st.integers(0, 2))):
        line = mido.MidiTrack()
        for _ in range(draw(st.integers(0, 12))):
            time = draw(st.sampled_from([0, 1, 96, 480, 100_000, 10_000_000]))
            kind = draw(st.integers(0, 9))
            if kind == 0:
                line.append(
                    mido.MetaMessage("set_tempo", tempo=draw(st.integers(0, 0xFFFFFF)), time=time)
                )
            elif kind == 1:
                upper, lower = draw(st.integers(0, 255)), 2 ** draw(st.integers(0, 7))
                line.append(
                    mido.MetaMessage("time_signature", numerator=upper, denominator=lower, time=time)
                )
            elif kind == 2:
                line.append(mido.MetaMessage("track_name", name=draw(st.text("ab\x1b[m", max_size=5))))
            else:
                key = draw(st.integers(0, 127))
                line.append(mido.Message("note_on", note=key, velocity=64, time=time))
                line.append(mido.Message("note_off", note=key, time=draw(st.sampled_from([0, 1, 240]))))
        file.tracks.append(line)
    held = io.BytesIO()
    file.save(file=held)
    return draw(mutated(held.getvalue()))


@st.composite
def mutated(draw, data: bytes) -> bytes:
    """Mostly the data as it is; else with a few bytes changed, put in, or cut off."""
    if draw(st.integers(0, 3)):
        return data
    held = bytearray(data)
    for _ in range(draw(st.integers(1, 3))):
        at = draw(st.integers(0, len(held)))
        kind = draw(st.integers(0, 2))
        if kind == 0:
            held[at : at + 1] = draw(st.binary(min_size=1, max_size=2))
        elif kind == 1:
            held[at:at] = draw(st.sampled_from([word.encode("utf-8") for word in ODD]))
        else:
            del held[at : at + draw(st.integers(1, 8))]
    return bytes(held)


COMMANDS = {
    "chord": ["--json", "-h"],
    "shapes": [
        "--form",
        "--scale",
        "--tuning",
        "--frets",
        "--capo",
        "--hand",
        "--label",
        "--width",
        "--json",
    ],
    "tab": ["--tuning", "--capo", "--position", "--hand", "--track", "--width", "--json"],
    "check": ["--json", "-q"],
    "verify": ["--json", "-q"],
    "new": ["--example", "--json"],
    "build": ["--dry-run", "--json", "--out", "--soundfont", "--rebuild"],
    "feels": ["--json"],
    "nothing": [],
}
ARGUMENTS = st.one_of(
    chords, words.map(lambda word: word.replace("\x00", "0")),
    st.sampled_from(["recipe.yaml", "other.yaml", "phrase.mid", ".", "0", "7", "-5", "99", "E",
                     "dorian", "DADGAD"]),
)  # fmt: skip


@st.composite
def command_lines(draw) -> list[str]:
    """Words of a command line. Builds are dry: nothing is rendered."""
    command = draw(st.sampled_from(sorted(COMMANDS)))
    given_words = draw(
        st.lists(st.one_of(ARGUMENTS, st.sampled_from([*COMMANDS[command], "--"])), max_size=5)
    )
    return [command, *(["--dry-run"] if command == "build" else []), *given_words]


def run(lines: list[list[str]], files: dict[str, bytes]) -> list[tuple[int, str, str]]:
    """Run command lines in a folder with some files: exit code, answer and what else was said."""
    answers = []
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        for name, data in files.items():
            Path(name).write_bytes(data)
        before = sys.argv
        for line in lines:
            out, err = io.StringIO(), io.StringIO()
            sys.argv = ["genex", *line]
            code = 0
            try:
                with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
                    main()
            except SystemExit as end:
                code = end.code if isinstance(end.code, int) else int(end.code is not None)
            finally:
                sys.argv = before
            answers.append((code, out.getvalue(), err.getvalue()))
    return answers


def require_answered(code: int, out: str, err: str) -> None:
    """Done, or told what is wrong: briefly, cleanly, and never as a fault of genex."""
    assert code in (0, 1, 2), (code, err)
    assert "fault in genex" not in err and "Traceback" not in err, err
    assert "\x1b" not in out + err and "\u202e" not in out + err
    assert len(err) < 20_000
    if code == 2 and "--json" not in err:
        assert (out + err).strip()


OTHER = b"title: Other\nchords: C | F\noutputs: midi\n"
os.environ.setdefault("GENEX_DEBUG", "")
