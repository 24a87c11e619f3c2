"""What the hand does, in signs above notes: its position, its shifts and its rolls.

The signs are those of the tab. A position is a Roman numeral, the fret of the first finger [common
practice of guitar editions].
"""

from __future__ import annotations

from genex.exact import Fraction
from genex.fretboard import HandMove
from genex.score import Note, Part

_NUMERALS = ((10, "X"), (9, "IX"), (5, "V"), (4, "IV"), (1, "I"))


def numeral(number: int) -> str:
    """A position as it is printed: ``VII``. Necks end long before 40."""
    text = ""
    for value, letters in _NUMERALS:
        text += letters * (number // value)
        number %= value
    return text


def hand_sign(before: Note | None, note: Note) -> str:
    """``=`` for a roll; ``>`` for a shift up the neck, ``<`` for one down; empty for neither."""
    place = note.fretting
    if place is None or place.move is HandMove.NONE:
        return ""
    if place.move is HandMove.ROLL:
        return "="
    if before is None or before.fretting is None:
        return ">"
    hands = [p.fret - (p.finger or 1) for p in (before.fretting, place)]
    frets = [before.fretting.fret, place.fret]
    came, goes = hands if hands[0] != hands[1] else frets
    return ">" if goes >= came else "<"


def hand_marks(part: Part) -> dict[Fraction, str]:
    """The mark above each onset that has one: where the line begins, shifts and rolls.

    Of notes that are struck together the first one tells.
    """
    found: dict[Fraction, str] = {}
    before: Note | None = None
    begun = False
    for note in part.notes:
        place = note.fretting
        if before is not None and before.onset_beats == note.onset_beats:
            continue
        sign = hand_sign(before, note)
        if place is not None and place.finger and place.fret > 0 and (sign in ("<", ">") or not begun):
            position = numeral(max(1, place.fret - place.finger + 1))
            found[note.onset_beats] = f"{sign}{position}" if begun else position
            begun = True
        elif sign:
            found[note.onset_beats] = sign
        before = note
    return found
