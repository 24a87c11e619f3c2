"""Files that come with genex: the default soundfont and the example recipes.

In an installed wheel they lie under ``genex/_data``; in a checkout or an editable install
they lie beside the package, where they are kept and edited.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

from genex.errors import GenexError

_PACKAGE = Path(__file__).resolve().parent


def _resource(relative: str) -> Path:
    for root in (_PACKAGE / "_data", _PACKAGE.parent):
        found = root / relative
        if found.exists():
            return found
    raise GenexError(
        f"genex is installed without its {relative}",
        hint="install genex again: pip install --force-reinstall --no-deps genex",
    )


def default_soundfont() -> Path:
    """The General MIDI soundfont that genex plays when no other is named."""
    return _resource("soundfonts/genex-gm.sf2")


def example_recipes() -> Path:
    """The folder of example recipes."""
    return _resource("recipes")


def user_cache_dir() -> Path:
    """The folder for what can be made again: of this user, by the customs of the system."""
    home = Path.home()
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local") / "genex" / "cache"
    if sys.platform == "darwin":
        return home / "Library" / "Caches" / "genex"
    return Path(os.environ.get("XDG_CACHE_HOME") or home / ".cache") / "genex"
