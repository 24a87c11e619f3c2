"""Bars of a file made whole bars: pickups, bars that a sign cuts in two, bars too short or too long.

A recipe's bars are all as long as its meter says. A pickup leads into the first whole bar; the short
bar that balances it, at the end or before a repeat, counts as a whole one, as it is played with the
pickup of the next pass [common practice].
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from genex.exact import Fraction
from genex.readers.charts.foreign_chart import ForeignBar, ForeignChart, ForeignNote, Symbol, quoted


def laid_out(chart: ForeignChart) -> list[ForeignBar]:
    """Whole bars. What had to be left away or stretched is listed in the chart."""
    return _Layout(chart).result()


class _Layout:
    def __init__(self, chart: ForeignChart) -> None:
        self.chart = chart
        self.whole: list[ForeignBar] = []
        self.raw_length = Fraction(0)
        """Of the bar before, as the file has it."""
        self.carried: ForeignBar | None = None
        self.signs: ForeignBar | None = None

    def result(self) -> list[ForeignBar]:
        bars = self.chart.bars
        for index, bar in enumerate(bars):
            last = index + 1 == len(bars)
            parting = index == 0 or bar.opens or self._parts(bars[index - 1]) or bar.section is not None
            full = bar.meter.bar_beats
            length = bar.length_beats
            if length < full and self._joins(bars[index - 1] if index else None, bar, parting):
                self._join(bar)
            elif length < full and not last and self._is_pickup(bar, bars[index + 1], parting):
                self._leave_pickup(bar)
            elif length > full:
                self._cut(bar)
            else:
                self._add(bar, balanced=last or self._parts(bar) or bars[index + 1].opens)
            self.raw_length = length
        return self.whole

    @staticmethod
    def _parts(bar: ForeignBar) -> bool:
        return bar.passes > 1 or bar.divides

    def _is_pickup(self, bar: ForeignBar, following: ForeignBar, parting: bool) -> bool:
        """A short bar at a beginning, unless it is most of a bar, or the half of one with the next."""
        full = bar.meter.bar_beats
        if bar.ending or not (bar.pickup or parting):
            return False
        halved = bar.length_beats + following.length_beats == full and not (
            self._parts(bar) or following.opens or following.section
        )
        balances = self.raw_length < full
        return bar.pickup or not self.whole or balances or (2 * bar.length_beats <= full and not halved)

    def _joins(self, before: ForeignBar | None, bar: ForeignBar, parting: bool) -> bool:
        """Whether a bar is the other half of the one before."""
        if bar.ending and self.carried is not None:
            return self.carried.length_beats + bar.length_beats == bar.meter.bar_beats
        if before is None or not self.whole or (parting and not bar.ending) or before.passes > 1:
            return False
        return 0 < self.raw_length < self.raw_length + bar.length_beats == bar.meter.bar_beats

    def _join(self, bar: ForeignBar) -> None:
        if not bar.ending:
            self._leave_inside(bar)
            before = self.whole[-1]
            self._take_back_note(replace(before, length_beats=self.raw_length))
            before.symbols += _moved(bar, self.raw_length)
            before.notes += _moved_notes(bar.notes, self.raw_length)
            before.behind += bar.behind
            before.passes, before.divides = bar.passes, bar.divides
            return
        # An ending that begins inside a bar: each ending gets the half bar before it.
        if self.carried is None:
            self.carried = replace(self.whole.pop(), length_beats=self.raw_length)
            self._take_back_note(self.carried)
        half = self.carried
        joined = replace(
            bar,
            symbols=[*half.symbols, *_moved(bar, half.length_beats)],
            notes=[*half.notes, *_moved_notes(bar.notes, half.length_beats)],
            lead=half.lead,
            lead_beats=half.lead_beats,
        )
        self._add(joined, balanced=True)

    def _leave_inside(self, bar: ForeignBar) -> None:
        """List what a chart has at the beginning of a bar only."""
        for change, name in ((bar.key, "key"), (bar.tempo, "tempo")):
            if change is not None:
                self.chart.leave(f"the change of {name} inside the bar", bar.place)
        for sign in bar.before:
            self.chart.leave(f"the sign {quoted(sign.name)} inside the bar", sign.place)

    def _take_back_note(self, bar: ForeignBar) -> None:
        self.chart.unread = [one for one in self.chart.unread if one.text != _short_note(bar)
                             or one.place != bar.place]  # fmt: skip

    def _leave_pickup(self, bar: ForeignBar) -> None:
        said = f"the pickup of {_beats(bar.length_beats)}"
        for one in bar.symbols:
            if one.text:
                self.chart.leave(f"{one.text} over {said}", one.place)
        if not self.whole:
            self.chart.pickup_beats = bar.length_beats
        elif not bar.notes:
            self.chart.leave(said, bar.place)
        self.signs = bar

    def _cut(self, bar: ForeignBar) -> None:
        full = bar.meter.bar_beats
        count = max(1, int(bar.length_beats / full + Fraction(1, 2)))
        self.chart.leave(
            f"the bar of {_beats(bar.length_beats)} in {bar.meter} stands as "
            f"{count} bar{'s' if count > 1 else ''}", bar.place,
        )  # fmt: skip
        for number in range(count):
            start = number * full
            inside = [
                replace(one, onset_beats=one.onset_beats - start)
                for one in bar.symbols
                if one.onset_beats >= start and (number + 1 == count or one.onset_beats < start + full)
            ]
            piece = ForeignBar(bar.place, bar.meter, full, inside)
            piece.notes = _cut_notes(bar.notes, start, start + full)
            if number == 0:
                piece.opens, piece.ending = bar.opens, bar.ending
                piece.section, piece.key = bar.section, bar.key
                piece.before, piece.tempo = bar.before, bar.tempo
            if number + 1 == count:
                piece.passes, piece.divides = bar.passes, bar.divides
                piece.behind = bar.behind
            self._add(piece, balanced=True)

    def _add(self, bar: ForeignBar, *, balanced: bool) -> None:
        if bar.length_beats < bar.meter.bar_beats and not balanced:
            self.chart.leave(_short_note(bar), bar.place)
        bar = replace(
            bar,
            symbols=list(bar.symbols),
            notes=list(bar.notes),
            before=list(bar.before),
            behind=list(bar.behind),
            length_beats=bar.meter.bar_beats,
        )
        if self.signs is not None:
            bar.opens = bar.opens or self.signs.opens
            bar.ending = bar.ending or self.signs.ending
            bar.section = bar.section or self.signs.section
            bar.key = bar.key or self.signs.key
            bar.tempo = bar.tempo or self.signs.tempo
            bar.before = [*self.signs.before, *bar.before]
            bar.lead, bar.lead_beats = self.signs.notes, self.signs.length_beats
            self.signs = None
        if not bar.ending and (bar.opens or (self.whole and self._parts(self.whole[-1]))):
            self.carried = None
        self.whole.append(bar)


def _moved(bar: ForeignBar, beats: Fraction) -> list[Symbol]:
    return [replace(one, onset_beats=one.onset_beats + beats) for one in bar.symbols]


def _moved_notes(notes: Iterable[ForeignNote], beats: Fraction) -> list[ForeignNote]:
    return [replace(one, onset_beats=one.onset_beats + beats) for one in notes]


def _cut_notes(notes: Iterable[ForeignNote], start: Fraction, end: Fraction) -> list[ForeignNote]:
    """What sounds from ``start`` to ``end``, with times from there; what is cut is tied."""
    return [
        replace(
            one,
            onset_beats=max(one.onset_beats, start) - start,
            length_beats=min(one.end_beats, end) - max(one.onset_beats, start),
            ties=one.ties or one.end_beats > end,
        )
        for one in notes
        if one.onset_beats < end and one.end_beats > start
    ]


def _short_note(bar: ForeignBar) -> str:
    return f"the bar of {_beats(bar.length_beats)} in {bar.meter} stands as a whole bar"


def _beats(beats: Fraction) -> str:
    """A length in quarter notes, in words."""
    return f"{beats} quarter note{'' if beats == 1 else 's'}"
