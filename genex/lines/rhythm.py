"""Rhythms of phrases: bars put together from cells, ideas that come back changed, an ending.

A phrase begins with an idea (a bar), comes back to it as it was or changed (a beat later, cut
short, its long notes divided), and ends on a held note with a breath of at least a pulse after it
(half a pulse in a phrase of one short bar). Cells are those of ``rhythm_cells.py``; how many notes
a level has is told in ``NOTES_A_BAR``, so that each level is denser than the one before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from random import Random
from types import MappingProxyType
from typing import Literal

from genex.exact import Fraction
from genex.exercises import LineFamily
from genex.lines.habits import Habit, in_turn, struck_last, too_often
from genex.lines.ideas import Turn, readable, turned
from genex.lines.rhythm_cells import (
    HALF_PULSE_LEVEL,
    LATE_LEVEL,
    OFF_BEAT_LEVEL,
    TIES_LEVEL,
    Cell,
    Words,
    cells_of,
    is_quick,
    pickups_of,
)
from genex.score import Meter

FEWEST_NOTES = 3
"""What makes a phrase: no phrase of two bars or more has fewer notes."""

NOTES_A_BAR = (
    Fraction(27, 10),
    Fraction(32, 10),
    Fraction(37, 10),
    Fraction(43, 10),
    Fraction(49, 10),
    Fraction(56, 10),
)
"""Notes that each level aims at in a bar of four pulses, endings and breaths counted in."""
COMPOUND_SHARE = Fraction(13, 10)
"""A dotted quarter has room for three eighths and lasts longer: a phrase in 12/8 that had no more
notes than one in 4/4 would drag [common practice]."""
DENSITY_SLACK = Fraction(1, 4)
"""So far from the number aimed at a phrase may lie, a third of it at the levels whose bars are few; of
some drawn the nearest is taken."""
DRAWS = 32
VARIED_SHARE = 0.3
"""How often a bar of an idea that is taken up is cut short or divided, from the level that leaves
the beat on."""

_SHARE, _SHARE_OF_HABITS = 4, 6
"""Of so many bars of a tune one may have a rhythm, where it keeps to a habit fewer: tunes of few
rhythms would have it in common."""

OTHER_SHARE = 0.4
"""How often such a bar is another one of the tune's at the levels before that."""

EARLY_SHARE = MappingProxyType({4: 0.35, 5: 0.45, 6: 0.6})
"""How often a last note that would come on a bar line comes before it, by level."""

Ending = Literal["open", "closed", "final"]
"""How a phrase ends: on the way, at home, or at home and held to the end of its last bar."""


@dataclass(frozen=True, slots=True)
class Copy:
    """The bar of the phrase, from 0, whose idea another bar brings back, and how."""

    bar: int
    turn: Turn


def strokes(words: Words) -> int:
    """How many notes are struck in a bar."""
    return sum(word.count("x") for word in words)


Times = tuple[tuple[Fraction, Fraction], ...]
"""(onset, length) of notes, in beats from a bar line."""


@dataclass(frozen=True)
class PhraseRhythm:
    """The notes of a phrase in time.

    words   for each bar its rhythm, a word a pulse
    copies  for each bar, the earlier bar whose idea it brings back, or None
    meter   of its first bar
    others  meters of the bars behind the first, where they are not all the same
    """

    words: tuple[Words, ...]
    copies: tuple[Copy | None, ...]
    meter: Meter
    others: tuple[Meter, ...] = ()

    def meter_of(self, bar: int) -> Meter:
        """The meter of a bar, counted from 0."""
        return self.others[bar - 1] if self.others and bar else self.meter

    @cached_property
    def bars(self) -> tuple[Times, ...]:
        """For each bar, onset and length of its notes in beats from its bar line; a length may
        cross the next one."""
        found: list[list[tuple[Fraction, Fraction]]] = []
        sounding = False
        for index, words in enumerate(self.words):
            found.append([])
            at = Fraction(0)
            for word, pulse in zip(words, _pulse_lengths(self.meter_of(index)), strict=True):
                step = pulse / len(word)
                for letter in word:
                    if letter == "x":
                        found[-1].append((at, step))
                    elif letter == "-" and sounding:
                        own = next(bar for bar in reversed(found) if bar)
                        own[-1] = own[-1][0], own[-1][1] + step
                    sounding = letter == "x" or (letter == "-" and sounding)
                    at += step
        return tuple(tuple(bar) for bar in found)

    @property
    def count(self) -> int:
        return sum(map(strokes, self.words))


