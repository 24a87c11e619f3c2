"""The geometry of a neck: along it and across it, lying and upright."""

from __future__ import annotations

import pytest

from genex.export.neck_marks import shape_marks
from genex.export.neck_panel import DiagramStyle, Panel, UprightPanel
from genex.fretboard import STANDARD, chord_shapes
from genex.theory import parse_chord

MARKS = shape_marks(chord_shapes(parse_chord("C7"), STANDARD)[0])


@pytest.mark.parametrize("left", [False, True])
def test_an_upright_neck_is_the_lying_one_turned(left: bool) -> None:
    """Frets go down as they went away from the nut; the thickest string is where the hand's thumb is."""
    style = DiagramStyle(left_handed=left)
    lying = Panel(MARKS, STANDARD, style, "", (1, 5))
    upright = UprightPanel(MARKS, STANDARD, style, "", (1, 5))
    away = [abs(lying.at(lying.along(f), 1)[0] - lying.at(0, 1)[0]) for f in range(1, 6)]
    down = [upright.at(upright.along(f), 1)[1] - upright.at(0, 1)[1] for f in range(1, 6)]
    assert away == pytest.approx(down)
    across = [upright.at(0, string)[0] for string in range(6, 0, -1)]
    assert across == sorted(across, reverse=left)


def test_a_long_title_has_room() -> None:
    title = "Form 3, 12th position of a neck with four strings"
    assert UprightPanel(MARKS, STANDARD, DiagramStyle(), title, (1, 5)).width > 8 * len(title)
