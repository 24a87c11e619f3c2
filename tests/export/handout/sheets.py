"""Handouts to be looked at."""

from __future__ import annotations

import io
import re
from typing import Any

import pypdf

from genex.export.handout import Asked, HandoutSettings, ImprovisingTask, Offered, Worksheet
from genex.export.handout.content import handout_data
from genex.score import Score
from tests.export.builders import timeline


def pages(document: bytes) -> list[str]:
    return [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(document)).pages]


def squeezed(text: str) -> str:
    """Without white space, which a PDF keeps only as distances."""
    return re.sub(r"\s+", "", text)


def empty(chart: str, title: str = "Lamps on the Canal", **more: object) -> Score:
    return Score(title, "Medium swing", timeline(chart, **more), ())  # type: ignore[arg-type]


def block(score: Score, kind: str, **choices: Any) -> dict[str, Any]:
    data = handout_data(score, HandoutSettings(blocks=(kind,), **choices))  # type: ignore[arg-type]
    (found,) = data["blocks"]
    assert found["kind"] == kind
    return dict(found)


FILLED_IN = Worksheet(
    "Which interval?",
    (Asked(1, "minor third up: E4 G4"), Asked(2, "octave up: C4 C5")),
    (Offered("minor third"), Offered("octave")),
    ImprovisingTask(("Play chord tones alone.",), (0, 1)),
)
"""A drill, and a task: one of everything."""

ONLY_CHART = HandoutSettings(blocks=("chart",))


MARKUP = (
    r"Rain #on $x^2$ the \roof *bold* _it_ `code` @ref <label> [b] #panic() // = - + / ~ -- ... 'q' "
)


def row(score: Score, kind: str, **choices: Any) -> dict[str, Any]:
    return next(r for r in block(score, "practice", **choices)["rows"] if r["kind"] == kind)
