"""The diagrams on a handout: in order of play, each section once."""

from __future__ import annotations

import re

import pytest

from genex.compose import compose
from genex.export.handout import HandoutSettings, handout_pdf
from genex.export.handout.content import handout_data
from genex.export.handout.grips_block import grips_block
from genex.export.handout.settings import text_width_mm
from genex.export.phrases import words
from genex.fretboard import TUNINGS
from genex.recipe import parse_recipe
from genex.score import Articulation, Score
from tests.export.handout.sheets import pages, squeezed

pytestmark = pytest.mark.usefixtures("as_engraved")

RECIPE = """
title: Shutters
key: F
sections:
  A: Fmaj7 | D7 | Gm7 | C7
  B: Cm7 | F7 | Bbmaj7 | %
form: A B A
{more}
exercise: {{kind: grips, rhythm: {rhythm}}}
"""


def score(rhythm: str = "whole", more: str = "") -> Score:
    return compose(parse_recipe(RECIPE.format(rhythm=rhythm, more=more))).score


def shown(score: Score, **settings) -> list[tuple[str, list[str]]]:
    wish = HandoutSettings(**settings)
    block = grips_block(score, score.lead_parts, wish, words())
    assert block is not None
    return [(s["name"], [f"{g['symbol']} {g['bar']}" for g in s["grips"]]) for s in block["sections"]]


@pytest.mark.parametrize("rhythm", ["whole", "anticipated", "charleston"])
def test_grips_stand_in_order_of_play_and_a_section_once(rhythm: str) -> None:
    assert shown(score(rhythm)) == [
        ("A", ["Fmaj7 1", "D7 2", "Gm7 3", "C7 4"]),
        ("B", ["Cm7 5", "F7 6", "B♭maj7 7"]),
    ]


def test_it_is_told_that_sections_come_again() -> None:
    piece = score()
    block = grips_block(piece, piece.lead_parts, HandoutSettings(), words())
    assert block is not None and block["note"].endswith("A section that comes again has the same grips.")
    alone = compose(parse_recipe("chords: Dm7 | G7\nexercise: grips\n")).score
    block = grips_block(alone, alone.lead_parts, HandoutSettings(), words())
    assert block is not None and "comes again" not in block["note"]
    assert [section["name"] for section in block["sections"]] == [""]


def test_diagrams_fit_their_cells_and_are_mirrored_for_left_handed() -> None:
    for neck in ("standard", "eight-string", "ukulele"):
        piece = score(more=f"tuning: {neck}")
        both = []
        for left in (False, True):
            wish = HandoutSettings(tuning=TUNINGS[neck], left_handed=left)
            block = grips_block(piece, piece.lead_parts, wish, words())
            assert block is not None
            assert block["columns"] * block["cell_mm"] < text_width_mm("a4")
            pictures = [grip["picture"] for s in block["sections"] for grip in s["grips"]]
            assert all(picture["width_mm"] <= block["cell_mm"] for picture in pictures)
            assert len({picture["height_mm"] for picture in pictures}) == 1
            assert all("string 1" in picture["alt"] for picture in pictures)
            both.append([re.sub(r"<desc>.*</desc>", "", picture["svg"]) for picture in pictures])
        assert all(a != b for a, b in zip(*both, strict=True))


def test_no_line_has_the_block() -> None:
    line = compose(parse_recipe("chords: Dm7 | G7\nexercise: arpeggio\n")).score
    assert grips_block(line, line.lead_parts, HandoutSettings(), words()) is None
    data = handout_data(line, HandoutSettings())
    assert "grips" not in [block["kind"] for block in data["blocks"]]


def test_fingers_stand_in_the_diagrams_or_else_over_the_staff() -> None:
    piece = score()
    for blocks, told in ((("lines",), True), (("grips", "lines"), False)):
        data = handout_data(piece, HandoutSettings(blocks=blocks))  # type: ignore[arg-type]
        part = data["blocks"][-1]["parts"][0]
        assert ('class="fing"' in "".join(s["svg"] for s in part["systems"])) == told
        assert ("fingers" in part["note"]) == told


def test_the_sheet_is_set() -> None:
    text = squeezed("".join(pages(handout_pdf(score(), HandoutSettings()))))
    assert squeezed(words()["grips"]).lower() in text.lower()


def test_chords_are_set_four_bars_a_system_at_most_and_muted_ones_as_crosses() -> None:
    chart = " | ".join(["Dm7", "G7"] * 4)
    for feel, systems in (("bed", 2), ("funk", 4)):
        piece = compose(
            parse_recipe(f"feel: {feel}\nchords: {chart}\nexercise: {{kind: grips, voicings: shell}}\n")
        ).score
        (block,) = handout_data(piece, HandoutSettings(blocks=("lines",)))["blocks"]
        pictures = [system["svg"] for system in block["parts"][0]["systems"]]
        assert len(pictures) == systems
        dead = sum(note.articulation is Articulation.DEAD for note in piece.lead_parts[0].notes)
        crosses = "".join(pictures).count(">x</tspan>")
        assert crosses == dead and bool(dead) == (feel == "funk")
