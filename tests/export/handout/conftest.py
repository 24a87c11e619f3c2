"""What tests of the sheet share."""

from __future__ import annotations

import pytest

from genex.export.engraved_rows import System


@pytest.fixture
def as_engraved(monkeypatch: pytest.MonkeyPatch) -> None:
    """Systems are set as they were engraved, so that their drawings say what is what."""
    monkeypatch.setattr(System, "paper_svg", property(lambda system: system.svg))
