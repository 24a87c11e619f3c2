"""Marks of a neck diagram, whatever draws them."""

from __future__ import annotations

from genex.export.neck_marks import inlay_dots


def test_a_capo_moves_the_dots_of_the_neck():
    assert inlay_dots(3) == 1
    assert inlay_dots(1, capo=2) == 1
    assert inlay_dots(10, capo=2) == 2
    assert inlay_dots(3, capo=1) == 0
