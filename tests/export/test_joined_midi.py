"""Takes one after another as one MIDI file, held to the MIDI of each take by itself.

[package: pretty_midi 0.2] reads both.
"""

from __future__ import annotations

import csv
import io
import json
from fractions import Fraction as F
from random import Random

import mido
import pretty_midi
import pytest

from genex.compose import Composer
from genex.export.captions import Turn, timeline_rows, turns_csv, turns_json
from genex.export.joined_midi import joined_midi
from genex.export.midi import midi_bytes
from genex.recipe import parse_recipe

RATE = 44_100
RECIPES = (
    "title: One\nkey: Bb\ntempo: 97\nchords: Cm7 | F7 | Bbmaj7 | %\nparts: drums bass exercise\n"
    'exercise: {kind: line, abc: "M:4/4\\nC2 !bend!E2 F4 | A8 |"}\ncount_in: 1\n',
    "title: Two\nkey: E minor\nmeter: 6/8\ntempo: 71\nchords: Em | (3/4) Am7 | (6/8) B7\n"
    "parts: comping exercise\nexercise: {kind: changes, sound: piano}\ncount_in: 2\n",
    "title: Three\nkey: Bb\ntempo: 133\nparts: click exercise\nexercise: arpeggio\n"
    "sections: {A: Bb6 | Gm7, B: {chords: Eb6 | Bb6, tempo: 90}}\ncount_in: 0\n",
)


@pytest.fixture(scope="module")
def turns() -> list[Turn]:
    rng, at, found = Random(3), F(0), []
    for number, text in enumerate(RECIPES, start=1):
        recipe = parse_recipe(text)
        take = Composer(recipe).piece(recipe.versions[0], ending=True).score
        start = F(
            -(-at * RATE // 1) + rng.randrange(3 * RATE, 6 * RATE), RATE
        )  # what rings out, and the pause
        found.append(Turn(take, None, start - 3, start, f"{number}. {recipe.title}"))
        at = start + take.tempo.seconds_at(take.length_beats + take.lead_in_beats)
    return found


def notes_of(data: bytes) -> list[tuple[float, float, int, int, bool, int]]:
    read = pretty_midi.PrettyMIDI(io.BytesIO(data))
    return sorted(
        (note.start, note.end, note.pitch, note.velocity, one.is_drum, 0 if one.is_drum else one.program)
        for one in read.instruments
        for note in one.notes
    )


def test_every_note_sounds_as_in_its_take_and_later(turns: list[Turn]) -> None:
    wanted = sorted(
        (note[0] + float(turn.start_seconds), note[1] + float(turn.start_seconds), *note[2:])
        for turn in turns
        for note in notes_of(midi_bytes(turn.score, include_lead_in=True))
    )
    found = notes_of(joined_midi("Evening", turns))
    assert len(found) == len(wanted) > 60
    for ours, theirs in zip(found, wanted, strict=True):
        assert ours[:2] == pytest.approx(theirs[:2], abs=2e-5)
        assert ours[2:] == theirs[2:]


def test_bars_keys_and_announcements(turns: list[Turn]) -> None:
    data = joined_midi("Evening", turns)
    read = pretty_midi.PrettyMIDI(io.BytesIO(data))
    downbeats = read.get_downbeats()
    for turn in turns:
        # A bar of the piece begins with the count-in, or where there is none with the first bar.
        start = float(turn.start_seconds)
        assert min(abs(downbeats - start)) < 2e-5
        alone = pretty_midi.PrettyMIDI(io.BytesIO(midi_bytes(turn.score, include_lead_in=True)))
        theirs = {
            (round(one.time + start, 3), one.numerator, one.denominator)
            for one in alone.time_signature_changes
        }
        ours = {
            (round(one.time, 3), one.numerator, one.denominator) for one in read.time_signature_changes
        }
        assert theirs <= ours
    assert [one.key_number for one in read.key_signature_changes] == [10, 16, 10]
    track = mido.MidiFile(file=io.BytesIO(data)).tracks[0]
    at, said = 0, []
    for message in track:
        at += message.time
        if message.type == "cue_marker" and message.text[0].isdigit():
            said.append((message.text, read.tick_to_time(at)))
    assert [text for text, _ in said] == ["1. One", "2. Two", "3. Three"]
    assert [second for _, second in said] == pytest.approx(
        [float(turn.announced_seconds) for turn in turns], abs=0.001
    )


def test_one_name_is_one_track(turns: list[Turn]) -> None:
    tracks = mido.MidiFile(file=io.BytesIO(joined_midi("Evening", turns))).tracks
    names = [track.name for track in tracks]
    assert names[0] == "Evening" and len(set(names)) == len(names) and names.count("exercise") == 1
    programs = [one.program for one in tracks[names.index("exercise")] if one.type == "program_change"]
    assert programs == [26, 0, 26]


def test_the_beats_of_all_takes(turns: list[Turn]) -> None:
    rows = list(csv.DictReader(io.StringIO(turns_csv(turns, RATE))))
    content = json.loads(turns_json("Evening", turns, RATE))
    assert [one["announcement"] for one in content["exercises"]] == ["1. One", "2. Two", "3. Three"]
    assert [one["key"] for one in content["exercises"]] == ["Bb major", "E minor", "Bb major"]
    wanted = [
        (turn.announcement, row.bar, row.sample + turn.start_seconds * RATE)
        for turn in turns
        for row in timeline_rows(turn.score, RATE, include_lead_in=True)
    ]
    assert [(row["exercise"], int(row["bar"]), int(row["sample"])) for row in rows] == wanted
    flat = [row["sample"] for one in content["exercises"] for row in one["rows"]]
    assert flat == [sample for *_, sample in wanted]
