"""The melody of a chart as a line in ABC, over the chart's bars as they are played.

It is written in full, without repeats: a pickup before a later pass stands in the bar before it. Notes
are named with the key's signature, lengths are those of the file.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby

from genex.exact import Fraction
from genex.readers.charts.foreign_chart import ForeignBar, ForeignChart, ForeignNote
from genex.theory import STEPS, Key, Pitch

_UNIT = Fraction(1, 2)
"""A length of 1: an eighth note."""
_BARS_A_LINE = 4
_SIGNS = {-2: "__", -1: "_", 0: "=", 1: "^", 2: "^^"}
_ZERO = Fraction(0)


def melody_text(chart: ForeignChart, bars: Sequence[ForeignBar], key: Key, *, octave: int) -> str:
    """The line over ``bars``, laid out and in playing order, in the signature of ``key``.

    ``octave`` is added to each note's. Empty where nothing is to be played.
    """
    placed = [_whole(bar) for bar in bars]
    _place_leads(chart, bars, placed)
    first = bars[0]
    pickup = first.lead if chart.pickup_beats else []
    if not any(placed) and not pickup:
        return ""
    placed = _with_whole_ties([pickup, *placed])
    lengths = [first.lead_beats, *(bar.meter.bar_beats for bar in bars)]
    words = [
        _bar(notes, length, key, octave) for notes, length in zip(placed, lengths, strict=True) if length
    ]
    return "\n".join(["L:1/8", *_rows(words, has_pickup=bool(first.lead_beats))])


def _rows(words: Sequence[str], *, has_pickup: bool) -> Iterator[str]:
    start = 0
    while start < len(words):
        end = start + _BARS_A_LINE + (has_pickup and not start)
        yield " | ".join(words[start:end]) + " |"
        start = end


def _whole(bar: ForeignBar) -> list[ForeignNote]:
    """The notes of a bar in order, none beyond its bar line or the next note."""
    found: list[ForeignNote] = []
    for note in sorted(bar.notes, key=lambda one: one.onset_beats):
        if found and found[-1].end_beats > note.onset_beats:
            before = found.pop()
            length = note.onset_beats - before.onset_beats
            if length:
                found.append(replace(before, length_beats=length, ties=False))
        if note.onset_beats < bar.meter.bar_beats:
            length = min(note.length_beats, bar.meter.bar_beats - note.onset_beats)
            found.append(replace(note, length_beats=length))
    return found


def _place_leads(
    chart: ForeignChart, bars: Sequence[ForeignBar], placed: Sequence[list[ForeignNote]]
) -> None:
    """Pickups inside of the piece, each at the end of the bar before; what finds no room is listed."""
    for number, bar in enumerate(bars[1:], start=1):
        if not bar.lead:
            continue
        start = bars[number - 1].meter.bar_beats - bar.lead_beats
        before = placed[number - 1]
        if start < 0 or (before and before[-1].end_beats > start):
            chart.leave("a pickup, which the bar before it leaves no room for", bar.place)
            continue
        before += (replace(note, onset_beats=note.onset_beats + start) for note in bar.lead)


def _with_whole_ties(bars: Sequence[Sequence[ForeignNote]]) -> list[list[ForeignNote]]:
    """The notes without ties that lead to no note of their pitches right behind."""
    found = [list(bar) for bar in bars]
    flat = [(row, column) for row, bar in enumerate(found) for column in range(len(bar))]
    for (row, column), following in zip(flat, [*flat[1:], None], strict=True):
        note = found[row][column]
        if not note.ties:
            continue
        after = None if following is None else found[following[0]][following[1]]
        joins = after is not None and after.pitches == note.pitches
        if following is not None and following[0] == row:
            joins = joins and after is not None and after.onset_beats == note.end_beats
        elif following is not None:
            joins = joins and following[0] == row + 1 and after is not None and not after.onset_beats
        if not joins:
            found[row][column] = replace(note, ties=False)
    return found


def _bar(notes: Sequence[ForeignNote], length: Fraction, key: Key, octave: int) -> str:
    """A bar in words: notes and rests, beats apart, tuplets under their number."""
    state = {name.step: name.alter for name in key.scale}
    pieces: list[tuple[Fraction, Fraction, str, bool]] = []  # onset, length, sign, ties
    at = _ZERO
    for note in notes:
        if note.onset_beats > at:
            pieces.append((at, note.onset_beats - at, "z", False))
        names = [_named(pitch, state, octave) for pitch in note.pitches]
        sign = names[0] if len(names) == 1 else f"[{''.join(names)}]"
        pieces.append((note.onset_beats, note.length_beats, sign, note.ties))
        at = note.end_beats
    if at < length:
        pieces.append((at, length - at, "z", False))
    beats = groupby(_in_tuplets(pieces), key=lambda piece: piece[0] // 1)
    return " ".join("".join(text for _, text in beat) for _, beat in beats)


def _in_tuplets(
    pieces: Sequence[tuple[Fraction, Fraction, str, bool]],
) -> Iterator[tuple[Fraction, str]]:
    """Onset and text of each note; thirds of a beat and the like stand behind ``(3:2:n``."""
    index = 0
    while index < len(pieces):
        onset, length, _, _ = pieces[index]
        group, total = [pieces[index]], length
        odd = _odd_part(length)
        while odd > 1 and _odd_part(total) > 1 and index + len(group) < len(pieces) and len(group) < 12:
            group.append(pieces[index + len(group)])
            total += group[-1][1]
        if odd == 3 and _odd_part(total) == 1:
            yield onset, f"(3:2:{len(group)}"
            for _, own, sign, ties in group:
                yield onset, _sized(sign, own * Fraction(3, 2), ties=ties)
        else:
            group = group[:1]
            yield onset, _sized(pieces[index][2], length, ties=pieces[index][3])
        index += len(group)


def _odd_part(length: Fraction) -> int:
    """What a length's denominator has beside twos."""
    below = int(length.denominator)
    while below % 2 == 0:
        below //= 2
    return below


def _sized(sign: str, beats: Fraction, *, ties: bool) -> str:
    units = beats / _UNIT
    size = "" if units == 1 else str(units.numerator) if units.denominator == 1 else f"{units}"
    return f"{sign}{size.replace('1/', '/', 1) if size.startswith('1/') else size}{'-' if ties else ''}"


def _named(pitch: Pitch, state: dict[int, int], octave: int) -> str:
    """A pitch as a letter, with its accidental where the bar has not had it."""
    name, height = pitch.name, pitch.octave + octave
    sign = "" if state.get(name.step, 0) == name.alter else _SIGNS[name.alter]
    state[name.step] = name.alter
    letter = STEPS[name.step]
    if height >= 5:
        return f"{sign}{letter.lower()}{(height - 5) * chr(39)}"
    return f"{sign}{letter}{(4 - height) * ','}"
