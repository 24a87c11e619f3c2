"""The pictures of the documentation, drawn by genex from the recipe that its first page begins with.

``python -m tests.test_docs`` draws them anew; a test holds them against what genex draws today.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from genex.api import compose_recipe, parse_recipe
from genex.docs import FOLDER, read_page
from genex.export.chord_chart_svg import chart_svg
from genex.export.diagrams import DiagramStyle, sheet_svg
from genex.export.handout import HandoutSettings, handout_pngs
from genex.fretboard import STANDARD, chord_shapes
from genex.score import Score
from genex.theory import parse_chord

PICTURES = FOLDER / "pictures"
_HANDOUT_DOTS_PER_INCH = 80.0
_RECIPE = re.compile(r"^```yaml\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def tour_score() -> Score:
    """The music of the first recipe of the first page."""
    found = _RECIPE.search(read_page("recipes").text)
    assert found is not None
    return compose_recipe(parse_recipe(found[1])).score


def _shapes(chord: str) -> bytes:
    symbol = parse_chord(chord)
    return sheet_svg(str(symbol), chord_shapes(symbol, STANDARD), STANDARD, DiagramStyle()).encode()


DRAWN: Mapping[str, Callable[[], bytes]] = {
    "chart.svg": lambda: chart_svg(tour_score()).encode(),
    "handout.png": lambda: handout_pngs(
        tour_score(), HandoutSettings(), dots_per_inch=_HANDOUT_DOTS_PER_INCH
    )[0],
    "shapes.svg": lambda: _shapes("Gm7"),
}
"""Each picture by its name in the folder ``genex/docs/pictures``."""
