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

    def amplitudes(self, blocks: int, hold_blocks: int | None = None, choke_blocks: int = 0) -> Any:
        """Amplitude at the end of each block; note-off and cut-off as in a ``Strike``.

        ``hold_blocks`` None is a note that is held for good.
        """
        import numpy as np

        levels = self._held(blocks)
        attack_end = self.delay + self.attack
        amplitudes = np.where(np.arange(blocks) < attack_end, levels, _amplitude(levels))
        ends: list[tuple[int, int]] = []
        if hold_blocks is not None and not 0 < choke_blocks <= hold_blocks:
            ends.append((hold_blocks, self.release))
        if choke_blocks:  # after it a note-off has no say
            ends.append((choke_blocks, self.choke))
        for start, length in ends:
            if start >= blocks:
                break
            level = float(levels[start - 1]) if start else 0.0
            if start <= attack_end and start and amplitudes[start - 1] == levels[start - 1] and level:
                # Attack counts amplitude, release counts decibels: go on from the same loudness.
                level = min(1.0, max(0.0, 1 + 200 * math.log10(level) / RANGE_CB))
            steps = np.arange(1, blocks - start + 1)
            levels[start:] = np.maximum(level - steps / length, 0)
            amplitudes[start:] = _amplitude(levels[start:])
            amplitudes[start:][levels[start:] <= 0] = 0
        return amplitudes

    def release_gains(self, first_block: int, blocks: int, hold_blocks: int, choke_blocks: int) -> Any:
        """Factors from a held note to a released one, for each sample of some blocks.

        The amplitudes of both move in straight lines; so does, but for less than a ten-thousandth,
        what lies between them.
        """
        import numpy as np

        end = first_block + blocks
        held = self.amplitudes(end)[max(0, first_block - 1) :]
        released = self.amplitudes(end, hold_blocks, choke_blocks)[max(0, first_block - 1) :]
        ratios = np.where(held > 0, released / np.maximum(held, 1e-12), 0).astype(np.float32)
        if not first_block:
            ratios = np.concatenate((ratios[:1], ratios))
        time = np.arange(BLOCK_SAMPLES, dtype=np.float32) / np.float32(BLOCK_SAMPLES)
        gains = np.diff(ratios)[:, None] * time
        gains += ratios[:-1, None]
        return gains.reshape(-1)

    def _held(self, blocks: int) -> Any:
        import numpy as np

        attack = np.arange(1, self.attack + 1) / self.attack
        decay = np.maximum(self.sustain, 1 - np.arange(1, self.decay + 1) / max(1, self.decay))
        stages = [np.zeros(self.delay), attack, np.ones(self.hold), decay]
        levels = np.concatenate(stages)[:blocks]
        return np.concatenate((levels, np.full(blocks - len(levels), self.sustain)))


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