@dataclass(frozen=True)
class Style:
    """What the rhythms of a passage are drawn from: its own choice among a family's cells.

    ``habit`` is what the tune keeps to, None for all that the cells give. ``others`` are the styles of
    a phrase's bars behind the first, where these are in other meters.
    """

    cells: tuple[Cell, ...]
    meter: Meter
    level: int
    habit: Habit | None = None
    others: tuple[Style, ...] = ()

    def of_bar(self, bar: int) -> Style:
        """What a bar of the phrase, counted from 0, is drawn from."""
        return self.others[bar - 1] if self.others and bar else self

    @classmethod
    def draw(
        cls,
        family: LineFamily | None,
        meter: Meter,
        level: int,
        rng: Random,
        habit: Habit | None = None,
        *,
        fast: bool = False,
    ) -> Style:
        """A choice that some cells are often in and some not at all, so that tunes differ. Where it is
        ``fast`` there are none that are quick."""
        cells = cells_of(family_in(meter, family), level)
        cells = tuple(cell for cell in cells if not (fast and is_quick(cell.words, meter)))
        plain = [cell for cell in cells if cell.words == ("x",)]
        liked = [
            Cell(cell.words, cell.weight * rng.choice((0, 0, 1, 2, 6)))
            for cell in cells
            if cell not in plain
        ]
        return cls((*plain, *(cell for cell in liked if cell.weight)), meter, level, habit)


def family_in(meter: Meter, family: LineFamily | None) -> LineFamily:
    """The family whose cells a meter takes: that of the feel, if its pulse is divided so."""
    if meter.is_compound:
        return "six-eight"
    if family is None or family == "six-eight":
        return "waltz" if meter.count == 3 else "straight"
    return family


Pickup = Times
"""Notes before a bar line: onsets are negative."""
PICKUP_SHARE = 0.85
"""How often a phrase that may have a pickup has one."""


def draw_pickup(
    meter: Meter, level: int, rng: Random, family: LineFamily | None = None, *, fast: bool = False
) -> Pickup:
    """One to three short notes that lead over the bar line, in the last two pulses; or none."""
    choices = pickups_of(family_in(meter, family), level)
    choices = tuple(words for words in choices if not (fast and is_quick(words, meter)))
    if not choices or rng.random() >= PICKUP_SHARE:
        return ()
    words = rng.choice(choices)
    found = []
    at = -len(words) * meter.pulse_beats
    for word in words:
        step = meter.pulse_beats / len(word)
        for letter in word:
            if letter == "x":
                found.append((at, step))
            at += step
    return tuple(found)


def even_rhythm(meter: Meter, bars: int, level: int) -> PhraseRhythm:
    """A note on every pulse, at the first two levels on every other one where a bar has four or more;
    the last one comes to rest and leaves a breath: the pitches are all that there is to hear."""
    pulses, left = len(meter.pulses), left_over(meter)
    step = 2 if level < OFF_BEAT_LEVEL and pulses >= 4 else 1
    bar = tuple("x" if at % step == 0 else "-" for at in range(pulses))
    last = latest_pulse(pulses, alone=bars == 1)
    last -= last % step
    breath = int(pulses - last > 1)
    held = ("-",) * (pulses - last - 1 - breath)
    end = (*bar[:last], "x", *held, *(".",) * breath)
    if pulses - last == 1:
        end = (*bar[:last], "x-." if meter.is_compound else "x.")
    rest = ("." for _ in left)
    return PhraseRhythm((*((*bar, *left),) * (bars - 1), (*end, *rest)), (None,) * bars, meter)


