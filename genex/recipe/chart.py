"""Reading a chord chart: bars of chord symbols as a musician writes them in a line of text.

    Gm7 | C7 | Fmaj7 | D7b9 |        a bar line after each bar; the last one may be left away
    Dm7 G7 | %                       several chords share the bar; % plays the bar before again
    Dm7 / / G7                       a slash holds the chord for one more beat
    N.C.                             no chord
    |: Am7 | D7 :|                   play what stands between twice; :|x3 plays it three times
    |: Am7 | [1. D7 :| [2. G6 |      first and second ending
    ii7 | V7 | Imaj7                 Roman numerals or numbers (2-7 | 5 7 | 1), where a key is given
    # words                          after a # and a blank, the rest of the line is a remark

A line break ends a bar like a bar line does. Without slashes the chords of a bar share its
beats evenly, the first ones taking what is left over: two in 4/4 get 2 + 2, two in 3/4 get
2 + 1, three in 4/4 get 2 + 1 + 1 [common practice].
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction

from genex.errors import ChordSymbolError, InputError, NotationError, RecipeError
from genex.score import Meter
from genex.theory import Chord, join_numbers
from genex.yaml_source import Source

MAX_BARS = 1024
MAX_REPEATS = 16

_TOKEN = re.compile(
    r"""(?P<remark>\#(?=\s|$)[^\n]*)
      | (?P<newline>\r\n|\r|\n)
      | (?P<space>[^\S\r\n]+)
      | (?P<open>\|:)
      | (?P<close>:\|(?:\s*x\s*(?P<times>\d+)(?![^\s|]))?:?)
      | (?P<line>\|\||\|\])
      | (?P<ending>\[\d+\.?)
      | (?P<bar>\|)
      | (?P<word>[^\s|\[]+)
    """,
    re.VERBOSE,
)
_NO_CHORD = {"n.c.", "nc", "n.c"}

ReadChord = Callable[[str], Chord]
"""Turns one written symbol into a chord, or raises ChordSymbolError or NotationError."""


@dataclass(frozen=True, slots=True)
class ChartBar:
    """One bar as written: chords (None is N.C.) with the beats each one gets.

    ``ends_repeat`` and friends tell how the bars are to be played; ``unrolled`` obeys them.
    """

    chords: tuple[tuple[Chord | None, Fraction], ...]
    opens_repeat: bool = False
    closes_repeat: int = 0
    ending: int = 0
    offset: int = 0


@dataclass
class _Draft:
    words: list[tuple[str, int]]
    opens_repeat: bool = False
    closes_repeat: int = 0
    ending: int = 0
    offset: int = 0


def pulse_lengths(meter: Meter) -> tuple[Fraction, ...]:
    """Length of each counted beat of a bar; the last one of 7/8 is a dotted quarter."""
    onsets = meter.pulses
    return tuple(end - start for start, end in zip(onsets, (*onsets[1:], meter.bar_beats), strict=True))


class ChartReader:
    """Reads the chart of one field of a recipe."""

    def __init__(self, source: Source, meter: Meter, read_chord: ReadChord) -> None:
        self.source = source
        self.meter = meter
        self.read_chord = read_chord

    def read(self, text: str, offset: int) -> tuple[ChartBar, ...]:
        """The bars of ``text``, which stands at ``offset`` in the file. Raises RecipeError."""
        drafts = self._split(text, offset)
        if not drafts:
            raise self._wrong(
                "the chart is empty", "write chord symbols with bar lines: Gm7 | C7 | Fmaj7 |", offset
            )
        if len(drafts) > MAX_BARS:
            raise self._wrong(
                f"the chart has more than {MAX_BARS} bars", "write repeats instead", offset
            )
        bars: list[ChartBar] = []
        for draft in drafts:
            chords = self._bar(draft, bars)
            bars.append(
                ChartBar(chords, draft.opens_repeat, draft.closes_repeat, draft.ending, draft.offset)
            )
        return tuple(bars)

    def _split(self, text: str, offset: int) -> list[_Draft]:
        """Words of each bar, with the repeat signs around it."""
        drafts: list[_Draft] = []
        current = _Draft([])

        def finish() -> None:
            nonlocal current
            if current.words:
                drafts.append(current)
                current = _Draft([])

        for match in _TOKEN.finditer(text):
            kind, at = match.lastgroup, offset + match.start()
            if kind == "times":
                kind = "close"
            if kind in ("newline", "line", "bar"):
                finish()
            elif kind == "open":
                finish()
                current.opens_repeat = True
            elif kind == "close":
                finish()
                if not drafts:
                    raise self._wrong("a repeat closes before any bar", "leave the :| away", at)
                drafts[-1].closes_repeat = self._times(match["times"], at)
            elif kind == "ending":
                if current.words:
                    raise self._wrong("an ending begins inside a bar", "put a bar line before it", at)
                current.ending = int(match[0].strip("[."))
            elif kind == "word":
                if not current.words:
                    current.offset = at
                current.words.append((match[0], at))
        if current.opens_repeat and not current.words:
            raise self._wrong("a repeat opens after the last bar", "leave the |: away", offset)
        finish()
        return drafts

    def _times(self, written: str | None, at: int) -> int:
        times = int(written) if written else 2
        if not 2 <= times <= MAX_REPEATS:
            raise self._wrong(f"a passage cannot be played {times} times", "write :|x2 to :|x16", at)
        return times

    def _bar(self, draft: _Draft, before: list[ChartBar]) -> tuple[tuple[Chord | None, Fraction], ...]:
        words = _joined(draft.words)
        if [word for word, _ in words] == ["%"]:
            if not before:
                raise self._wrong(
                    "there is no bar before this one to repeat", "write chords", words[0][1]
                )
            return before[-1].chords
        pulses = pulse_lengths(self.meter)
        if len(words) > len(pulses):
            raise self._wrong(
                f"a bar of {self.meter} has {len(pulses)} beats, and {len(words)} are written here",
                "put a bar line between them or leave some away",
                words[len(pulses)][1],
            )
        held = "/" in (word for word, _ in words)
        shares = _slashed(words, pulses) if held else _shared(len(words), pulses)
        if words[0][0] == "/" and not before:
            raise self._wrong(
                "there is no chord before this slash to hold", "begin with a chord", words[0][1]
            )
        chords: list[tuple[Chord | None, Fraction]] = []
        for (word, at), beats in zip(words, shares, strict=True):
            if word == "/":
                chord, length = chords.pop() if chords else (before[-1].chords[-1][0], Fraction(0))
                chords.append((chord, length + beats))
            elif word == "%":
                raise self._wrong("% repeats a whole bar", "let it stand alone between bar lines", at)
            else:
                chords.append((self._chord(word, at), beats))
        return tuple(chords)

    def _chord(self, word: str, at: int) -> Chord | None:
        if word.lower() in _NO_CHORD:
            return None
        try:
            return self.read_chord(word)
        except ChordSymbolError as error:
            raise self._wrong(error.message, error.hint, at + error.position) from None
        except NotationError as error:
            raise self._wrong(error.message, error.hint, at) from None

    def _wrong(self, message: str, hint: str | None, at: int) -> InputError:
        return RecipeError(message, hint=hint, place=self.source.place_at(at))


def _joined(words: list[tuple[str, int]]) -> list[tuple[str, int]]:
    """The words of a bar, where numbers such as ``5 7`` are one chord."""
    joined: list[tuple[str, int]] = []
    for word, at in words:
        if joined and len(pair := join_numbers([joined[-1][0], word])) == 1:
            joined[-1] = (pair[0], joined[-1][1])
        else:
            joined.append((word, at))
    return joined


def _shared(count: int, pulses: tuple[Fraction, ...]) -> list[Fraction]:
    """Beats of each of ``count`` chords that share the pulses evenly, first ones longer."""
    each, extra = divmod(len(pulses), count)
    shares, start = [], 0
    for index in range(count):
        end = start + each + (1 if index < extra else 0)
        shares.append(sum(pulses[start:end], Fraction(0)))
        start = end
    return shares


def _slashed(words: list[tuple[str, int]], pulses: tuple[Fraction, ...]) -> list[Fraction]:
    """One pulse for each word; the last word keeps what is left of the bar."""
    shares = list(pulses[: len(words)])
    shares[-1] += sum(pulses[len(words) :], Fraction(0))
    return shares


def unroll(bars: tuple[ChartBar, ...]) -> tuple[ChartBar, ...]:
    """The bars in the order in which they are played, repeats and endings obeyed.

    An ending ``[1.`` is played in the first pass only, ``[2.`` in the second, and so on; a
    repeat without ``|:`` goes back to the beginning or to behind the last repeat.
    """
    played: list[ChartBar] = []
    start = index = 0
    passes = 1
    ending = 0
    while index < len(bars):
        bar = bars[index]
        if bar.opens_repeat and index != start:
            start, passes, ending = index, 1, 0
        if bar.ending:
            ending = bar.ending
        if ending and ending != passes:
            index += 1
            while index < len(bars) and not bars[index].ending and not bars[index - 1].closes_repeat:
                index += 1
            continue
        played.append(replace(bar, opens_repeat=False, closes_repeat=0, ending=0))
        index += 1
        if bar.closes_repeat:
            further_ending = ending > 0 and index < len(bars) and bars[index].ending == passes + 1
            if passes < bar.closes_repeat or further_ending:
                passes, ending, index = passes + 1, 0, start
            else:
                start, passes, ending = index, 1, 0
    return tuple(played)
