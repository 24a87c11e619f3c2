"""What was meant by words that a recipe does not have: what other people call things, and examples.

Tables only, as ``genex/text/messages.py`` takes them.
"""

from __future__ import annotations

import re

from genex.errors import RecipeError
from genex.text.messages import Wording

FIELDS = {
    "arrangement": "'form' gives the order of the sections",
    "bars": "the bars are written in 'chords'",
    "beat": "'meter' is the time signature, 'feel' what the band plays",
    "bpm": "'tempo' gives the beats a minute",
    "changes": "'chords' gives the chart",
    "chart": "'chords' gives the chart; 'outputs: chart' prints it",
    "chorus": "'repeats' says how many choruses are played",
    "choruses": "'repeats' says how many choruses are played",
    "format": "write 'audio: {format: mp3}'",
    "groove": "'feel' says how the band plays",
    "harmony": "'chords' gives the chart",
    "instrument": "'sound' is the instrument of a line: 'exercise: {kind: arpeggio, sound: piano}'",
    "instruments": "'parts' names who plays",
    "key signature": "write 'key: G minor'",
    "lesson": "'lessons' lists the recipes of a series",
    "loop": "write 'outputs: loop'; 'repeats' says how many choruses it holds",
    "loudness": "write 'audio: {loudness: -14}'",
    "metronome": "write 'click: {}'",
    "mode": "write 'key: G minor'",
    "name": "'title' is the name of the lesson",
    "numerals": "write 'under_chords: numerals'",
    "position": "write it into the exercise: 'exercise: {kind: arpeggio, position: 5}'",
    "practice": "'exercise' says what is practised",
    "progression": "'chords' gives the chart",
    "rhythm": "'feel' says how the band plays; an exercise has a 'rhythm' of its own",
    "scale": "write it into the exercise: 'exercise: {kind: sequence, scale: dorian}'",
    "signature": "'meter' is the time signature, 'key' the key",
    "soundfont": "write 'audio: {soundfont: my.sf2}'",
    "speed": "'tempo' gives the beats a minute",
    "structure": "'form' gives the order of the sections",
    "style": "'feel' says how the band plays",
    "time": "'meter' is the time signature",
    "time signature": "'meter' is the time signature",
    "transpose": "'keys' lists the keys that the files are made in",
    "volume": "write 'mix: {bass: {level: -3}}'",
}
FIELDS |= dict.fromkeys(
    ("anacrusis", "auftakt", "pick up", "pickups", "upbeat"),
    "'pickup' is what comes before bar 1: 'pickup: 1'",
)
_GROOVE = "it belongs into a groove file, which a recipe names: 'feel: ./my-feel.yaml'"
FIELDS |= dict.fromkeys(("about", "meters", "grouping", "swing of"), _GROOVE)
FIELDS |= dict.fromkeys(
    ("drums", "bass", "comping"), f"'parts' names who plays, 'mix' how loud; or {_GROOVE}"
)
"""Names of fields: what stands in their place."""

