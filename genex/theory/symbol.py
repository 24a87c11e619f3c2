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
    A slash before a number or an accidental adds a tone; only before a note's letter is it a bass.
    The bass may be a small letter at the end, ``D/f#``, as collections of tunes write it.
    A chord in parentheses, ``(Em)``, is optional and read as that chord; of ``G(Em)`` the first is
    played [published: ABC standard v2.1, 4.18].

Source: C. Brandt and C. Roemer, Standardized Chord Symbol Notation, 1976 [memory].
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator
from functools import lru_cache
from typing import NoReturn

from genex.errors import ChordSymbolError
from genex.theory.chord import Chord
from genex.theory.foreign import english_note
from genex.theory.pitch import NoteName
from genex.theory.qualities import FORMS, QUALITIES, read_quality
from genex.theory.signs import (
    ADD,
    ALTERATION,
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
from genex.theory.tones import ToneError, Tones

NO_CHORD = "N.C."
"""How charts mark a bar without harmony (MusicXML 4.0 writes kind ``none``)."""

_NO_CHORD_READ = frozenset({"n.c.", "n.c", "nc"})

_INSTEAD_OF_NUMBER = {
    "1": "", "3": "", "4": "sus4", "8": "", "10": "(add9)", "12": "", "0": "dim", "07": "dim7",
}  # fmt: skip
"""Behind a root, numbers that no chord is written with, and what stands for them."""

_INSTEAD_OF_SIGN = (
    (re.compile(r"[h%](?:7|dim7?)?(?![a-z])"), "m7b5", "half-diminished is m7b5 or ø"),
    (re.compile(r"d7"), "dim7", "diminished is dim or °"),
    (re.compile(r"d(?![a-z])"), "dim", "diminished is dim or °"),
    (re.compile(r"[:_]"), "", "the quality follows the root at once"),
    (re.compile(r"\^7?"), "maj7", "'^' is no sign here; the major seventh is maj7, M7 or Δ"),
    (re.compile(r"[.!?*]+$"), "", "nothing but the chord stands here"),
    (re.compile(r"4(?!\d)"), "11", "the fourth above a chord that has a seventh is called 11"),
    (re.compile(r"2(?!\d)"), "9", "the second above a chord that has a seventh is called 9"),
)
"""Behind a root, signs of typing that are not read, what is written instead, and why."""

_OPTIONAL = re.compile(r"(?P<played>[^()]*)\((?P<optional>[A-G](?:[^()]|\([^()]*\))*)\)")
_SMALL_BASS = re.compile(r"(?<=/)[a-g](?=[b#♭♯]?\s*$)")


def is_no_chord(symbol: str) -> bool:
    """Whether a chart entry says that no chord is played."""
    return "".join(symbol.split()).lower() in _NO_CHORD_READ


@lru_cache(maxsize=8192)
def parse_chord(symbol: str) -> Chord:
    """Read a chord symbol. Raises ChordSymbolError with the position of what is wrong in it."""
    return _read(without_optional(symbol)[0])


def _read(symbol: str) -> Chord:
    return _Reader(_SMALL_BASS.sub(lambda letter: letter[0].upper(), symbol)).read()


def without_optional(symbol: str) -> tuple[str, str]:
    """The chord that is played, and the one that is optional, the same for ``(Em)``; else empty.

    Only what can be read is parted: ``C(add9)`` and ``C7(b9)`` are one chord.
    """
    match = _OPTIONAL.fullmatch(symbol.strip())
    if match is None:
        return symbol, ""
    optional = match["optional"].strip()
    played = match["played"].strip() or optional
    for text in {played, optional}:
        try:
            _read(text)
        except ChordSymbolError:
            return symbol, ""
    return played, optional


class _Reader:
    """Reads one symbol from left to right; ``at`` is the next character."""

    def __init__(self, symbol: str) -> None:
        self.symbol = symbol
        self.text = symbol.translate(ONE_FOR_ONE)
        self.end = len(self.text.rstrip())
        self.at = len(self.text) - len(self.text.lstrip())
        self.root_text = ""
        self.tones = Tones()

    def read(self) -> Chord:
        root = self._root()
        self._base()
        try:
            self._changes()
            bass = self._bass() or root
            degrees = self.tones.result()
        except ToneError as error:
            better = error.instead
            self._fail(error.message, error.position,
                       suggestion=None if better is None else self.root_text + better)  # fmt: skip
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
        self.tones.start(row)

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
        start, tones = self.at, self.tones
        if match := self._take(SUS):
            tones.suspend(match[1], start)
        elif match := self._take(ADD):
            tones.add(match[1], match[2], start)
        elif match := self._take(NO):
            tones.omit(match[1], start)
        elif self._take(ALTERED):
            tones.alter_all(start)
        elif match := self._take(ALTERATION):
            number = match[2]
            if len(number) == 2 and number[0] != "1":  # b913 is b9 and 13
                self.at -= 1
                number = number[0]
            tones.alter(match[1], number, start)
        elif self._take(AUGMENTED):
            tones.alter("#", "5", start)
        elif match := self._take(MAJOR):
            self._skip_spaces()
            number_match = self._take(TENSION)
            default = "7" if match[0] == "Δ" else ""
            tones.major_seventh(number_match[0] if number_match else default, start)
        elif match := self._take(TENSION):
            tones.tension(match[0], start)
        else:
            self._refuse_part(start)

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
            for better in _in_english(given):
                self._fail(f"the bass note '{given}' has another name here", self.at,
                           suggestion=self.text[: self.at] + better)  # fmt: skip
            self._fail(f"'{given}' after the slash is not a bass note", self.at)
        self.at = match.end()
        self._skip_spaces()
        if self.at < self.end:
            slash = self.text.rindex("/", 0, self.at)
            given = self.text[slash + 1 : self.end].strip()
            for better in _in_english(given):
                self._fail(f"the bass note '{given}' has another name here", self.at,
                           suggestion=f"{self.text[:slash]}/{better}")  # fmt: skip
            self._fail("nothing may follow the bass note", self.at, cut=True)
        return _note_name(match)

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
            better = _first_readable("B" + text[1:], *_in_english(text))
            self._fail("H is the German name of the note B", start, suggestion=better)
        for better in _in_english(text):
            self._fail("a chord symbol starts with a letter A to G", start, suggestion=better)
        self._fail("a chord symbol starts with a letter A to G", start, hint="write for example Gm7")

    def _refuse_part(self, start: int) -> NoReturn:
        """What cannot be read behind a root: a name in another language, a sign of typing, or noise."""
        whole = self.text[: self.end].strip()
        if start == self.text.index(self.root_text) + len(self.root_text):
            for better in _in_english(whole):
                self._fail("notes have their English names", start, suggestion=better)
        for pattern, instead, why in _INSTEAD_OF_SIGN:
            if match := pattern.match(self.text[: self.end], start):
                better = self.text[:start] + instead + self.text[match.end() : self.end]
                self._fail(why, start, suggestion=better.strip())
        self._fail("this part cannot be read", start)

    def _refuse_number(self, sign: str, number: str, position: int) -> NoReturn:
        if sign == "m" and number == "5":
            if self.text[position - 1] == "-":
                better = f"{self.root_text}(b5)"
                self._fail("'-5' after the root is unclear", position, suggestion=better)
            self._fail("a power chord is neither major nor minor", position,
                       suggestion=f"{self.root_text}m", )  # fmt: skip
        instead = _INSTEAD_OF_NUMBER.get(number) if not sign else None
        self._fail(f"no chord is written with '{number or sign}' here", position,
                   suggestion=None if instead is None else self.root_text + instead)  # fmt: skip

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


def _in_english(text: str) -> Iterator[str]:
    """The symbol with the English name of its root, if it begins with another language's."""
    found = english_note(text)
    if found is not None:
        better = _first_readable(found[0] + found[1].strip())
        if better is not None:
            yield better


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
