"""The size of the music: which setting is taken, and when no other one is tried."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from genex.export.handout import fitting
from genex.export.handout.settings import SETTINGS, Setting

FIRST = {"title": "Lamps", "blocks": [{"kind": "chart"}, {"kind": "lines", "setting": SETTINGS[0]}]}


@pytest.fixture
def taken(monkeypatch: pytest.MonkeyPatch) -> Any:
    """The setting that is taken where the settings make so many pages, and what was counted."""

    def of(*pages: int, enough: int = 2) -> tuple[Setting, int]:
        left: Iterator[int] = iter(pages)
        counted: list[object] = []

        def extent(template: str, data: object) -> tuple[int, float]:
            counted.append(data)
            return next(left), 1.0

        def set_anew(block: dict[str, Any], setting: Setting) -> dict[str, Any]:
            return {**block, "setting": setting}

        monkeypatch.setattr(fitting, "extent", extent)
        data = fitting.fitted(FIRST, set_anew, lambda count, _: count <= enough)
        assert data["title"] == "Lamps" and data["blocks"][0] == {"kind": "chart"}
        return data["blocks"][1]["setting"], len(counted)

    return of


def test_what_is_enough_is_taken_and_nothing_smaller_is_set(taken: Any) -> None:
    assert taken(2) == (SETTINGS[0], 1)
    assert taken(4, 3, 2) == (SETTINGS[2], 3)


def test_where_none_is_enough_the_largest_of_fewest_pages_is_taken(taken: Any) -> None:
    pages = [5, 4, *[4] * (len(SETTINGS) - 2)]
    assert taken(*pages) == (SETTINGS[1], len(SETTINGS))


def test_without_lines_no_page_is_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fitting, "extent", None)
    data = {"blocks": [{"kind": "chart"}]}
    assert fitting.fitted(data, lambda block, _: block, lambda *_: False) == data
