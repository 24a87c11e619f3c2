"""What is proven of the notes of the default soundfont, so that a first build need not prove it.

Whether a note may be derived from another one (``notes``) depends on the soundfont, the sample rate and
the synthesizer alone. For those that most people have it is data (``proven.json``, made by
``soundfonts/prove_notes.py``); with any other it is proven when a key is first played.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import NamedTuple

TABLE = Path(__file__).with_suffix(".json")

Key = tuple[bool, int, int]  # kit, program, key


class Trait(NamedTuple):
    """What is proven of a key: whether its lengths, cut-offs and velocities may be derived, and if not
    all lengths, whether long ones may."""

    lengths: bool = False
    cuts: bool = False
    velocities: bool = False
    long_lengths: bool = False

    def as_digit(self) -> str:
        """A bit for each, as a hexadecimal digit."""
        return f"{sum(bool(is_so) << bit for bit, is_so in enumerate(self)):x}"


def proven_traits(digest: str, rate_hz: int, synthesizer_version: str) -> dict[Key, Trait]:
    """The traits of keys that are known of a soundfont, by the digest of its content."""
    table = json.loads(TABLE.read_text("utf-8"))
    if (digest, rate_hz, synthesizer_version) != tuple(
        table[name] for name in ("sha256", "rate_hz", "synthesizer")
    ):
        return {}
    return {
        (kind == "kits", int(program), key): Trait(
            *(bool(int(digit, 16) >> bit & 1) for bit in range(4))
        )
        for kind in ("kits", "presets")
        for program, digits in table[kind].items()
        for key, digit in enumerate(digits)
    }
