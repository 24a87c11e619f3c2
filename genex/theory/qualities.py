"""The one table of chord qualities: degrees, names and the ways charts write them.

Each row holds

key      the plain spelling used for display and as the key elsewhere (``m7b5``)
degrees  over the root, ascending by number
names    what musicians call it, the usual name first
forms    the spellings that the grammar looks up, in its own signs: ``M`` major, ``m`` minor,
         ``o`` diminished, ``ø`` half-diminished, ``+`` augmented, then a number
written  other spellings seen on charts (after the root), for display

Sources: C. Brandt and C. Roemer, Standardized Chord Symbol Notation, 1976 [memory] for the
meaning of the signs; MusicXML 4.0, type kind-value [published] for the stacks of the 9, 11 and
13 families. Where practice leaves a tone of such a stack out, ``voicings.py`` leaves it out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

from genex.theory.pitch import Degree


@dataclass(frozen=True)
class Quality:
    """One row of the table; see the module's header for the columns."""

    key: str
    degrees: tuple[Degree, ...]
    names: tuple[str, ...]
    forms: tuple[str, ...]
    written: tuple[str, ...]


# key | degrees | names | forms | written
_TABLE = """
           | 1 3 5                | major triad; major | "" M | maj M ma
m          | 1 b3 5               | minor triad; minor | m | min mi -
dim        | 1 b3 b5              | diminished triad; diminished | o | ° o m(b5)
aug        | 1 3 #5               | augmented triad; augmented | +  +5 | + (#5)
5          | 1 5                  | power chord; open fifth | 5 | (no3)
sus4       | 1 4 5                | suspended fourth; suspended | | sus
sus2       | 1 2 5                | suspended second |  |
sus2/4     | 1 2 4 5              | suspended second and fourth | | sus24
add9       | 1 3 5 9              | major triad with added ninth; add nine | 2 M2 | (add9) 2 add2
madd9      | 1 b3 5 9             | minor triad with added ninth; minor add nine | m2 | m(add9) -(add9)
add11      | 1 3 5 11             | major triad with added eleventh; add eleven | | (add11) add4
madd11     | 1 b3 5 11            | minor triad with added eleventh; minor add eleven | | m(add11) madd4
6          | 1 3 5 6              | major sixth; sixth chord | 6 M6 | maj6 M6 add6
m6         | 1 b3 5 6             | minor sixth | m6 | min6 -6
6/9        | 1 3 5 6 9            | six-nine; major six-nine | 69 M69 | 69 6(9) 6(add9)
m6/9       | 1 b3 5 6 9           | minor six-nine | m69 | m69 -6/9
7          | 1 3 5 b7             | dominant seventh; seventh chord | 7 | dom7
maj7       | 1 3 5 7              | major seventh | M7 | M7 ma7 Δ7 Δ △7 j7
m7         | 1 b3 5 b7            | minor seventh | m7 | min7 mi7 -7
mmaj7      | 1 b3 5 7             | minor with major seventh; minor-major seventh | mM7 | m(maj7) mM7 -Δ7
m7b5       | 1 b3 b5 b7           | half-diminished seventh; minor seventh flat five | ø ø7 | ø ø7 -7b5
dim7       | 1 b3 b5 bb7          | diminished seventh; fully diminished seventh | o7 | °7 o7
dim(maj7)  | 1 b3 b5 7            | diminished triad with major seventh | oM7 | °(maj7) oM7
dim7(maj7) | 1 b3 b5 bb7 7        | diminished seventh with added major seventh | | °7(maj7)
7#5        | 1 3 #5 b7            | augmented seventh; seventh sharp five | +7 | aug7 +7 7(#5) 7+5
7b5        | 1 3 b5 b7            | dominant seventh flat five | | 7(b5) 7-5
maj7#5     | 1 3 #5 7             | augmented major seventh | +M7 | maj7(#5) +maj7 Δ7#5
maj7b5     | 1 3 b5 7             | major seventh flat five | | maj7(b5) Δ7b5
7sus4      | 1 4 5 b7             | suspended dominant seventh; seven sus | | 7sus 7(sus4)
7sus2      | 1 2 5 b7             | dominant seventh suspended second | | 7(sus2)
maj7sus4   | 1 4 5 7              | major seventh suspended fourth | | maj7sus Δ7sus4
9          | 1 3 5 b7 9           | dominant ninth; ninth chord | 9 | 7(9) dom9
maj9       | 1 3 5 7 9            | major ninth | M9 | M9 ma9 Δ9 maj7(9)
m9         | 1 b3 5 b7 9          | minor ninth | m9 | min9 mi9 -9
mmaj9      | 1 b3 5 7 9           | minor ninth with major seventh | mM9 | m(maj9) mM9 -Δ9
m9b5       | 1 b3 b5 b7 9         | half-diminished ninth; minor ninth flat five | ø9 | ø9 -9b5 m9(b5)
dim9       | 1 b3 b5 bb7 9        | diminished ninth | o9 | °9 o9
9#5        | 1 3 #5 b7 9          | augmented ninth; dominant ninth sharp five | +9 | aug9 +9 9(#5)
maj9#5     | 1 3 #5 7 9           | augmented major ninth; major ninth sharp five | +M9 | maj9(#5) +maj9
9sus4      | 1 4 5 b7 9           | suspended dominant ninth; nine sus | | 9sus 9(sus4)
7b9        | 1 3 5 b7 b9          | dominant seventh flat nine | | 7(b9) 7-9
7#9        | 1 3 5 b7 #9          | dominant seventh sharp nine | | 7(#9) 7+9
7#11       | 1 3 5 b7 #11         | dominant seventh sharp eleven; Lydian dominant | | 7(#11)
7b13       | 1 3 5 b7 b13         | dominant seventh flat thirteen | | 7(b13)
7(b9,b13)  | 1 3 5 b7 b9 b13      | dominant seventh flat nine flat thirteen | | 7b9b13
7sus4(b9)  | 1 4 5 b7 b9          | suspended dominant seventh flat nine | | 7susb9 7(b9)sus4
7alt       | 1 3 b5 #5 b7 b9 #9   | altered dominant; altered seventh | | alt 7(alt)
9#11       | 1 3 5 b7 9 #11       | dominant ninth sharp eleven | | 9(#11)
maj7#11    | 1 3 5 7 #11          | major seventh sharp eleven; Lydian major seventh | | maj7(#11) Δ7#11
maj9#11    | 1 3 5 7 9 #11        | major ninth sharp eleven | | maj9(#11) Δ9#11
11         | 1 3 5 b7 9 11        | dominant eleventh; eleventh chord | 11 | 7(9,11)
maj11      | 1 3 5 7 9 11         | major eleventh | M11 | M11 Δ11
m11        | 1 b3 5 b7 9 11       | minor eleventh | m11 | min11 mi11 -11
mmaj11     | 1 b3 5 7 9 11        | minor eleventh with major seventh | mM11 | m(maj11) mM11
m11b5      | 1 b3 b5 b7 9 11      | half-diminished eleventh | ø11 | ø11 m11(b5)
dim11      | 1 b3 b5 bb7 9 11     | diminished eleventh | o11 | °11
11#5       | 1 3 #5 b7 9 11       | augmented eleventh | +11 | aug11 +11
maj11#5    | 1 3 #5 7 9 11        | augmented major eleventh | +M11 | +maj11
13         | 1 3 5 b7 9 11 13     | dominant thirteenth; thirteenth chord | 13 |
maj13      | 1 3 5 7 9 11 13      | major thirteenth | M13 | M13 ma13 Δ13
m13        | 1 b3 5 b7 9 11 13    | minor thirteenth | m13 | min13 mi13 -13
mmaj13     | 1 b3 5 7 9 11 13     | minor thirteenth with major seventh | mM13 | m(maj13) mM13
m13b5      | 1 b3 b5 b7 9 11 13   | half-diminished thirteenth | ø13 | ø13 m13(b5)
13#5       | 1 3 #5 b7 9 11 13    | augmented thirteenth | +13 | aug13 +13
maj13#5    | 1 3 #5 7 9 11 13     | augmented major thirteenth | +M13 | +maj13
13sus4     | 1 4 5 b7 9 13        | suspended dominant thirteenth; thirteen sus | | 13sus 13(sus4)
13b9       | 1 3 5 b7 b9 11 13    | dominant thirteenth flat nine | | 13(b9)
13#11      | 1 3 5 b7 9 #11 13    | dominant thirteenth sharp eleven | | 13(#11)
maj13#11   | 1 3 5 7 9 #11 13     | major thirteenth sharp eleven | | maj13(#11) Δ13#11
"""


