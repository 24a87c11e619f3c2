"""What goes into a handout or a book, and on what paper."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from genex.export.under_chords import UnderChords
from genex.fretboard import STANDARD, Shape, Tuning, chord_shapes
from genex.theory import Chord

Paper = Literal["a4", "letter"]
Block = Literal["chart", "shapes", "grips", "lines", "practice", "care"]
BLOCKS: tuple[Block, ...] = ("chart", "grips", "lines", "practice", "care", "shapes")
"""The blocks of a handout in the order in which they are set."""

PAPER_MM: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height [published: ISO 216; ANSI/ASME Y14.1]."""

MARGIN_MM = 17.0
"""Left and right margin."""
TOP_AND_BOTTOM_MM = 33.0
"""Both together, as ``templates/page.typ`` has them."""


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """What diagrams ask of the settings: paper, neck, the player's hand and language; whether only
    shapes without open strings are shown."""

    paper: Paper = "a4"
    tuning: Tuning = STANDARD
    left_handed: bool = False
    language: str = "en"
    closed: bool = False

    def shapes_of(self, chord: Chord) -> tuple[Shape, ...]:
        """The shapes of a chord that are drawn, the open position too unless ``closed``."""
        return chord_shapes(chord, self.tuning, with_open=not self.closed)


@dataclass(frozen=True, kw_only=True)
class HandoutSettings(Drawn):
    """Choices for ``handout_pdf``.

    blocks       which blocks; they are always set in the order of ``BLOCKS``
    part_names   lead parts to print, None for all
    shapes_for   chords whose shapes are shown, None for every chord of the chart
    tuning       neck of the diagrams
    left_handed  mirror the diagrams
    tempo_steps  tempos of the practice ladder, slowest to the tempo of the piece; 0 for none
    under_chords what stands under the chords of the chart
    language     of all words that are not the user's own
    """

    blocks: tuple[Block, ...] = BLOCKS
    part_names: tuple[str, ...] | None = None
    shapes_for: tuple[Chord, ...] | None = None
    tempo_steps: int = 5
    under_chords: tuple[UnderChords, ...] = ()


@dataclass(frozen=True, slots=True)
class Setting:
    """How large the music is set, and whether small necks stand above it."""

    staff_space_mm: float
    has_windows: bool


SETTINGS = (
    Setting(1.55, True),
    Setting(1.4, True),
    Setting(1.25, True),
    Setting(1.4, False),
    Setting(1.25, False),
)
"""In the order in which they are tried. A staff of four spaces of 1.25 mm is the smallest that is
read from a music stand; of solo parts 1.75 is usual [common practice; Gould 2011, page 483]."""

SHEET_PAGES = 2
"""Front and back of one sheet of paper."""


@dataclass(frozen=True, kw_only=True)
class BookSettings(Drawn):
    """Choices for ``book_pdf``. ``title`` stands on the contents page; empty for the usual one."""

    title: str = ""


STANDARD_HANDOUT = HandoutSettings()
STANDARD_BOOK = BookSettings()


def text_width_mm(paper: Paper) -> float:
    """Width between the margins."""
    return PAPER_MM[paper][0] - 2 * MARGIN_MM
