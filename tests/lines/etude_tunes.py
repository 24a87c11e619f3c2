"""Any number of tunes to write etudes over, and the etudes, not yet fingered."""

from __future__ import annotations

from random import Random
from typing import get_args

from genex.exercises import LineFamily, Player
from genex.exercises.models.over_the_chart import Etude
from genex.lines.etude import phrases_of
from genex.lines.phrase import Phrase
from genex.lines.placement import chords_of, hold_over
from genex.score import Note, Timeline
from tests.lines.line_charts import chart

_FOUR_BARS = (
    "Dm7 | G7 | Cmaj7 | A7",
    "Gm7 | C7 | Fmaj7 | D7b9",
    "Am7b5 | D7b9 | Gm7 | %",
    "Cmaj7 A7 | Dm7 G7 | Em7 A7 | Dm7 G7",
    "F7 | Bb7 | F7 | %",
    "Bb7 | % | F7 | D7",
    "Gm7 | C7 | F7 | C7",
    "Fmaj7 | Bb7 | Am7 D7 | Gm7 C7",
    "C | G | Am | F",
    "Dm | Bb | F | C",
    "Am | Dm | E7 | Am",
    "Ebmaj7 | Cm7 | Fm7 | Bb7",
)
FAMILIES = get_args(LineFamily)
_METERS = {"waltz": "3/4", "six-eight": "12/8"}


def tune(number: int) -> tuple[Timeline, Player]:
    """An invented tune of 12 or 16 bars and who plays over it; the families take turns. The tunes
    are lessons of one series."""
    draw = Random(f"tune {number}")
    parts = [draw.choice(_FOUR_BARS) for _ in range(draw.choice((3, 4, 4, 4)))]
    family = FAMILIES[number % len(FAMILIES)]
    timeline = chart(
        " | ".join(parts), meter=_METERS.get(family, "4/4"), key=draw.choice(("C", "F", "Bb"))
    )
    draws = tuple(Random(f"draw {n}").randrange(2**32) for n in range(number + 1))
    return timeline, Player(title=f"Tune {number}", family=family, draws=draws)


def phrases(number: int, level: int) -> tuple[Timeline, list[Phrase]]:
    """The phrases of the etude of a level over a tune."""
    timeline, player = tune(number)
    exercise = Etude(level=level, slides=False)
    hold = hold_over(chords_of(timeline, "improvise over"), exercise, player)
    return timeline, phrases_of(timeline, hold, exercise, player)


def line(number: int, level: int) -> tuple[Timeline, list[Note]]:
    """The notes of the etude of a level over a tune."""
    timeline, found = phrases(number, level)
    return timeline, [note for phrase in found for note in phrase.notes]
