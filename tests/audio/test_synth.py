from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest

from genex.audio import Soundfont
from genex.audio.sound import BLOCK_SAMPLES
from genex.audio.synth import _Lanes
from genex.audio.timing import Placement, Strike, choke_gaps
from genex.errors import SoundfontError
from genex.resources import default_soundfont
from tests.audio.material import signal_to_difference_db

Struck = tuple[int, Strike]  # block, strike


def render(soundfont: Soundfont, *strikes: Strike) -> list[np.ndarray]:
    found = dict(soundfont.render(strikes))
    return [found[strike].T for strike in strikes]


def straight(soundfont: Soundfont, struck: Sequence[Struck], blocks: int) -> np.ndarray:
    """The notes played one after the other into one channel, as a sequencer would."""
    player = soundfont._player
    soundfont._select(0, kit=struck[0][1].kit, program=struck[0][1].program)
    events: list[tuple[int, int, Callable[[], object]]] = []
    for block, strike in struck:
        events.append((block, 1, lambda s=strike: player.noteon(0, s.key, s.velocity)))  # type: ignore[misc]
        end = block + strike.hold_blocks
        events.append((end, 0, lambda s=strike: player.noteoff(0, s.key)))  # type: ignore[misc]
        for step in range(strike.bend_blocks + 1 if strike.bend_semitones else 0):
            semitones = strike.bend_semitones * (1 - step / strike.bend_blocks)
            value = round(semitones * 8192 / 24)
            events.append((block + step, 0, lambda v=value: player.pitch_bend(0, v)))  # type: ignore[misc]
    lanes, now = _Lanes([blocks * BLOCK_SAMPLES]), 0
    for block, _, play in sorted(events, key=lambda event: event[:2]):
        if block > now:
            soundfont._run(lanes, block - now)
            now = block
        play()
    soundfont._run(lanes, blocks - now)
    soundfont._silence()
    out = np.zeros((blocks * BLOCK_SAMPLES, 2), np.float32)
    planes = lanes.planes(0)
    out[: planes.shape[1]] = planes.T
    return out


def from_distinct_notes(soundfont: Soundfont, struck: Sequence[Struck], blocks: int) -> np.ndarray:
    placed = [Placement(block * BLOCK_SAMPLES, strike) for block, strike in struck]
    if struck[0][1].kit:
        classes = {s.key: soundfont.exclusive_class(s.program, s.key) for _, s in struck}
        gaps = choke_gaps(placed, classes, None)
        placed = [Placement(p.start_sample, p.strike._replace(choke_blocks=gap)) for p, gap in gaps]
    notes = dict(soundfont.render(p.strike for p in placed))
    out = np.zeros((blocks * BLOCK_SAMPLES, 2), np.float32)
    for start, strike in placed:
        samples = notes[strike].T[: len(out) - start]
        out[start : start + len(samples)] += samples
    return out


def some_notes(kit: bool, program: int, keys: Sequence[int], *, count: int = 40) -> list[Struck]:
    """Notes at random on the synthesizer's grid; a key never sounds twice at once."""
    choose = random.Random(f"{kit}/{program}")
    free: dict[int, int] = dict.fromkeys(keys, 0)
    struck = []
    for block in sorted(choose.randrange(1500) for _ in range(count)):
        key, hold = choose.choice(keys), choose.randint(5, 200)
        if block > free[key]:
            free[key] = block + hold
            struck.append((block, Strike(kit, program, key, choose.randint(30, 120), hold)))
    return struck


@pytest.mark.parametrize("program", [0, 4, 24, 26, 33, 48, 65])
def test_distinct_notes_add_up_to_what_the_synthesizer_plays(soundfont: Soundfont, program: int) -> None:
    struck = some_notes(False, program, range(40, 76))
    straight(soundfont, struck, 2000)  # its voices keep the pan of earlier notes: let it settle
    reference = straight(soundfont, struck, 2000)
    assert signal_to_difference_db(reference, from_distinct_notes(soundfont, struck, 2000)) >= 60


@pytest.mark.parametrize("kit", [0, 8, 32, 40])
def test_drums_with_hi_hats_that_cut_each_other_off_add_up_too(soundfont: Soundfont, kit: int) -> None:
    struck = some_notes(True, kit, [36, 38, 42, 44, 46, 51])
    straight(soundfont, struck, 2000)
    reference = straight(soundfont, struck, 2000)
    mixed = from_distinct_notes(soundfont, struck, 2000)
    assert signal_to_difference_db(reference, mixed) >= 60


def test_an_open_hi_hat_left_to_ring_is_not_what_was_played(soundfont: Soundfont) -> None:
    """The check above can fail: without the cut-off it does."""
    struck = [(0, Strike(True, 0, 46, 100, 20)), (100, Strike(True, 0, 42, 80, 20))]
    reference = straight(soundfont, struck, 1500)
    ringing = np.zeros_like(reference)
    for block, strike in struck:
        samples = render(soundfont, strike)[0][: len(ringing) - block * BLOCK_SAMPLES]
        ringing[block * BLOCK_SAMPLES : block * BLOCK_SAMPLES + len(samples)] += samples
    assert signal_to_difference_db(reference, ringing) < 30
    assert signal_to_difference_db(reference, from_distinct_notes(soundfont, struck, 1500)) >= 60


