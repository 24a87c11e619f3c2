"""Tunes of open collections, imported and held to the reading of another library.

Run as ``python -m tests.bench.bench_tunes 600``: so many tunes are drawn from the collections in ABC
that music21's corpus holds (Aird's Airs, O'Neill's Music of Ireland, Ryan's Mammoth Collection, the
Essen folk song collection). Printed are, of each collection and of all

read     tunes that are imported: a recipe that is in order, its melody a line that is read back
meter    tunes with music21's meter in every bar
length   with its written length, as the sum of its bars
melody   with every note of it at its time
played   with its played length and its melody, repeats unrolled
recipe   with its melody, repeats unrolled, in the line of the recipe

all      all of these
music21  tunes that it does not read

and every tune that differs, with the first difference. [package: music21 10.5]
"""

from __future__ import annotations

import random
import re
import sys
import warnings
from collections import Counter
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import music21

from genex.compose import usual_of_feel
from genex.errors import InputError
from genex.readers.charts import ForeignChart, recipe_text
from genex.readers.charts.abc import read_abc
from genex.readers.charts.foreign_chart import ForeignBar, played_bars
from genex.readers.lines.abc_line import read_abc_line
from genex.readers.lines.places import in_file
from genex.recipe import parse_recipe

COLLECTIONS = ("airdsAirs", "oneills1850", "ryansMammoth", "essenFolksong")
CORPUS = Path(music21.__file__).parent / "corpus"
Notes = list[tuple[Fraction, tuple[int, ...]]]


def tunes(collection: str) -> Iterator[tuple[str, str]]:
    """Name and text of each tune."""
    for path in sorted((CORPUS / collection).glob("*.abc")):
        data = path.read_bytes()
        try:
            text = data.decode()
        except UnicodeDecodeError:
            text = data.decode("latin-1")
        for piece in re.split(r"^(?=X:)", text.replace("\r\n", "\n"), flags=re.MULTILINE):
            if piece.startswith("X:") and re.search(r"^K:", piece, flags=re.MULTILINE):
                tune = re.split(r"\n\s*\n", piece)[0]
                yield f"{path.stem} {tune.splitlines()[0]}", tune + "\n"


_SIGNS = re.compile(r'\{[^}]*\}|"[^"]*"|![^!\n]*!|\((?![2-9])|\)|[.~H-Wh-w]')
_BAR_LINES = re.compile(r":*\|+:*\]?:*|::|\[\||\|\]|\]")


def for_music21(text: str) -> str:
    """A tune without what music21 trips over: a version of ABC, without which it has no accidental hold
    to the end of its bar; no slurs, ornaments and grace notes, beside which it drops accidentals and
    notes; and a sign where a repeat begins, where it would go back to the first bar and not behind the
    latest double bar line or repeat [published: ABC standard v2.1, 4.8]."""
    head, _, music = text.partition("\nK:")
    key, _, music = music.partition("\n")
    lines = [
        line if re.match(r"[A-Za-z]:|%", line) else _SIGNS.sub("", line.split("%")[0])
        for line in music.splitlines()
    ]
    return f"%abc-2.1\n{head}\nK:{key}\n{_marked(chr(10).join(lines))}\n"


def _marked(music: str) -> str:
    """The music with a sign at the beginning of every repeat."""
    found, start, is_open = music, 0, False
    at = 0
    while (match := _BAR_LINES.search(found, at)) is not None:
        at = match.end()
        sign = match.group()
        if found[max(0, found.rfind("\n", 0, at)) :].lstrip("\n")[1:2] == ":" and sign == ":":
            continue
        if sign.startswith(":") and not is_open:
            found = f"{found[:start]}|:{found[start:]}"
            at += 2
        if sign.startswith(":"):
            start, is_open = at, sign.endswith(":")
        elif sign.endswith(":"):
            start, is_open = at, True
        elif ("||" in sign or "]" in sign) and not is_open:
            start = at
        elif "||" in sign or "]" in sign:
            start, is_open = (
                (at, False) if not re.match(r"\s*\[?[1-9]", found[at:]) else (start, is_open)
            )
    return found


def by_music21(text: str) -> music21.stream.Stream:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        read = music21.converter.parse(for_music21(text), format="abc")
        return read.parts[0] if read.parts else read


def time_of(value: float) -> Fraction:
    return Fraction(value).limit_denominator(384)


def their_notes(part: music21.stream.Stream) -> Notes:
    """Onset and pitches of what is struck: tied notes once, grace notes left out."""
    found: Notes = []
    for measure in part.getElementsByClass("Measure"):
        for note in measure.recurse().notes:
            is_symbol = isinstance(note, music21.harmony.ChordSymbol)
            if is_symbol or note.duration.isGrace or (note.tie and note.tie.type != "start"):
                continue
            at = time_of(measure.offset) + time_of(note.offset)
            found.append((at, tuple(sorted({pitch.midi for pitch in note.pitches}))))
    return found


