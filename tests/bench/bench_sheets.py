"""Random lessons through the sheet: how many systems, and whether anything covers anything else.

    python -m tests.bench.bench_sheets [LESSONS [FIRST]]

Setting a sheet in which something meets raises GenexError; here it is counted and told. Drawn are charts
with jumps, endings and sections, lines that are typed with words, strokes and what hands do, lessons of
several exercises, all sizes of the music, large print, languages, tunings and capos.
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from typing import Any

from genex import compose_recipe, parse_recipe
from genex.errors import GenexError
from genex.export.handout.content import lines_block
from genex.export.handout.settings import LARGE_SETTING, SETTINGS, Setting
from genex.export.phrases import LANGUAGES
from genex.publishing.printed_files import handout_settings
from genex.recipe import Recipe

CHARTS = (
    "Dm7 | G7 | Cmaj7 | Am7",
    "Gm7 | Am7b5 D7b9 | Gm7 | Cm7 F7 | Bbmaj7",
    "C7 | F#dim7 | C7 A7b9 | Dm7 G7",
    "Am | F | C | G",
    "Dm7b5 G7b9 | Cm7 F7 | Ebmaj7#11 Ab7#11 | Bbmaj7",
    "F#m7b5 | B7b9 | Em(maj7) | Em6",
    "Dbmaj9 | Gb13 | Cm11 | F7#9",
    "E7#9 | A7 | E7#9",
    "Am9 | <D13 | Gmaj7 | <B7b9",
    "'|: Gm7 | C7 | [1. Fmaj7 | D7b9 :| [2. Fmaj7 | Bb6 A7b9'",
    "'Segno Am | F | Dm7 | E7 To Coda | Am | G | F | E7 | D.S. al Coda | Coda Dm7 | E7 | Am | %'",
)
SECTIONS = (
    "sections: {A: Gm7 | C7 | Fmaj7 | %, B: Am7 | D7 | Gm7 | C7 F7}\nform: A B A",
    "sections: {verse: G | Em | C | D, turn: Bbmaj7 | Ebmaj7}\nform: verse turn",
    "sections: {one: Dm | Gm A7, two: F | C7, three: Bb | A7}\nform: one two one three",
)
EXERCISES = (
    *(f"{{kind: etude, level: {level}}}" for level in range(1, 7)),
    "{kind: scales, rhythm: sixteenths}",
    "{kind: scales, rhythm: triplets}",
    "{kind: arpeggio}",
    "{kind: targets, density: 3}",
    "{kind: targets, target: guide, approaches: [enclosure, slide up], density: 2}",
    "{kind: changes, rhythm: triplets, moving: true}",
    "{kind: sequence, pattern: broken thirds, forms: E}",
    "{kind: sequence, pattern: groups of three, strings: 2 3}",
    "{kind: shapes, forms: E A}",
    "{kind: tour}",
    "{kind: grips, voicings: drop 2}",
    "{kind: subdivisions, highest: 6}",
)
TYPED = (
    "G2 B2 d2 f2 | (3edc !accent!B2 G2 z2 |\\nw: down the pipe and in-to the wa-ter\\n"
    "!slide!A4 [Ac]4 | F6 z2 |",
    "!half-bend!e2 dc !vibrato!B4 | (AB)(cB) !let-ring!G4 | !dead!G2 !ghost!A2 (Bd)f2 | "
    "!bend-release!g6 z2 |",
    "^F^GA^c edcB | _B=B_BA G4 | ^d=d^d=d e4 |",
    "G,2 A,B, CDEF | uAvB ucvd uevf ugva |",
    "z7 e | [CEG]2 [DFA]2 [EGB]4 | (3ABc (3def g4 |",
)
LONGEST = 3
"""Bar lines within the longest of them."""
FEELS = (
    "swing",
    "bossa",
    "funk",
    "waltz",
    "ballad-6-8",
    "five-four",
    "seven-eight",
    "nine-eight",
    "eleven-eight",
    "rock",
)
NECKS = ("standard", "drop D", "seven-string", "five-string bass", "ukulele", "half-step down")


def random_lesson(seed: str) -> str:
    """A recipe with a sheet."""
    draw = random.Random(f"sheets {seed}")
    feel = draw.choice(FEELS)
    chart = draw.choice(SECTIONS) if draw.random() < 0.2 else f"chords: {draw.choice(CHARTS)}"
    neck = draw.choice(NECKS) if draw.random() < 0.3 else NECKS[0]
    kinds = [draw.choice(EXERCISES) for _ in range(1 if draw.random() < 0.8 else 2)]
    if any("forms" in kind for kind in kinds):
        neck = NECKS[0]  # other necks have other forms
    if draw.random() < 0.25:
        feel, neck = draw.choice(("swing", "rock")), NECKS[0]
        chart = f"chords: {draw.choice([chart for chart in CHARTS if chart.count('|') >= LONGEST])}"
        strokes = draw.choice(("", ", strokes: alternate", ", strokes: economy"))
        kinds[0] = f'{{kind: line, abc: "{draw.choice(TYPED)}"{strokes}}}'
    if len(kinds) == 1:
        exercise = f"exercise: {kinds[0]}"
    else:
        entries = [f"  - {{title: Part {at}, exercise: {kind}}}" for at, kind in enumerate(kinds)]
        exercise = "\n".join(("exercises:", *entries))
    paper = f"paper: {draw.choice(('a4', 'letter'))}, large_print: {str(draw.random() < 0.2).lower()}"
    return (
        f"title: Lesson {seed}\nfeel: {feel}\n{chart}\n{exercise}\ntuning: {neck}\n"
        f"capo: {draw.choice((0, 0, 0, 2))}\nguide: {{rhythm: {draw.choice(('whole', 'half'))}}}\n"
        f"language: {draw.choice(LANGUAGES)}\nhandout: {{{paper}}}\n"
        f"courtesy_accidentals: {str(draw.random() < 0.4).lower()}\n"
        f"repeats: {draw.choice((1, 1, 2))}\nseed: {draw.randint(1, 999)}\noutputs: [handout]\n"
    )


def lines_of(text: str) -> list[dict[str, Any]]:
    """The lines of its sheet as they are set, in one of the settings. Raises GenexError where something
    meets."""
    recipe = parse_recipe(text)
    draw = random.Random(text)
    made = []
    for one in recipe.exercises or (recipe,):
        setting = draw.choice(SETTINGS)
        made += _lines(one, LARGE_SETTING if "large_print: true" in text else setting)
    return made


def _lines(recipe: Recipe, setting: Setting) -> list[dict[str, Any]]:
    piece = compose_recipe(recipe)
    block = lines_block(piece.score, handout_settings(recipe, piece), setting)
    return [] if block is None else list(block["parts"])


def main(count: int, first: int = 0) -> None:
    systems, faults, refused = 0, Counter[str](), Counter[str]()
    for number in range(first, first + count):
        recipe = random_lesson(f"bench {number}")
        try:
            systems += sum(len(part["systems"]) for part in lines_of(recipe))
        except GenexError as error:
            met = error.message.startswith("the sheet cannot be set")
            (faults if met else refused)[error.message] += 1
            print(recipe, error.message, sep="\n")
    print(f"{count} lessons, {systems} systems, {sum(faults.values())} in which something meets")
    for message, times in refused.items():
        print(f"refused {times} times: {message}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:] or ["300"]))