def test_a_bent_string_sounds_as_high_as_the_note_that_it_is_bent_to(soundfont: Soundfont) -> None:
    bent = Strike(False, 26, 62, 90, 400, curve=((0, 0), (100, 200), (250, 200), (300, 0)))
    plain, high, heard = (
        render(soundfont, strike)[0][:, 0]
        for strike in (bent._replace(curve=()), bent._replace(curve=(), key=64), bent)
    )

    def like(other: np.ndarray, first: int, last: int) -> float:
        """How alike two sounds are in their strongest frequency, as a ratio."""
        peaks = []
        for sound in (heard, other):
            piece = sound[first * BLOCK_SAMPLES : last * BLOCK_SAMPLES].astype(float)
            spectrum = np.abs(np.fft.rfft(piece * np.hanning(len(piece)), 1 << 18))
            peaks.append(float(np.argmax(spectrum)))
        return peaks[0] / peaks[1]

    assert abs(like(high, 120, 240) - 1) < 0.002
    assert abs(like(plain, 120, 240) - 2 ** (2 / 12)) < 0.002
    assert abs(like(plain, 310, 395) - 1) < 0.002


def test_slides_are_bends_of_the_synthesizer(soundfont: Soundfont) -> None:
    struck = [
        (0, Strike(False, 26, 60, 90, 100, 0, -2, 40)),
        (170, Strike(False, 26, 64, 90, 100, 0, 3, 25)),
    ]
    straight(soundfont, struck, 800)
    reference = straight(soundfont, struck, 800)
    assert signal_to_difference_db(reference, from_distinct_notes(soundfont, struck, 800)) >= 60
    plain = [(block, strike._replace(bend_semitones=0)) for block, strike in struck]
    assert signal_to_difference_db(reference, from_distinct_notes(soundfont, plain, 800)) < 10


def test_a_note_is_the_same_whatever_was_played_before() -> None:
    wanted = Strike(False, 26, 52, 80, 60)
    crowd = [Strike(False, 0, key, 100, 30) for key in range(40, 60)]
    with Soundfont(default_soundfont(), 48_000) as first:
        alone = render(first, wanted)[0]
        again = render(first, wanted)[0]
        in_a_crowd = render(first, wanted, *crowd)[0]
    with Soundfont(default_soundfont(), 48_000) as second:
        render(second, *crowd)
        after_others = render(second, wanted)[0]
    assert all(np.array_equal(alone, other) for other in (again, in_a_crowd, after_others))


def test_a_longer_hold_sounds_longer(soundfont: Soundfont) -> None:
    short, long = render(soundfont, Strike(False, 73, 72, 90, 50), Strike(False, 73, 72, 90, 500))
    assert 400 * 64 < len(long) - len(short) < 500 * 64


def test_missing_programs_are_played_by_their_family_and_missing_kits_by_the_standard_kit(
    soundfont: Soundfont,
) -> None:
    neighbour, kit = render(soundfont, Strike(False, 31, 60, 90, 20), Strike(True, 25, 38, 90, 20))
    assert np.abs(neighbour).max() > 0.001
    assert np.array_equal(kit, render(soundfont, Strike(True, 0, 38, 90, 20))[0])


def test_an_instrument_without_any_relative_is_refused(soundfont: Soundfont) -> None:
    with pytest.raises(SoundfontError, match="no sound for General MIDI program 106"):
        render(soundfont, Strike(False, 105, 60, 90, 20))


def broken_soundfonts() -> list[tuple[str, Callable[[bytes], bytes]]]:
    return [
        ("cut short", lambda whole: whole[: len(whole) // 2]),
        ("not a soundfont", lambda whole: whole[:8]),
        ("not a soundfont", lambda whole: b""),
        ("not a soundfont", lambda whole: b"# a recipe, not a font\n" * 10),
        ("not a soundfont", lambda whole: whole[:8] + b"WAVE" + whole[12:]),
        ("could not be loaded", lambda whole: whole[:12] + bytes(len(whole) - 12)),
        ("cut short|could not be loaded", lambda whole: whole[:4] + b"\0\1\0\0" + whole[8:300]),
    ]


@pytest.mark.parametrize(("message", "damage"), broken_soundfonts())
def test_a_broken_soundfont_is_an_error_never_silence(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], message: str, damage: Callable[[bytes], bytes]
) -> None:
    broken = tmp_path / "broken.sf2"
    broken.write_bytes(damage(default_soundfont().read_bytes()))
    with pytest.raises(SoundfontError, match=message):
        Soundfont(broken, 48_000)
    assert capfd.readouterr() == ("", "")


def test_a_missing_soundfont_is_named(tmp_path: Path) -> None:
    with pytest.raises(SoundfontError, match=r"nowhere\.sf2 cannot be read: No such file"):
        Soundfont(tmp_path / "nowhere.sf2", 48_000)
