"""Reads a page of tab as a player does, and shares nothing with the code that wrote it.

Frets come from the rows of strings, onsets from adding up the note values above them. What two
rows say about the same thing must agree; AssertionError otherwise.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction

LETTERS = {
    "w": 4,
    "h": 2,
    "q": 1,
    "e": Fraction(1, 2),
    "s": Fraction(1, 4),
    "t": Fraction(1, 8),
    "x": Fraction(1, 16),
}
TUPLETS = {"3": Fraction(2, 3), "5": Fraction(4, 5), "7": Fraction(4, 7)}
NATURALS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


@dataclass(frozen=True)
class Played:
    """A struck note: bar, onset in it, key, written length, slide sign, texts under the strings."""

    bar: int
    onset: Fraction
    midi: int
    duration: Fraction
    slide: str = ""
    under: tuple[str, ...] = ()


def midi_number(text: str) -> int:
    letter, signs, octave = re.fullmatch(r"([A-G])(#*|b*)(-?\d+)", text).groups()
    return 12 * (int(octave) + 1) + NATURALS[letter] + signs.count("#") - signs.count("b")


def value_length(text: str) -> Fraction:
    if re.fullmatch(r"\d+/\d+", text):
        return Fraction(text)
    total = Fraction(0)
    for piece in text.split("~"):
        letter, dots, tuplet = re.fullmatch(r"([whqestx])(\.*)([357]?)", piece).groups()
        length = LETTERS[letter] * (2 - Fraction(1, 2 ** len(dots)))
        total += length * TUPLETS.get(tuplet, 1)
    return total


def tokens(row: str) -> dict[int, str]:
    return {match.start(): match.group() for match in re.finditer(r"\S+", row)}


def read_tab(text: str, *, exact: bool = True) -> list[Played]:
    """All struck notes of one part's tab, ties joined.

    With ``exact`` the columns of whole bars must be in exact proportion to time, else within one.
    """
    head, *blocks = text.strip("\n").split("\n\n")
    head = head.replace("\n", " ")
    tuning = re.search(r"Tuning: (.*) \(string", head).group(1).split()
    capo = re.search(r"capo at fret (\d+); frets count from the capo", head)
    raised = int(capo.group(1)) if capo else 0
    open_strings = [midi_number(name) + raised for name in reversed(tuning)]
    count, unit = re.search(r"Meter: (\d+)/(\d+)", head).groups()
    bar_length = Fraction(4 * int(count), int(unit))
    played: list[Played] = []
    at = Fraction(0)
    for block in blocks:
        at = _read_line(block.split("\n"), open_strings, bar_length, at, played, exact)
    assert at % bar_length == 0, "the last bar is not full"
    return played


def _read_line(
    lines: list[str],
    open_strings: list[int],
    bar_length: Fraction,
    at: Fraction,
    played: list[Played],
    exact: bool,
) -> Fraction:
    is_string = [bool(re.match(r"[A-Ga-g][b#]? *[|:][-|:\d()/\\xhp]*$", line)) for line in lines]
    first = is_string.index(True)
    strings = lines[first : first + len(open_strings)]
    assert all(is_string[first : first + len(open_strings)])
    above = lines[:first]
    if re.fullmatch(r"[ !'o]+", above[-1]):
        above.pop()
    values = tokens(above.pop())
    if not re.match(r" *\(?\d", above[-1]):
        above.pop()  # chord symbols, where the piece has any
    headings = tokens(above.pop())
    below = lines[first + len(open_strings) :]

    edges = {column: sign for column, sign in enumerate(strings[0]) if sign in "|:"}
    for row in strings:
        assert {column: sign for column, sign in enumerate(row) if sign in "|:"} == edges
    frets: dict[int, list[tuple[int, str, str]]] = {}
    for number, row in enumerate(strings):
        for match in re.finditer(r"([(/\\]?)(\d+|x)\)?", row[3:]):
            frets.setdefault(match.start(2) + 3, []).append((number, match.group(2), match.group(1)))
    assert set(frets) <= set(values), "a fret without a note value"

    ends = {max(edges), max(edges) - 1}
    exact = exact and ":" not in edges.values()
    places: list[tuple[int, Fraction]] = []
    # The end of a wide bar under which a note that is already counted sounds on.
    is_held = set(values.values()) == {"~"}
    for column in sorted({*values, *edges} - ends):
        if column in edges:
            bars, rest = divmod(at, bar_length)
            assert edges[column] == (":" if rest or is_held else "|")
            assert rest or is_held or headings[column] == str(bars + 1), (
                "bar number and note values differ"
            )
            _require_even(places, exact)
            places = []
            continue
        text = values[column]
        if text == "~":
            continue
        places.append((column, at))
        is_rest = text.startswith("r")
        assert is_rest == (column not in frets), f"{text} at column {column}"
        length = bar_length if text == "rest" else value_length(text.strip("r~"))
        for number, fret, sign in frets.get(column, []):
            midi = open_strings[number] + int(fret)
            if sign == "(":
                struck = [i for i, note in enumerate(played) if note.midi == midi]
                assert struck, "tied to another pitch"
                before = played[struck[-1]]
                end = (before.bar - 1) * bar_length + before.onset + before.duration
                assert end == at, "tied to another pitch"
                played[struck[-1]] = replace(before, duration=before.duration + length)
                continue
            under = tuple(tokens(row).get(column, "") for row in below)
            bar, onset = divmod(at, bar_length)
            played.append(Played(bar + 1, onset, midi, length, sign, under))
        at += length
    _require_even(places, exact)
    return at


def _require_even(places: list[tuple[int, Fraction]], exact: bool) -> None:
    if len(places) < 2:
        return
    (first, start), (last, end) = places[0], places[-1]
    scale = (last - first) / (end - start)
    for column, at in places:
        off = abs(column - first - (at - start) * scale)
        assert off <= (0 if exact else 1), f"column {column} is off by {float(off)}"
