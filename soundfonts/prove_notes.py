"""Make ``genex/audio/proven.json``: which notes of the default soundfont may be derived from others.

Every key of every preset and kit is tried as ``genex.audio.notes`` tries it. To be made anew when the
soundfont, the synthesizer that comes with genex or the proofs change; ``tests/audio/test_proven.py``
says when that is so.

Usage::

    python soundfonts/prove_notes.py
"""

from __future__ import annotations

import json

from genex.audio import Soundfont, content_digest
from genex.audio.notes import NoteBank
from genex.audio.presets import Presets
from genex.audio.proven import TABLE
from genex.resources import default_soundfont

RATE_HZ = 48_000
KEYS = range(128)
DRUM_BANK = 128


def main() -> None:
    """Write the table."""
    path = default_soundfont()
    found: dict[str, dict[str, str]] = {"presets": {}, "kits": {}}
    with Soundfont(path, RATE_HZ) as font:
        for bank, program in sorted(Presets(path).numbers):
            is_kit = bank == DRUM_BANK
            keys = [(is_kit, program, key) for key in KEYS]
            traits = NoteBank(font).traits(keys)
            found["kits" if is_kit else "presets"][str(program)] = "".join(
                traits[key].as_digit() for key in keys
            )
        table = {
            "sha256": content_digest(path),
            "rate_hz": RATE_HZ,
            "synthesizer": font.synthesizer_version,
            **found,
        }
    TABLE.write_text(json.dumps(table, indent=1) + "\n", "utf-8")


if __name__ == "__main__":
    main()
