"""Reading a chord chart: bars of chord symbols as a musician writes them in a line of text.

    Gm7 | C7 | Fmaj7 | D7b9 |        a bar line after each bar; the last one may be left away
    Dm7 G7 | %                       several chords share the bar; % plays the bar before again
    Am | D7 | %%                     the two bars before again
    Am7 | <D7                        the chord is pushed: struck an eighth before its beat
    Dm7 / / G7                       a slash holds the chord for one more beat
    N.C.                             no chord
    C7 {1 2& 4}                      hits: the band strikes on these counts only, see ``hits.py``
    |: Am7 | D7 :|                   play what stands between twice; :|x3 plays it three times
    |: Am7 | [1. D7 :| [2. G6 |      first and second ending
    ii7 | V7 | Imaj7                 Roman numerals or numbers (2-7 | 5 7 | 1), where a key is given
    (3/4) G | D7 | (4/4) C           another meter from this bar on
    rit. C | G7 fermata | a tempo C  slower from this bar on; the chord before it is held; as before
    Segno A | D.S. al Coda | Coda B  segno, coda, D.C., D.S. and where they lead: see ``jumps.py``
    # words                          after a # and a blank, the rest of the line is a remark

A line break ends a bar like a bar line does. Without slashes the chords of a bar share its
beats evenly, the first ones taking what is left over: two in 4/4 get 2 + 2, two in 3/4 get
2 + 1, three in 4/4 get 2 + 1 + 1 [common practice].
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from genex.errors import ChordSymbolError, NotationError, RecipeError
from genex.exact import Fraction
from genex.recipe.chart_bars import Chart, ChartBar, Written, pulse_lengths, shared, slashed
from genex.recipe.common_mistakes import sign_meant
from genex.recipe.hits import HitError, read_hits
from genex.recipe.jumps import SIGN, Marks, form_played, read_sign, stands_before
from genex.recipe.repeats import MAX_PASSES, RepeatError, Signs
from genex.score import PUSH_SIGN, Hit, Meter, TempoWord
from genex.text.yaml_source import Source
from genex.theory import (
    Chord,
    Key,
    chord_from_numeral,
    is_no_chord,
    is_numeral,
    join_numbers,
    parse_chord,
    without_optional,
)

MAX_BARS = 1024
_TWO_BARS = "%%"
_METER = re.compile(r"\(([0-9]{1,2}/[0-9]{1,2})\)")

_TOKEN = re.compile(
    rf"""(?P<remark>\#(?=\s|$)[^\r\n]*)
      | (?P<newline>\r\n|\r|\n)
      | (?P<space>[^\S\r\n]+)
      | (?P<open>\|:)
      | (?P<close>:\|(?:\s*x\s*(?P<times>[0-9]+)(?![^\s|:]))?(?P<reopens>:)?)
      | (?P<line>\|\||\|\])
      | (?P<ending>\[[0-9]+\.?)
      | (?P<bar>\|)
      | (?P<sign>{SIGN})
      | (?P<held>(?i:fermata)(?=[\s|{{]|:\||$)|𝄐)
      | (?P<tempo>(?i:rit\.?|rall\.?|ritardando|rallentando|a[^\S\r\n]+tempo)(?=[\s|]|:\||$))
      | (?P<hits>\{{[^{{}}|\r\n]*\}})
      | (?P<word>(?:(?!:\|)[^\s|\[{{𝄐])+)
      | (?P<stray>.)
    """,
    re.VERBOSE,
)

ReadChord = Callable[[str], Chord]
"""Turns one written symbol into a chord, or raises ChordSymbolError or NotationError."""


@dataclass
class _Draft:
    """A bar as it is written: its words with their offsets, the signs around it, its hits, the
    offsets of fermatas, and a word for its tempo."""

    words: list[tuple[str, int]] = field(default_factory=list)
    signs: Signs = field(default_factory=Signs)
    marks: Marks = field(default_factory=Marks)
    hits: tuple[str, int] | None = None
    fermatas: list[int] = field(default_factory=list)
    tempo_word: TempoWord | None = None


class ChartReader:
    """Reads the chart of one field of a recipe, which begins in ``meter``; ``usual`` is the piece's."""

    def __init__(
        self, source: Source, meter: Meter, read_chord: ReadChord, usual: Meter | None = None
    ) -> None:
        self.source = source
        self.meter = meter
        self.read_chord = read_chord
        self.usual = usual or meter

    def in_meter(self, meter: Meter) -> ChartReader:
        """The same reader for a chart that begins in another meter."""
        return ChartReader(self.source, meter, self.read_chord, self.usual)

    def in_key(self, key: Key) -> ChartReader:
        """The same reader with numerals counted in another key."""

        def in_key(word: str) -> Chord:
            return chord_from_numeral(word, key) if is_numeral(word) else self.read_chord(word)

        return ChartReader(self.source, self.meter, in_key, self.usual)

    def read(self, text: str, offset: int) -> tuple[ChartBar, ...]:
        """The bars of ``text``, repeats and endings obeyed. Raises RecipeError.

        ``offset`` is where ``text`` stands in the file.
        """
        return self.chart(text, offset).bars

    def chart(self, text: str, offset: int) -> Chart:
        """As ``read``, with what the chart writes once."""
        return self.unrolled(self.written(text, offset))

    def unrolled(self, written: Written) -> Chart:
        """A chart as it is played. Raises RecipeError."""
        try:
            found = form_played(written.signs, written.marks)
        except RepeatError as error:
            raise self.wrong(error) from None
        played = tuple(written.bars[index] for index in found.order)
        return Chart(played, found.order, found.repeats, found.jumps)

    def written(self, text: str, offset: int) -> Written:
        """The bars of ``text`` as they are written, with their signs. Raises RecipeError."""
        drafts = self._of_two_bars(self._split(text, offset))
        if not drafts:
            raise self._wrong(
                "the chart is empty", "write chord symbols with bar lines: Gm7 | C7 | Fmaj7 |", offset
            )
        if len(drafts) > MAX_BARS:
            raise self._wrong(
                f"the chart has more than {MAX_BARS} bars", "write repeats instead", offset
            )
        bars: list[ChartBar] = []
        meter = self.meter
        for draft in drafts:
            meter = self._meter_of(draft) or meter
            bars.append(self._bar(draft, bars, meter))
        signs = tuple(draft.signs for draft in drafts)
        return Written(tuple(bars), signs, tuple(draft.marks for draft in drafts))

    def _split(self, text: str, offset: int) -> list[_Draft]:
        """Words of each bar, with the signs around it."""
        drafts: list[_Draft] = []
        current = _Draft()
        for match in _TOKEN.finditer(text):
            kind, at = match.lastgroup, offset + match.start()
            if kind in ("space", "remark"):
                continue
            if kind == "word":
                if current.marks.ends or current.hits:
                    what = "hits that end" if current.hits else "a sign that ends"
                    raise self._wrong(
                        f"'{match[0]}' stands behind {what} its bar",
                        "put a bar line between them",
                        at,
                    )
                current.words.append((match[0], at))
            elif kind == "held":
                self._fermata(current, match[0], at)
            elif kind == "tempo":
                self._tempo_word(current, match[0], at)
            elif kind == "hits":
                self._hits(current, match[0], at)
            elif kind == "sign":
                self._sign(drafts, current, match[0], at)
            elif kind == "ending":
                self._begin_ending(current, match[0], at)
            elif kind == "stray":
                hint = "an ending is written [1. or [2. and a chord"
                if match[0] == "{":
                    hint = "hits are written behind the chords of a bar, in braces: C7 {1 2& 4}"
                raise self._wrong(f"'{match[0]}' stands alone", hint, at)
            else:
                if current.words:
                    drafts.append(current)
                    current = _Draft()
                if kind == "open":
                    self._open(current, at)
                elif match["close"]:
                    self._close(drafts, current, match["times"], at)
                    if match["reopens"]:
                        self._open(current, offset + match.end() - 1)
        if current.words:
            drafts.append(current)
        elif current.tempo_word is not None:
            raise self._wrong(
                f"no bar follows '{current.tempo_word}'",
                "write it before the first chord of its bar",
                offset + len(text.rstrip()) - 1,
            )
        elif (loose := current.marks.before_at) is not None:
            raise self._wrong("no bar follows this sign", "write its chords behind it", loose)
        elif current.signs.opens_at is not None:
            raise self._wrong(
                "a repeat opens after the last bar", "leave the |: away", current.signs.opens_at
            )
        elif current.signs.ending is not None:
            raise self._no_bars(current.signs)
        return drafts

    def _of_two_bars(self, drafts: list[_Draft]) -> list[_Draft]:
        """The bars with each ``%%`` as the two that it stands for; signs stay at its ends."""
        found: list[_Draft] = []
        for draft in drafts:
            if [word for word, _ in draft.words] != [_TWO_BARS]:
                found.append(draft)
                continue
            at = draft.words[0][1]
            if len(found) < 2:
                raise self._wrong(
                    "there are no two bars before this sign to repeat",
                    f"{_TWO_BARS} plays the two bars before again, % the one",
                    at,
                )
            signs = draft.signs
            closing = Signs(passes=signs.passes, closes_at=signs.closes_at)
            opening = replace(signs, passes=None, closes_at=0)
            first, second = found[-2:]
            before, behind = draft.marks.parted()
            found += [
                _Draft(first.words, opening, before, first.hits, tempo_word=draft.tempo_word),
                _Draft(second.words, closing, behind, second.hits),
            ]
        return found

    def _fermata(self, current: _Draft, written: str, at: int) -> None:
        """A fermata behind the chord that it lies over."""
        if not self._has_begun(current) or current.words[-1][0] == _TWO_BARS:
            raise self._wrong(
                f"'{written}' stands behind no chord",
                "write it behind the chord that is held: C fermata",
                at,
            )
        current.fermatas.append(at)

    def _tempo_word(self, current: _Draft, written: str, at: int) -> None:
        """A ritardando that begins with a bar, or the tempo of before."""
        if self._has_begun(current) or current.tempo_word is not None:
            raise self._wrong(
                f"'{written}' stands inside a bar", "write it before the first chord of its bar", at
            )
        current.tempo_word = "a tempo" if written[0] in "aA" else "rit."

    @staticmethod
    def _has_begun(current: _Draft) -> bool:
        return any(not _METER.fullmatch(word) for word, _ in current.words)

    def _hits(self, current: _Draft, written: str, at: int) -> None:
        """The counts in braces behind the chords of a bar."""
        if not self._has_begun(current) or current.hits:
            raise self._wrong(
                f"'{written}' stands before the chords of its bar" if not current.hits
                else "a bar has hits twice",
                "write them once, behind the chords: C7 {1 2& 4}",
                at,
            )  # fmt: skip
        if current.words[-1][0] == _TWO_BARS:
            raise self._wrong(
                f"'{written}' stands behind two bars", "write the bars out: C7 {1 2& 4}", at
            )
        current.hits = written[1:-1], at + 1

    def _sign(self, drafts: list[_Draft], current: _Draft, written: str, at: int) -> None:
        """A sign of a jump: before the bar that comes next, or behind the one that was."""
        has_begun = self._has_begun(current)
        behind = current if has_begun else drafts[-1] if drafts else None
        if has_begun and stands_before(written):
            raise self._wrong(
                f"'{written}' stands inside a bar", "write it before the first chord of its bar", at
            )
        try:
            read_sign(written, current.marks, behind.marks if behind else None, at)
        except RepeatError as error:
            raise self._wrong(error.message, error.hint, error.at) from None

    def _open(self, current: _Draft, at: int) -> None:
        """``|:`` before the bar that comes next."""
        if current.signs.ending is not None:
            raise self._no_bars(current.signs)
        if current.signs.opens_at is not None:
            raise self._wrong("a repeat opens twice", "leave one of the |: away", at)
        current.signs.opens_at = at

    def _close(self, drafts: list[_Draft], current: _Draft, times: str | None, at: int) -> None:
        """``:|`` after the bar before."""
        if current.signs.ending is not None:
            raise self._no_bars(current.signs)
        if current.signs.opens_at is not None:
            raise self._wrong("there is no bar between |: and :|", "write its chords between them", at)
        if not drafts:
            raise self._wrong("a repeat closes before any bar", "leave the :| away", at)
        signs = drafts[-1].signs
        if signs.passes is not None:
            raise self._wrong("a repeat closes twice", "leave one of the :| away", at)
        # Three digits are enough for any number that is not refused anyway.
        signs.passes = int(times[:3]) if times else 2
        signs.closes_at = at
        if not 2 <= signs.passes <= MAX_PASSES:
            raise self._wrong(
                f"a passage cannot be played {times} times", f"write :|x2 to :|x{MAX_PASSES}", at
            )

    def _begin_ending(self, current: _Draft, written: str, at: int) -> None:
        """``[1.`` before the bar that comes next."""
        if current.words:
            raise self._wrong("an ending begins inside a bar", "put a bar line before it", at)
        if current.signs.ending is not None:
            raise self._no_bars(current.signs)
        current.signs.ending = int(written.strip("[.")[:3])
        current.signs.ending_at = at

    def _no_bars(self, signs: Signs) -> RecipeError:
        return self._wrong(
            f"ending {signs.ending} has no bars", "write its chords behind it", signs.ending_at
        )

    def _meter_of(self, draft: _Draft) -> Meter | None:
        """The meter that a bar begins with, taken off its words; None where there is none."""
        word, at = draft.words[0]
        match = _METER.fullmatch(word)
        if match is None:
            return None
        if len(draft.words) == 1:
            raise self._wrong(f"no chords stand behind '{word}'", f"write them in its bar: {word} C", at)
        draft.words = draft.words[1:]
        try:
            return Meter.parse(match[1])
        except NotationError as error:
            raise self._wrong(error.message, error.hint, at) from None

    def _bar(self, draft: _Draft, before: list[ChartBar], meter: Meter) -> ChartBar:
        words = _joined(draft.words)
        hits = None if draft.hits is None else self._read_hits(*draft.hits, meter)
        if [word for word, _ in words] == ["%"]:
            if not before:
                raise self._wrong(
                    "there is no bar before this one to repeat",
                    "begin with the chords of the first bar",
                    words[0][1],
                )
            if (before[-1].meter or self.usual) != meter:
                raise self._wrong(
                    f"the bar before is not in {meter}", "write the chords of this bar", words[0][1]
                )
            last = (len(before[-1].chords) - 1,) if draft.fermatas else ()
            again = replace(before[-1], fermatas=last, tempo_word=draft.tempo_word)
            return again if hits is None else replace(again, hits=hits)
        for word, at in words:
            if (hint := sign_meant(word)) is not None:
                raise self._wrong(f"'{word}' is not a chord", hint, at)
        pulses = pulse_lengths(meter)
        if len(words) > len(pulses):
            count = "1 beat" if len(pulses) == 1 else f"{len(pulses)} beats"
            raise self._wrong(
                f"a bar of {meter} has {count}, and {len(words)} are written here",
                "put a bar line between them or leave some away",
                words[len(pulses)][1],
            )
        held = "/" in (word for word, _ in words)
        shares = slashed(len(words), pulses) if held else shared(len(words), pulses)
        if words[0][0] == "/" and not before:
            raise self._wrong(
                "there is no chord before this slash to hold", "begin with a chord", words[0][1]
            )
        chords: list[tuple[Chord | None, Fraction]] = []
        begun: list[int] = []
        pushed: list[int] = []
        optional: list[tuple[int, Chord]] = []
        for (word, at), beats in zip(words, shares, strict=True):
            if word == "/":
                chord, length = chords.pop() if chords else (before[-1].chords[-1][0], Fraction(0))
                chords.append((chord, length + beats))
            elif word in ("%", _TWO_BARS):
                what = "a whole bar" if word == "%" else "two whole bars"
                raise self._wrong(f"{word} repeats {what}", "let it stand alone between bar lines", at)
            else:
                symbol = word.removeprefix(PUSH_SIGN)
                if symbol != word:
                    self._require_pushable(symbol, at)
                    pushed.append(len(chords))
                if other := without_optional(symbol)[1]:
                    optional.append((len(chords), parse_chord(other)))
                chords.append((self._chord(symbol, at + len(word) - len(symbol)), beats))
                begun.append(at)
        other_meter = None if meter == self.usual else meter
        # A slash at the beginning of a bar holds a chord of before, which counts as its first.
        begun = [words[0][1], *begun][-len(chords) :]
        fermatas = tuple(dict.fromkeys(sum(start < at for start in begun) - 1 for at in draft.fermatas))
        return ChartBar(
            tuple(chords), tuple(pushed), other_meter, tuple(optional), hits, fermatas, draft.tempo_word
        )

    def _read_hits(self, text: str, at: int, meter: Meter) -> tuple[Hit, ...]:
        try:
            return read_hits(text, meter)
        except HitError as error:
            raise self._wrong(error.message, error.hint, at + error.at) from None

    def _require_pushable(self, symbol: str, at: int) -> None:
        """Raise RecipeError where a push stands before what is no chord."""
        if symbol in ("", "/", "%", _TWO_BARS) or is_no_chord(symbol):
            raise self._wrong(
                f"'{PUSH_SIGN}' pushes a chord, and none follows",
                f"write it before the chord that comes an eighth early: {PUSH_SIGN}C7",
                at,
            )

    def _chord(self, word: str, at: int) -> Chord | None:
        if is_no_chord(word):
            return None
        try:
            return self.read_chord(word)
        except ChordSymbolError as error:
            raise self._wrong(error.message, error.hint, at + error.position) from None
        except NotationError as error:
            raise self._wrong(error.message, error.hint, at) from None

    def wrong(self, error: RepeatError, *, of_form: bool = False) -> RecipeError:
        """What is wrong with the signs of a chart, or of a form, with its place."""
        return self._wrong(error.message, error.form_hint if of_form else error.hint, error.at)

    def _wrong(self, message: str, hint: str | None, at: int) -> RecipeError:
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
