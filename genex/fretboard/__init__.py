"""The neck: tunings, left-hand fingering, the five positions and paths over them."""

from genex.fretboard.fingering import (
    Fingered,
    finger_everywhere,
    finger_line,
    main_position,
    with_moves,
)
from genex.fretboard.forms import Form, forms_of
from genex.fretboard.hand import HandMove, move_between
from genex.fretboard.sequences import (
    SEQUENCES,
    Pattern,
    fingered_sequence,
    pattern,
    sequence,
    sequence_indices,
)
from genex.fretboard.shape import PathNote, Shape, ShapeNote
from genex.fretboard.shapes import (
    OPEN_FORM,
    along_strings,
    chord_shape,
    chord_shapes,
    extended,
    shape,
    shapes,
    shapes_as_json,
)
from genex.fretboard.tunings import STANDARD, TUNINGS, Hand, Place, Tuning, pitch_at, places, tuning

__all__ = [
    "OPEN_FORM",
    "SEQUENCES",
    "STANDARD",
    "TUNINGS",
    "Fingered",
    "Form",
    "Hand",
    "HandMove",
    "PathNote",
    "Pattern",
    "Place",
    "Shape",
    "ShapeNote",
    "Tuning",
    "along_strings",
    "chord_shape",
    "chord_shapes",
    "extended",
    "finger_everywhere",
    "finger_line",
    "fingered_sequence",
    "forms_of",
    "main_position",
    "move_between",
    "pattern",
    "pitch_at",
    "places",
    "sequence",
    "sequence_indices",
    "shape",
    "shapes",
    "shapes_as_json",
    "tuning",
    "with_moves",
]