def _read_row(line: str) -> Quality:
    key, degrees, names, forms, written = (cell.strip() for cell in line.split("|"))
    return Quality(
        key=key,
        degrees=tuple(Degree.parse(text) for text in degrees.split()),
        names=tuple(name.strip() for name in names.split(";")),
        forms=tuple("" if form == '""' else form for form in forms.split()),
        written=tuple(written.split()),
    )


QUALITIES: Mapping[str, Quality] = MappingProxyType(
    {row.key: row for row in map(_read_row, _TABLE.strip("\n").splitlines())}
)
"""Every named quality by its key; the major triad's key is the empty string."""

FORMS: Mapping[str, Quality] = MappingProxyType(
    {form: row for row in QUALITIES.values() for form in row.forms}
)
"""Sign and number as the grammar reads them (``ø7``, ``mM9``) to the quality."""

_BY_DEGREES = {frozenset(row.degrees): row for row in QUALITIES.values()}

_SPOKEN_ALTERATION = {-2: "double flat ", -1: "flat ", 0: "", 1: "sharp ", 2: "double sharp "}
_SPOKEN_NUMBER = {
    1: "root", 2: "second", 3: "third", 4: "fourth", 5: "five", 6: "six", 7: "seventh", 9: "nine",
    11: "eleven", 13: "thirteen",
}  # fmt: skip


