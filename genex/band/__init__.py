"""Drums, bass and comping, played from groove files over a timeline."""

from genex.band.catalogue import (
    all_grooves,
    groove_names,
    groove_schema,
    grooves_for,
    load_groove,
    require_meter,
)
from genex.band.click import play_click
from genex.band.feel_timing import FeelTiming, lead_swing_ratio, swing_offset, swing_ratio
from genex.band.groove import Groove
from genex.band.listening import Heard
from genex.band.play import BAND_PARTS, count_in, play_band, trading
from genex.band.soloist import play_line

__all__ = [
    "BAND_PARTS",
    "FeelTiming",
    "Groove",
    "Heard",
    "all_grooves",
    "count_in",
    "groove_names",
    "groove_schema",
    "grooves_for",
    "lead_swing_ratio",
    "load_groove",
    "play_band",
    "play_click",
    "play_line",
    "require_meter",
    "swing_offset",
    "swing_ratio",
    "trading",
]
