"""Building in this process, as the command line does."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from genex.publishing.jobs import build, built_text


def build_all(paths: Sequence[Path], out: Path, **how: Any) -> Iterator[str]:
    """Builds one after the other; yields what was built in words."""
    for built in build(paths, out, **how):
        yield built_text(built)