@dataclass(frozen=True)
class QualityReading:
    """A set of degrees seen as a row of the table with some tones changed.

    altered  degrees that stand in for a tone of the row (b9 for 9) or extend it (b13)
    added    unaltered degrees beyond the row
    omitted  degrees of the row that are missing
    """

    base: Quality
    altered: tuple[Degree, ...] = ()
    added: tuple[Degree, ...] = ()
    omitted: tuple[Degree, ...] = ()

    @property
    def text(self) -> str:
        """The plain spelling after the root, readable again by the grammar."""
        changes = [str(degree) for degree in self.altered]
        if changes and not self.added and not self.omitted and len(changes) == 1:
            key = self.base.key
            if key[-1:].isdigit() and "sus" not in key and "(" not in key:
                return key + changes[0]
        changes += [f"add{degree}" for degree in self.added]
        changes += [f"no{degree.number}" for degree in self.omitted]
        return f"{self.base.key}({','.join(changes)})" if changes else self.base.key

    @property
    def name(self) -> str:
        """A spoken name, ``dominant seventh, flat nine, sharp eleven``."""
        words = [self.base.names[0]]
        words += [_SPOKEN_ALTERATION[d.alter] + _SPOKEN_NUMBER[d.number] for d in self.altered]
        words += [f"add {_SPOKEN_NUMBER[d.number]}" for d in self.added]
        words += [f"no {_SPOKEN_NUMBER[d.number]}" for d in self.omitted]
        return ", ".join(words)


_PLAIN = tuple(
    row
    for row in QUALITIES.values()
    if "#" not in row.key and ("b" not in row.key or row.key[0] == "m") and "alt" not in row.key
)
"""Rows from which other chords are named: those without an alteration in the key, and ø."""


@lru_cache(maxsize=4096)
def read_quality(degrees: tuple[Degree, ...]) -> QualityReading:
    """The row nearest to a set of degrees and what differs from it.

    It depends on the set alone, so two spellings of one chord get one reading. Leaving a tone
    out counts most, then adding one, then altering one; the earlier row wins a tie.
    """
    wanted = frozenset(degrees)
    if wanted in _BY_DEGREES:
        return QualityReading(_BY_DEGREES[wanted])
    return min((_compare(row, wanted) for row in _PLAIN), key=_distance)


def _compare(row: Quality, wanted: frozenset[Degree]) -> QualityReading:
    new = sorted(wanted - set(row.degrees), key=_by_number)
    altered = [d for d in new if d.number in (5, 6, 9, 11, 13) and d.alter]
    replaced = {d.number for d in altered}
    missing = [d for d in row.degrees if d not in wanted]
    return QualityReading(
        base=row,
        altered=tuple(altered),
        added=tuple(d for d in new if d not in altered),
        omitted=tuple(d for d in missing if d.alter or d.number not in replaced),
    )


def _distance(reading: QualityReading) -> tuple[int, int]:
    held = {d.number for d in reading.base.degrees}
    altered = {d.number for d in reading.altered}
    # "add" cannot bring a third, fifth or seventh, and a sign takes its own number away.
    is_wrong = any(d.number in (1, 2, 3, 4, 5, 7) or d.alter for d in reading.added)
    is_wrong = is_wrong or bool(altered & {d.number for d in reading.omitted})
    cost = 9 * len(reading.omitted) + 4 * len(reading.added) + 3 * len(reading.altered)
    cost += len(altered & held - {5})
    return (1000 if is_wrong else 0) + cost, -len(reading.base.degrees)


def _by_number(degree: Degree) -> tuple[int, int]:
    return degree.number, degree.alter


def ascending(degrees: set[Degree]) -> tuple[Degree, ...]:
    """Degrees in the order of their numbers, the lower alteration first."""
    return tuple(sorted(degrees, key=_by_number))
