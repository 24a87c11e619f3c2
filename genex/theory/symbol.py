"""Reading chord symbols as lead sheets write them.

Grammar (spaces are allowed between the parts)::

    symbol   = root [sign [number]] change* ["/" bass]
    root     = letter A to G with b or # (also ♭ ♯ 𝄫 𝄪), taken as long as possible
    sign     = major | minor | diminished | half-diminished | augmented, or minor, diminished or
               augmented followed by major
    number   = 2 5 6 7 9 11 13 69 6/9
    change   = alteration | "sus" [2 | 4 | 2/4 | 7 | 9 | 13] | "add" degree | "no" degree
             | "maj" number | number | "alt", alone or in parentheses, separated by commas or not

``sign`` with ``number`` is looked up in the one table of ``qualities.py``.

Readings where charts differ
    ``Δ`` and ``△`` alone mean the major seventh, ``maj`` and ``M`` alone the triad.
    ``-`` after the root means minor; before a number later on, flat. ``+`` after the root means
    augmented; before a number later on, sharp (``C7+9`` is C7#9); after a number alone, #5.
    ``°`` alone is the triad, ``ø`` alone the seventh chord, ``sus`` alone sus4, ``2`` adds a ninth.
    The root takes every accidental it can: ``Cb5`` is the power chord on Cb, not C(b5).
    b9 and #9 take the place of 9, #11 that of 11, b13 that of 13, b5 and #5 that of 5.
    A slash before a number or an accidental adds a tone; only before a capital letter is it a bass.

Source: C. Brandt and C. Roemer, Standardized Chord Symbol Notation, 1976 [memory].
"""

from __future__ import annotations

import difflib
import re
from functools import lru_cache
from typing import NoReturn

from genex.errors import ChordSymbolError
from genex.theory.chord import Chord
from genex.theory.pitch import Degree, NoteName
from genex.theory.qualities import FORMS, QUALITIES, ascending, read_quality
from genex.theory.signs import (
    ADD,
    ADDABLE,
    ALTERATION,
    ALTERATIONS,
    ALTERED,
    AUGMENTED,
    BASE_NUMBERS,
    MAJOR,
    NO,
    NUMBER,
    ONE_FOR_ONE,
    ROOT,
    SIGNS,
    SUS,
    TENSION,
)

_SEVENTH = 7
_FLAT_SEVENTH = Degree(7, -1)

NO_CHORD = frozenset({"N.C.", "NC", "N.C", "n.c.", "N. C."})
"""How charts mark a bar without harmony (MusicXML 4.0 writes kind ``none``)."""


def is_no_chord(symbol: str) -> bool:
    """Whether a chart entry says that no chord is played."""
    return symbol.strip() in NO_CHORD


@lru_cache(maxsize=8192)
def parse_chord(symbol: str) -> Chord:
    """Read a chord symbol. Raises ChordSymbolError with the position of what is wrong in it."""
    return _Reader(symbol).read()


