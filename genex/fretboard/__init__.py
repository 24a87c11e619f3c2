"""The neck: tunings, left-hand fingering, the five positions and paths over them."""

from genex.fretboard.fingering import (
    Fingered,
    finger_everywhere,
    finger_line,
    main_position,
    with_moves,
)
from genex.fretboard.forms import Form, forms_of
from genex.fretboard.grip import Grip
from genex.fretboard.grips import KINDS as GRIP_KINDS
from genex.fretboard.grips import every_grip, grips_of
from genex.fretboard.hand import HandMove, move_between
from genex.fretboard.own_shapes_file import (
    Fingerings,
    house_fingerings,
    read_fingerings,
    unplayable_roots,
    written_shape,
)
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
from genex.fretboard.wishes import Wishes

__all__ = [
    "GRIP_KINDS",
    "OPEN_FORM",
    "SEQUENCES",
    "STANDARD",
    "TUNINGS",
    "Fingered",
    "Fingerings",
    "Form",
    "Grip",
    "Hand",
    "HandMove",
    "PathNote",
    "Pattern",
    "Place",
    "Shape",
    "ShapeNote",
    "Tuning",
    "Wishes",
    "along_strings",
    "chord_shape",
    "chord_shapes",
    "every_grip",
    "extended",
    "finger_everywhere",
    "finger_line",
    "fingered_sequence",
    "forms_of",
    "grips_of",
    "house_fingerings",
    "main_position",
    "move_between",
    "pattern",
    "pitch_at",
    "places",
    "read_fingerings",
    "sequence",
    "sequence_indices",
    "shape",
    "shapes",
    "shapes_as_json",
    "tuning",
    "unplayable_roots",
    "with_moves",
    "written_shape",
]
