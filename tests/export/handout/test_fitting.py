"""How large the music is set, and how close: which setting is taken, and when no other one is tried."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from genex.export.handout import fitting
from genex.export.handout.settings import SETTINGS, Setting
from genex.export.handout.system_breaks import CrowdedError

FIRST = {"title": "Lamps", "blocks": [{"kind": "chart"}, {"kind": "lines", "setting": SETTINGS[0]}]}
Extent = tuple[int, float]


@pytest.fixture
def taken(monkeypatch: pytest.MonkeyPatch) -> Any:
    """The setting that is taken where the settings make so many pages, filled so far, and what was
    counted."""

    def of(*extents: int | Extent, wanted: int = 2) -> tuple[Setting, str, int]:
        left: Iterator[int | Extent] = iter(extents)
        counted: list[object] = []

        def extent(template: str, data: object) -> Extent:
            counted.append(data)
            found = next(left)
            return found if isinstance(found, tuple) else (found, 1.0)

        def set_anew(block: dict[str, Any], setting: Setting) -> dict[str, Any]:
            return {**block, "setting": setting}

        monkeypatch.setattr(fitting, "extent", extent)
        data = fitting.fitted(lambda setting: FIRST, set_anew, wanted)
        assert data["title"] == "Lamps" and data["blocks"][0] == {"kind": "chart"}
        return data["blocks"][1]["setting"], data["gaps"], len(counted)

    return of


def test_what_is_enough_is_taken_and_nothing_smaller_is_set(taken: Any) -> None:
    assert taken(2) == (SETTINGS[0], "usual", 1)
    assert taken(4, 3, 2) == (SETTINGS[2], "usual", 3)


def test_what_differs_in_gaps_alone_is_not_engraved_anew(taken: Any) -> None:
    assert SETTINGS[3].gaps == "close"
    assert taken(4, 3, 3, 2) == (SETTINGS[2], "close", 4)


def test_where_none_is_enough_the_largest_of_fewest_pages_is_taken(taken: Any) -> None:
    pages = [5, 4, *[4] * (len(SETTINGS) - 2)]
    assert taken(*pages) == (SETTINGS[1], "usual", len(SETTINGS))


def test_a_last_page_that_is_left_over_is_spared_or_filled(taken: Any) -> None:
    assert taken((2, 0.2), 1) == (SETTINGS[1], "usual", 2)
    left_over = [(3, 0.1)] * (len(SETTINGS) - 1)
    assert taken(*left_over, (3, 0.4)) == (SETTINGS[0], "wide", len(SETTINGS))
    assert taken(*left_over, (4, 0.9)) == (SETTINGS[0], "usual", len(SETTINGS))
    assert taken((1, 0.1)) == (SETTINGS[0], "usual", 1), "one page is no last page"


def test_without_lines_only_the_gaps_change(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fitting, "extent", lambda *_: (3, 0.2))
    data = {"blocks": [{"kind": "chart"}]}
    assert fitting.fitted(lambda _: data, lambda block, _: {}, 2) == {**data, "gaps": "usual"}


def test_settings_in_which_something_meets_are_passed_over(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fitting, "extent", lambda *_: (3, 1.0))

    def made(*clear: float, wanted: int = 2) -> Any:
        def lines(block: object, setting: Setting) -> dict[str, Any]:
            if setting.staff_space_mm not in clear:
                raise CrowdedError(f"crowded at {setting.staff_space_mm}")
            return {"kind": "lines", "setting": setting}

        return fitting.fitted(lambda setting: {"blocks": [lines({}, setting)]}, lines, wanted)

    for wanted in (2, 3):
        assert made(1.4, 1.25, wanted=wanted)["blocks"][0]["setting"] == SETTINGS[1]
    assert made(1.55)["blocks"][0]["setting"] == SETTINGS[0]
    with pytest.raises(CrowdedError, match="crowded at"):
        made()
