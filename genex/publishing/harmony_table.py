"""The harmony of a recipe or a chart, bar by bar: what ``genex harmony`` answers."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from pathlib import Path
from typing import Any

from genex.compose.chart_timeline import build_timeline
from genex.compose.feels import usual_of_feel
from genex.errors import InputError, NotationError
from genex.exact import Fraction
from genex.recipe import Recipe, Version
from genex.recipe.chart_reader import ChartReader
from genex.recipe.recipe import USUAL_METER, read_chord
from genex.recipe.series import Series, read_lessons
from genex.score import Timeline
from genex.text.yaml_source import Source
from genex.theory import Analysis, Chord, Key, Place, Reading, analyse, is_numeral

Json = dict[str, Any]
_RECIPE_ENDINGS = (".yaml", ".yml")
_NO_CHORD = "N.C."


@dataclass(frozen=True)
class _Row:
    """A chord of the chart: its bar and beat, counted from 1, and how it is read."""

    bar: int
    beat: Fraction
    reading: Reading


def harmony_answer(subject: str, key: Key | None = None) -> Json:
    """The harmony of a recipe file, or of a chart such as ``Dm7 | G7 | Cmaj7 |``, as data.

    Of a recipe one chorus is told, with intro and outro, its bars counted as they are played. ``key``
    goes before the key that the recipe names; a chart without one gets the likeliest. Raises
    InputError.
    """
    home, rows = _rows(subject, key)
    return {"key": str(home), "bars": [_as_json(row) for row in rows]}


def harmony_text(answer: Json) -> str:
    """The answer as a table for reading. Bars that go on with the same chord are joined."""
    table = [("bar", "chord", "key", "numeral", "scale", "notes", "guide tones", "why")]
    for label, row in _joined(answer["bars"]):
        table.append(
            (
                label,
                row["symbol"],
                row["key"],
                row["numeral"],
                row["scale"] or "",
                " ".join(row["scale_notes"]),
                " ".join(row["guide_tones"]),
                row["reason"],
            )
        )
    widths = [max(len(row[column]) for row in table) for column in range(len(table[0]))]
    lines = [
        "  ".join(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in table
    ]
    return "\n".join([f"Key: {answer['key']}", "", *lines])


def keys_line(timeline: Timeline) -> str:
    """One line on the keys of a piece: ``F major; bars 3 to 4 in Db major``."""
    away: dict[Key, list[int]] = {}
    for span, reading in zip(timeline.chords, timeline.readings, strict=True):
        bar = timeline.bar_at(span.onset_beats)
        if reading.chord is not None and reading.key != timeline.key and bar.chorus == 1:
            away.setdefault(reading.key, []).append(bar.number)
    if not away:
        return f"{timeline.key} throughout"
    told = [f"{_bars(numbers)} in {key}" for key, numbers in away.items()]
    return "; ".join([str(timeline.key), *told])


def _bars(numbers: Iterable[int]) -> str:
    """``bar 3``, ``bars 3 to 4, 7``."""
    spans: list[list[int]] = []
    for number in dict.fromkeys(numbers):
        if spans and number == spans[-1][1] + 1:
            spans[-1][1] = number
        else:
            spans.append([number, number])
    told = [str(low) if low == high else f"{low} to {high}" for low, high in spans]
    return ("bar " if len(spans) == 1 and spans[0][0] == spans[0][1] else "bars ") + ", ".join(told)


def _rows(subject: str, key: Key | None) -> tuple[Key, list[_Row]]:
    return _of_recipe(Path(subject), key) if _names_a_file(subject) else _of_chart(subject, key)


def _names_a_file(subject: str) -> bool:
    """Whether a recipe is meant and not a chart."""
    if not subject.strip() or "|" in subject:
        return False
    if Path(subject).suffix.lower() in _RECIPE_ENDINGS:
        return True
    try:
        return Path(subject).exists()
    except (OSError, ValueError):  # too long for a name
        return False


def _of_recipe(path: Path, key: Key | None) -> tuple[Key, list[_Row]]:
    recipe = read_lessons(path, usual_of_feel)
    if isinstance(recipe, Series):
        raise InputError(
            f"'{path}' is a series, which has no chart of its own",
            hint="name the recipe of one of its lessons",
        )
    if any(one.form != recipe.form for one in recipe.exercises):
        raise InputError(
            f"the exercises of '{path}' have several charts", hint="give the chart itself: 'Dm7 | G7 |'"
        )
    timeline = one_chorus(recipe, key)
    rows = []
    for span, reading in zip(timeline.chords, timeline.readings, strict=True):
        bar = timeline.bar_at(span.onset_beats)
        beat = (span.onset_beats - bar.onset_beats) / bar.meter.pulse_beats + 1
        rows.append(_Row(bar.number, beat, reading))
    return timeline.key, rows


def one_chorus(recipe: Recipe, key: Key | None = None) -> Timeline:
    """The intro, one chorus and the outro of a recipe in its own key, or read in another."""
    home = key or recipe.key
    once = replace(recipe, fields=recipe.fields.model_copy(update={"repeats": 1}), key=home)
    return build_timeline(once, Version(home, recipe.versions[0].tempo))


def _of_chart(text: str, key: Key | None) -> tuple[Key, list[_Row]]:
    def in_key(word: str) -> Chord:
        if key is None and is_numeral(word):
            raise NotationError(f"the numeral '{word}' needs a key", hint="name it: --key 'G minor'")
        return read_chord(word, key)

    reader = ChartReader(Source("chart", text, {}, {}, {}), USUAL_METER, in_key)
    bars = reader.read(text, 0)
    places: list[Place] = []
    where: list[tuple[int, Fraction]] = []
    for number, bar in enumerate(bars, start=1):
        beat = Fraction(1)
        for chord, length in bar.chords:
            places.append(Place(chord, length, starts=number == 1 and not where))
            where.append((number, beat))
            beat += length / USUAL_METER.pulse_beats
    found: Analysis = analyse(places, key)
    return found.key, [
        _Row(bar, beat, reading) for (bar, beat), reading in zip(where, found.readings, strict=True)
    ]


def _as_json(row: _Row) -> Json:
    reading, beat = row.reading, row.beat
    return {
        "bar": row.bar,
        "beat": int(beat) if beat.denominator == 1 else float(beat),
        "symbol": _NO_CHORD if reading.chord is None else reading.chord.symbol,
        "key": str(reading.key),
        "numeral": reading.numeral,
        "scale": None if reading.scale is None else reading.scale.name,
        "scale_notes": [str(note) for note in reading.scale_notes],
        "guide_tones": [str(note) for note in reading.guide_tones],
        "reason": reading.reason,
    }


def _joined(rows: Sequence[Json]) -> Iterator[tuple[str, Json]]:
    """Each row with its label: bar, or bar and beat; a chord that goes on for bars is one row."""
    for _, group in groupby(rows, key=lambda row: {**row, "bar": 0, "beat": 0}):
        same = list(group)
        first, last = same[0], same[-1]
        label = str(first["bar"]) if first["beat"] == 1 else f"{first['bar']}.{first['beat']:g}"
        if last["bar"] != first["bar"]:
            label += f" to {last['bar']}"
        yield label, first
