"""Recipe -> Score: the one place where recipe, band and lines meet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from genex.band import (
    BAND_PARTS,
    Groove,
    count_in,
    groove_names,
    grooves_for,
    load_groove,
    play_band,
    require_meter,
)
from genex.errors import InputError, RecipeError
from genex.fretboard.tunings import Tuning, tuning
from genex.lines.arpeggio import ArpeggioSettings, arpeggio_exercise
from genex.lines.guide import GuideSettings, guide_line
from genex.recipe import Recipe, Version
from genex.recipe.messages import did_you_mean
from genex.score import (
    Bar,
    ChordSpan,
    LeadIn,
    Meter,
    Mix,
    Part,
    Role,
    Score,
    SectionSpan,
    TempoMap,
    Timeline,
)
from genex.score.checks import require_sound
from genex.score.gm import INSTRUMENTS
from genex.theory import transpose_chord

DEFAULT_COUNT_IN_BARS = 1
_PREFERRED_FEELS = ("swing", "straight", "bossa")
_LEAD_MIX = {
    Role.EXERCISE: Mix(level_db=0.0, pan=0.0, room=0.12),
    Role.GUIDE: Mix(level_db=-4.0, pan=0.25, room=0.2),
}


def compose(recipe: Recipe, version: Version | None = None) -> Score:
    """The Score of a recipe in one of its versions, the first one if none is named.

    Raises InputError, with its place in the recipe, for what cannot be played.
    """
    timeline = build_timeline(recipe, version or recipe.versions[0])
    groove = _groove(recipe)
    leads = _rested(recipe, timeline, _lead_parts(recipe, timeline))
    fields = recipe.fields
    band = play_band(
        timeline,
        groove,
        parts=[name for name in BAND_PARTS if name in recipe.parts],
        seed=fields.seed,
        humanise=fields.humanise,
        swing=fields.swing,
        lead_range=_range(leads),
        mutes=_rests(recipe),
    )
    timing = groove.feel_timing(timeline.tempo, fields.swing)
    parts = (*(part.map_notes(timing.swing_lead) for part in leads), *band)
    score = Score(
        title=recipe.title,
        feel=groove.title,
        timeline=timeline,
        parts=tuple(_mixed(recipe, part) for part in parts),
        lead_in=_lead_in(recipe, timeline, groove),
    )
    require_sound(score)
    return score


def build_timeline(recipe: Recipe, version: Version) -> Timeline:
    """Bars, chords and sections of all choruses, one after the other, in a version's key and tempo."""
    bars: list[Bar] = []
    chords: list[ChordSpan] = []
    sections: list[SectionSpan] = []
    onset = Fraction(0)
    for chorus in range(1, recipe.fields.repeats + 1):
        form_number = 0
        for section in recipe.form:
            start = onset
            for chart_bar in section.bars:
                form_number += 1
                bars.append(Bar(len(bars) + 1, form_number, chorus, onset, recipe.meter, section.name))
                for written, beats in chart_bar.chords:
                    chord = written and transpose_chord(written, recipe.key, version.key)
                    chords.append(ChordSpan(onset, beats, chord))
                    onset += beats
            sections.append(SectionSpan(start, onset - start, section.name, chorus))
    return Timeline(
        key=version.key,
        tempo=TempoMap.constant(version.tempo * recipe.meter.pulse_beats),
        bars=tuple(bars),
        chords=tuple(chords),
        sections=tuple(sections),
    )


def _groove(recipe: Recipe) -> Groove:
    """The feel of a recipe. A groove file is looked for beside the recipe."""
    name = recipe.fields.feel or default_feel(recipe.meter)
    place = recipe.place("feel")
    groove = load_groove(name, place, folder=Path(recipe.source.file).parent)
    require_meter(groove, recipe.meter, place)
    return groove


