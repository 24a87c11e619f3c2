"""The practice click: what a recipe says of it."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from genex.text.field_kinds import Fields, Whole


class Click(Fields):
    """The practice click."""

    beats: Literal["every beat", "two and four", "one"] = Field(
        default="every beat", description="Which beats it strikes."
    )
    subdivide: Whole = Field(default=1, ge=1, le=6, description="Clicks in each beat that has one.")
    accent: bool = Field(default=True, description="The first beat is higher and louder.")
    play_bars: Whole = Field(default=0, ge=0, le=64, description="Bars with the click, before …")
    drop_bars: Whole = Field(default=0, ge=0, le=64, description="… so many bars without it.")
