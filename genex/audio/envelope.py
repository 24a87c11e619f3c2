"""The volume envelope of a SoundFont voice, block by block, as libfluidsynth runs it.

Literature: SoundFont Technical Specification 2.04, sections 8.1.3 (generators 33 to 40) and 9.1.7;
libfluidsynth computes the envelope once a block of 64 samples, as attenuation in whole
centibels, and moves the amplitude in a straight line from block to block.

With it the samples of a note of any length follow from those of a held one, as long as a note-off
changes nothing but the volume. Whether that is so is not decided here but measured, note by note
(a filter or pitch may follow its own envelope).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from genex.audio.sound import BLOCK_SAMPLES, Doubles, Samples

RANGE_CB = 960  # an envelope runs from full level to 96 dB below it
CHOKE_TIMECENTS = -2000.0  # the release of a note that is cut off by its exclusive class (2.5)
_SHORTEST_RELEASE_TIMECENTS = -7200.0
_NEVER_TIMECENTS = -32768.0
_LOOP_UNTIL_RELEASE = 3

# Generator numbers of the specification
_DELAY, _ATTACK, _HOLD, _DECAY, _SUSTAIN, _RELEASE = 33, 34, 35, 36, 37, 38
_KEY_TO_HOLD, _KEY_TO_DECAY = 39, 40
_SAMPLE_MODES = 54
_GENERATORS = (
    *(_DELAY, _ATTACK, _HOLD, _DECAY, _SUSTAIN, _RELEASE),
    *(_KEY_TO_HOLD, _KEY_TO_DECAY, _SAMPLE_MODES),
)


@dataclass(frozen=True, slots=True)
class Envelope:
    """Lengths of the stages in blocks; ``sustain`` from 0 to 1 of the range.

    The level stays at 0 for ``delay``, rises in a straight line over ``attack``, stays, and then
    falls by 96 dB within ``decay`` until it reaches ``sustain``. From a note-off on it falls by
    96 dB within ``release``, from a cut-off by its exclusive class on within ``choke``.
    """

    delay: int
    attack: int
    hold: int
    decay: int
    sustain: float
    release: int
    choke: int

    def ramp(self, hold_blocks: int, choke_blocks: int, blocks: int) -> Ramp:
        """How loud a released note is beside a held one, for at least so many blocks or until it
        is silent.

        Note-off and cut-off are given as in a ``Strike``; the ramp begins at the earlier of them.
        The same ramp serves many notes: it is not to be written to.
        """
        first = min(hold_blocks, choke_blocks or hold_blocks)
        longest = 1 + self.end(hold_blocks, choke_blocks) - first
        asked = 1 << (blocks - 1).bit_length()
        return _ramp(self, hold_blocks, choke_blocks, min(longest, asked))

    def end(self, hold_blocks: int, choke_blocks: int) -> int:
        """The block by which a note is silent that was let go and perhaps cut off (0: never)."""
        released, cut = hold_blocks + self.release, choke_blocks + self.choke
        if not choke_blocks or choke_blocks >= released:
            return released
        # After a cut-off a note-off has no say; one that comes later may slow a release down.
        return cut if choke_blocks <= hold_blocks or self.choke > self.release else min(released, cut)


class Ramp(NamedTuple):
    """A released envelope over a held one.

    lines    values at the beginning and the end of each block, shape (n_blocks, 2)
    highest  the larger of the two, shape (n_blocks,)
    """

    lines: Samples
    highest: Samples


@lru_cache(maxsize=512)
def _ramp(envelope: Envelope, hold_blocks: int, choke_blocks: int, blocks: int) -> Ramp:
    if choke_blocks and choke_blocks <= hold_blocks:
        ends = [(choke_blocks, envelope.choke)]
    else:
        ends = [(hold_blocks, envelope.release)]
        ends += [(choke_blocks, envelope.choke)] if choke_blocks else []
    first_block = ends[0][0]
    end = first_block + blocks
    before = max(0, first_block - 1)
    held = _held(envelope, before, end)
    level = float(held.levels[0]) if first_block else 0.0
    if first_block and held.in_attack[0] and level:
        # Attack counts amplitude, release counts decibels: go on from the same loudness.
        level = min(1.0, max(0.0, 1 + 200 * math.log10(level) / RANGE_CB))
    levels = np.empty(blocks)
    for block, length in ends:
        start = block - first_block
        if start >= blocks:
            break
        level = float(levels[start - 1]) if start else level
        levels[start:] = level - np.arange(1, blocks - start + 1) / length
    ratios = np.empty(blocks + 1, np.float32)
    ratios[1:] = _amplitudes(np.maximum(levels, 0), end=0.0) * held.inverse[first_block - before :]
    ratios[0] = float(held.inverse[0] > 0) if first_block else ratios[1]
    lines = np.stack((ratios[:-1], ratios[1:]), axis=1)
    return Ramp(lines, lines.max(axis=1))


class _Held(NamedTuple):
    """A held note at the end of each of some blocks: level, whether in the attack, and one over its
    amplitude (0 where it is not heard), each of shape (n_blocks,)."""

    levels: Doubles
    in_attack: NDArray[np.bool_]
    inverse: Doubles


def _held(envelope: Envelope, first: int, end: int) -> _Held:
    block = np.arange(first + 1, end + 1, dtype=np.float64) - envelope.delay
    fallen = block - envelope.attack - envelope.hold
    levels = (
        np.maximum(envelope.sustain, 1 - fallen / envelope.decay)
        if envelope.decay
        else np.full_like(block, envelope.sustain)
    )
    levels = np.where(fallen <= 0, 1.0, levels)
    in_attack = block <= envelope.attack
    levels = np.where(in_attack, np.maximum(0, block / envelope.attack), levels)
    amplitudes = np.where(in_attack, levels, _amplitudes(levels))
    return _Held(levels, in_attack, np.where(amplitudes > 0, 1 / np.maximum(amplitudes, 1e-12), 0))


def shared_envelope(voices: Sequence[Callable[[int], float]], key: int, rate_hz: int) -> Envelope | None:
    """The envelope of a note whose voices all have the same one, or None.

    Each voice is a function from a generator's number to its value.
    """
    found = {tuple(voice(number) for number in _GENERATORS) for voice in voices}
    if len(found) != 1:
        return None
    value = dict(zip(_GENERATORS, found.pop(), strict=True))
    if value[_SAMPLE_MODES] == _LOOP_UNTIL_RELEASE:
        return None

    def blocks(timecents: float, most: float, least: float = -12000.0) -> float:
        if timecents <= _NEVER_TIMECENTS:
            return 0.0
        return rate_hz * 2 ** (min(most, max(least, timecents)) / 1200) / BLOCK_SAMPLES

    def keyed(base: int, by_key: int, most: float) -> int:
        return int(blocks(value[base] + value[by_key] * (60 - key), most) + 0.5)

    return Envelope(
        delay=int(blocks(value[_DELAY], 5000)),
        attack=1 + int(blocks(value[_ATTACK], 8000)),
        hold=keyed(_HOLD, _KEY_TO_HOLD, 5000),
        decay=keyed(_DECAY, _KEY_TO_DECAY, 8000),
        sustain=1 - min(1000.0, max(0.0, value[_SUSTAIN])) / 1000,
        release=1 + int(blocks(value[_RELEASE], 8000, _SHORTEST_RELEASE_TIMECENTS)),
        choke=1 + int(blocks(CHOKE_TIMECENTS, 8000)),
    )


def _amplitudes(levels: Doubles, *, end: float | None = None) -> Doubles:
    """Amplitude of envelope levels: attenuation cut to whole centibels, as in its tables.

    ``end`` is what a level of 0 stands for, where it is not the end of the range.
    """
    amplitudes: Doubles = _table(end)[(RANGE_CB * (1 - levels)).astype(int)]
    return amplitudes


@lru_cache(maxsize=2)
def _table(end: float | None) -> Doubles:
    """Amplitude by attenuation in centibels, shape (961,)."""
    table = 10 ** (-np.arange(RANGE_CB + 1) / 200)
    if end is not None:
        table[-1] = end
    return table
