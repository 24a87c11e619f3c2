"""The sections of a recipe in the order in which they are played."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from genex.errors import NotationError, RecipeError
from genex.exact import Fraction, decimal
from genex.exercises.recipe_words import PartName
from genex.hints import did_you_mean
from genex.plain_text import clean
from genex.recipe.chart_bars import ChartBar, Written
from genex.recipe.chart_reader import ChartReader
from genex.recipe.fields import RecipeFields, SectionFields
from genex.recipe.form_jumps import joined
from genex.recipe.jumps import Jump
from genex.recipe.repeats import Repeat, RepeatError
from genex.score import Meter
from genex.text.yaml_source import KeyPath, Source
from genex.theory import Key


@dataclass(frozen=True)
class Section:
    """A named stretch of the chart with repeats unrolled, and the parts that are silent in it.

    ``repeats`` and ``jumps`` tell which of the bars are written once; ``key`` is given where the
    section is in another one than the piece, ``tempo``, in pulses of the meter a minute, likewise.
    ``order`` are the places of its bars among the written ones.
    """

    name: str
    bars: tuple[ChartBar, ...]
    rest: tuple[PartName, ...] = ()
    loudness: float = 1.0
    repeats: tuple[Repeat, ...] = ()
    key: Key | None = None
    jumps: tuple[Jump, ...] = ()
    tempo: Fraction | None = None
    order: tuple[int, ...] = ()


_Sections = tuple[Section, ...]


@dataclass(frozen=True)
class PlayedForm:
    """The sections of one chorus, of the intro and of the outro, in playing order.

    ``jumps`` lead from one section of the chorus to another, in bars of all of it.
    """

    chorus: _Sections
    intro: _Sections = ()
    outro: _Sections = ()
    jumps: tuple[Jump, ...] = ()


_LENGTH = re.compile(r"(?P<count>[0-9]{1,3}(?:\.[0-9]{1,4})?)(?:\s*/\s*(?P<unit>[0-9]{1,2}))?")
_UNITS = (1, 2, 4, 8, 16)
_SHORTEST_PICKUP = Fraction(1, 16)
"""A pickup is so many of these quarter notes: in 6/8 a beat is a dotted quarter."""


_T = TypeVar("_T")


def read_field(source: Source, path: KeyPath, text: str, parse: Callable[[str], _T]) -> _T:
    """What a field's text says. Raises RecipeError with the field's place."""
    try:
        return parse(text)
    except NotationError as error:
        raise RecipeError(error.message, hint=error.hint, place=source.place(path)) from None


def form_of(source: Source, fields: RecipeFields, reader: ChartReader) -> PlayedForm:
    """What is played of the sections that a recipe has. Raises RecipeError."""
    if fields.chords is not None and fields.sections is not None:
        raise RecipeError(
            "'chords' and 'sections' both give a chart",
            hint="keep one: 'sections' for named parts, 'chords' for one stretch",
            place=source.place(("sections",), of_key=True),
        )
    if fields.sections is None:
        return PlayedForm((_one_section(source, fields, reader),))
    if not fields.sections:
        raise RecipeError(
            "'sections' is empty",
            hint="write 'A: Gm7 | C7 |' below it",
            place=source.place(("sections",)),
        )
    sections = {
        name: _section(source, name, written, reader) for name, written in fields.sections.items()
    }
    around = {*fields.intro, *fields.outro}
    usual = tuple(name for name in sections if name not in around)
    order = fields.form if fields.form is not None else usual
    if not order:
        raise _no_chorus(source, fields, next(iter(sections)))
    form, intro, outro = (
        _ordered(source, field, names, sections)
        for field, names in (("form", order), ("intro", fields.intro), ("outro", fields.outro))
    )
    if len(form) > 1 and any(one.written.is_loose for one in form):
        chorus, jumps = _joined(form, reader)
    else:
        chorus, jumps = tuple(one.played(reader) for one in form), ()
    for one in sections.values():
        if one not in form:
            one.played(reader)  # what is wrong with it is told though nobody plays it
    before, behind = ([one.played(reader) for one in around] for around in (intro, outro))
    return PlayedForm(chorus, tuple(before), tuple(behind), jumps)


@dataclass(frozen=True)
class _Read:
    """A section as it is written: all that it says but its bars, and these."""

    section: Section
    written: Written

    def played(self, reader: ChartReader) -> Section:
        """The section with its bars as they are played. Raises RecipeError."""
        chart = reader.unrolled(self.written)
        return replace(
            self.section, bars=chart.bars, repeats=chart.repeats, jumps=chart.jumps, order=chart.order
        )


def _joined(form: Sequence[_Read], reader: ChartReader) -> tuple[_Sections, tuple[Jump, ...]]:
    """The sections of a form with jumps from one to another. Raises RecipeError."""
    try:
        found = joined([one.section.name for one in form], [one.written for one in form])
    except RepeatError as error:
        raise reader.wrong(error, of_form=True) from None
    return tuple(
        replace(form[run.section].section, bars=run.bars, repeats=run.repeats, order=run.order)
        for run in found.runs
    ), found.jumps


def _no_chorus(source: Source, fields: RecipeFields, name: str) -> RecipeError:
    if fields.form is not None:
        return RecipeError(
            "'form' is empty", hint="write 'form: A A B A'", place=source.place(("form",))
        )
    return RecipeError(
        "every section is in the intro or outro, and none is left for the chorus",
        hint=f"add a section, or name what the chorus plays: 'form: {name}'",
        place=source.place(("intro" if fields.intro else "outro",)),
    )


def _one_section(source: Source, fields: RecipeFields, reader: ChartReader) -> Section:
    """The only section of a recipe with ``chords``."""
    if fields.chords is None:
        if fields.exercise is not None and not fields.exercise.needs_chords:
            return Section("A", (ChartBar(((None, reader.meter.bar_beats),)),), order=(0,))
        raise RecipeError(
            "the recipe has no chords",
            hint="write for example 'chords: Gm7 | C7 | Fmaj7 | D7b9 |'",
            place=source.place(()),
        )
    for name in ("form", "intro", "outro"):
        if getattr(fields, name):
            raise RecipeError(
                f"'{name}' needs 'sections' to name",
                hint=f"write 'sections:' with a chart for each name, or leave '{name}' away",
                place=source.place((name,), of_key=True),
            )
    return _Read(Section("A", ()), _written(source, ("chords",), reader)).played(reader)


def _ordered(
    source: Source, field: str, names: tuple[str, ...], sections: dict[str, _Read]
) -> tuple[_Read, ...]:
    for index, name in enumerate(names):
        if name not in sections:
            raise RecipeError(
                f"'{field}' names a section '{name}' that is not there",
                hint=_section_meant(field, name, list(sections)),
                place=source.place((field, index)),
            )
    return tuple(sections[name] for name in names)


def _section_meant(field: str, name: str, known: list[str]) -> str:
    """What to write instead of the name of a section that is not there."""
    if len(name) > 1 and all(letter in known for letter in name):
        return f"write the names apart: '{field}: {' '.join(name)}'"
    blank = next((other for other in known if " " in other and name in other.split()), None)
    if blank is not None:
        return f"a name of several words stands in a list: '{field}: [{blank}, …]'"
    return did_you_mean(name, known)


def _section(source: Source, name: str, written: str | SectionFields, reader: ChartReader) -> _Read:
    path: KeyPath = ("sections", name)
    if isinstance(written, str):
        return _Read(Section(clean(name), ()), _written(source, path, reader))
    key = None
    if written.key is not None:
        key = read_field(source, (*path, "key"), written.key, Key.parse)
        reader = reader.in_key(key)
    if written.meter is not None:
        reader = reader.in_meter(read_field(source, (*path, "meter"), written.meter, Meter.parse))
    bars = _written(source, (*path, "chords"), reader)
    tempo = None if written.tempo is None else decimal(written.tempo)
    section = Section(clean(name), (), written.rest, written.loudness, key=key, tempo=tempo)
    return _Read(section, bars)


def _written(source: Source, path: KeyPath, reader: ChartReader) -> Written:
    """What is written at a path. Raises RecipeError, also where a sharp begins a word."""
    at = source.cut_short(path)
    if at is not None:
        raise RecipeError(
            "after a blank, # begins a remark and the rest of the chart is lost",
            hint="put the chart on lines of its own below 'chords: |', or into quotes",
            place=source.place_at(at),
        )
    return reader.written(*source.written(path))


def pickup_of(source: Source, fields: RecipeFields, meter: Meter) -> Fraction:
    """The quarter-note beats before the first bar, which is in ``meter``. Raises RecipeError."""
    if fields.pickup is None:
        return Fraction(0)

    def beats(text: str) -> Fraction:
        """``1`` counts beats, ``1/8`` is a note value, as in a meter."""
        match = _LENGTH.fullmatch(text.strip())
        found = Fraction(0)
        if match is not None and match["unit"] is None:
            found = decimal(float(match["count"])) * meter.pulse_beats
        elif match is not None and int(match["unit"]) in _UNITS and match["count"].isdecimal():
            found = Fraction(4 * int(match["count"]), int(match["unit"]))
        if not 0 < found < meter.bar_beats or found % _SHORTEST_PICKUP:
            raise NotationError(
                f"'{text}' is no pickup to a bar of {meter}",
                hint="write beats, such as 1 or 1.5, or a note value, such as 1/8, shorter than the bar",
            )
        return found

    return read_field(source, ("pickup",), fields.pickup, beats)


def turnaround_of(source: Source, form: _Sections, reader: ChartReader) -> tuple[ChartBar, ...]:
    """The bars that lead back to the beginning of the form. Raises RecipeError."""
    path: KeyPath = ("turnaround",)
    if path not in source.values or source.data["turnaround"] is None:
        return ()
    bars = reader.unrolled(_written(source, path, reader)).bars
    room = len(form[-1].bars)
    if len(bars) > room:
        raise RecipeError(
            f"the turnaround has {len(bars)} bars, the form's last section {room}",
            hint="write at most as many bars",
            place=source.place(path),
        )
    if any(bar.meter for bar in (*bars, *form[-1].bars[room - len(bars) :])):
        raise RecipeError(
            "the turnaround, or what it replaces, is in another meter than the piece",
            hint="write its bars as a section, and the order in 'form'",
            place=source.place(path),
        )
    return bars