class _Reader:
    """Reads one symbol from left to right; ``at`` is the next character."""

    def __init__(self, symbol: str) -> None:
        self.symbol = symbol
        self.text = symbol.translate(ONE_FOR_ONE)
        self.end = len(self.text.rstrip())
        self.at = len(self.text) - len(self.text.lstrip())
        self.root_text = ""
        self.degrees: set[Degree] = set()
        self.replaced: set[int] = set()
        self.asked: dict[Degree, int] = {}
        self.omitted: list[tuple[int, int]] = []
        self.suspension: set[Degree] = set()
        self.is_altered = False

    def read(self) -> Chord:
        root = self._root()
        self._base()
        self._changes()
        bass = self._bass() or root
        degrees = self._result()
        return Chord(self.symbol.strip(), root, degrees, bass, read_quality(degrees).text)

    # --- the parts, in the order of the symbol -------------------------------------------------

    def _root(self) -> NoteName:
        start = self.at
        match = ROOT.match(self.text, self.at)
        if match is None:
            self._refuse_root(start)
        self.root_text = match[0]
        self.at = match.end()
        return _note_name(match)

    def _base(self) -> None:
        self._skip_spaces()
        start = self.at
        sign = self._signs()
        self._skip_spaces()
        number_at = self.at
        match = NUMBER.match(self.text, self.at)
        number = ""
        if match is not None:
            number = "69" if match[0][0] == "6" and len(match[0]) > 1 else match[0]
            if match[0] == "69" or not match[0].isdigit() or match[0] in BASE_NUMBERS:
                self.at = match.end()
            else:
                self._refuse_number(sign, match[0], number_at)
        if number == "7" and "M" not in sign and self._take_trailing_major():
            sign += "M"
        if sign.endswith("Δ"):
            sign = sign[:-1] + ("M" if number else "M7")
        row = FORMS.get(sign + number)
        if row is None:
            self._refuse_number(sign, number, number_at if number else start)
        self.degrees = set(row.degrees)

    def _signs(self) -> str:
        found = ""
        while len(found) < 2:
            self._skip_spaces()
            for pattern, letter in SIGNS:
                match = pattern.match(self.text, self.at)
                if match is None:
                    continue
                if found and (letter != "M" or found not in "mo+"):
                    return found
                self.at = match.end()
                found += "Δ" if match[0] == "Δ" else letter
                if letter == "":
                    return found
                break
            else:
                return found
            if found[-1] in "MΔø":
                return found
        return found

    def _take_trailing_major(self) -> bool:
        """``C7M`` and ``C7maj`` put the sign after the number."""
        match = MAJOR.match(self.text, self.at)
        if match is None or self.text[match.end() : match.end() + 1].isdigit():
            return False
        self.at = match.end()
        return True

    def _changes(self) -> None:
        opened: int | None = None
        while True:
            self._skip_spaces()
            if self.at >= self.end:
                break
            char = self.text[self.at]
            if char == "(":
                if opened is not None:
                    self._fail("parentheses cannot stand inside parentheses", self.at)
                opened = self.at
                self.at += 1
                if self._next() in ")":
                    self._fail("nothing stands after this '('", opened, cut=True)
            elif char == ")":
                if opened is None:
                    self._fail("this ')' closes nothing", self.at, cut=True)
                opened = None
                self.at += 1
            elif char == "/" and opened is None and self._is_bass_slash():
                break
            elif char in ",/":
                self.at += 1
                if self._next() in "(),/" or self.text[self.at - 2] == "(":
                    self._fail(f"a tone is missing beside this '{char}'", self.at - 1, cut=True)
            else:
                self._change()
        if opened is not None:
            closed = _first_readable(self.text[: self.end] + ")")
            self._fail("this '(' is never closed", opened, cut=True, suggestion=closed)

    def _next(self) -> str:
        """The next character that is no space; empty at the end."""
        return self.text[self.at : self.end].lstrip()[:1]

    def _change(self) -> None:
        start = self.at
        if match := self._take(SUS):
            self._suspend(match[1], start)
        elif match := self._take(ADD):
            self._add(match[1], match[2], start)
        elif match := self._take(NO):
            self._omit(match[1], start)
        elif self._take(ALTERED):
            self._alter_all(start)
        elif match := self._take(ALTERATION):
            self._alter(match[1], match[2], start)
        elif self._take(AUGMENTED):
            self._alter("#", "5", start)
        elif self._take(MAJOR):
            self._major_seventh(start)
        elif match := self._take(TENSION):
            self._tension(match[0], start)
        else:
            self._fail("this part cannot be read", start)

    def _is_bass_slash(self) -> bool:
        rest = self.text[self.at + 1 : self.end].lstrip()
        if not rest:
            self._fail("a bass note is missing after this slash", self.at, cut=True)
        if rest[0].isdigit() or re.match(r"[b#+-]\s*\d|add|no|omit|sus|alt", rest):
            return False
        return not (MAJOR.match(rest) and re.search(r"\d", rest))

    def _bass(self) -> NoteName | None:
        if self.at >= self.end:
            return None
        self.at += 1
        self._skip_spaces()
        match = ROOT.match(self.text, self.at)
        if match is None:
            given = self.text[self.at : self.end]
            letter = given[0].upper()
            if letter in "ABCDEFG":
                better = self.symbol[: self.at] + letter + self.symbol[self.at + 1 :]
                self._fail(
                    f"the bass note '{given}' needs a capital letter", self.at, suggestion=better.strip()
                )
            self._fail(f"'{given}' after the slash is not a bass note", self.at)
        self.at = match.end()
        self._skip_spaces()
        if self.at < self.end:
            self._fail("nothing may follow the bass note", self.at, cut=True)
        return _note_name(match)

    # --- the changes ---------------------------------------------------------------------------

    def _suspend(self, number: str, start: int) -> None:
        if self.suspension:
            self._fail("'sus' stands twice", start)
        digits = set(re.findall(r"13|\d", number))
        if digits & {"1"}:
            self._fail("a chord is suspended by 2 or 4", start)
        if digits & {"7", "9", "13"}:
            if self._seventh() is not None:
                self._fail("this chord already has a seventh", start)
            self.degrees |= set(QUALITIES[number].degrees) - {Degree(11)}
        wanted = {Degree(int(digit)) for digit in digits & {"2", "4"}}
        self.suspension = wanted or {Degree(4)}

    def _add(self, sign: str, number: str, start: int) -> None:
        target = ADDABLE.get(int(number)) if number.isdecimal() else None
        if target is None:
            self._fail("'add' needs one of 2, 4, 6, 9, 11 and 13", start)
        degree = Degree(target, {"": 0, "b": -1, "-": -1, "#": 1, "+": 1}[sign])
        self._ask(degree, start)
        self.degrees.add(degree)

    def _omit(self, number: str, start: int) -> None:
        if number == "":
            self._fail("say which tone is left out, for example no3 or no5", start)
        self.omitted.append((1 if number == "root" else int(number), start))

    def _alter_all(self, start: int) -> None:
        if self.degrees not in (set(QUALITIES[""].degrees), set(QUALITIES["7"].degrees)):
            self._fail(
                "'alt' belongs to a plain seventh chord", start, suggestion=f"{self.root_text}7alt"
            )
        self.is_altered = True

    def _alter(self, sign: str, number: str, start: int) -> None:
        if number[:1] != "1" and len(number) == 2:
            self.at -= 1
            number = number[0]
        sign = {"-": "b", "+": "#"}.get(sign, sign)
        text = ALTERATIONS.get(sign + number)
        if text is None:
            self._fail(f"'{sign}{number}' is no alteration; there are b5 #5 b9 #9 #11 and b13", start)
        degree = Degree.parse(text)
        if text == "b6" and self._seventh() is not None:
            degree = Degree(13, -1)
        self._ask(degree, start)
        self.replaced.add(degree.number)

    def _major_seventh(self, start: int) -> None:
        match = TENSION.match(self.text, self._skip_spaces())
        is_triangle = self.text[start] == "Δ"
        if match is None and not is_triangle:
            self._fail("after 'maj' a 7, 9, 11 or 13 is missing", start)
        number = match[0] if match else "7"
        if "maj" + number not in QUALITIES or number in ("6", "69"):
            self._fail("after 'maj' a 7, 9, 11 or 13 is missing", start)
        if match:
            self.at = match.end()
        if self._seventh() == _FLAT_SEVENTH and number == "7" and Degree(9) in self.degrees:
            self.degrees.discard(_FLAT_SEVENTH)  # Cm9(maj7) is Cm(maj9)
        if self._seventh() in (_FLAT_SEVENTH, Degree(_SEVENTH)):
            self._fail("this chord already has a seventh", start)
        upper = {d for d in QUALITIES["maj" + number].degrees if d.number >= _SEVENTH}
        self.degrees |= upper

    def _tension(self, number: str, start: int) -> None:
        if number == "7":
            if self._seventh() is not None:
                self._fail("this chord already has a seventh", start)
            self.degrees.add(_FLAT_SEVENTH)
            return
        for part in ("6", "9") if number == "69" else (number,):
            degree = Degree(int(part))
            self._ask(degree, start)
            self.degrees.add(degree)

    def _ask(self, degree: Degree, start: int) -> None:
        if degree in self.asked:
            self._fail(f"{degree} stands twice", start)
        self.asked[degree] = start

    # --- the sum -------------------------------------------------------------------------------

    def _result(self) -> tuple[Degree, ...]:
        if self.is_altered:
            if self.asked or self.suspension:
                start = min(self.asked.values(), default=0)
                better = f"{self.root_text}7alt"
                self._fail("'alt' already alters every tension", start, suggestion=better)
            self.degrees = set(QUALITIES["7alt"].degrees)
        # An added tone that was asked for unaltered stays beside an altered one.
        self.degrees -= {
            d for d in self.degrees if d.number in self.replaced and not d.alter and d not in self.asked
        }
        self.degrees |= set(self.asked)
        if self.suspension:
            replaced = {d.number + 7 for d in self.suspension} | {3}
            self.degrees -= {d for d in self.degrees if d.number in replaced and d not in self.asked
                             and not (d.alter and d.number != 3)}  # fmt: skip
            self.degrees |= self.suspension
        for number, start in self.omitted:
            gone = {d for d in self.degrees if d.number == number}
            if not gone:
                self._fail(f"there is no {number} in this chord to leave out", start)
            self.degrees -= gone
        if len(self.degrees) < 2:
            self._fail("a chord needs at least two tones", self.omitted[-1][1])
        return ascending(self.degrees)

    def _seventh(self) -> Degree | None:
        return next((d for d in self.degrees if d.number == _SEVENTH), None)

    # --- moving on -----------------------------------------------------------------------------

    def _take(self, pattern: re.Pattern[str]) -> re.Match[str] | None:
        match = pattern.match(self.text, self.at)
        if match is not None:
            self.at = match.end()
        return match

    def _skip_spaces(self) -> int:
        while self.at < self.end and self.text[self.at].isspace():
            self.at += 1
        return self.at

    # --- saying what is wrong ------------------------------------------------------------------

    def _refuse_root(self, start: int) -> NoReturn:
        text = self.text[start : self.end]
        if not text:
            self._fail("the chord symbol is empty", 0, hint="write for example Gm7")
        if is_no_chord(text):
            self._fail("this marks a bar without a chord, so it has no notes", start,
                       hint="use it in a progression; ask about a chord such as Gm7")  # fmt: skip
        letter = text[0]
        if letter in "abcdefg":
            better = _first_readable(letter.upper() + text[1:], _minor_instead(letter, text))
            self._fail("a chord symbol starts with a capital letter; 'm' marks minor", start,
                       suggestion=better)  # fmt: skip
        if letter in "Hh":
            better = _first_readable("B" + text[1:])
            self._fail("H is the German name of the note B", start, suggestion=better)
        self._fail("a chord symbol starts with a letter A to G", start, hint="write for example Gm7")

    def _refuse_number(self, sign: str, number: str, position: int) -> NoReturn:
        if sign == "m" and number == "5":
            if self.text[position - 1] == "-":
                better = f"{self.root_text}(b5)"
                self._fail("'-5' after the root is unclear", position, suggestion=better)
            self._fail("a power chord is neither major nor minor", position,
                       suggestion=f"{self.root_text}m", )  # fmt: skip
        self._fail(f"no chord is written with '{number or sign}' here", position)

    def _fail(
        self,
        message: str,
        position: int,
        *,
        suggestion: str | None = None,
        hint: str | None = None,
        cut: bool = False,
    ) -> NoReturn:
        """Raise; the hint offers ``suggestion``, or what stands before the place if ``cut``."""
        position = max(0, min(position, len(self.symbol) - 1))
        if hint is None:
            if suggestion is not None:
                suggestion = _first_readable(suggestion)
            elif cut:
                suggestion = _first_readable(self.text[:position].strip(" (/,"))
            suggestion = suggestion or self._nearest(position)
            hint = f"did you mean {suggestion}?" if suggestion else "write for example Gm7 or C7(b9)"
        shown = self.symbol if len(self.symbol) <= 40 else self.symbol[:37] + "..."
        raise ChordSymbolError(
            f"'{shown}' is not a chord symbol: {message} (character {position + 1})",
            symbol=self.symbol,
            position=position,
            hint=hint,
        )

    def _nearest(self, position: int) -> str | None:
        """A symbol that can be read and looks like the one that was written."""
        if not self.root_text:
            return None
        start = self.text.index(self.root_text) + len(self.root_text)
        body = self.text[start : self.end].split("/")[0].strip()[:20]
        near = difflib.get_close_matches(body, _spellings(), n=1, cutoff=0.5)
        if near:
            return self.root_text + near[0]
        readable = self.text[:position].rstrip(" (/,")
        return _first_readable(readable) if readable != self.root_text else None


@lru_cache(maxsize=1)
def _spellings() -> tuple[str, ...]:
    """Every spelling of the table that a suggestion may offer, the plain keys first."""
    keys = [row.key for row in QUALITIES.values() if row.key]
    written = [text for row in QUALITIES.values() for text in row.written if text[0] not in "b#"]
    return tuple(dict.fromkeys(keys + written))


def _minor_instead(letter: str, text: str) -> str:
    return f"{letter.upper()}m{text[1:]}"


def _first_readable(*symbols: str) -> str | None:
    for symbol in symbols:
        try:
            parse_chord(symbol)
        except ChordSymbolError:
            continue
        return symbol
    return None


def _note_name(match: re.Match[str]) -> NoteName:
    letter, signs = match[1], match[2] or ""
    plain = signs.replace("𝄫", "bb").replace("𝄪", "##").replace("x", "##").replace("♮", "")
    return NoteName.parse(letter + plain)
