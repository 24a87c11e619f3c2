"""The structure tree of a PDF, read by pypdf [published: ISO 32000-1, 14.7 and 14.8]."""

from __future__ import annotations

import io
import math
from collections.abc import Iterator
from typing import Any

import pypdf


def elements(document: bytes) -> Iterator[tuple[str, dict[str, Any]]]:
    """Every structure element in reading order: its type and its dictionary."""

    def walk(node: Any) -> Iterator[tuple[str, dict[str, Any]]]:
        found = node.get_object() if hasattr(node, "get_object") else node
        if isinstance(found, list):
            for child in found:
                yield from walk(child)
        elif isinstance(found, dict):
            if "/S" in found:
                yield str(found["/S"]), dict(found)
            yield from walk(found.get("/K"))

    yield from walk(pypdf.PdfReader(io.BytesIO(document)).root_object["/StructTreeRoot"])


def alternatives(document: bytes) -> list[str]:
    """The alternative text of each figure; empty for one that has none."""
    return [str(e.get("/Alt", "")) for kind, e in elements(document) if kind == "/Figure"]


def type_sizes(document: bytes) -> dict[float, str]:
    """The sizes of type on all pages, in points, each with the first words set in it."""
    found: dict[float, str] = {}

    def visit(text: str, outer: list[float], inner: list[float], _: object, size: float) -> None:
        if text.strip():
            across, down = (inner[0] * outer[i] + inner[1] * outer[i + 2] for i in (0, 1))
            found.setdefault(round(size * math.hypot(across, down), 1), text.strip())

    for page in pypdf.PdfReader(io.BytesIO(document)).pages:
        page.extract_text(visitor_text=visit)
    return found
