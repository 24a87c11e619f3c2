"""Shapes for the page's neck: each set once, as the fretboard has them."""

from __future__ import annotations

from genex.fretboard import STANDARD, chord_shapes
from genex.page.shapes import _forms
from genex.theory import parse_chord


def test_forms_have_the_places_of_the_shapes():
    chord = parse_chord("Gm7")
    found = _forms(chord.degrees, chord.root, STANDARD)
    shapes = {shape.form: shape for shape in chord_shapes(chord, STANDARD, with_open=False)}
    assert {form for form, *_ in found} <= set(shapes)
    for form, _, notes in found:
        assert {tuple(n)[:2] for n in notes} == {(n.string, n.fret) for n in shapes[form].notes}