_SOUND_FILE = "the sound is written by loop, band or take; 'audio: {{format: {0}}}' sets how"
WORDS: dict[str, dict[str, str]] = {
    "outputs": {
        **{word: _SOUND_FILE.format(word) for word in ("mp3", "flac", "ogg", "opus")},
        **dict.fromkeys(("audio", "wav", "sound"), "write loop, band or take: WAV files"),
        **dict.fromkeys(
            ("mp4", "mov", "video"), "genex makes no video: write take captions, to lay under your own"
        ),
        **dict.fromkeys(("pdf", "sheet", "worksheet"), "write handout: the student's sheet as PDF"),
        **dict.fromkeys(("png", "svg", "shapes"), "write diagrams: the shapes as pictures"),
        **dict.fromkeys(("notation", "score", "xml"), "write musicxml, or handout for print"),
        **dict.fromkeys(("text", "tabs", "txt"), "write tab"),
    },
    "parts": {
        "and": "write the names alone: drums bass",
        **dict.fromkeys(("piano", "guitar", "keys", "chords", "keyboard", "organ"), "write comping"),
        **dict.fromkeys(("melody", "lead", "solo"), "write guide or exercise"),
        **dict.fromkeys(("metronome", "count", "clicks"), "write click"),
        **dict.fromkeys(("band", "all", "everything"), "write drums bass comping"),
    },
    "exercise": {
        "guide tones": "the guide-tone line is a part of its own: 'parts: drums bass comping guide'",
        "guide": "the guide-tone line is a part of its own: 'parts: drums bass comping guide'",
        "improvisation": "did you mean 'etude'?",
        "solo": "did you mean 'etude'?",
        "ear training": "did you mean 'drill'?",
        "call and response": "did you mean 'calls'?",
        "chords": "did you mean 'shapes' or 'arpeggio'?",
    },
    "hand": {"left": "write 'left_handed: true'", "right": "leave the line away"},
    "exercise.rhythm": {
        **dict.fromkeys(
            ("4ths", "4th", "4", "1/4", "quarter", "crotchets"), "did you mean 'quarters'?"
        ),
        **dict.fromkeys(("8ths", "8th", "8", "1/8", "eighth", "quavers"), "did you mean 'eighths'?"),
        **dict.fromkeys(
            ("16ths", "16th", "16", "1/16", "sixteenth", "semiquavers"), "did you mean 'sixteenths'?"
        ),
    },
    "exercise.target": {"3rd": "did you mean 'third'?", "5th": "did you mean 'fifth'?",
                        "7th": "did you mean 'seventh'?", "9th": "did you mean 'ninth'?",
                        "1": "did you mean 'root'?"},
    "exercise.approaches": {
        "chromatic": "write below or above: a half step; double below or double above: two of them",
    },
    "click.beats": {"2 and 4": "did you mean 'two and four'?", "2 4": "did you mean 'two and four'?",
                    "all": "did you mean 'every beat'?", "1": "did you mean 'one'?"},
}  # fmt: skip
"""Words in the value of a field: what to write instead."""
WORDS["minus"] = WORDS["audio.minus"] = WORDS["parts"]

NUMBERS = {
    "tempo": "in beats a minute, such as 120",
    "tempos": "[80, 100, 120], or a ladder {start: 80, end: 120, step: 10}",
    "swing": "the first eighth against the second: 2 for triplet swing, 1 for straight eighths",
    "repeats": "how many choruses, such as 2",
    "count_in": "how many bars, such as 2",
    "capo": "the fret, such as 2",
    "trade": "how many bars, such as 4",
    "seed": "such as 7; another number gives another performance",
    "exercise.position": "the fret of the first finger, such as 5",
    "guide.position": "the fret of the first finger, such as 5",
    "exercise.level": "from 1, easy, to 6",
    "audio.loudness": "in LUFS, below 0, such as -14",
    "audio.ceiling": "in dBTP, below 0, such as -1",
}
"""What the number of a field counts, with an example."""

GROUPS = {
    "audio": "write for example 'audio: {format: mp3}'",
    "click": "write 'click: {}' for a plain click",
    "diagrams": "write 'diagrams: {}', or for example 'diagrams: {format: png}'",
    "exercise": "write one kind, such as 'exercise: arpeggio'; several stand in 'exercises', each with "
    "its title",
    "exercises": "write each as fields: '- {title: Shapes in Time, exercise: shapes}'",
    "guide": "write for example 'guide: {rhythm: half}'; 'minus: guide' leaves it out",
    "handout": "write 'handout: {}' for the usual sheet",
    "mix": "write for example 'mix: {bass: {level: -3}}'",
    "tempo_steps": "write for example 'tempo_steps: {start: 80, end: 120, step: 10}'",
    "sections": "write for example 'A: Gm7 | C7 |' below it, indented",
    "matrix": "write for example 'matrix: {types: maj7 m7, roots: fourths}'",
    "book": "write for example 'book: {types: maj7 m7}'",
    "exercise.scales": "write for example 'scales: {G7: altered}'",
}
"""Fields that have fields of their own: an example."""

