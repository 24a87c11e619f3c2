"""Random lessons through the sheet: how many systems, and whether anything covers anything else.

    python -m tests.bench.bench_sheets [LESSONS]

Setting a sheet in which something meets raises GenexError; here it is counted and told.
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from typing import Any

from genex import compose_recipe, parse_recipe
from genex.errors import GenexError
from genex.export.handout.content import handout_data
from genex.export.handout.settings import HandoutSettings

CHARTS = (
    "Dm7 | G7 | Cmaj7 | Am7",
    "Gm7 | Am7b5 D7b9 | Gm7 | Cm7 F7 | Bbmaj7",
    "C7 | F#dim7 | C7 A7b9 | Dm7 G7",
    "Am | F | C | G",
    "Dm7b5 G7b9 | Cm7 F7 | Ebmaj7#11 Ab7#11 | Bbmaj7",
    "F#m7b5 | B7b9 | Em(maj7) | Em6",
    "Dbmaj9 | Gb13 | Cm11 | F7#9",
    "E7#9 | A7 | E7#9",
)
EXERCISES = (
    *(f"{{kind: etude, level: {level}}}" for level in range(1, 7)),
    "{kind: scales, rhythm: sixteenths}",
    "{kind: scales, rhythm: triplets}",
    "{kind: arpeggio, form: E}",
    "{kind: targets, density: 3}",
    "{kind: changes, rhythm: triplets, moving: true}",
    "{kind: sequence, pattern: broken thirds, forms: E}",
    "{kind: shapes, forms: E A}",
    "{kind: tour}",
)
FEELS = (
    "swing",
    "bossa",
    "funk",
    "waltz",
    "ballad-6-8",
    "five-four",
    "seven-eight",
    "nine-eight",
    "rock",
)


def random_lesson(seed: str) -> str:
    """A recipe with a sheet."""
    draw = random.Random(f"sheets {seed}")
    return (
        f"title: Lesson {seed}\nfeel: {draw.choice(FEELS)}\nchords: {draw.choice(CHARTS)!r}\n"
        f"exercise: {draw.choice(EXERCISES)}\nguide: {{rhythm: {draw.choice(('whole', 'half'))}}}\n"
        f"seed: {draw.randint(1, 999)}\noutputs: [handout]\n"
    )


def lines_of(recipe: str) -> dict[str, Any]:
    """The lines of its sheet as they are set. Raises GenexError where something meets."""
    score = compose_recipe(parse_recipe(recipe)).score
    made: dict[str, Any] = handout_data(score, HandoutSettings(blocks=("lines",)))["blocks"][0]
    return made


def main(count: int) -> None:
    systems, faults = 0, Counter[str]()
    for number in range(count):
        recipe = random_lesson(f"bench {number}")
        try:
            systems += sum(len(part["systems"]) for part in lines_of(recipe)["parts"])
        except GenexError as error:
            faults[error.message] += 1
            print(recipe, error.message, sep="\n")
    print(f"{count} lessons, {systems} systems, {sum(faults.values())} in which something meets")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 300)