def default_feel(meter: Meter) -> str:
    """The feel of a recipe that names none: the first of a short list that fits the meter."""
    for name in _PREFERRED_FEELS:
        if name in groove_names() and load_groove(name).fits(meter):
            return name
    return next(iter(grooves_for(meter)), _PREFERRED_FEELS[0])


def _lead_parts(recipe: Recipe, timeline: Timeline) -> list[Part]:
    """Exercise and guide line, in straight time."""
    neck = _tuning(recipe)
    fields = recipe.fields
    parts: list[Part] = []
    if "exercise" in recipe.parts:
        exercise = fields.exercise
        settings = ArpeggioSettings(tuning=neck, name="exercise", program=_program(recipe, "exercise"))
        if exercise is not None:
            settings = replace(settings, rhythm=exercise.rhythm, position=exercise.position)
        with _placed(recipe, "exercise"):
            parts.append(arpeggio_exercise(timeline, settings))
    if "guide" in recipe.parts:
        guide = fields.guide
        with _placed(recipe, "guide"):
            parts += guide_line(
                timeline,
                GuideSettings(
                    start=guide.start,
                    rhythm=guide.rhythm,
                    position=guide.position,
                    closed=True,
                    tuning=neck,
                    program=_program(recipe, "guide"),
                ),
            )
    return [replace(part, mix=_LEAD_MIX[part.role]) for part in parts]


def _tuning(recipe: Recipe) -> Tuning:
    fields = recipe.fields
    with _placed(recipe, "tuning"):
        return tuning(fields.tuning, frets=fields.frets, capo=fields.capo)


_DEFAULT_SOUNDS = {"exercise": "jazz guitar", "guide": "clarinet"}


def _program(recipe: Recipe, group: str) -> int:
    """General MIDI program of a lead part's ``sound``."""
    written = getattr(recipe.fields, group)
    name: str = written.sound if written is not None else _DEFAULT_SOUNDS[group]
    program = INSTRUMENTS.get(" ".join(name.lower().split()))
    if program is None:
        raise RecipeError(
            f"there is no sound '{name}'",
            hint=did_you_mean(name, list(INSTRUMENTS), always=True),
            place=recipe.place(group, "sound"),
        )
    return program


@contextmanager
def _placed(recipe: Recipe, *path: str) -> Iterator[None]:
    """Errors that come without a place get that of a field."""
    try:
        yield
    except InputError as error:
        if error.place is None:
            error.place = recipe.place(*path)
        raise


def _rests(recipe: Recipe) -> Mapping[str, tuple[str, ...]]:
    return {section.name: section.rest for section in recipe.form if section.rest}


def _rested(recipe: Recipe, timeline: Timeline, leads: Iterable[Part]) -> list[Part]:
    """Lead parts without the notes of the sections that they rest in."""
    rests = _rests(recipe)
    return [
        replace(
            part,
            notes=tuple(
                note
                for note in part.notes
                if part.role.value not in rests.get(timeline.bar_at(note.onset_beats).section, ())
            ),
        )
        for part in leads
    ]


def _range(leads: Iterable[Part]) -> tuple[int, int] | None:
    """Lowest and highest MIDI number of the lead parts."""
    keys = [note.midi for part in leads for note in part.notes]
    return (min(keys), max(keys)) if keys else None


def _mixed(recipe: Recipe, part: Part) -> Part:
    """A part with the recipe's changes to its level, pan and room."""
    wish = {str(name): fields for name, fields in recipe.fields.mix.items()}.get(part.role.value)
    if wish is None:
        return part
    mix = part.mix
    return replace(
        part,
        mix=Mix(
            level_db=mix.level_db + wish.level,
            pan=mix.pan if wish.pan is None else wish.pan,
            room=mix.room if wish.room is None else wish.room,
        ),
    )


def _lead_in(recipe: Recipe, timeline: Timeline, groove: Groove) -> LeadIn | None:
    written = recipe.fields.count_in
    bars = DEFAULT_COUNT_IN_BARS if written is None else written
    return count_in(timeline, bars, groove) if bars else None
