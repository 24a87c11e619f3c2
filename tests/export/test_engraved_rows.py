"""Rows of an engraved system, and that nothing on a sheet covers anything else."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from itertools import pairwise

import pytest

from genex.exercises import Player
from genex.exercises.models.rhythms import Polyrhythm
from genex.export.engraved_boxes import SVG, Box, boxes, text_height
from genex.export.engraved_rows import (
    FINGER_SIZE,
    POINT,
    POSITION_SIZE,
    SYMBOL_SIZE,
    Collision,
    System,
    _positions,
)
from genex.export.engraving import engrave
from genex.export.musicxml import parts_document
from genex.export.repeat_signs import full_page
from genex.lines.rhythm_studies import polyrhythm
from genex.score import Note, Score
from genex.theory import parse_chord
from tests.bench.bench_sheets import lines_of, random_lesson
from tests.export.builders import fretted, lead, timeline
from tests.lines.line_charts import chart
from tests.lines.rhythm_sheets import score_of


def engraved(score: Score, **more: object) -> tuple[System, ...]:
    document = parts_document(
        score, score.lead_parts, full_page(score.timeline), show_degrees=True, show_positions=True
    )
    return engrave(document, width_mm=176, **more)  # type: ignore[arg-type]


def found(system: System) -> list[Box]:
    root = ElementTree.fromstring(system.svg)
    return boxes(next(g for g in root.iter(f"{SVG}g") if g.get("class") == "page-margin"))


def climbing() -> Score:
    """A line from the lowest string to a high fret, with stems and beams both ways."""
    places = [(6, 3), (5, 2), (4, 5), (3, 4), (2, 8), (1, 7), (1, 12), (1, 15)] * 2
    notes = [
        fretted(f"{at}/2", "1/2", string, fret, 1 + at % 4) for at, (string, fret) in enumerate(places)
    ]
    made = timeline("Gm7 C7b9 | Bbmaj7#11")
    told = [replace(n, degree=made.chord_at(n.onset_beats).chord.degree_of(n.midi)) for n in notes]
    return Score("T", "swing", made, (lead(told),))


def test_rows_stand_above_each_other_in_the_order_in_which_they_are_read():
    (system,) = engraved(climbing())
    drawn = found(system)

    def of(*kinds: str) -> list[Box]:
        return [box for box in drawn if box.kind in kinds]

    def lines(*kinds: str) -> set[str | None]:
        return {box.element.get("y") for box in of(*kinds)}

    assert len(lines("harm")) == len(lines("fing")) == 1
    symbols, hand, fingers = of("harm"), of("position"), of("fing")
    notes = [b for b in drawn if b.staff == 1 and b.kind in ("notehead", "stem", "beam", "staff")]
    degrees, tab = of("syl"), [b for b in drawn if b.staff == 2 and b.kind == "staff"]
    for upper, lower in pairwise((symbols, hand, fingers, notes, degrees, tab)):
        assert max(box.bottom for box in upper) < min(box.top for box in lower)


def test_symbols_are_the_largest_text_and_fingers_have_eight_points():
    (system,) = engraved(climbing())
    sizes = {
        kind: {
            float(size)
            for box in found(system)
            if box.kind == kind
            for size in re.findall(r'font-size="(\d+)px"', ElementTree.tostring(box.element, "unicode"))
            if size != "0"
        }
        for kind in ("harm", "fing", "syl", "note", "position")
    }
    assert min(sizes["fing"]) >= 8 * POINT - 0.5
    assert max(sizes["harm"]) == round(SYMBOL_SIZE)
    assert all(max(sizes["harm"]) > max(sizes[kind]) for kind in ("fing", "syl", "note", "position"))
    assert FINGER_SIZE == 8 * POINT


def test_a_degree_stands_under_the_middle_of_its_head():
    (system,) = engraved(climbing())
    drawn = found(system)
    heads = [(box.left + box.right) / 2 for box in drawn if box.kind == "notehead"]
    degrees = [(box.left + box.right) / 2 for box in drawn if box.kind == "syl" and box.text]
    assert len(degrees) >= 6
    assert all(min(abs(head - degree) for head in heads) < 2 for degree in degrees)


def test_guide_tones_are_underlined_and_no_other_tone():
    """Third and seventh of Gm7 (B flat, F) among 1, flat 3, 5, flat 7 [common practice]."""
    notes = [fretted(at, 1, *place, 1) for at, place in enumerate([(4, 5), (3, 3), (3, 7), (2, 6)])]
    (system,) = engraved(Score("T", "swing", timeline("Gm7"), (lead(_degreed(notes)),)))
    groups = re.findall(r'class="syl">.*?</g>', system.svg, re.DOTALL)
    told = {"".join(re.findall(r">([^<\s]+)<", group)): "<path" in group for group in groups}
    assert told == {"1": False, "♭3": True, "5": False, "♭7": True}


def _degreed(notes: list[Note]) -> list[Note]:
    chord = parse_chord("Gm7")
    return [replace(note, degree=chord.degree_of(note.midi)) for note in notes]


def test_the_letters_of_the_strings_stand_before_the_lines_of_the_tab():
    (system,) = engraved(climbing())
    drawn = found(system)
    letters = [box for box in drawn if box.kind == "tuning"]
    lines = sorted({(b.top + b.bottom) / 2 for b in drawn if b.staff == 2 and b.kind == "staff"})
    assert [box.text for box in letters] == ["e", "B", "G", "D", "A", "E"]
    assert [(box.top + box.bottom) / 2 for box in letters] == pytest.approx(lines, abs=32)
    assert all(box.right < 0 for box in letters)


def test_signs_of_bold_symbols_come_from_the_face_that_has_them():
    (system,) = engraved(climbing())
    assert re.search(r'font-weight="bold"[^>]*>C7</tspan>|>C7<', system.svg)
    flats = re.findall(r"<tspan[^>]*>♭</tspan>", system.svg.split('class="harm"', 1)[1])
    assert flats
    assert all("DejaVu Sans" in flat for flat in flats[:2])


def test_symbols_that_crowd_a_bar_are_set_smaller_and_apart():
    notes = [fretted(at, 1, 3, 5, 1) for at in range(4)] + [fretted(4, 4, 3, 5, 1)]
    made = timeline("Dm7b5 G7b9 Cmaj7#11 F#m7b5 | C")
    (system,) = engraved(Score("T", "swing", made, (lead(notes),)))
    assert system.collisions == ()
    assert len(system.symbols) == 5
    lefts = [left for left, _ in system.symbols]
    assert lefts == sorted(lefts)


def test_what_meets_is_named_with_its_bar():
    """Sixteen symbols over one whole note have no room anywhere."""
    made = timeline("Cmaj7#11 Dmaj7#11 " * 8)
    (system,) = engraved(Score("T", "swing", made, (lead([fretted(0, 4, 3, 5, 1)]),)))
    assert system.collisions
    assert system.collisions[0].kinds == ("harm", "harm")
    assert str(Collision(("harm", "fing"), ("C7", "4"), 2)) == "harm C7 meets fing 4"


def test_a_picture_is_cut_to_what_it_holds():
    for system in engraved(climbing(), system_starts=(0,)):
        drawn = found(system)
        top, bottom = min(b.top for b in drawn), max(b.bottom for b in drawn)
        assert 0 <= system.height_mm - (bottom - top) / 100 < 1
        assert f'viewBox="0 0 {system.width_mm * 10:.0f} {system.height_mm * 10:.0f}"' in system.svg


@pytest.mark.parametrize("batch", range(3))
def test_nothing_overlaps_on_random_lessons(batch):
    """Setting a sheet in which something meets raises GenexError; more are drawn by the bench."""
    for number in range(7):
        lines_of(random_lesson(f"{batch}-{number}"))


def test_the_name_of_a_section_inside_a_system_has_no_frame_left_behind():
    """The words are lifted into their row; the engraver's frame around them would stay."""
    plan = polyrhythm(chart("N.C."), Polyrhythm(bars=1), Player())
    drawn = "".join(system.svg for system in engraved(score_of(plan)))
    assert 'class="reh"' in drawn
    assert not re.search(r'class="reh"[^>]*>\s*<rect', drawn)


