"""Forms: the windows of frets, anchored at the root, that the shapes of a tuning lie in.

A form is a window of five frets that a root lies at one end of: either the hand reaches up from
the root, which the first or second finger then takes (root one fret above the window's lower
end), or it reaches down from the root, which the little finger takes (root at the upper end).
Five frets are one hand position and the shift of a fret that fourths between strings ask for:
between neighbouring strings no semitone is missing.

The forms of a tuning are found by going through its strings from the lowest, up before down,
and keeping each window that starts at least two frets from all kept before, twelve frets being
one turn. In standard tuning this leaves five: E and G on string 6, A and C on string 5, D on
string 4. They bear the names of the open chords that they are moved from: a window up from the
root is named by the open string, one down from the root by the string's third fret [common
practice]. In other tunings the forms are numbered up the neck, 1 being the one that reaches up
from a root on the lowest string.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from genex.errors import FretboardError
from genex.fretboard.tunings import STANDARD, Tuning
from genex.theory import Pitch

WINDOW_FRETS = 5
_ROOT_ABOVE_START = {True: 1, False: WINDOW_FRETS - 1}
_NAMING_FRET = {True: 0, False: 3}
_NEAREST, _FARTHEST = 2, WINDOW_FRETS - 1


@dataclass(frozen=True, slots=True)
class Form:
    """``start`` is the window's lowest fret for a root of pitch class 0 (C), 0 to 11."""

    name: str
    start: int

    def start_for(self, root_pitch_class: int) -> int:
        """The window's lowest fret for a root, 0 to 11."""
        return (self.start + root_pitch_class) % 12


@lru_cache(maxsize=64)
def forms_of(tuning: Tuning) -> tuple[Form, ...]:
    """The forms of a tuning in the order in which they follow one another up the neck.

    In standard tuning (at any pitch) C A G E D; elsewhere 1, 2, 3 …
    """
    kept: dict[int, tuple[int, bool]] = {}
    for string in tuning.low_to_high:
        root_fret = -tuning.open_midi[string - 1] % 12
        for upward in (True, False):
            start = (root_fret - _ROOT_ABOVE_START[upward]) % 12
            if all(_turn(start, other) >= _NEAREST for other in kept):
                kept[start] = (string, upward)
    starts = _without_gaps(sorted(kept))
    if tuning.has_standard_intervals:
        named = {start: _open_chord(*kept[start]) for start in starts}
        order = sorted(
            starts, key=lambda start: (start - min(s for s in starts if named[s] == "C")) % 12
        )
        return tuple(Form(named[start], start) for start in order)
    first = next(iter(kept))
    order = sorted(starts, key=lambda start: (start - first) % 12)
    return tuple(Form(str(number), start) for number, start in enumerate(order, start=1))


def _turn(a: int, b: int) -> int:
    """Frets between two starts, the shorter way round the octave."""
    return min((a - b) % 12, (b - a) % 12)


def _open_chord(string: int, upward: bool) -> str:
    open_string = STANDARD.strings[string - 1]
    return str(Pitch.from_midi(open_string.midi + _NAMING_FRET[upward]).name)


def _without_gaps(starts: list[int]) -> list[int]:
    """``starts`` with more between any two that would not overlap (necks of few strings)."""
    filled = []
    for start, following in pairwise([*starts, starts[0] + 12]):
        pieces = -(-(following - start) // _FARTHEST)
        filled += [start + (following - start) * piece // pieces for piece in range(pieces)]
    return sorted({start % 12 for start in filled})


def form_named(name: str, tuning: Tuning) -> Form:
    """The form of that name (``E``, ``e form``, ``2``). Raises FretboardError naming those there are."""
    plain = name.strip().lower().removesuffix("form").strip(" -_")
    forms = forms_of(tuning)
    for form in forms:
        if form.name.lower() == plain:
            return form
    raise FretboardError(
        f"there is no form '{name}' in {tuning}",
        hint=f"its forms are {', '.join(form.name for form in forms)}",
    )