# How the bars of a phrase hang together: letters are ideas, ' is an idea that comes back changed, and
# "." the ending; a letter before the dot means that the ending begins like that idea.
_PLANS = MappingProxyType(
    {
        1: ("x.",),
        2: ("a a.", "a x.", "a x."),
        3: ("a a' x.", "a b a.", "a b x."),
        4: ("a a' b a.", "a b a' x.", "a a' a' x.", "a b a' b."),
        8: ("a b a' b' c c' d x.", "a a' b a' c c' d x.", "a b a' c a' d d' b.", "a a' a' b c d c' x."),
    }
)


def draw_rhythm(
    style: Style,
    bars: int,
    rng: Random,
    *,
    like: PhraseRhythm | None = None,
    ending: Ending = "open",
    last_from: int = 0,
    density: Fraction = Fraction(1),
    before: Sequence[Words] = (),
    on_beat: bool = False,
    begin: Words | None = None,
) -> PhraseRhythm:
    """A rhythm for a phrase of ``bars`` bars.

    ``like`` is the rhythm of a phrase that it comes back to: its bars come first, as many as there
    is room for before the ending. The last note lies on pulse ``last_from`` (from 0) of the last bar
    or later, as far as that leaves a breath. ``density`` multiplies the number of notes aimed at.
    ``before`` are the bars that there were already, in order: a new idea or ending is rather another
    one, and none comes too often (``too_often``).
    ``on_beat``: it begins on its first beat, as a pickup wants it. ``begin`` is its first bar.
    """
    wanted = (notes_wanted(style.of_bar(bar).meter, 1, style.level) for bar in range(bars))
    aim = sum(wanted, Fraction(0)) * density
    slack = DENSITY_SLACK if style.habit is None else DENSITY_SLACK / 3

    def off(rhythm: PhraseRhythm) -> Fraction:
        few = 100 if rhythm.count < FEWEST_NOTES and bars > 1 else 0
        known = () if like is None else like.words
        new = (words for words, copy in zip(rhythm.words, rhythm.copies, strict=True) if copy is None)
        again = sum(words in before and words not in known for words in new)
        share = _SHARE if style.habit is None else _SHARE_OF_HABITS
        again += too_often((*before, *rhythm.words), bars, share=share)
        return max(abs(rhythm.count - aim) - slack * aim / 2, Fraction(0)) + few + 2 * again

    def draw() -> PhraseRhythm:
        return _draw(style, bars, rng, like, ending, last_from, before, on_beat=on_beat, begin=begin)

    best = draw()
    least = off(best)
    for _ in range(DRAWS):
        if least == 0:
            break
        other = draw()
        distance = off(other)
        if distance < least:
            best, least = other, distance
    return best


def notes_wanted(meter: Meter, bars: int, level: int) -> Fraction:
    """The number of notes that a phrase of ``bars`` bars aims at."""
    share = COMPOUND_SHARE if meter.is_compound else Fraction(1)
    return NOTES_A_BAR[level - 1] * len(meter.pulses) * bars / 4 * share


