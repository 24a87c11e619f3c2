"""General MIDI numbers against the published tables."""

from __future__ import annotations

import csv
from pathlib import Path

from genex.score.gm import GM_FAMILIES, GM_PROGRAMS, INSTRUMENTS, KITS, PERCUSSION, program_name

DATA = Path(__file__).parents[1] / "data"


def test_program_names_are_the_published_ones():
    # [package: pretty_midi 0.2.11] constants, after [published: MMA General MIDI level 1]
    with (DATA / "gm_programs.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [row["pretty_midi_name"] for row in rows] == list(GM_PROGRAMS)
    assert [int(row["program_0based"]) for row in rows] == list(range(128))
    family_of = {name: family for family, names in GM_FAMILIES.items() for name in names}
    assert all(family_of[row["pretty_midi_name"]] == row["family"] for row in rows)


# What a drummer's word is called in the table, where the words differ.
CALLED = {
    "kick": "Bass Drum 1",
    "snare": "Acoustic Snare",
    "closed hi-hat": "Closed Hi Hat",
    "pedal hi-hat": "Pedal Hi Hat",
    "open hi-hat": "Open Hi Hat",
    "crash": "Crash Cymbal 1",
    "second crash": "Crash Cymbal 2",
    "ride": "Ride Cymbal 1",
    "second ride": "Ride Cymbal 2",
    "splash": "Splash Cymbal",
    "mute high conga": "Mute Hi Conga",
    "open high conga": "Open Hi Conga",
    "high bongo": "Hi Bongo",
    "high wood block": "Hi Wood Block",
}


def test_drummers_words_mean_the_published_keys():
    # [package: pretty_midi 0.2.11] constants, after [published: MMA General MIDI level 1]
    with (DATA / "gm_percussion.csv").open(encoding="utf-8") as file:
        published = {row["pretty_midi_name"]: int(row["note"]) for row in csv.DictReader(file)}
    for word, key in PERCUSSION.items():
        assert published[CALLED.get(word, word.title())] == key, word


MEANT = {
    "piano": "Acoustic Grand Piano",
    "electric piano": "Electric Piano 1",
    "vibraphone": "Vibraphone",
    "organ": "Drawbar Organ",
    "rock organ": "Rock Organ",
    "nylon guitar": "Acoustic Guitar (nylon)",
    "steel guitar": "Acoustic Guitar (steel)",
    "jazz guitar": "Electric Guitar (jazz)",
    "clean guitar": "Electric Guitar (clean)",
    "muted guitar": "Electric Guitar (muted)",
    "overdriven guitar": "Overdriven Guitar",
    "acoustic bass": "Acoustic Bass",
    "electric bass": "Electric Bass (finger)",
    "fretless bass": "Fretless Bass",
    "strings": "String Ensemble 1",
    "alto sax": "Alto Sax",
    "tenor sax": "Tenor Sax",
    "clarinet": "Clarinet",
    "flute": "Flute",
    "warm pad": "Pad 2 (warm)",
}


def test_players_words_mean_the_published_programs():
    assert {word: GM_PROGRAMS[program] for word, program in INSTRUMENTS.items()} == MEANT


def test_kits_are_those_of_the_drum_channel():
    # [common practice] GS and General MIDI level 2 kits, 0-based
    assert KITS == {"standard": 0, "room": 8, "jazz": 32, "brush": 40}


def test_kits_have_names_too():
    assert program_name(32, percussion=True) == "jazz kit"
    assert program_name(33, percussion=True) == "kit 33"
    assert program_name(0) == "Acoustic Grand Piano"
