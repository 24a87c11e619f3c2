"""Lines of music in systems: what is engraved once, and the names above."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import pytest

from genex.compose import compose
from genex.export.engraved_boxes import SVG, boxes
from genex.export.handout import system_breaks
from genex.export.handout.content import lines_block
from genex.export.handout.settings import SETTINGS, HandoutSettings, text_width_mm
from genex.export.handout.shape_score import path_score
from genex.export.handout.system_breaks import engrave_path
from genex.export.musicxml import parts_document
from genex.export.paper_svg import paper_svg
from genex.export.repeat_signs import full_page
from genex.fretboard import STANDARD, chord_shapes
from genex.recipe import parse_recipe
from genex.score import Score
from genex.theory import parse_chord
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


def widths(score: Score) -> list[float]:
    """How far from the left the last bar line of each system stands."""
    (part,) = block(score, "lines")["parts"]
    found = []
    for system in part["systems"]:
        root = ElementTree.fromstring(system["svg"])
        page = next(g for g in root.iter(f"{SVG}g") if g.get("class") == "page-margin")
        found.append(max(box.right for box in boxes(page) if box.kind == "barLine") / 100)
    return found


def test_no_system_is_narrower_than_the_page() -> None:
    for count in (1, 3):
        notes = [fretted(at, 4, 4, 5, 1) for at in range(0, 4 * count, 4)]
        found = widths(Score("T", "swing", timeline(" | ".join(["Gm7"] * count)), (lead(notes),)))
        assert all(abs(width - text_width_mm("a4")) < 0.5 for width in found)


def test_a_last_bar_of_one_note_has_no_system_of_its_own() -> None:
    eighths = [fretted(f"{at}/2", "1/2", 4, 5, 1) for at in range(32)]
    score = Score(
        "T", "swing", timeline(" | ".join(["Gm7"] * 5)), (lead([*eighths, fretted(16, 4, 4, 5)]),)
    )
    (part,) = block(score, "lines")["parts"]
    counts = [system["svg"].count('class="measure"') for system in part["systems"]]
    assert sum(counts) == 5 and min(counts) >= 2
    more = [fretted(f"{at}/3", "1/3", 4, 5, 1) for at in range(48)]
    score = replace(score, parts=(lead([*more, fretted(16, 4, 4, 5)]),))
    (part,) = block(score, "lines")["parts"]
    counts = [system["svg"].count('class="measure"') for system in part["systems"]]
    assert sum(counts) == 5 and min(counts) >= 2


def test_a_form_that_moves_is_engraved_once_and_names_the_frets_to_move_it() -> None:
    text = "chords: C7\nexercise: {kind: shapes, forms: E, cycle: fourths}"
    score = compose(parse_recipe(text)).score
    folded = next(setting for setting in SETTINGS if setting.folded)
    lines = lines_block(score, HandoutSettings(), folded)
    assert lines is not None
    ((first, *others),) = [part["systems"] for part in lines["parts"]]
    assert first["section"].startswith("C7, E form") and not others
    assert "F7 +5 (bar 4), B♭7 −2 (bar 7)" in first["also"]


@pytest.mark.parametrize("symbol", ["Gbm9", "D#7#9"])
def test_a_path_that_is_taken_for_short_needs_no_breaks(
    symbol: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Accidentals before nearly every note: the picture is the one that a search for breaks gives."""
    chord = parse_chord(symbol)
    scores = [path_score(chord, shape, STANDARD) for shape in chord_shapes(chord, STANDARD)[:3]]
    both = []
    for note_mm in (system_breaks.SHORT_NOTE_MM, 1000.0):
        monkeypatch.setattr(system_breaks, "SHORT_NOTE_MM", note_mm)
        paths = (
            engrave_path(
                parts_document(score, score.lead_parts, full_page(score.timeline), show_degrees=True),
                score,
                text_width_mm("a4"),
            )
            for score in scores
        )
        both.append([paper_svg(line.system.drawing) for path in paths for line in path])
    assert both[0] == both[1] and len(both[0]) == len(scores)


def test_short_sections_share_a_system() -> None:
    notes = [fretted(f"{at}/2", "1/2", 4, 5, 1) for at in range(64)]
    bars = timeline(
        " | ".join(["Gm7", "C7"] * 4), sections=[(name, 2) for name in ("one", "two", "three", "four")]
    )
    (part,) = block(Score("T", "swing", bars, (lead(notes),)), "lines")["parts"]
    assert [system["section"] for system in part["systems"]] == ["one", "three"]
    assert ["two" in system["svg"] for system in part["systems"]] == [True, False]