def test_hyphens_stand_between_the_syllables_of_a_word():
    syllables = ("lan-", "terns", "glow", "a-", "way-", "")
    notes = [replace(fretted(at, 1, 4, 5 + at, 1), syllable=said) for at, said in enumerate(syllables)]
    (system,) = engraved(Score("T", "swing", timeline("Gm7 | C7"), (lead(notes),)), system_starts=(0,))
    words = sorted((box for box in found(system) if box.kind == "syl"), key=lambda box: box.left)
    assert [box.text for box in words] == ["lan", "terns", "glow", "a", "way"]
    groups = [g for g in ElementTree.fromstring(system.svg).iter(f"{SVG}g") if g.get("class") == "syl"]
    hyphens = [rect for group in groups for rect in group.findall(f"{SVG}rect")]
    middles = sorted(float(h.get("x", 0)) + float(h.get("width", 0)) / 2 for h in hyphens)
    between = [(words[at].right + words[at + 1].left) / 2 for at in (0, 3)]
    assert middles[:2] == pytest.approx(between, abs=2)
    assert middles[2] > words[-1].right


def test_a_sign_of_the_hand_keeps_clear_of_what_stands_over_it():
    """= stands well above the line that it is set on: its row is as high as its top."""
    sign = ElementTree.Element(f"{SVG}text", {"x": "0", "y": "0"})
    low, high = text_height("=", POSITION_SIZE)
    assert low > 40
    box = Box("position", 0, -high, 100, -low, sign, "=")
    assert _positions([box], -1000) == float(sign.get("y", "0")) - high