def _draw(
    style: Style,
    bars: int,
    rng: Random,
    like: PhraseRhythm | None,
    ending: Ending,
    last_from: int,
    before: Sequence[Words],
    *,
    on_beat: bool,
    begin: Words | None,
) -> PhraseRhythm:
    plan = _plan(bars, rng)
    ideas: dict[str, int] = {}
    written: list[Words] = []
    copies: list[Copy | None] = []
    for index, word in enumerate(plan):
        letter, is_last = word[0], index == bars - 1
        own = style.of_bar(index)
        if style.of_bar(ideas.get(letter, index)).meter != own.meter:
            ideas[letter] = index  # an idea does not go over into another meter
        source = ideas.setdefault(letter, index)
        turn: Turn = "same"
        is_known = like is not None and index < len(like.words) - 1 and not is_last
        if like is not None and is_known and like.meter_of(index) == own.meter:
            words = like.words[index]
            if own.habit is not None:
                if index and rng.random() < OTHER_SHARE:
                    words = drawn_bar(own, rng, first=False, on_beat=on_beat)
            elif style.level >= OFF_BEAT_LEVEL and rng.random() < VARIED_SHARE:
                words = turned(words, rng.choice(("cut", "divided")), own.meter)
            copies.append(like.copies[index])
        elif index == 0 and begin is not None:
            words = begin
            copies.append(None)
        elif source == index:
            words = drawn_bar(own, rng, first=index == 0, on_beat=on_beat)
            copies.append(None)
        else:
            words = written[source]
            if "'" in word:
                turn = rng.choice(_turns(own))
                words = turned(words, turn, own.meter)
            copies.append(Copy(source, turn))
        if own.habit is not None and not is_last and words != begin:
            words = in_turn(words, own.habit, (*before, *written), first=index == 0)
        if is_last:
            alone = bars == 1
            words = _ended(words, own, rng, ending, last_from, before, alone=alone)
            if not alone and words[0][0] == "-":
                written[-1] = _leading_over(written[-1], style.of_bar(index - 1).meter)
        written.append(words)
    others = tuple(one.meter for one in style.others[: bars - 1])
    meters = [style.meter, *others] if others else [style.meter] * bars
    return PhraseRhythm(readable(written, meters), tuple(copies), style.meter, others)


def _plan(bars: int, rng: Random) -> list[str]:
    if bars in _PLANS:
        return rng.choice(_PLANS[bars]).split()
    plan: list[str] = []
    while len(plan) < bars - 1:
        plan += rng.choice(_PLANS[4]).split()[:3]
    return [*plan[: bars - 1], "x."]


def _turns(style: Style) -> Sequence[Turn]:
    if style.habit is not None:
        return ["same"]
    found: list[Turn] = ["same", "cut", "divided"]
    if style.level >= TIES_LEVEL:
        found += ["later", "later"]
    if style.level >= HALF_PULSE_LEVEL:
        found += ["half later"]
    return found


def drawn_bar(style: Style, rng: Random, *, first: bool, on_beat: bool) -> Words:
    """Cells that fill a bar. The first bar of a phrase begins with a stroke in its first half, at
    the first levels on its first beat. A tune with a habit takes a bar of its own."""
    if style.habit is not None:
        begin = ("x",) if first and (style.level < LATE_LEVEL or on_beat) else ("x", ".")
        bars = [bar for bar in style.habit.bars if bar[0][0] in begin]
        return rng.choices(bars, [1 / strokes(bar) ** 2 for bar in bars])[0]
    words: list[str] = []
    while len(words) < len(style.meter.pulses):
        options = next_cells(style, words, first=first, on_beat=on_beat)
        words += rng.choices(options, [cell.weight for cell in options])[0].words
    return (*words, *left_over(style.meter))


def next_cells(style: Style, words: Sequence[str], *, first: bool, on_beat: bool) -> list[Cell]:
    """The cells that may come next in a bar."""
    pulses = len(style.meter.pulses)
    options = [cell for cell in style.cells if len(cell.words) <= pulses - len(words)]
    if not words and (first or style.level < TIES_LEVEL):
        options = [cell for cell in options if not cell.is_tied]
    if not words and first:
        off_beats = style.level >= OFF_BEAT_LEVEL and not on_beat
        options = [
            cell
            for cell in options
            if cell.words[0][0] == "x"
            or (off_beats and "x" in cell.words[0])
            or (cell.words == (".",) and style.level >= LATE_LEVEL and pulses > 2 and not on_beat)
        ]
    if words and words[-1][-1] == ".":
        options = [cell for cell in options if not cell.is_tied]
    in_a_row = 1 if style.level < HALF_PULSE_LEVEL else 2
    if len(words) >= in_a_row and all(word[0] == "." for word in words[-in_a_row:]):
        # Off-beats alone, one after another, lose the beat for player and listener.
        options = [cell for cell in options if cell.words[0][0] == "x"]
    return options or [Cell(("x",), 1)]


