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
from typing import Any

from genex.audio.sound import BLOCK_SAMPLES

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

    def amplitudes(
        self, first_block: int, end_block: int, hold_blocks: int | None = None, choke_blocks: int = 0
    ) -> Any:
        """Amplitude at the end of each block of a stretch; note-off and cut-off as in a ``Strike``.

        ``hold_blocks`` None is a note that is held for good. Note-off and cut-off lie after the
        first block of the stretch, or the note begins with it.
        """
        import numpy as np

        levels, in_attack = self._held(first_block, end_block)
        amplitudes = np.where(in_attack, levels, _amplitude(levels))
        ends: list[tuple[int, int]] = []
        if hold_blocks is not None and not 0 < choke_blocks <= hold_blocks:
            ends.append((hold_blocks, self.release))
        if choke_blocks:  # after it a note-off has no say
            ends.append((choke_blocks, self.choke))
        for end, length in sorted(ends):
            start = end - first_block
            if start >= len(levels):
                break
            level = float(levels[start - 1]) if start else 0.0
            if start and in_attack[start - 1] and level:
                # Attack counts amplitude, release counts decibels: go on from the same loudness.
                level = min(1.0, max(0.0, 1 + 200 * math.log10(level) / RANGE_CB))
            steps = np.arange(1, len(levels) - start + 1)
            levels[start:] = np.maximum(level - steps / length, 0)
            in_attack[start:] = False
            amplitudes[start:] = _amplitude(levels[start:])
            amplitudes[start:][levels[start:] <= 0] = 0
        return amplitudes

    def release_gains(self, first_block: int, blocks: int, hold_blocks: int, choke_blocks: int) -> Any:
        """Factors from a held note to a released one, for each sample of some blocks.

        The amplitudes of both move in straight lines; so does, but for less than a ten-thousandth,
        what lies between them.
        """
        import numpy as np

        before, end = max(0, first_block - 1), first_block + blocks
        held = self.amplitudes(before, end)
        released = self.amplitudes(before, end, hold_blocks, choke_blocks)
        ratios = np.where(held > 0, released / np.maximum(held, 1e-12), 0).astype(np.float32)
        if not first_block:
            ratios = np.concatenate((ratios[:1], ratios))
        time = np.arange(BLOCK_SAMPLES, dtype=np.float32) / np.float32(BLOCK_SAMPLES)
        gains = np.diff(ratios)[:, None] * time
        gains += ratios[:-1, None]
        return gains.reshape(-1)

    def _held(self, first_block: int, end_block: int) -> tuple[Any, Any]:
        """Levels of a held note, and in which blocks it is in its attack."""
        import numpy as np

        block = np.arange(first_block + 1, end_block + 1, dtype=np.float64) - self.delay
        fallen = block - self.attack - self.hold
        levels = (
            np.maximum(self.sustain, 1 - fallen / self.decay)
            if self.decay
            else np.full_like(block, self.sustain)
        )
        levels = np.where(fallen <= 0, 1.0, levels)
        in_attack = block <= self.attack
        if in_attack.any():
            levels = np.where(in_attack, np.maximum(0, block / self.attack), levels)
        return levels, in_attack


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


def _amplitude(levels: Any) -> Any:
    """Amplitude of envelope levels: attenuation cut to whole centibels, as in its tables."""
    import numpy as np

    return 10 ** (-np.floor(RANGE_CB * (1 - levels)) / 200)
