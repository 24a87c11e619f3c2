"""Files that come with genex, and the cache folder."""

from __future__ import annotations

from pathlib import Path

import pytest

from genex import resources


def test_the_soundfont_and_the_examples_are_found() -> None:
    assert resources.default_soundfont().stat().st_size > 20_000_000
    assert list(resources.example_recipes().glob("*.yaml"))


def test_the_cache_folder_follows_the_customs_of_the_system(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", "/somewhere")
    monkeypatch.setattr(resources.sys, "platform", "linux")
    assert resources.user_cache_dir() == Path("/somewhere/genex")
    monkeypatch.delenv("XDG_CACHE_HOME")
    assert resources.user_cache_dir() == Path.home() / ".cache" / "genex"
    monkeypatch.setattr(resources.sys, "platform", "darwin")
    assert resources.user_cache_dir() == Path.home() / "Library" / "Caches" / "genex"
