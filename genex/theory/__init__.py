"""Pitch, chords, scales, keys. Pure functions on values: no time, no files."""

from genex.theory.analysis import Analysis, Reading, analyse
from genex.theory.chord import Chord, distinct_chords
from genex.theory.chord_scales import scales_for
from genex.theory.foreign import NoteNames, english_note, english_syllable
from genex.theory.key import (
    CYCLES,
    Key,
    all_keys,
    interval_between,
    key_cycle,
    simplest_key,
    spelled_key,
    transpose_chord,
    transpose_key,
)
from genex.theory.likely_key import likely_key
from genex.theory.names import Description, TypeName, describe
from genex.theory.numerals import numeral
from genex.theory.pitch import STEP_SEMITONES, STEPS, Degree, Interval, NoteName, Pitch
from genex.theory.places import Place
from genex.theory.roman import chord_from_numeral, is_numeral, join_numbers, parse_progression
from genex.theory.scales import SCALES, Scale, find_scale
from genex.theory.stacks import stacked_thirds, without_clash
from genex.theory.symbol import NO_CHORD, is_no_chord, parse_chord, without_optional
from genex.theory.triad_pairs import TriadPair, triad_pair
from genex.theory.voice_leading import movement, smallest_leading, smoothest_path
from genex.theory.voicings import STYLES, Voicing, essential_degrees, upper_triads, voicings

__all__ = [
    "CYCLES",
    "NO_CHORD",
    "SCALES",
    "STEPS",
    "STEP_SEMITONES",
    "STYLES",
    "Analysis",
    "Chord",
    "Degree",
    "Description",
    "Interval",
    "Key",
    "NoteName",
    "NoteNames",
    "Pitch",
    "Place",
    "Reading",
    "Scale",
    "TriadPair",
    "TypeName",
    "Voicing",
    "all_keys",
    "analyse",
    "chord_from_numeral",
    "describe",
    "distinct_chords",
    "english_note",
    "english_syllable",
    "essential_degrees",
    "find_scale",
    "interval_between",
    "is_no_chord",
    "is_numeral",
    "join_numbers",
    "key_cycle",
    "likely_key",
    "movement",
    "numeral",
    "parse_chord",
    "parse_progression",
    "scales_for",
    "simplest_key",
    "smallest_leading",
    "smoothest_path",
    "spelled_key",
    "stacked_thirds",
    "transpose_chord",
    "transpose_key",
    "triad_pair",
    "upper_triads",
    "voicings",
    "without_clash",
    "without_optional",
]
