"""Lines of music in systems: what is engraved once, and the names above."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from genex.compose import compose
from genex.recipe import parse_recipe
from genex.score import Score
from tests.export.builders import fretted, lead, timeline
from tests.export.handout.sheets import block

pytestmark = pytest.mark.usefixtures("as_engraved")


def test_equal_choruses_are_engraved_once() -> None:
    bars = timeline("Gm7 | C7 | Gm7 | C7", sections=[("A", 2), ("A", 2)])
    twice = replace(
        bars,
        bars=tuple(replace(bar, chorus=1 + index // 2) for index, bar in enumerate(bars.bars)),
        sections=tuple(replace(s, chorus=1 + index) for index, s in enumerate(bars.sections)),
    )
    notes = [fretted(at, 1, 4, 5, 1) for at in (0, 4, 8, 12)]
    (part,) = block(Score("T", "swing", twice, (lead(notes),)), "lines")["parts"]
    frets = sum(len(re.findall(r'class="tabGrp"', system["svg"])) for system in part["systems"])
    assert frets == 2
    assert "The same in all 2 choruses" in part["note"]


def test_names_of_sections_stand_above_their_systems() -> None:
    notes = [fretted(f"{at}/2", "1/2", 4, 5, 1) for at in range(64)]
    bars = timeline(" | ".join(["Gm7"] * 8), sections=[("verse", 4), ("chorus", 4)])
    (part,) = block(Score("T", "swing", bars, (lead(notes),)), "lines")["parts"]
    assert [system["section"] for system in part["systems"]] == ["verse", "chorus"]
    assert not any("verse" in system["svg"] for system in part["systems"])


def test_endings_are_engraved_once_with_their_brackets() -> None:
    recipe = "chords: '|: Dm7 | G7 | [1. Cmaj7 | A7 :| [2. C6 | F7'\nexercise: arpeggio\nrepeats: {}"
    for choruses in (1, 2):
        score = compose(parse_recipe(recipe.format(choruses))).score
        parts = {part["heading"]: part for part in block(score, "lines")["parts"]}
        svg = "".join(system["svg"] for system in parts["Exercise"]["systems"])
        assert re.findall(r">(\d\.)</tspan>", svg) == ["1.", "2."]
        assert svg.count('class="measure"') == 6
        assert "Bar numbers count every pass" in parts["Exercise"]["note"], "there is no chart"
        told = "The same in all 2 choruses" in parts["Exercise"]["note"]
        assert told == (choruses == 2)