def our_notes(bars: list[ForeignBar]) -> Notes:
    found, at, goes_on = [], Fraction(0), False
    before: tuple[int, ...] = ()
    for bar in bars:
        for note in bar.notes:
            pitches = tuple(sorted({pitch.midi for pitch in note.pitches}))
            if not (goes_on and pitches == before):
                found.append((at + note.onset_beats, pitches))
            goes_on, before = note.ties, pitches
        at += bar.length_beats
    return found


def line_of(chart: ForeignChart, text: str) -> list[tuple[int, ...]]:
    """The pitches of the line in a recipe, in order."""
    recipe = parse_recipe(text, "x.yaml", usual_of_feel)
    bars = [bar.meter or recipe.meter for section in recipe.form for bar in section.bars]
    line = read_abc_line(recipe.fields.exercise.abc, in_file("x"), bars, recipe.key)
    if len(line.meters) != len(bars):
        raise ValueError(f"the line has {len(line.meters)} bars and the chart {len(bars)}")
    if line.pickup_beats != chart.pickup_beats:
        raise ValueError(f"the line has a pickup of {line.pickup_beats}, the chart {chart.pickup_beats}")
    found: dict[Fraction, set[int]] = {}
    for one in line.notes:
        found.setdefault(one.note.onset_beats, set()).add(one.note.midi)
    return [tuple(sorted(pitches)) for _, pitches in sorted(found.items())]


def compared(text: str) -> dict[str, str]:
    """What agrees (an empty text), and the first difference of what does not."""
    found: dict[str, str] = {}
    try:
        chart = read_abc(text, "tune.abc")
        written = [bar.meter for bar in chart.bars]
        order = [chart.bars[index] for index in played_bars(chart.bars)]
        raw, played = our_notes(chart.bars), our_notes(order)
        lengths = sum(bar.length_beats for bar in chart.bars), sum(bar.length_beats for bar in order)
        recipe = line_of(chart, recipe_text(chart, "x"))
        found["read"] = ""
    except (InputError, ValueError) as error:
        return {"read": str(error)}
    try:
        part = by_music21(text)
        measures = list(part.getElementsByClass("Measure"))
        meter, theirs = None, []
        for measure in measures:
            meter = measure.timeSignature or meter
            theirs.append(meter.ratioString if meter else "4/4")
        found["meter"] = (
            ""
            if set(theirs) == set(map(str, written))
            else f"{sorted(set(theirs))} and {sorted(set(map(str, written)))}"
        )
        length = sum(time_of(one.highestTime) for one in measures)
        found["length"] = "" if length == lengths[0] else f"theirs {length}, ours {lengths[0]}"
        found["melody"] = difference(their_notes(part), raw)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            expanded = part.expandRepeats()
        length = sum(time_of(one.highestTime) for one in expanded.getElementsByClass("Measure"))
        pitches = [pitches for _, pitches in their_notes(expanded)]
        found["played"] = (
            f"theirs {length}, ours {lengths[1]}"
            if length != lengths[1]
            else difference(pitches, [pitches for _, pitches in played])
        )
        found["recipe"] = difference(pitches, recipe)
    except Exception as error:  # whatever music21 raises for a tune that it does not read
        found["music21"] = f"{type(error).__name__}: {error}"
    return found


def difference(theirs: list, ours: list) -> str:
    """The first place where two lists differ, in words."""
    for number, (a, b) in enumerate(zip(theirs, ours, strict=False), start=1):
        if a != b:
            return f"number {number}: theirs {a}, ours {b}"
    return "" if len(theirs) == len(ours) else f"theirs {len(theirs)}, ours {len(ours)}"


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 600
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    total: Counter[str] = Counter()
    lines = []
    for collection in COLLECTIONS:
        every = list(tunes(collection))
        drawn = random.Random(seed).sample(every, min(len(every), count // len(COLLECTIONS)))
        own: Counter[str] = Counter()
        for name, text in drawn:
            found = compared(text)
            own.update(what for what, said in found.items() if not said or what == "music21")
            own["tunes"] += 1
            own["all"] += all(not said for said in found.values())
            for what, said in found.items():
                if said:
                    print(f"{collection} {name}: {what}: {said[:150]}")
        total += own
        lines.append((collection, own))
    for name, own in [*lines, ("all", total)]:
        what = ("tunes", "read", "meter", "length", "melody", "played", "recipe", "all", "music21")
        print(f"{name}:", ", ".join(f"{one} {own[one]}" for one in what))


if __name__ == "__main__":
    main()
