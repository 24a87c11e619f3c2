"""What a chart writes once and is played several times: repeats, and what a jump back plays again.

All times are exact ``Fraction`` quarter-note beats from the start of the first bar.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from genex.exact import Fraction


@dataclass(frozen=True, slots=True)
class Pass:
    """One time through a repeat: from ``onset_beats`` the body, from ``ending_beats`` its ending."""

    onset_beats: Fraction
    ending_beats: Fraction
    end_beats: Fraction

    @property
    def has_ending(self) -> bool:
        return self.ending_beats < self.end_beats


@dataclass(frozen=True, slots=True)
class RepeatSpan:
    """A passage that the chart writes once, between repeat signs, and that is played several times.

    body_beats    length of what all passes have in common
    ending_beats  for each pass the length of its own ending, 0 where there is none; a first and
                  second ending make two passes
    """

    onset_beats: Fraction
    body_beats: Fraction
    ending_beats: tuple[Fraction, ...]

    def __post_init__(self) -> None:
        if len(self.ending_beats) < 2 or self.body_beats <= 0 or min(self.ending_beats) < 0:
            raise ValueError(f"a repeat has a body and two passes or more: {self}")

    @property
    def passes(self) -> tuple[Pass, ...]:
        found = []
        onset = self.onset_beats
        for length in self.ending_beats:
            ending = onset + self.body_beats
            found.append(Pass(onset, ending, ending + length))
            onset = ending + length
        return tuple(found)

    @property
    def length_beats(self) -> Fraction:
        """Length of all passes."""
        return sum(self.ending_beats, len(self.ending_beats) * self.body_beats)

    @property
    def end_beats(self) -> Fraction:
        return self.onset_beats + self.length_beats


@dataclass(frozen=True, slots=True)
class JumpSpan:
    """A jump back that the chart writes with a sign, and what is played again after it.

    name          what stands behind the bar before the jump, such as ``D.S. al Coda``
    leave_name    ``Fine`` or ``To Coda``, behind the bar that ends at ``leave_beats`` the first time;
                  empty where all is played again
    target_beats  where the jump goes to
    onset_beats   the jump: from here bars are played again
    again_beats   onsets, the first time, of the bars that are played again
    end_beats     where they are over; the coda, if there is one, begins here
    also_leave_beats  ends of other bars that the same sign stands behind, as their section comes again
    """

    name: str
    leave_name: str
    target_beats: Fraction
    leave_beats: Fraction
    onset_beats: Fraction
    again_beats: tuple[Fraction, ...]
    end_beats: Fraction
    also_leave_beats: tuple[Fraction, ...] = ()

    @property
    def has_segno(self) -> bool:
        """Whether it goes to a sign, and not to the beginning."""
        return self.name.startswith("D.S.")

    @property
    def has_coda(self) -> bool:
        return self.leave_name == "To Coda"

    def moved(self, beats: Fraction) -> JumpSpan:
        """The same later by ``beats``."""
        return replace(
            self,
            target_beats=self.target_beats + beats,
            leave_beats=self.leave_beats + beats,
            onset_beats=self.onset_beats + beats,
            again_beats=tuple(onset + beats for onset in self.again_beats),
            end_beats=self.end_beats + beats,
            also_leave_beats=tuple(end + beats for end in self.also_leave_beats),
        )
