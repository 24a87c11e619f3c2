"""Building in this process, as the command line does."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from genex.building import built_text
from genex.publishing.jobs import Wishes, build

USUAL = {"wishes": Wishes(), "unchanged": (), "note": lambda text: None}


def build_all(paths: Sequence[Path], out: Path, **how: Any) -> Iterator[str]:
    """Builds one after the other; yields what was built in words."""
    for built in build(paths, out, **{**USUAL, **how}):
        yield built_text(built)