LISTS = {
    "tempos": "write 'tempos: [80, 100, 120]' or 'tempos: {start: 80, end: 120, step: 10}'",
    "keys": "write 'keys: [F, Bb, Eb]' or 'keys: fourths'",
    "exercises": "write each on a line with a dash: '- {title: Shapes in Time, exercise: shapes}'",
    "lessons": "write the files as a list: [rain.yaml, snow.yaml]",
    "tuning": "write a list: [D2, A2, D3, G3, B3, E4]",
    "*": "write words: drums bass comping",
}
"""Fields that want a list: an example."""

MISSING = {
    "kind": "add 'kind: arpeggio'",
    "ask": "write 'exercise: {kind: drill, ask: interval}'; or ask chord, degree, rhythm and more",
    "types": "add 'types: maj7 m7 7'",
    "start": "add for example 'start: 80'",
    "end": "add for example 'end: 120'",
    "chords": "add for example 'chords: Gm7 | C7 |'",
}
"""Fields that may not be missing: an example."""

TEXTS = {
    "chords": "write the bars as one text, 'chords: Gm7 | C7 | Fmaj7 |', or named ones in 'sections'",
    "feel": "write one name, such as swing",
}
"""Fields that want a text: an example."""

WORDING = Wording(
    error=RecipeError,
    name="recipe",
    least="'chords: Gm7 | C7 | Fmaj7 |'",
    fields=FIELDS,
    words=WORDS,
    numbers=NUMBERS,
    two_numbers={"tempo": "write one number here, or 'tempos: [{0}, {1}]' for several"},
    texts=TEXTS,
    groups=GROUPS,
    lists=LISTS,
    missing=MISSING,
)

_BAR_LINES = "chords are parted by bar lines: C | F | G7 |"
_NO_CHORD = "a bar without a chord is N.C."
_ORDER = "write named 'sections', and their order in 'form'"
_SIGNS = (
    (re.compile(r"[-–—_~.·,;>→]+"), "hold a chord with a slash, C / F /, and part bars with |"),
    (re.compile(r".*[,;]|[A-G][^,;]*[,;][A-G].*"), _BAR_LINES),
    (
        re.compile(r".*[“”„‘’‚«»\"].*"),
        "leave the quotes away, or put the chart into straight ones",
    ),
    (
        re.compile(r"(tacet|rest|pause|silence|tbd|\?+)\.?", re.IGNORECASE),
        _NO_CHORD,
    ),
    (
        re.compile(r"(d\.?c\.?|d\.?s\.?|al|to|fine|coda|segno)[.:,]?", re.IGNORECASE),
        "behind a bar stand D.C. al Fine, D.S. al Coda, To Coda, Fine, before one Segno and Coda",
    ),
    (
        re.compile(r"(intro|outro|verse|chorus|bridge|solo|head|tag)[:.]?\d*", re.IGNORECASE),
        _ORDER,
    ),
    (
        re.compile(r"//+"),
        "a slash holds a chord for a beat, blanks between them: C / / G; % is the bar before",
    ),
    (re.compile(r"\(?[x×*]\d+\)?|\(?\d+[x×*]\)?"), "a passage played three times is |: C | F :|x3"),
    (re.compile(r"[1-9]\."), "an ending begins with [1. or [2."),
    (
        re.compile(r"\(?\d+/(2|4|8|16)\)?"),
        "the meter stands in 'meter', another one before the first chord of its bar: (3/4) C",
    ),
)
"""What stands in charts and is no chord: what to write instead."""
_NUMERAL_PAIRS = re.compile(r"[1-7]/[1-7]")


def sign_meant(word: str) -> str | None:
    """What to write instead of a word in a chart that cannot be a chord; None for others."""
    if _NUMERAL_PAIRS.fullmatch(word):
        return None
    return next((hint for pattern, hint in _SIGNS if pattern.fullmatch(word)), None)