def left_over(meter: Meter) -> Words:
    """What lies behind the last whole pulse of an odd meter is held."""
    return ("-",) * (len(_pulse_lengths(meter)) - len(meter.pulses))


def _pulse_lengths(meter: Meter) -> tuple[Fraction, ...]:
    whole = (meter.pulse_beats,) * len(meter.pulses)
    left = meter.bar_beats - sum(whole, Fraction(0))
    return (*whole, left) if left > 0 else whole


def latest_ending(meter: Meter, *, alone: bool) -> Fraction:
    """Where in its last bar a phrase comes to rest at the latest, in beats from the bar line.

    ``alone``: the last bar is the only one.
    """
    return meter.pulse_beats * latest_pulse(len(meter.pulses), alone=alone)


def latest_pulse(pulses: int, *, alone: bool = False) -> int:
    """The pulse, from 0, of its last bar on which a phrase comes to rest at the latest."""
    return pulses // 2 if pulses > 2 else int(alone and pulses > 1)


def _ended(
    start: Words,
    style: Style,
    rng: Random,
    ending: Ending,
    last_from: int,
    before: Sequence[Words],
    *,
    alone: bool,
) -> Words:
    """The beginning of a bar, then the last note, held, and a breath unless it is the very last.

    From ``TIES_LEVEL`` on the last note may come before the bar line and be held over it, from
    ``OFF_BEAT_LEVEL`` on off the beat. A tune with a habit takes its own ways to rest in turn.
    """
    pulses = len(style.meter.pulses)
    left = left_over(style.meter)
    latest = latest_pulse(pulses, alone=alone)
    if ending == "final":
        latest = max(last_from, latest)
    last_from = min(last_from, latest)
    ends = [
        end
        for end in (() if style.habit is None or alone else style.habit.ends)
        if last_from <= struck_last(end) <= latest
    ]
    if ends:
        end = min(rng.sample(ends, len(ends)), key=before.count)
        held_on = "-" if ending == "final" else "."
        last = struck_last(end)
        return (*end[: last + 1], *(word if word == "-" else held_on for word in end[last + 1 :]))
    lasts = [at for at in range(last_from, latest + 1) if at < pulses]
    last = latest if alone else rng.choice((*lasts, latest))
    head = list(start[:last])
    room = pulses - last
    if ending == "final":
        return (*head, "x", *("-",) * (room - 1), *left)
    stroke = "x"
    early = style.level >= TIES_LEVEL and last == 0 and not alone
    if early and rng.random() < EARLY_SHARE[style.level]:
        stroke = "-"
    elif style.level >= OFF_BEAT_LEVEL and room > 1 and last < latest and rng.random() < 0.3:
        stroke = "..x" if style.meter.is_compound else ".x"
    if room == 1:
        return (
            *head,
            ("x" if left else "x-." if style.meter.is_compound else "x."),
            *("." for _ in left),
        )
    held = rng.randint(max(0, room - 3), room - 2) if ending == "closed" else rng.randint(0, room - 2)
    if len(stroke) > 1 and held == 0 and room > 2:
        held = 1
    held = min(held, 2)
    rests = room - 1 - held
    return (*head, stroke, *("-",) * held, *(".",) * rests, *("." for _ in left))


def _leading_over(words: Words, meter: Meter) -> Words:
    """A bar whose last stroke comes off its last beat, to be held over the bar line."""
    if words[-1] == "-" and len(words) > len(meter.pulses):
        return (*words[:-1], "x")
    return (*words[:-1], "-x" if not meter.is_compound else "x-x")
