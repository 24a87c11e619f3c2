"""The degrees of a chord while its symbol is being read: what each sign does to them."""

from __future__ import annotations

import re

from genex.theory.pitch import Degree
from genex.theory.qualities import QUALITIES, Quality, ascending
from genex.theory.signs import ADDABLE, ALTERATIONS

_THIRD = 3
_SEVENTH = 7
_FLAT_SEVENTH = Degree(7, -1)
_ALTER = {"": 0, "b": -1, "-": -1, "#": 1, "+": 1}


class ToneError(Exception):
    """A sign that makes no sense here; ``position`` is its place, ``instead`` what to write."""

    def __init__(self, message: str, position: int, instead: str | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.position = position
        self.instead = instead


class Tones:
    """Collects the signs of one symbol; ``result`` adds them up, whatever their order was.

    Every method takes the place of its sign in the symbol and raises ToneError.
    """

    def __init__(self) -> None:
        self._degrees: set[Degree] = set()
        self._asked: dict[Degree, int] = {}
        self._replaced: set[int] = set()
        self._omitted: list[tuple[int, int]] = []
        self._suspension: set[Degree] = set()
        self._suspended_at = 0
        self._is_altered = False

    def start(self, row: Quality) -> None:
        """Begin with a row of the quality table."""
        self._degrees = set(row.degrees)

    def suspend(self, number: str, start: int) -> None:
        """``sus`` with its number: 2, 4, both, or a 7, 9 or 13 that belongs to the chord."""
        if self._suspension:
            raise ToneError("'sus' stands twice", start)
        digits = set(re.findall(r"13|\d", number))
        if "1" in digits:
            raise ToneError("a chord is suspended by 2 or 4", start)
        if digits & {"7", "9", "13"}:
            self._want_no_seventh(start)
            self._degrees |= set(QUALITIES[number].degrees)
        wanted = {Degree(int(digit)) for digit in digits & {"2", "4"}}
        self._suspension = wanted or {Degree(4)}
        self._suspended_at = start

    def add(self, sign: str, number: str, start: int) -> None:
        """``add9`` and its like: a tone beside the others."""
        target = ADDABLE.get(int(number)) if number.isdecimal() else None
        if target is None:
            raise ToneError("'add' needs one of 2, 4, 6, 9, 11 and 13", start)
        self._ask(Degree(target, _ALTER[sign]), start)

    def omit(self, number: str, start: int) -> None:
        """``no3``, ``omit5``."""
        if number == "":
            raise ToneError("say which tone is left out, for example no3 or no5", start)
        self._omitted.append((1 if number == "root" else int(number), start))

    def alter_all(self, start: int) -> None:
        """``alt``."""
        if self._degrees not in (set(QUALITIES[""].degrees), set(QUALITIES["7"].degrees)):
            raise ToneError("'alt' belongs to a plain seventh chord", start, "7alt")
        self._is_altered = True

    def alter(self, sign: str, number: str, start: int) -> None:
        """``b5``, ``#9`` and their like: a tone in the place of the natural one."""
        text = ("b" if _ALTER[sign] < 0 else "#") + number
        if number == "7":
            better = self._like(QUALITIES["7" if text == "b7" else "maj7"])
            said = "the seventh is flat in C7 and natural in Cmaj7, and a chord has one"
            raise ToneError(f"'{text}' is not written; {said}", start, better)
        if text in ("b3", "b10"):
            raise ToneError(f"'{text}' is not written; a chord with a flat third is minor", start,
                            self._like(QUALITIES["m"]) if text == "b3" else "7(#9)")  # fmt: skip
        if text not in ALTERATIONS:
            raise ToneError(f"'{text}' is no alteration; there are b5 #5 b9 #9 #11 and b13", start)
        degree = Degree.parse(ALTERATIONS[text])
        if text == "b6" and self._seventh is not None:
            degree = Degree(13, -1)
        self._ask(degree, start)
        self._replaced.add(degree.number)

    def major_seventh(self, number: str, start: int) -> None:
        """``(maj7)`` and ``(maj9)`` behind a chord that has no other seventh."""
        if number not in ("7", "9", "11", "13"):
            raise ToneError("after 'maj' a 7, 9, 11 or 13 is missing", start)
        if self._seventh == _FLAT_SEVENTH and number == "7" and Degree(9) in self._degrees:
            self._degrees.discard(_FLAT_SEVENTH)  # Cm9(maj7) is Cm(maj9)
        if self._seventh != Degree(_SEVENTH, -2):  # dim7(maj7) has both
            self._want_no_seventh(start)
        self._degrees |= {d for d in QUALITIES[f"maj{number}"].degrees if d.number >= _SEVENTH}

    def tension(self, number: str, start: int) -> None:
        """A number alone: ``(11)`` adds an eleventh and nothing below it."""
        if number == "7":
            self._want_no_seventh(start)
            self._degrees.add(_FLAT_SEVENTH)
            return
        for part in ("6", "9") if number == "69" else (number,):
            self._ask(Degree(int(part)), start)

    def result(self) -> tuple[Degree, ...]:
        """The degrees that all signs together ask for, ascending."""
        if self._is_altered:
            self._degrees = set(QUALITIES["7alt"].degrees)
            if self._asked or self._suspension:
                start = min(self._asked.values(), default=self._suspended_at)
                raise ToneError("'alt' already alters every tension", start, "7alt")
        degrees = {d for d in self._degrees if d.alter or d.number not in self._replaced}
        if self._suspension:
            # The third makes way, and a natural 9 or 11 would be the same note as the 2 or 4.
            doubled = {Degree(d.number + 7) for d in self._suspension}
            degrees = {d for d in degrees if d.number != _THIRD} - doubled | self._suspension
        degrees |= set(self._asked)
        for number, start in self._omitted:
            if not any(degree.number == number for degree in degrees):
                raise ToneError(f"there is no {number} in this chord to leave out", start)
            degrees = {degree for degree in degrees if degree.number != number}
        if len(degrees) < 2:
            raise ToneError("a chord needs at least two tones", self._omitted[-1][1])
        return ascending(degrees)

    def _like(self, row: Quality) -> str | None:
        """The chord as it is so far with the third or seventh of ``row``, as a plain symbol."""
        changed = {degree.number: degree for degree in self._degrees}
        changed |= {d.number: d for d in row.degrees if d.number == (7 if len(row.degrees) > 3 else 3)}
        wanted = ascending(set(changed.values()))
        return next((key for key, other in QUALITIES.items() if other.degrees == wanted), None)

    @property
    def _seventh(self) -> Degree | None:
        return next((d for d in self._degrees if d.number == _SEVENTH), None)

    def _want_no_seventh(self, start: int) -> None:
        if self._seventh is not None:
            raise ToneError("this chord already has a seventh", start)

    def _ask(self, degree: Degree, start: int) -> None:
        if degree in self._asked:
            raise ToneError(f"{degree} stands twice", start)
        self._asked[degree] = start
