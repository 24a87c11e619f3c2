"""The recipe's exercise turned into a line over its chart, or a study with a chart of its own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
from pathlib import Path
from typing import Any, TypeVar, cast

from genex.errors import LineError
from genex.exact import decimal
from genex.fretboard import Tuning
from genex.lines.arpeggio import ArpeggioSettings, arpeggio_exercise
from genex.lines.call import CallSettings, call_and_response
from genex.lines.changes import ChangesSettings, arpeggio_line
from genex.lines.drills import (
    DrillSettings,
    chord_drill,
    degree_drill,
    interval_drill,
    progression_drill,
)
from genex.lines.etude import EtudeSettings, etude
from genex.lines.every_position import every_position
from genex.lines.scale_lines import ScaleSettings, scale_line
from genex.lines.study import StudySettings, in_keys, practice_path, sequence_study
from genex.lines.study_plan import StudyPlan, TempoSteps, bars_of, lay_out
from genex.lines.targets import TargetSettings, target_line
from genex.readers.midi_file import read_phrase
from genex.recipe import Recipe, Version, exercises
from genex.score import Part, Timeline
from genex.theory import Chord, Scale, find_scale, parse_chord, transpose_chord

NAME = "exercise"
_T = TypeVar("_T")

_DRILLS: dict[str, Callable[[DrillSettings], StudyPlan]] = {
    "interval": interval_drill,
    "chord": chord_drill,
    "degree": degree_drill,
    "progression": progression_drill,
}


def hears_tempo(wish: exercises.Line | exercises.Study | None) -> bool:
    """Whether an exercise is another one at another tempo, and not only faster or slower.

    Phrases are longer where it is fast, and a study brings a chart, and with it a tempo, of its own.
    """
    return isinstance(wish, exercises.Study | exercises.Etude)


def exercise_line(
    recipe: Recipe,
    wish: exercises.Line,
    version: Version,
    timeline: Timeline,
    neck: Tuning,
    program: int,
) -> Part:
    """A line over the recipe's chart. Raises LineError, FretboardError, NotationError."""
    seed = recipe.fields.seed
    common: dict[str, Any] = {"tuning": neck, "program": program, "name": NAME}
    if isinstance(wish, exercises.Arpeggio):
        return arpeggio_exercise(timeline, _settings(ArpeggioSettings, wish, **common))
    if isinstance(wish, exercises.Changes):
        return arpeggio_line(timeline, _settings(ChangesSettings, wish, **common))
    if isinstance(wish, exercises.Targets):
        return target_line(timeline, _settings(TargetSettings, wish, seed=seed, **common))
    if isinstance(wish, exercises.Scales):
        scales = _scales(wish, timeline, recipe, version)
        return scale_line(timeline, _settings(ScaleSettings, wish, **common, scales=scales))
    return etude(timeline, _settings(EtudeSettings, wish, seed=seed, **common))


def _scales(
    wish: exercises.Scales, timeline: Timeline, recipe: Recipe, version: Version
) -> dict[str, Scale]:
    """The scales wished for, by the chords of the timeline as they are spelled there."""
    wished = {}
    for symbol, name in wish.scales.items():
        chord = transpose_chord(parse_chord(symbol), recipe.key, version.key)
        wished[chord.plain_symbol] = find_scale(name)
    return {
        span.chord.symbol: wished[span.chord.plain_symbol]
        for span in timeline.chords
        if span.chord is not None and span.chord.plain_symbol in wished
    }


def study_plan(
    recipe: Recipe,
    wish: exercises.Study,
    version: Version,
    timeline: Timeline,
    neck: Tuning,
    program: int,
) -> StudyPlan:
    """A study with its own chart; ``timeline`` is the recipe's. Raises InputError."""
    seed = recipe.fields.seed
    common: dict[str, Any] = {"tuning": neck, "program": program}
    own_time: dict[str, Any] = {
        "meter": recipe.meter,
        "key": version.key,
        "tempo_bpm": version.tempo,
        **common,
    }
    if isinstance(wish, exercises.Calls):
        return call_and_response(timeline, _settings(CallSettings, wish, seed=seed, **common))
    if isinstance(wish, exercises.Drill):
        return _DRILLS[wish.ask](_settings(DrillSettings, wish, seed=seed, **own_time))
    if isinstance(wish, exercises.Positions):
        return _positions(recipe, wish, timeline, neck, program)
    chords = distinct_chords(timeline)
    if wish.cycle is not None:
        chords = in_keys(chords[0], version.key, wish.cycle)
    scale = None if wish.scale is None else find_scale(wish.scale)
    settings = _settings(StudySettings, wish, name=NAME, **own_time, scale=scale)
    if isinstance(wish, exercises.Sequence):
        return sequence_study(chords, wish.pattern, settings)
    return practice_path(chords, settings)


def _settings(kind: type[_T], wish: exercises.Line | exercises.Study, **given: Any) -> _T:
    """Settings of a line from the recipe's fields of the same names, and what is ``given``."""
    known = {field.name for field in fields(cast(Any, kind))}
    values = {name: getattr(wish, name) for name in type(wish).model_fields if name in known}
    return kind(**{**values, **given})


def _positions(
    recipe: Recipe, wish: exercises.Positions, timeline: Timeline, neck: Tuning, program: int
) -> StudyPlan:
    """The phrase of a MIDI file, or one written at a level, in every position."""
    if wish.phrase is not None:
        path = Path(recipe.source.file).parent / wish.phrase
        score = read_phrase(path, neck)
        (part,) = score.parts
        own = _under(score.timeline, timeline)
        return every_position(part.notes, own, tuning=neck, program=program, name=NAME)
    settings = EtudeSettings(level=wish.level, seed=recipe.fields.seed, tuning=neck, slides=False)
    notes = etude(timeline, settings).notes
    return every_position(notes, timeline, tuning=neck, program=program, name=NAME)


def _under(phrase: Timeline, chart: Timeline) -> Timeline:
    """A phrase's bars with the chart's chords, key and tempo under them, as far as bars agree.

    A chart that is shorter than the phrase begins again; in another meter the phrase has no chords.
    """
    if phrase.meter != chart.meter:
        return replace(phrase, tempo=chart.tempo)
    bars = bars_of(chart)
    planned = [bars[index % len(bars)] for index in range(len(phrase.bars))]
    return lay_out([replace(bar, section="") for bar in planned], chart.key, chart.tempo)


def distinct_chords(timeline: Timeline) -> tuple[Chord, ...]:
    """Each chord of a chart once, in the order in which they come. Raises LineError for none."""
    found: dict[str, Chord] = {}
    for span in timeline.merged_chords:
        if span.chord is not None:
            found.setdefault(span.chord.plain_symbol, span.chord)
    if not found:
        raise LineError("the chart has no chord to make shapes of", hint="write a chord symbol")
    return tuple(found.values())


def tempo_steps(wish: exercises.TempoSteps) -> TempoSteps:
    """The ladder of tempos that a recipe asks for, exact as its decimals are written."""
    start, end, step = (decimal(value) for value in (wish.start, wish.end, wish.step))
    return TempoSteps(start, end, step, wish.bars)
