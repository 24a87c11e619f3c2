"""The pattern notation of groove files: words for beats, characters for steps, ``|`` for bar lines.

A pattern is read like a counted bar. Each word is one beat and its characters share the beat
evenly: ``7`` is a quarter, ``7.`` and ``75`` are eighths, ``7.5`` is a triplet, ``7..5``
sixteenths. In 6/8 and 12/8 a beat is a dotted quarter, so three characters are eighths. ``|``
parts the bars of a pattern that is longer than one. What a character means is up to the part:
``.`` is a rest and ``-`` goes on sounding everywhere; digits are loudness in drums and chords.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from genex.exact import Fraction

REST = "."
HOLD = "-"
MAX_STEPS_PER_BEAT = 12

ZERO = Fraction(0)


@dataclass(frozen=True, slots=True)
class Step:
    """One sounding step: onset inside its bar and length in quarter-note beats, and its sign."""

    onset_beats: Fraction
    length_beats: Fraction
    sign: str

    @property
    def end_beats(self) -> Fraction:
        return self.onset_beats + self.length_beats


StepBar = tuple[Step, ...]


class PatternError(ValueError):
    """What is wrong with a pattern; ``hint`` says what to write instead.

    ``offset`` counts characters from 0. The reader turns it into a GrooveError with its place.
    """

    def __init__(self, message: str, offset: int, hint: str) -> None:
        super().__init__(message)
        self.offset = offset
        self.hint = hint


def parse_bars(text: str, beats: tuple[Fraction, ...], signs: str) -> tuple[StepBar, ...]:
    """Read a pattern whose bars consist of ``beats`` (their lengths). Raises PatternError.

    ``signs`` are the characters that start a note. A held step lengthens the note before it, also
    across a bar line inside the pattern; there the note is given to the bar in which it began.
    """
    bars: list[list[Step]] = []
    offset = 0
    for bar_text in text.split("|"):
        if bar_text.strip() or not bars:
            bars.append(_parse_bar(bar_text, offset, beats, signs, bars[-1] if bars else None))
        elif "|" in text[offset:]:
            raise PatternError(
                "a bar between two bar lines is empty", offset, "write . for a silent beat"
            )
        offset += len(bar_text) + 1
    return tuple(tuple(bar) for bar in bars)


def _parse_bar(
    text: str, offset: int, beats: tuple[Fraction, ...], signs: str, before: list[Step] | None
) -> list[Step]:
    words = list(_words(text))
    if len(words) != len(beats):
        raise PatternError(
            f"this bar has {len(words)} {'beat' if len(words) == 1 else 'beats'}, "
            f"the meter has {len(beats)}",
            offset + (words[0][0] if words else 0),
            f"write one word for each of the {len(beats)} beats, for example "
            f"'{' '.join(['.'] * len(beats))}' for a silent bar",
        )
    steps: list[Step] = []
    onset = ZERO
    held = before[-1] if before and before[-1].end_beats == sum(beats) else None
    for (start, word), beat in zip(words, beats, strict=True):
        if len(word) > MAX_STEPS_PER_BEAT:
            raise PatternError(
                f"'{word}' divides a beat into {len(word)}",
                offset + start,
                f"at most {MAX_STEPS_PER_BEAT} steps share a beat",
            )
        length = beat / len(word)
        for index, sign in enumerate(word):
            if sign == HOLD:
                if held is not None:
                    held = _lengthen(held, length, steps or before)
            elif sign == REST:
                held = None
            elif sign in signs:
                held = Step(onset, length, sign)
                steps.append(held)
            else:
                raise PatternError(
                    f"'{sign}' means nothing in this pattern",
                    offset + start + index,
                    f"the signs are {' '.join(signs)}, {REST} for a rest and {HOLD} to hold"
                    + ("; the root is R" if sign == "1" and "R" in signs else ""),
                )
            onset += length
    return steps


def _words(text: str) -> Iterable[tuple[int, str]]:
    """Each word with the offset at which it begins."""
    position = 0
    for word in text.split():
        position = text.index(word, position)
        yield position, word
        position += len(word)


def _lengthen(step: Step, length: Fraction, steps: list[Step] | None) -> Step:
    longer = Step(step.onset_beats, step.length_beats + length, step.sign)
    if steps:
        steps[-1] = longer
    return longer


def spread(bar: StepBar, beats: tuple[Fraction, ...]) -> StepBar:
    """Two one-beat words over a bar of ``beats``: the first word once, the second for the rest."""
    spread_out = []
    onset = ZERO
    for index, beat in enumerate(beats):
        word = ZERO if index == 0 else Fraction(1)
        for step in bar:
            if word <= step.onset_beats < word + 1:
                start = onset + (step.onset_beats - word) * beat
                spread_out.append(Step(start, step.length_beats * beat, step.sign))
        onset += beat
    return tuple(spread_out)


def fit(bar: StepBar, pattern_beats: Fraction, bar_beats: Fraction) -> StepBar:
    """A pattern's bar cut or repeated to fill a bar of another length."""
    if bar_beats == pattern_beats:
        return bar
    fitted = []
    shift = ZERO
    while shift < bar_beats:
        for step in bar:
            onset = step.onset_beats + shift
            if onset < bar_beats:
                fitted.append(Step(onset, min(step.length_beats, bar_beats - onset), step.sign))
        shift += pattern_beats
    return tuple(fitted)
