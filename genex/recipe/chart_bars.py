"""The bars of a chart, as they are written and as they are played."""

from __future__ import annotations

from dataclasses import dataclass

from genex.exact import Fraction
from genex.recipe.jumps import Jump, LooseSignError, Marks, form_played
from genex.recipe.repeats import Repeat, RepeatError, Signs
from genex.score import Hit, Meter, TempoWord
from genex.theory import Chord


@dataclass(frozen=True, slots=True)
class ChartBar:
    """One bar as it is played: chords (None is N.C.) with the beats each one gets.

    ``pushed`` are the places among them, from 0, of those that are struck ahead of their beat;
    ``optional`` are places with the chord that may be left away or played instead; ``meter`` is given
    where it is another one than the piece's; ``hits`` where the band strikes these alone.
    ``fermatas`` are places of chords under one, ``tempo_word`` stands before the bar.
    """

    chords: tuple[tuple[Chord | None, Fraction], ...]
    pushed: tuple[int, ...] = ()
    meter: Meter | None = None
    optional: tuple[tuple[int, Chord], ...] = ()
    hits: tuple[Hit, ...] | None = None
    fermatas: tuple[int, ...] = ()
    tempo_word: TempoWord | None = None


@dataclass(frozen=True, slots=True)
class Chart:
    """Bars as they are played, and what of them is written once: repeats, and jumps back.

    ``order`` are the places of these bars among the written ones.
    """

    bars: tuple[ChartBar, ...]
    order: tuple[int, ...]
    repeats: tuple[Repeat, ...] = ()
    jumps: tuple[Jump, ...] = ()


@dataclass(frozen=True)
class Written:
    """Bars as they are written, with the signs around each."""

    bars: tuple[ChartBar, ...]
    signs: tuple[Signs, ...]
    marks: tuple[Marks, ...]

    @property
    def is_loose(self) -> bool:
        """Whether a sign has no counterpart here, which another section may have."""
        try:
            form_played(self.signs, self.marks)
        except RepeatError as error:
            return isinstance(error, LooseSignError)
        return False


def pulse_lengths(meter: Meter) -> tuple[Fraction, ...]:
    """Length of each counted beat of a bar; the last one of 7/8 is a dotted quarter."""
    onsets = meter.pulses
    return tuple(end - start for start, end in zip(onsets, (*onsets[1:], meter.bar_beats), strict=True))


def shared(count: int, pulses: tuple[Fraction, ...]) -> list[Fraction]:
    """Beats of each of ``count`` chords that share the pulses evenly, first ones longer."""
    each, extra = divmod(len(pulses), count)
    shares, start = [], 0
    for index in range(count):
        end = start + each + (1 if index < extra else 0)
        shares.append(sum(pulses[start:end], Fraction(0)))
        start = end
    return shares


def slashed(count: int, pulses: tuple[Fraction, ...]) -> list[Fraction]:
    """One pulse for each of ``count`` words; the last one keeps what is left of the bar."""
    shares = list(pulses[:count])
    shares[-1] += sum(pulses[count:], Fraction(0))
    return shares
