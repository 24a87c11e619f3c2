"""The chart as a drawing with numerals and scales under its chords. Signs: ``test_chart_rows.py``."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import combinations
from xml.etree import ElementTree

from fontTools.ttLib import TTFont
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.compose import compose
from genex.export.chord_chart_svg import MARGIN, ROW_WIDTH, chart_svg
from genex.export.typography import font_files
from genex.export.under_chords import UNDER_CHORDS
from genex.recipe import parse_recipe
from genex.score import Score
from tests.export.test_chord_chart import SVG


@dataclass(frozen=True)
class Box:
    text: str
    left: float
    right: float
    top: float
    bottom: float
    size: float

    def meets(self, other: Box) -> bool:
        across = min(self.right, other.right) - max(self.left, other.left)
        down = min(self.bottom, other.bottom) - max(self.top, other.top)
        return across > 0.5 and down > 0.5


@cache
def advances(bold: bool) -> tuple[dict[int, str], dict[str, tuple[int, int]], int]:
    """Characters, widths and units of the font that the drawing names, as its file has them."""
    (path,) = [p for p in font_files() if p.stem == ("DejaVuSans-Bold" if bold else "DejaVuSans")]
    font = TTFont(path)
    return font.getBestCmap(), font["hmtx"].metrics, font["head"].unitsPerEm


def boxes(svg: str) -> list[Box]:
    found = []
    for element in ElementTree.fromstring(svg).iter(f"{SVG}text"):
        text, size = element.text or "", float(element.get("font-size", ""))
        names, widths, units = advances(element.get("font-weight") == "bold")
        width = sum(widths[names[ord(sign)]][0] for sign in text) / units * size
        x, y = float(element.get("x", "")), float(element.get("y", ""))
        x -= {"start": 0.0, "middle": width / 2, "end": width}[element.get("text-anchor", "")]
        found.append(Box(text, x, x + width, y - 0.73 * size, y, size))
    return found


def composed(recipe: str) -> Score:
    return compose(parse_recipe(f"parts: bass\n{recipe}")).score


def test_what_is_asked_for_stands_under_its_chord_in_small_letters():
    score = composed("key: C\nchords: Fm | Bb7 | Cmaj7 | A7 |")
    found = {box.text: box for box in boxes(chart_svg(score, under=UNDER_CHORDS))}
    # the minor subdominant and the dominant on the lowered seventh [common practice]
    assert {"iv", "♭VII7", "Imaj7", "V7/ii", "lydian dominant", "major"} <= set(found)
    chord, numeral, scale = found["B♭7"], found["♭VII7"], found["lydian dominant"]
    assert chord.left == numeral.left == scale.left
    assert chord.bottom < numeral.top and numeral.bottom < scale.top
    assert numeral.size == scale.size < chord.size


def test_without_the_wish_the_drawing_has_chords_only():
    score = composed("key: C\nchords: Fm | Bb7 | Cmaj7 | A7 |")
    assert not {"iv", "♭VII7", "lydian dominant"} & {box.text for box in boxes(chart_svg(score))}


SYMBOLS = "Dm7 G7alt Cmaj7 A7b9 Ebm7 Ab7 F#m7b5 B7#11 Bdim7 Fm(maj7) C/E N.C.".split()
bars = st.lists(st.sampled_from(SYMBOLS), min_size=1, max_size=4).map(" ".join)


@settings(max_examples=60, deadline=None)
@given(st.lists(bars, min_size=1, max_size=6).map(" | ".join), st.sampled_from(["", "|: {} :|"]))
def test_no_text_runs_into_another_or_out_of_the_row(chart, frame):
    score = composed(f"key: C\nchords: '{frame.format(chart) if frame else chart + ' |'}'")
    if not score.timeline.has_chords:
        return
    found = boxes(chart_svg(score, under=UNDER_CHORDS))
    for one, other in combinations(found, 2):
        assert not one.meets(other), (one, other)
    for box in found:
        assert box.left >= MARGIN and box.right <= MARGIN + ROW_WIDTH
        assert box.size >= 9.5
