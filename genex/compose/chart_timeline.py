"""A recipe's chart on the line of time."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from genex.exact import Fraction
from genex.recipe import Recipe, Section, Version
from genex.score import Bar, ChordSpan, Meter, RepeatSpan, SectionSpan, TempoMap, Timeline
from genex.theory import Key, transpose_chord


def build_timeline(recipe: Recipe, version: Version, *, ending: bool = False) -> Timeline:
    """Intro, all choruses and outro, in a version's key and tempo.

    Every chorus ends with the turnaround, if there is one; with ``ending`` the last one ends as
    the form is written.

    The intro's bars belong to the first chorus and stand before its bar 1 (``form_number`` 0
    and below), the outro's to the last, behind its last bar.
    """
    draft = _Draft(recipe.meter, recipe.key, version.key)
    intro_bars = sum(len(section.bars) for section in recipe.intro)
    draft.add(recipe.intro, chorus=1, first_number=1 - intro_bars)
    form_bars = sum(len(section.bars) for section in recipe.form)
    for chorus in range(1, recipe.fields.repeats + 1):
        is_last = ending and chorus == recipe.fields.repeats
        form = recipe.form if is_last else _with_turnaround(recipe)
        draft.add(form, chorus=chorus, first_number=1)
    draft.add(recipe.outro, chorus=recipe.fields.repeats, first_number=form_bars + 1, is_outro=True)
    return Timeline(
        key=version.key,
        tempo=TempoMap.of_pulses(version.tempo, recipe.meter),
        bars=tuple(draft.bars),
        chords=tuple(draft.chords),
        sections=tuple(draft.sections),
        repeats=tuple(draft.repeats),
    )


def _with_turnaround(recipe: Recipe) -> tuple[Section, ...]:
    """The form with the turnaround in place of its last bars."""
    *before, last = recipe.form
    kept = last.bars[: len(last.bars) - len(recipe.turnaround)]
    return (*before, replace(last, bars=(*kept, *recipe.turnaround)))


class _Draft:
    """Bars, chords, sections and repeats as they are added."""

    def __init__(self, meter: Meter, source: Key, target: Key) -> None:
        self.meter, self.source, self.target = meter, source, target
        self.bars: list[Bar] = []
        self.chords: list[ChordSpan] = []
        self.sections: list[SectionSpan] = []
        self.repeats: list[RepeatSpan] = []
        self.onset = Fraction(0)

    def add(
        self, sections: Iterable[Section], *, chorus: int, first_number: int, is_outro: bool = False
    ) -> None:
        """Sections one after another; ``first_number`` is the first bar's number in the form.

        An outro is played once: its sections are not numbered by the chorus they follow.
        """
        number = first_number
        for section in sections:
            start = self.onset
            length = self.meter.bar_beats
            for repeat in section.repeats:
                self.repeats.append(
                    RepeatSpan(
                        start + repeat.first_bar * length,
                        repeat.body * length,
                        tuple(count * length for count in repeat.endings),
                    )
                )
            for bar in section.bars:
                self.bars.append(
                    Bar(len(self.bars) + 1, number, chorus, self.onset, self.meter, section.name)
                )
                number += 1
                for written, beats in bar.chords:
                    chord = written and transpose_chord(written, self.source, self.target)
                    self.chords.append(ChordSpan(self.onset, beats, chord))
                    self.onset += beats
            self.sections.append(
                SectionSpan(start, self.onset - start, section.name, 1 if is_outro else chorus)
            )
