"""General MIDI level 1: program numbers, drum kits and percussion keys, in one place.

Programs count from 0, as they are sent. ``INSTRUMENTS`` and ``KITS`` hold the plain trade words
that recipes use, ``PERCUSSION`` those for keys. The names in ``GM_FAMILIES`` and the keys are those
of the General MIDI level 1 sound set [published: MMA, General MIDI System Level 1, 1991]; kit
numbers are those of the GS and GM level 2 drum channel [common practice].
"""

from __future__ import annotations

GM_FAMILIES: dict[str, tuple[str, ...]] = {
    "Piano": (
        "Acoustic Grand Piano",
        "Bright Acoustic Piano",
        "Electric Grand Piano",
        "Honky-tonk Piano",
        "Electric Piano 1",
        "Electric Piano 2",
        "Harpsichord",
        "Clavinet",
    ),
    "Chromatic Percussion": (
        "Celesta",
        "Glockenspiel",
        "Music Box",
        "Vibraphone",
        "Marimba",
        "Xylophone",
        "Tubular Bells",
        "Dulcimer",
    ),
    "Organ": (
        "Drawbar Organ",
        "Percussive Organ",
        "Rock Organ",
        "Church Organ",
        "Reed Organ",
        "Accordion",
        "Harmonica",
        "Tango Accordion",
    ),
    "Guitar": (
        "Acoustic Guitar (nylon)",
        "Acoustic Guitar (steel)",
        "Electric Guitar (jazz)",
        "Electric Guitar (clean)",
        "Electric Guitar (muted)",
        "Overdriven Guitar",
        "Distortion Guitar",
        "Guitar Harmonics",
    ),
    "Bass": (
        "Acoustic Bass",
        "Electric Bass (finger)",
        "Electric Bass (pick)",
        "Fretless Bass",
        "Slap Bass 1",
        "Slap Bass 2",
        "Synth Bass 1",
        "Synth Bass 2",
    ),
    "Strings": (
        "Violin",
        "Viola",
        "Cello",
        "Contrabass",
        "Tremolo Strings",
        "Pizzicato Strings",
        "Orchestral Harp",
        "Timpani",
    ),
    "Ensemble": (
        "String Ensemble 1",
        "String Ensemble 2",
        "Synth Strings 1",
        "Synth Strings 2",
        "Choir Aahs",
        "Voice Oohs",
        "Synth Choir",
        "Orchestra Hit",
    ),
    "Brass": (
        "Trumpet",
        "Trombone",
        "Tuba",
        "Muted Trumpet",
        "French Horn",
        "Brass Section",
        "Synth Brass 1",
        "Synth Brass 2",
    ),
    "Reed": (
        "Soprano Sax",
        "Alto Sax",
        "Tenor Sax",
        "Baritone Sax",
        "Oboe",
        "English Horn",
        "Bassoon",
        "Clarinet",
    ),
    "Pipe": (
        "Piccolo",
        "Flute",
        "Recorder",
        "Pan Flute",
        "Blown bottle",
        "Shakuhachi",
        "Whistle",
        "Ocarina",
    ),
    "Synth Lead": (
        "Lead 1 (square)",
        "Lead 2 (sawtooth)",
        "Lead 3 (calliope)",
        "Lead 4 chiff",
        "Lead 5 (charang)",
        "Lead 6 (voice)",
        "Lead 7 (fifths)",
        "Lead 8 (bass + lead)",
    ),
    "Synth Pad": (
        "Pad 1 (new age)",
        "Pad 2 (warm)",
        "Pad 3 (polysynth)",
        "Pad 4 (choir)",
        "Pad 5 (bowed)",
        "Pad 6 (metallic)",
        "Pad 7 (halo)",
        "Pad 8 (sweep)",
    ),
    "Synth Effects": (
        "FX 1 (rain)",
        "FX 2 (soundtrack)",
        "FX 3 (crystal)",
        "FX 4 (atmosphere)",
        "FX 5 (brightness)",
        "FX 6 (goblins)",
        "FX 7 (echoes)",
        "FX 8 (sci-fi)",
    ),
    "Ethnic": ("Sitar", "Banjo", "Shamisen", "Koto", "Kalimba", "Bagpipe", "Fiddle", "Shanai"),
    "Percussive": (
        "Tinkle Bell",
        "Agogo",
        "Steel Drums",
        "Woodblock",
        "Taiko Drum",
        "Melodic Tom",
        "Synth Drum",
        "Reverse Cymbal",
    ),
    "Sound Effects": (
        "Guitar Fret Noise",
        "Breath Noise",
        "Seashore",
        "Bird Tweet",
        "Telephone Ring",
        "Helicopter",
        "Applause",
        "Gunshot",
    ),
}

GM_PROGRAMS: tuple[str, ...] = tuple(name for family in GM_FAMILIES.values() for name in family)
"""The 128 program names, by program number."""

INSTRUMENTS: dict[str, int] = {
    "piano": 0,
    "electric piano": 4,
    "vibraphone": 11,
    "organ": 16,
    "rock organ": 18,
    "nylon guitar": 24,
    "steel guitar": 25,
    "jazz guitar": 26,
    "clean guitar": 27,
    "muted guitar": 28,
    "overdriven guitar": 29,
    "acoustic bass": 32,
    "electric bass": 33,
    "fretless bass": 35,
    "strings": 48,
    "alto sax": 65,
    "tenor sax": 66,
    "clarinet": 71,
    "flute": 73,
    "warm pad": 89,
}
"""Melodic instruments by the words a player uses."""

KITS: dict[str, int] = {"standard": 0, "room": 8, "jazz": 32, "brush": 40}
"""Drum kits: program numbers on the percussion channel."""

PERCUSSION: dict[str, int] = {
    "kick": 36,
    "side stick": 37,
    "snare": 38,
    "hand clap": 39,
    "closed hi-hat": 42,
    "pedal hi-hat": 44,
    "open hi-hat": 46,
    "low floor tom": 41,
    "high floor tom": 43,
    "low tom": 45,
    "low-mid tom": 47,
    "hi-mid tom": 48,
    "high tom": 50,
    "crash": 49,
    "second crash": 57,
    "ride": 51,
    "second ride": 59,
    "ride bell": 53,
    "splash": 55,
    "tambourine": 54,
    "cowbell": 56,
    "mute high conga": 62,
    "open high conga": 63,
    "low conga": 64,
    "high bongo": 60,
    "low bongo": 61,
    "cabasa": 69,
    "maracas": 70,
    "claves": 75,
    "high wood block": 76,
    "low wood block": 77,
    "mute triangle": 80,
    "open triangle": 81,
}
"""Percussion keys by the words a drummer uses."""

CLICK_KEYS = frozenset((PERCUSSION["high wood block"], PERCUSSION["low wood block"]))
"""What a click is struck on."""

PERCUSSION_CHANNEL = 9
"""MIDI channel 10, counted from 0."""


def program_name(program: int, *, percussion: bool = False) -> str:
    """The name of a program or, on the percussion channel, of a kit. Raises IndexError."""
    if not percussion:
        return GM_PROGRAMS[program]
    for name, number in KITS.items():
        if number == program:
            return f"{name} kit"
    return f"kit {program}"
