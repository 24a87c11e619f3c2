"""Slides in engraved music: strokes before fret numbers and heads, from number to number."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

import pytest

from genex.export.engraving import engrave
from genex.export.musicxml import musicxml_text
from genex.score import Note, Part, Role, Score, Slide
from genex.theory import Pitch
from tests.export.builders import fretted, lead, timeline


@dataclass(frozen=True)
class Stroke:
    left: int
    right: int
    low: int
    rises: bool


def slide(semitones: int) -> Slide:
    return Slide(semitones, Fraction(1, 4))


def svg_of(part: Part, chart: str = "Gm7", **more: object) -> list[str]:
    document = musicxml_text(Score("T", "swing", timeline(chart), (part,)))
    return [system.svg for system in engrave(document, width_mm=170, **more)]  # type: ignore[arg-type]


def strokes(svg: str) -> list[Stroke]:
    found = []
    for place in re.findall(r'<path class="slide" d="M(\d+) (\d+) L(\d+) (\d+)"', svg):
        x1, y1, x2, y2 = map(int, place)
        found.append(Stroke(x1, x2, max(y1, y2), rises=y2 < y1))
    return found


def numbers(svg: str) -> list[tuple[int, str]]:
    """Place and digits of each fret number."""
    tab = svg[svg.index("tabGrp") :]
    pattern = r'class="note">\s*<text x="(\d+)".*?px">(\d+)<'
    return [(int(x), fret) for x, fret in re.findall(pattern, tab, re.DOTALL)]


def test_a_slide_from_number_to_number_is_a_stroke_between_them() -> None:
    notes = [fretted(0, 1, 4, 5, 1), fretted(1, 1, 4, 7, 1, slide=slide(-2))]
    notes.append(fretted(2, 2, 4, 4, 1, slide=slide(3)))
    (svg,) = svg_of(lead(notes))
    (five, _), (seven, _), (four, _) = numbers(svg)
    up, down = strokes(svg)
    assert five < up.left < up.right < seven and up.rises
    assert seven < down.left < down.right < four and not down.rises


@pytest.mark.parametrize(("semitones", "rises"), [(-2, True), (1, False)])
def test_a_slide_from_nowhere_stands_before_head_and_number(semitones, rises) -> None:
    notes = [fretted(0, 2, 4, 5, 1), fretted(2, 2, 3, 7, 3, slide=slide(semitones))]
    (svg,) = svg_of(lead(notes))
    on_staff, on_tab = sorted(strokes(svg), key=lambda stroke: stroke.low)
    (before, _), (number, _) = numbers(svg)
    assert before < on_tab.left < on_tab.right < number
    assert (on_staff.rises, on_tab.rises) == (rises, rises)
    heads = [int(x) for x in re.findall(r'class="notehead">\s*<use [^>]*translate\((\d+), ', svg)]
    assert heads[0] < on_staff.left < on_staff.right < heads[1]


def test_a_stroke_stands_before_an_accidental() -> None:
    notes = [fretted(0, 2, 4, 5, 1), fretted(2, 2, 3, 6, 3, slide=slide(-1))]
    (svg,) = svg_of(lead(notes))
    on_staff = min(strokes(svg), key=lambda stroke: stroke.low)
    accidental = re.search(r'class="accid">\s*<use [^>]*translate\((\d+), ', svg)
    assert accidental and on_staff.right < int(accidental[1])


def test_a_slide_over_the_end_of_a_system_is_a_stroke_before_its_number() -> None:
    notes = [fretted(0, 4, 4, 5, 1), fretted(4, 4, 4, 7, 1, slide=slide(-2))]
    first, second = svg_of(lead(notes), "Gm7 | C7", system_starts=(0, 1))
    assert strokes(first) == []
    (stroke,) = strokes(second)
    assert stroke.right < numbers(second)[0][0] and stroke.rises


def test_a_slide_from_a_tied_note_does_not_begin_at_its_number() -> None:
    notes = [fretted(0, 6, 4, 5, 1), fretted(6, 2, 4, 7, 1, slide=slide(-2))]
    (svg,) = svg_of(lead(notes), "Gm7 | C7")
    (stroke,) = strokes(svg)
    (five, _), (seven, _) = numbers(svg)
    assert stroke.right < seven and stroke.left - five > seven - stroke.left


def test_a_line_without_tab_has_its_strokes() -> None:
    notes = [
        Note(Fraction(0), Fraction(2), Pitch.parse("Bb4")),
        Note(Fraction(2), Fraction(2), Pitch.parse("D5"), slide=slide(-1)),
    ]
    (svg,) = svg_of(Part.of("flute", Role.LEAD, 73, notes))
    assert [stroke.rises for stroke in strokes(svg)] == [True]


def test_what_is_not_slid_has_none() -> None:
    (svg,) = svg_of(lead([fretted(at, 1, 4, 5, 1) for at in range(4)]))
    assert strokes(svg) == []
