"""Derived notes against the synthesizer's own."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from genex.audio import Soundfont
from genex.audio.notes import NoteBank
from genex.audio.sf2 import velocity_acts_late
from genex.audio.sound import SILENCE
from genex.audio.timing import Strike
from genex.resources import default_soundfont
from tests.audio.material import signal_to_difference_db

MELODIC = [0, 4, 11, 16, 24, 25, 26, 27, 29, 32, 33, 35, 48, 65, 71, 73, 89]


def sound(bank: NoteBank, strike: Strike) -> np.ndarray:
    return bank.notes([strike])[strike].sounding().T


def difference_db(soundfont: Soundfont, bank: NoteBank, strike: Strike) -> float:
    """Note over difference to the synthesizer's own. Both end where nothing is heard any more,
    one on a sample and one on a block: what one has longer lies below that."""
    played, derived = dict(soundfont.render([strike]))[strike].T, sound(bank, strike)
    frames = min(len(played), len(derived))
    for longer in (played, derived):
        assert not len(longer[frames:]) or np.abs(longer[frames:]).max() < 2 * SILENCE
    return signal_to_difference_db(played[:frames], derived[:frames])


@pytest.mark.parametrize("program", MELODIC)
def test_notes_of_any_length_and_level_are_those_of_the_synthesizer(
    soundfont: Soundfont, program: int
) -> None:
    bank = NoteBank(soundfont)
    for key, velocity, hold in ((48, 100, 3), (57, 64, 40), (64, 113, 220), (72, 31, 9)):
        strike = Strike(False, program, key, velocity, hold)
        assert difference_db(soundfont, bank, strike) >= 60, strike


@pytest.mark.parametrize("kit", [0, 8, 32, 40])
def test_drums_are_too_cut_off_or_not(soundfont: Soundfont, kit: int) -> None:
    bank = NoteBank(soundfont)
    for key, velocity, hold, choke in (
        (36, 90, 20, 0),
        (38, 40, 20, 0),
        (51, 77, 30, 0),
        (46, 100, 60, 0),
        (46, 80, 60, 150),
        (44, 64, 5, 90),
        (46, 70, 300, 40),
    ):
        strike = Strike(True, kit, key, velocity, hold, choke)
        assert difference_db(soundfont, bank, strike) >= 60, strike


def test_what_was_asked_for_before_makes_no_difference(soundfont: Soundfont) -> None:
    wanted = Strike(False, 33, 40, 77, 50)
    alone = sound(NoteBank(soundfont), wanted)
    busy = NoteBank(soundfont)
    busy.notes(Strike(False, 33, 40, velocity, hold) for velocity in (20, 90) for hold in (9, 400))
    busy.forget()
    assert np.array_equal(alone, sound(busy, wanted))


def test_derivation_saves_most_of_the_work(
    soundfont: Soundfont, monkeypatch: pytest.MonkeyPatch
) -> None:
    made: list[object] = []
    held = Soundfont.held
    monkeypatch.setattr(
        Soundfont,
        "held",
        lambda self, wanted: held(self, [made.append(w) or w for w in wanted]),  # type: ignore[func-returns-value]
    )
    NoteBank(soundfont).notes(Strike(False, 33, 40, 80, hold) for hold in range(20, 220))
    assert len(made) <= 12


def soundfont_with(tmp_path: Path, *modulators: tuple[int, int]) -> Path:
    """The modulator records of a file (source, destination), in an otherwise empty pdta."""
    records = b"".join(
        s.to_bytes(2, "little") + d.to_bytes(2, "little") + bytes(6) for s, d in modulators
    )
    chunk = b"imod" + len(records).to_bytes(4, "little") + records
    pdta = b"LIST" + (len(chunk) + 4).to_bytes(4, "little") + b"pdta" + chunk
    path = tmp_path / "font.sf2"
    path.write_bytes(b"RIFF" + (len(pdta) + 4).to_bytes(4, "little") + b"sfbk" + pdta)
    return path


@pytest.mark.parametrize(
    ("modulators", "late"),
    [
        ([], False),
        ([(0x0102, 8)], False),  # velocity to filter cutoff
        ([(0x0502, 38)], True),  # velocity to the release of the volume envelope
        ([(0x0082, 38)], False),  # MIDI controller 2, not velocity
        ([(0x0003, 38), (0x0002, 11)], True),  # key to release; velocity to the filter's envelope
    ],
)
def test_velocity_that_acts_late_is_found(
    tmp_path: Path, modulators: list[tuple[int, int]], late: bool
) -> None:
    assert velocity_acts_late(soundfont_with(tmp_path, *modulators)) is late


def test_the_default_soundfont_has_no_such_modulators() -> None:
    assert not velocity_acts_late(default_soundfont())
