"""What stands under the chords of a chart: Roman numerals and the names of chord scales.

With a capo the shape of each chord comes first: what the hand holds, as it is called without a capo.

A numeral is one of the key that the chord is read in. Where that is another key than that of the
chord before, the key stands before it, as in ``Db: ii7`` [common practice].
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from typing import Literal

from genex.exact import Fraction
from genex.export.made_texts import scale_name
from genex.export.note_names import chord_name, key_words, root_name
from genex.export.phrases import words
from genex.export.typography import with_signs
from genex.score import Timeline
from genex.theory import Chord, Key, Reading, simplest_key, transpose_chord

UnderChords = Literal["numerals", "scales"]
Texts = tuple[str, ...]
"""One text for each of the words asked for, in the order of ``UNDER_CHORDS``; empty under N.C."""

_KEY_SIGN = ": "
"""Between a key and the numeral in it; no line breaks there."""

_FLAT_DEGREE = re.compile(r"(?<![A-Za-z])b(?=[IViv])")

UNDER_CHORDS: tuple[UnderChords, ...] = ("numerals", "scales")


def shape_key(key: Key, capo: int) -> Key:
    """The key whose chords are held where ``key`` sounds with a capo, of few accidentals."""
    return simplest_key((key.tonic.pitch_class - capo) % 12, key.mode, flats=False)


def shape_chord(chord: Chord, key: Key, capo: int) -> Chord:
    """The chord that is held where ``chord`` sounds in ``key`` with a capo."""
    return transpose_chord(chord, key, shape_key(key, capo))


def texts_under(
    timeline: Timeline,
    wanted: Iterable[UnderChords],
    capo: int = 0,
    phrases: Mapping[str, str] | None = None,
) -> dict[Fraction, Texts]:
    """The texts under each chord by its onset; empty where nothing is wanted.

    With a ``capo`` the first one is the chord's shape.

    At the beginning of a section, of a repeat and of an ending, to which a reader jumps, the key of
    the piece is understood and every other is named.
    """
    asked = [word for word in UNDER_CHORDS if word in set(wanted)]
    if not (asked or capo) or not timeline.has_chords:
        return {}
    named = words() if phrases is None else phrases
    fresh = {section.onset_beats for section in timeline.sections}
    for repeat in timeline.repeats:
        fresh |= {repeat.end_beats}
        fresh |= {onset for turn in repeat.passes for onset in (turn.onset_beats, turn.ending_beats)}
    found: dict[Fraction, Texts] = {}
    before = timeline.key
    for span, reading in zip(timeline.chords, timeline.readings, strict=True):
        if span.onset_beats in fresh:
            before = timeline.key
        texts = tuple(_text(word, reading, before, named) for word in asked)
        if capo:
            held = chord_name(shape_chord(span.chord, timeline.key, capo) if span.chord else None, named)
            texts = (held, *texts)
        found[span.onset_beats] = texts
        if reading.chord is not None:
            before = reading.key
    return found


def _text(word: UnderChords, reading: Reading, before: Key, phrases: Mapping[str, str]) -> str:
    if reading.chord is None or reading.scale is None:
        return ""
    if word == "scales":
        return scale_name(reading.scale, phrases)
    return (
        reading.numeral
        if reading.key == before
        else f"{short_key(reading.key, phrases)}{_KEY_SIGN}{reading.numeral}"
    )


def short_key(key: Key, phrases: Mapping[str, str]) -> str:
    """A key as it stands before a numeral: ``Db``, ``Gm``, ``D dorian`` [common practice]."""
    if key.mode not in _SHORT_MODES:
        return key_words(key, phrases)
    return f"{root_name(key.tonic, phrases)}{_SHORT_MODES[key.mode]}"


_SHORT_MODES: Mapping[str, str] = {"major": "", "minor": "m"}


def aligned(blocks: Sequence[tuple[Texts, int]]) -> list[list[str]]:
    """Lines under the chords of a row, from ``(texts, letters in a line)`` of each.

    Texts are broken between words only; each begins on the same line under all of the chords.
    """
    broken = [[_broken(text, room) for text in texts] for texts, room in blocks]
    heights = [max(map(len, column)) for column in zip(*broken, strict=True)]
    return [
        [
            line
            for lines, height in zip(block, heights, strict=True)
            for line in [*lines, *[""] * (height - len(lines))]
        ]
        for block in broken
    ]


def _broken(text: str, room: int) -> list[str]:
    if _KEY_SIGN in text:
        return [text]
    return textwrap.wrap(text, max(1, room), break_long_words=False, break_on_hyphens=False)


def longest_word(texts: Texts) -> int:
    """Letters of the longest piece that no line break can shorten."""
    pieces = [piece for text in texts for piece in ([text] if _KEY_SIGN in text else text.split())]
    return max(map(len, pieces), default=0)


def in_signs(text: str) -> str:
    """A text as paper and screens show it, with ♭ and ♯ also before numerals."""
    return _FLAT_DEGREE.sub("♭", with_signs(text))
