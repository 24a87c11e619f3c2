"""The practice click: what a recipe says of it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from genex.text.field_kinds import AS_LIST, Fields, Whole

MAX_SUBDIVISIONS = 6
MAX_GAP_BARS = 64


class Click(Fields):
    """The practice click."""

    beats: Literal["every beat", "two and four", "one"] = Field(
        default="every beat", description="Which beats it strikes."
    )
    subdivide: Whole = Field(
        default=1, ge=1, le=MAX_SUBDIVISIONS, description="Clicks in each beat that has one."
    )
    only: Annotated[
        tuple[Annotated[Whole, Field(ge=1, le=MAX_SUBDIVISIONS)], ...],
        Field(max_length=MAX_SUBDIVISIONS),
        AS_LIST,
    ] = Field(
        default=(),
        description="Which clicks of a beat are heard, from 1: with subdivide 2, 2 is the off-beat.",
    )
    accent: bool = Field(default=True, description="The first beat is higher and louder.")
    play_bars: Whole = Field(
        default=0, ge=0, le=MAX_GAP_BARS, description="Bars with the click, before …"
    )
    drop_bars: Whole = Field(default=0, ge=0, le=MAX_GAP_BARS, description="… so many bars without it.")
    grow_bars: Whole = Field(
        default=0, ge=0, le=16, description="Bars by which each gap is longer than the one before it."
    )
    most_drop_bars: Whole = Field(
        default=8, ge=1, le=MAX_GAP_BARS, description="The longest that gaps grow to."
    )
    in_silence: bool = Field(
        default=False,
        description="A soft pulse where the line is silent for a bar and more, as in calls and drills, "
        "and nowhere else.",
    )
