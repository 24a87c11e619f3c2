"""The signs of repetition around a bar of a written page."""

from __future__ import annotations

from dataclasses import dataclass

UNDERSTOOD_TIMES = 2
"""What repeat signs mean of themselves; a passage played more often says so."""

BETWEEN = "  "
"""What parts a place where a jump leaves from the jump itself, behind one bar."""


@dataclass(frozen=True, slots=True)
class Signs:
    """The signs of repetition around a bar.

    opens           a repeat begins before the bar
    closes          a repeat sign stands after it: back to where the repeat opens
    times           how often a passage without endings is played, at the bar that closes it
    ending          number of the ending that the bar belongs to, 0 for none
    ending_begins, ending_ends  the bar is the first, or the last, of its ending
    is_last_ending  no ending follows
    segno, coda     the sign that a jump goes to, or leaves for, stands before the bar
    said            what a jump writes behind the bar: ``To Coda``, ``Fine``, ``D.S. al Coda``
    """

    opens: bool = False
    closes: bool = False
    times: int = 0
    ending: int = 0
    ending_begins: bool = False
    ending_ends: bool = False
    is_last_ending: bool = False
    segno: bool = False
    coda: bool = False
    said: str = ""

    @property
    def is_fresh(self) -> bool:
        """Bars of two different places on the page come before it: nothing is left unsaid here."""
        return self.opens or self.ending_begins or self.segno or self.coda

    @property
    def stands_above(self) -> bool:
        """Whether anything is written over the bar."""
        return bool(self.ending or self.times > UNDERSTOOD_TIMES or self.segno or self.coda or self.said)

    @property
    def _told(self) -> list[str]:
        return self.said.split(BETWEEN)

    def beside(self, other: Signs) -> Signs:
        """The signs of two repeats, one inside of the other, around one bar."""
        return Signs(
            self.opens or other.opens,
            self.closes or other.closes,
            self.times or other.times,
            self.ending or other.ending,
            self.ending_begins or other.ending_begins,
            self.ending_ends or other.ending_ends,
            self.is_last_ending or other.is_last_ending,
            self.segno or other.segno,
            self.coda or other.coda,
            BETWEEN.join(dict.fromkeys(filter(None, (*self._told, *other._told)))),
        )


PLAIN = Signs()
