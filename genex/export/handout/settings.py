"""What goes into a handout or a book, and on what paper."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from genex.exact import Fraction
from genex.export.engraved_rows import SMALLEST_PT
from genex.export.neck_marks import Mark
from genex.export.under_chords import UnderChords
from genex.fretboard import STANDARD, Shape, Tuning, chord_shapes
from genex.readers.font import Font
from genex.readers.logo import Logo
from genex.theory import Chord

Rhythm = tuple[tuple[Fraction, Fraction], ...]
"""Onsets and lengths in beats."""

Paper = Literal["a4", "letter"]
Block = Literal["chart", "task", "questions", "grips", "lines", "practice", "shapes", "care", "key"]
BLOCKS: tuple[Block, ...] = get_args(Block)
"""The blocks of a handout in the order in which they are set."""

PAPER_MM: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height [published: ISO 216; ANSI/ASME Y14.1]."""

MARGIN_MM = 17.0
"""Left and right margin."""
GUTTER_MM = 3.0
"""So much the inner margin of a bound page has more than that, and the outer one less."""
TOP_AND_BOTTOM_MM = 33.0
"""Both together, as ``templates/page.typ`` has them."""


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """What diagrams ask of the settings: paper, neck, the player's hand and language; whether only
    shapes without open strings are shown; whether all is set for readers of low vision; a font for
    letters that genex's own fonts lack."""

    paper: Paper = "a4"
    tuning: Tuning = STANDARD
    left_handed: bool = False
    language: str = "en"
    closed: bool = False
    large_print: bool = False
    font: Font | None = None

    @property
    def growth(self) -> float:
        """How many times as large as usual music is set."""
        return LARGE_SETTING.growth if self.large_print else 1.0

    def shapes_of(self, chord: Chord) -> tuple[Shape, ...]:
        """The shapes of a chord that are drawn, the open position too unless ``closed``."""
        return chord_shapes(chord, self.tuning, with_open=not self.closed)


@dataclass(frozen=True, slots=True)
class Asked:
    """A question, or a call: its number, its answer in words, and what is done in which bars.

    turns  what is done (``listen``, ``play``, ``announce``, ``answer``) and from which bar to which,
           by their numbers
    """

    number: int
    answer: str
    turns: tuple[tuple[str, int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Offered:
    """What an answer may be: in words, or a rhythm (onsets and lengths in beats) with its letter."""

    text: str
    rhythm: Rhythm = ()
    signs: int = 1


@dataclass(frozen=True, slots=True)
class ImprovisingTask:
    """What is kept to: sentences; necks with a heading each; the rhythm that is given, or staves to
    write into; or what to aim at under each chord of the form, by its onset.

    form  the bars of one chorus: the first, from 0, and one past the last
    """

    rules: tuple[str, ...]
    form: tuple[int, int]
    necks: tuple[tuple[str, tuple[Mark, ...]], ...] = ()
    rhythm: Rhythm = ()
    aims: tuple[tuple[Fraction, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Worksheet:
    """What a student fills in or plays from, beside the music.

    prompt   what each question asks; empty for calls
    offered  what a drill's answers are chosen from
    """

    prompt: str = ""
    asked: tuple[Asked, ...] = ()
    offered: tuple[Offered, ...] = ()
    task: ImprovisingTask | None = None


@dataclass(frozen=True, slots=True)
class StudentWords:
    """What the teacher says to the student; empty for nothing.

    writing_lines  empty lines to write on
    """

    aim: str = ""
    remarks: str = ""
    homework: str = ""
    writing_lines: int = 0


@dataclass(frozen=True, slots=True)
class Letterhead:
    """Who hands the sheet out; empty for nothing. ``licence`` stands at the foot of every page."""

    school: str = ""
    teacher: str = ""
    contact: str = ""
    licence: str = ""
    link: str = ""
    logo: Logo | None = None


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
    worksheet    what there is to fill in: the blocks ``task``, ``questions`` and ``key``
    student      the teacher's own words
    letterhead   who hands it out
    language     of all words that are not the user's own
    courtesy_accidentals  accidentals of the lines that remind
    """

    blocks: tuple[Block, ...] = BLOCKS
    part_names: tuple[str, ...] | None = None
    shapes_for: tuple[Chord, ...] | None = None
    tempo_steps: int = 5
    under_chords: tuple[UnderChords, ...] = ()
    worksheet: Worksheet = Worksheet()
    student: StudentWords = StudentWords()
    letterhead: Letterhead = Letterhead()
    courtesy_accidentals: bool = False


Gaps = Literal["close", "usual", "wide"]
"""The room between the blocks of a page, between systems, and in the chart."""


@dataclass(frozen=True, slots=True)
class Setting:
    """How large the music is set, and whether small necks stand above it.

    growth  enlarges all of it, words and signs alike, in lines that hold so much less
    gaps    the room between what stands on a page
    folded  what comes again at another fret with the same fingers is printed once
    """

    staff_space_mm: float
    has_windows: bool
    growth: float = 1.0
    gaps: Gaps = "usual"
    folded: bool = False


SETTINGS = (
    Setting(1.55, True),
    Setting(1.4, True),
    Setting(1.25, True),
    Setting(1.25, True, gaps="close"),
    Setting(1.4, False),
    Setting(1.25, False),
    Setting(1.25, False, gaps="close"),
    Setting(1.4, True, folded=True),
    Setting(1.4, True, gaps="close", folded=True),
    Setting(1.25, False, gaps="close", folded=True),
    Setting(1.55, True, gaps="wide"),
)
"""In the order in which they are tried. A staff of four spaces of 1.25 mm is the smallest that is
read from a music stand; of solo parts 1.75 is usual [common practice; Gould 2011, page 483]. The last
fills a page that would else be left over."""

LARGE_PT = 14.0
"""The smallest type of large print, in points [memory: guidelines of libraries for the blind ask for 14
to 18]."""

LARGE_SHARE = 0.6
"""Letters that a line of large print holds, of those of the normal sheet."""

LARGE_SETTING = Setting(1.55, False, LARGE_PT / SMALLEST_PT)
"""Whatever stands in a system grows as its smallest type does: a staff 13 mm high. Small necks could
not be read."""

LEAST_OF_LAST_PAGE = 1 / 3
"""Of its height; a page with less looks left over."""

SHEET_PAGES = 2
"""Front and back of one sheet of paper."""


@dataclass(frozen=True, kw_only=True)
class BookSettings(Drawn):
    """Choices for ``book_pdf``. ``title`` stands on the first page, empty for the usual one; ``date``
    and ``licence`` in the colophon."""

    title: str = ""
    date: str = ""
    licence: str = ""


STANDARD_HANDOUT = HandoutSettings()
STANDARD_BOOK = BookSettings()


def text_width_mm(paper: Paper) -> float:
    """Width between the margins."""
    return PAPER_MM[paper][0] - 2 * MARGIN_MM
