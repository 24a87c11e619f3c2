"""A chart as a file of another format tells it, before it is laid out in bars of a recipe.

Every reader of this room makes one. It keeps what the file says: bars with the length that they are
filled with, so that pickups and bars cut in two by a repeat can still be seen, chords at their exact
onsets, and the signs around the bars. What a reader meets and cannot use goes into ``unread``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from genex.errors import ChartFileError, Place
from genex.exact import Fraction
from genex.plain_text import clean
from genex.score import Meter
from genex.theory import Key, Pitch

MAX_BARS = 1024
"""Bars of a chart as it is written, the limit of a recipe's chart."""
MAX_PASSES = 16
_MAX_UNREAD = 200
_LONGEST = 60


@dataclass(frozen=True, slots=True)
class Symbol:
    """A chord symbol of the file; ``text`` is readable by genex, or empty for no chord."""

    text: str
    onset_beats: Fraction
    place: Place


@dataclass(frozen=True, slots=True)
class ForeignNote:
    """Notes of the melody struck together, the lowest first; ``ties``: they go on in the next ones."""

    onset_beats: Fraction
    length_beats: Fraction
    pitches: tuple[Pitch, ...]
    ties: bool = False

    @property
    def end_beats(self) -> Fraction:
        return self.onset_beats + self.length_beats


@dataclass(frozen=True, slots=True)
class Unread:
    """Something that stands in the file and not in the recipe."""

    text: str
    place: Place

    def __str__(self) -> str:
        where = "" if self.place.line is None else f"line {self.place.line}: "
        return f"{where}{self.text}"


@dataclass(frozen=True, slots=True)
class FormSign:
    """A sign of a jump, in the words of a recipe's chart."""

    name: str
    place: Place


@dataclass(slots=True)
class ForeignBar:
    """One bar as the file writes it.

    length_beats  what it is filled with, which is less than the meter says in a pickup
    pickup        whether the file says that it is one
    opens         a repeat begins before the bar
    ending        the passes that it is played in, where an ending begins with the bar
    passes        how often what ends with the bar is played; 1 without a repeat
    divides       a double bar line stands behind it
    section       name of the section that begins with the bar
    key           the key from this bar on, where it changes
    tempo         quarter notes a minute from this bar on, where it changes
    before, behind  signs of a jump before the bar (Segno, Coda) and behind it
    notes         the melody
    lead, lead_beats  the melody of a pickup to the bar, from where that begins, and its length
    """

    place: Place
    meter: Meter
    length_beats: Fraction = Fraction(0)
    symbols: list[Symbol] = field(default_factory=list)
    pickup: bool = False
    opens: bool = False
    ending: tuple[int, ...] = ()
    passes: int = 1
    divides: bool = False
    section: str | None = None
    key: Key | None = None
    tempo: Fraction | None = None
    before: list[FormSign] = field(default_factory=list)
    behind: list[FormSign] = field(default_factory=list)
    notes: list[ForeignNote] = field(default_factory=list)
    lead: list[ForeignNote] = field(default_factory=list)
    lead_beats: Fraction = Fraction(0)


@dataclass(slots=True)
class ForeignChart:
    """A chart. ``tempo`` is in quarter notes a minute; ``form`` names sections in playing order.

    ``pickup_beats`` come before its first whole bar, once bars are laid out.
    """

    file: str
    format: str
    title: str = ""
    credits: list[str] = field(default_factory=list)
    key: Key | None = None
    tempo: Fraction | None = None
    bars: list[ForeignBar] = field(default_factory=list)
    form: tuple[str, ...] = ()
    unread: list[Unread] = field(default_factory=list)
    pickup_beats: Fraction = Fraction(0)

    def leave(self, text: str, place: Place) -> None:
        """List something that cannot be used. Equal words of a line are listed once."""
        one = Unread(cut(text), place)
        if one not in self.unread[-50:]:
            self.unread.append(one)

    @property
    def listed(self) -> list[str]:
        """What could not be used, in words; of a very long list the first lines and a count."""
        ordered = sorted(self.unread, key=lambda one: one.place.line or 0)
        said = list(dict.fromkeys(map(str, ordered)))
        if len(said) > _MAX_UNREAD:
            said = [*said[:_MAX_UNREAD], f"and {len(said) - _MAX_UNREAD} more"]
        return said

    def add_bar(self, bar: ForeignBar) -> None:
        """Append a bar. Raises ChartFileError where there are too many."""
        if len(self.bars) >= MAX_BARS:
            raise ChartFileError(
                f"the chart has more than {MAX_BARS} bars",
                hint="import a piece at a time: cut the file, or write repeats",
                place=bar.place,
            )
        self.bars.append(bar)


