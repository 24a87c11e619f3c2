"""The music font's metrics against the outlines that the engraver draws."""

from __future__ import annotations

import re

import pytest

from genex.export.engraver import engraver, music_font_metrics
from genex.export.musicxml import musicxml_text
from tests.export.builders import small_score


def test_metrics_are_those_of_the_font_that_is_drawn():
    """A black notehead [published: SMuFL 1.4, U+E0A4] is a little wider than a staff space of 250."""
    left, low, width, height = music_font_metrics()["E0A4"]
    assert left == pytest.approx(0, abs=5)
    assert 250 < width < 350
    assert low == pytest.approx(-height / 2, abs=15)


def test_every_glyph_that_is_used_has_metrics():
    toolkit = engraver()
    toolkit.resetOptions()
    assert toolkit.loadData(musicxml_text(small_score()))
    used = set(re.findall(r'xlink:href="#([0-9A-F]+)-', toolkit.renderToSVG(1)))
    assert used
    assert used <= set(music_font_metrics())
