"""Jumps from one section of a form to another: the form read as one chart, and parted again.

Repeats stay inside of their sections. A section that comes several times brings its signs each time:
after the jump the first one that is reached counts, and the jump itself is taken the last time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from genex.recipe.chart_bars import ChartBar, Written
from genex.recipe.jumps import Jump, Marks, form_played
from genex.recipe.repeats import Repeat


@dataclass(frozen=True, slots=True)
class Run:
    """Bars that are played one after another in one of the sections of a form.

    section  which of them, from 0
    bars, order, repeats  as a section has them
    """

    section: int
    bars: tuple[ChartBar, ...]
    order: tuple[int, ...]
    repeats: tuple[Repeat, ...]


@dataclass(frozen=True, slots=True)
class JoinedForm:
    """The sections of a form as they are played, and the jumps in bars of all of it."""

    runs: tuple[Run, ...]
    jumps: tuple[Jump, ...]


def joined(names: Sequence[str], sections: Sequence[Written]) -> JoinedForm:
    """The sections of a form, by their names and as they are written, played with their jumps.

    A form may name what its last jump plays again, as in A A B A with D.C. al Fine behind B, or leave
    it out. Raises RepeatError.
    """
    places = [(k, i) for k, section in enumerate(sections) for i in range(len(section.bars))]
    signs = [
        replace(sign, begins=index == 0)
        for section in sections
        for index, sign in enumerate(section.signs)
    ]
    marks = _taken_once([mark for section in sections for mark in section.marks])
    last = max((index for index, mark in enumerate(marks) if mark.jump), default=None)
    if last is not None and _ends(marks, last):
        alone = form_played(signs[: last + 1], marks[: last + 1])
        behind = list(dict.fromkeys(k for k, _ in places[last + 1 :]))
        again = list(dict.fromkeys(places[i][0] for i in alone.order[alone.jumps[-1].at :]))
        if [names[k] for k in behind] == [names[k] for k in again]:
            signs, marks = signs[: last + 1], marks[: last + 1]
    found = form_played(signs, marks)
    edges = {edge for jump in found.jumps for edge in (jump.at, jump.end)}
    runs: list[Run] = []
    played = list(enumerate(found.order))
    for (section, _), run in groupby(
        played, key=lambda one: (places[one[1]][0], sum(edge <= one[0] for edge in edges))
    ):
        inside = list(run)
        start, end = inside[0][0], inside[-1][0] + 1
        order = tuple(places[index][1] for _, index in inside)
        bars = tuple(sections[section].bars[index] for index in order)
        repeats = tuple(
            replace(repeat, first_bar=repeat.first_bar - start)
            for repeat in found.repeats
            if start <= repeat.first_bar < end
        )
        runs.append(Run(section, bars, order, repeats))
    return JoinedForm(tuple(runs), found.jumps)


def _taken_once(marks: Sequence[Marks]) -> list[Marks]:
    """The signs without the jumps that come again later, with a section that does."""
    last = {mark.jump_at: index for index, mark in enumerate(marks) if mark.jump is not None}
    return [
        replace(mark, jump=None) if mark.jump is not None and last[mark.jump_at] != index else mark
        for index, mark in enumerate(marks)
    ]


def _ends(marks: Sequence[Marks], last: int) -> bool:
    """Whether a jump is the end of the music, and bars stand behind it."""
    jump = marks[last].jump
    return jump is not None and jump[1] != "Coda" and last + 1 < len(marks)
