"""What is known of the default soundfont's notes is what the synthesizer proves."""

from __future__ import annotations

import json

from genex.audio import Soundfont, content_digest
from genex.audio.notes import NoteBank
from genex.audio.proven import TABLE, Trait, proven_traits
from genex.resources import default_soundfont

RATE_HZ = 48_000
KEYS = [
    (False, 0, 60),  # any length
    (False, 71, 58),  # long ones only
    (False, 11, 60),  # none
    (False, 33, 40),  # any velocity from one
    (True, 0, 38),
    (True, 0, 42),  # cut off by its class
]


def test_the_table_is_of_this_soundfont_and_synthesizer_and_says_what_they_do() -> None:
    path = default_soundfont()
    with Soundfont(path, RATE_HZ) as font:
        known = proven_traits(content_digest(path), RATE_HZ, font.synthesizer_version)
        assert known, "made anew by soundfonts/prove_notes.py"
        found = NoteBank(font).traits(KEYS)
    assert found == {key: known[key] for key in KEYS}
    assert len(set(found.values())) >= 4  # they are of different kinds


def test_another_soundfont_rate_or_synthesizer_has_none() -> None:
    table = json.loads(TABLE.read_text("utf-8"))
    own = table["sha256"], table["rate_hz"], table["synthesizer"]
    assert proven_traits(*own)
    for place, other in enumerate(("0" * 64, 44_100, "1.0")):
        changed = [*own[:place], other, *own[place + 1 :]]
        assert proven_traits(*changed) == {}


def test_a_trait_is_a_digit_and_back() -> None:
    assert Trait().as_digit() == "0"
    assert Trait(lengths=True, velocities=True).as_digit() == "5"
    assert Trait(long_lengths=True).as_digit() == "8"