def open_repeat(bars: Sequence[ForeignBar]) -> None:
    """Mark where a repeat begins that ends with the last bar and has no sign at its beginning: behind
    the latest double bar line or end of a repeat [published: ABC standard v2.1, 4.8]."""
    for before, bar in zip(bars[-2::-1], bars[:0:-1], strict=True):
        if bar.opens or before.passes > 1:
            return
        if before.divides:
            bar.opens = True
            return


def cut(text: str) -> str:
    """A line of text that goes into a message: clean, without line breaks, not too long."""
    plain = " ".join(clean(text).split())
    return plain if len(plain) <= 2 * _LONGEST else plain[: 2 * _LONGEST - 1] + "…"


def quoted(text: str) -> str:
    """Text of the file inside quotes."""
    plain = cut(text)
    return f"'{plain}'" if len(plain) <= _LONGEST else f"'{plain[: _LONGEST - 1]}…'"


@dataclass(frozen=True, slots=True)
class Passage:
    """Bars between two signs, from ``start`` to ``stop``, and the bars that each pass of it plays."""

    start: int
    stop: int
    passes: tuple[tuple[int, ...], ...]


def played_bars(bars: Sequence[ForeignBar]) -> list[int]:
    """Indices of bars in the order in which repeats and endings have them played."""
    return [index for passage in passages(bars) for one in passage.passes for index in one]


def passages(bars: Sequence[ForeignBar]) -> list[Passage]:
    """The chart cut at its signs.

    More lenient than a recipe's chart, as files are: a repeat without a beginning begins behind
    the repeat before, an ending is played in the passes it names, a repeat that is opened and not
    closed is played once.
    """
    found: list[Passage] = []
    start = 0
    while start < len(bars):
        stop = _end_of_passage(bars, start)
        named = max((number for bar in bars[start:stop] for number in bar.ending), default=1)
        closed = max(bar.passes for bar in bars[start:stop])
        turns = max(named, closed)
        found.append(
            Passage(start, stop, tuple(_pass(bars, start, stop, turn) for turn in range(1, turns + 1)))
        )
        start = stop
    return found


def _end_of_passage(bars: Sequence[ForeignBar], start: int) -> int:
    """Where the passage from ``start`` ends: behind its repeat sign, or its last ending."""
    last_ending: tuple[int, ...] = ()
    for index in range(start, len(bars)):
        bar = bars[index]
        if index > start and bar.opens:
            return index
        last_ending = bar.ending or last_ending
        goes_on = index + 1 < len(bars) and bool(bars[index + 1].ending) and not bars[index + 1].opens
        # The ending of the last pass is over at its repeat sign or at a double bar line; where
        # there is neither, it takes in what follows, which is played once in any case.
        if (bar.passes > 1 or (bar.divides and last_ending)) and not goes_on:
            return index + 1
    return len(bars)


def _pass(bars: Sequence[ForeignBar], start: int, stop: int, turn: int) -> tuple[int, ...]:
    heard = []
    ending: tuple[int, ...] = ()
    for index in range(start, stop):
        ending = bars[index].ending or ending
        if not ending or turn in ending:
            heard.append(index)
    return tuple(heard)
