"""The synthesizer: distinct notes of a soundfont as float samples.

libfluidsynth is driven through pyfluidsynth's ``Synth`` (settings, soundfont, presets, notes) and,
for float output on separate buses and for what is read of voices, through its C functions
(``library``). Up to ``_LANES`` notes are rendered at
once, each on a MIDI channel and stereo bus of its own, so that one call yields them all. Every
batch begins on a block boundary with all voices silent, which makes a note's samples independent
of what was rendered before: the same note is always the same, bit for bit.

Reverb and chorus of the synthesizer are off (the mix has one room for all); it interpolates in
4th order, as it does by default.
"""

from __future__ import annotations

import ctypes
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cached_property, partial
from itertools import groupby, pairwise
from pathlib import Path

import numpy as np

from genex.audio.envelope import shared_envelope
from genex.audio.held import Held
from genex.audio.library import fluidsynth
from genex.audio.sf2 import require_whole, velocity_acts_late
from genex.audio.sound import BLOCK_SAMPLES, SILENCE, Samples, audible_frames
from genex.audio.timing import Strike
from genex.errors import SoundfontError, SynthesizerError

SYNTH_GAIN = 0.6
"""Fixed gain of every note; leaves a full band near -20 dBFS before the mix is mastered."""

REFERENCE_VELOCITY = 100

_LANES = 32
_MOST_VOICES = 1024
_PINS = 128 - _LANES  # further channels that only keep presets loaded
_INTERPOLATION_4TH_ORDER = 4
_BEND_RANGE_SEMITONES = 24
_BEND_STEPS = 8192  # on either side
_DRUM_BANK = 128
_GEN_EXCLUSIVE_CLASS = 57
_STEP_BLOCKS = 64
_DEAD_STEPS = 3
_LONGEST_TAIL_SECONDS = 20
_DEAD = 1e-6

_SETTINGS = {
    "synth.reverb.active": 0,
    "synth.chorus.active": 0,
    "synth.polyphony": _MOST_VOICES,
    "synth.audio-channels": _LANES,
    "synth.audio-groups": _LANES,
    "synth.cpu-cores": 1,
    "synth.threadsafe-api": 0,
    "synth.lock-memory": 0,
    "synth.dynamic-sample-loading": 1,
}


class Soundfont:
    """A soundfont loaded into a synthesizer of its own. A context manager; not thread-safe.

    Raises SoundfontError if the file is missing, is not a soundfont, is cut short or does not
    load; SynthesizerError if there is no libfluidsynth.
    """

    def __init__(self, path: Path, rate_hz: int) -> None:
        require_whole(path)
        self.path = path
        self.rate_hz = rate_hz
        self._library = fluidsynth()
        self._pinned: dict[tuple[int, int], tuple[int, int]] = {}
        self._classes: dict[tuple[int, int], int] = {}
        self._buffer = np.zeros((2 * _LANES, _STEP_BLOCKS * BLOCK_SAMPLES), np.float32)
        self._rows = (ctypes.c_void_p * (2 * _LANES))(*(row.ctypes.data for row in self._buffer))
        self._player = self._library.new(SYNTH_GAIN, rate_hz, _LANES + _PINS, **_SETTINGS)
        self._synth: int | None = self._player.synth
        try:
            if not self._synth:
                raise SynthesizerError("libfluidsynth could not start a synthesizer")
            for name, value in _SETTINGS.items():
                if self._player.get_setting(name) != value:
                    raise SynthesizerError(f"libfluidsynth refused the setting {name} = {value}")
            self._library.set_interpolation(self._synth, -1, _INTERPOLATION_4TH_ORDER)
            self._id = self._player.sfload(str(path))
            if self._id < 0:
                raise SoundfontError(
                    f"{path} could not be loaded as a soundfont",
                    hint="give an .sf2 or .sf3 file that plays",
                )
            for lane in range(_LANES):
                self._library.set_bend_range(self._synth, lane, _BEND_RANGE_SEMITONES)
        except BaseException:
            self.close()
            raise

    def __enter__(self) -> Soundfont:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Free the synthesizer. Closing twice is allowed."""
        if self._player:
            self._player.delete()
            self._player = self._synth = None

    @property
    def synthesizer_version(self) -> str:
        """Version of libfluidsynth."""
        return self._library.version

    @cached_property
    def velocity_acts_late(self) -> bool:
        """Whether velocity changes more of a note than its level and its first moments."""
        return velocity_acts_late(self.path)

    def exclusive_class(self, program: int, key: int) -> int:
        """Exclusive class of a key of a kit: a note of a class cuts off the others; 0 is none."""
        wanted = (program, key)
        if wanted not in self._classes:
            self._select(0, kit=True, program=program)
            self._player.noteon(0, key, REFERENCE_VELOCITY)
            found = [int(read(_GEN_EXCLUSIVE_CLASS)) for read in self._voices().get(0, ())]
            self._silence()
            self._classes[wanted] = max(found, default=0)
        return self._classes[wanted]

    def held(self, wanted: Iterable[tuple[Strike, int]]) -> Iterator[tuple[Strike, Held]]:
        """Strikes as they sound while they are held, for so many blocks or until they die away.

        Holds, chokes and slides of the strikes are ignored.
        """
        ordered = sorted(wanted, key=lambda want: (want[1], want[0]))
        for first in range(0, len(ordered), _LANES):
            some = ordered[first : first + _LANES]
            batch = [strike for strike, _ in some]
            self._prime(batch)
            for lane, strike in enumerate(batch):
                self._player.noteon(lane, strike.key, strike.velocity)
            voices = self._voices()
            lanes = _Lanes([blocks * BLOCK_SAMPLES for _, blocks in some])
            now, last = 0, some[-1][1]
            while now < last and not lanes.all_dead:
                if not self._library.active_voices(self._synth):
                    break
                count = min(last - now, _STEP_BLOCKS)
                self._run(lanes, count)
                now += count
            self._silence()
            for lane, (strike, blocks) in enumerate(some):
                envelope = shared_envelope(voices.get(lane, []), strike.key, self.rate_hz)
                yield strike, Held.of(lanes.planes(lane), blocks, envelope)

    def render(
        self, strikes: Iterable[Strike], tail_blocks: int | None = None
    ) -> Iterator[tuple[Strike, Samples]]:
        """Each strike with its planes, shape (2, frames), in no particular order.

        ``tail_blocks`` is how long to listen after the last note-off at the least; without it, until
        all has died away.
        Raises SoundfontError if the soundfont has no sound for a program.
        """
        ordered = sorted(set(strikes), key=lambda s: (s.choke_blocks, s.hold_blocks, s))
        for choked, group in groupby(ordered, key=lambda s: s.choke_blocks > 0):
            alike = list(group)
            for first in range(0, len(alike), _LANES):
                batch = alike[first : first + _LANES]
                yield from self._choked(batch) if choked else self._batch(batch, tail_blocks)

    def _choked(self, batch: list[Strike]) -> Iterator[tuple[Strike, Samples]]:
        """Notes cut off by another of their class.

        The cutting note is played on the same channel, as the synthesizer demands, rendered once
        more alone and subtracted; both lie on the same blocks, so they cancel.
        """
        with_cut = dict(self._batch(batch, None, cut=True))
        cuts = [self._cutting_strike(s) for s in batch]
        alone = dict(self._batch(sorted(set(cuts), key=lambda s: s.hold_blocks), None))
        for strike, cut in zip(batch, cuts, strict=True):
            planes = with_cut[strike].copy()
            start = strike.choke_blocks * BLOCK_SAMPLES
            other = alone[cut]
            shared = max(0, min(planes.shape[1] - start, other.shape[1]))
            planes[:, start : start + shared] -= other[:, :shared]
            yield strike, planes[:, : audible_frames(planes, SILENCE)]

    @staticmethod
    def _cutting_strike(strike: Strike) -> Strike:
        """The quietest, shortest note of the same key: it belongs to the same class."""
        return Strike(strike.kit, strike.program, strike.key, 1, 1)

    def _batch(
        self, batch: list[Strike], tail_blocks: int | None, *, cut: bool = False
    ) -> Iterator[tuple[Strike, Samples]]:
        player = self._player
        events: list[tuple[int, int, int, int]] = []  # block, order, lane, bend value
        self._prime(batch)
        for lane, strike in enumerate(batch):
            events.append((0, 1, lane, 0))
            events.append((strike.hold_blocks, 2, lane, 0))
            if cut:
                events.append((strike.choke_blocks, 3, lane, 0))
                events.append((strike.choke_blocks + 1, 4, lane, 0))
            events.extend((block, 0, lane, value) for block, value in _bends(strike))
        events.sort()
        lanes = _Lanes([None] * len(batch))
        now = 0
        for block, what, lane, value in events:
            if block > now:
                self._run(lanes, block - now)
                now = block
            key, velocity = batch[lane].key, batch[lane].velocity
            if what == 0:
                player.pitch_bend(lane, value)
            elif what == 1:
                player.noteon(lane, key, velocity)
            elif what == 3:
                player.noteon(lane, key, 1)
            else:
                player.noteoff(lane, key)
        last = now + (tail_blocks or _LONGEST_TAIL_SECONDS * self.rate_hz // BLOCK_SAMPLES)
        while now < last and self._library.active_voices(self._synth):
            count = min(last - now, _STEP_BLOCKS)
            self._run(lanes, count)
            now += count
            if lanes.all_dead:
                break
        self._silence()
        for lane, strike in enumerate(batch):
            yield strike, lanes.planes(lane)

    def _prime(self, batch: list[Strike]) -> None:
        """Select the presets of a batch, play it for one block and throw that away.

        A voice of libfluidsynth fades from the pan gains of the note it played before to those
        of its new note, over the first block. Voices are given out in a fixed order, so after
        this each finds its own gains and starts at once, whatever was played before.
        """
        for lane, strike in enumerate(batch):
            self._select(lane, kit=strike.kit, program=strike.program)
            self._player.noteon(lane, strike.key, strike.velocity)
        self._run(_Lanes([0] * len(batch)), 1)
        self._silence()

    def _run(self, lanes: _Lanes, blocks: int) -> None:
        rows = 2 * len(lanes)
        for first in range(0, blocks, _STEP_BLOCKS):
            frames = min(blocks - first, _STEP_BLOCKS) * BLOCK_SAMPLES
            heard = self._buffer[:rows, :frames]
            heard.fill(0)  # the synthesizer adds to what is there
            if self._library.process(self._synth, frames, 0, None, rows, self._rows):
                raise SynthesizerError("libfluidsynth failed while rendering")
            lanes.take(heard)

    def _voices(self) -> dict[int, list[Callable[[int], float]]]:
        """For each lane that sounds, its voices as functions from a generator's number to its value."""
        found = (ctypes.c_void_p * _MOST_VOICES)()
        self._library.list_voices(self._synth, found, len(found), -1)
        lanes: dict[int, list[Callable[[int], float]]] = {}
        for voice in found:
            if voice:
                reader = partial(self._library.generator, voice)
                lanes.setdefault(self._library.channel(voice), []).append(reader)
        return lanes

    def _silence(self) -> None:
        """End all voices at once and let the synthesizer clear them."""
        self._player.all_sounds_off(-1)
        for lane in range(_LANES):
            self._player.pitch_bend(lane, 0)
        waste = _Lanes([0])
        while self._library.active_voices(self._synth):
            self._run(waste, 1)

    def _select(self, lane: int, *, kit: bool, program: int) -> None:
        wanted = (_DRUM_BANK if kit else 0, program)
        if wanted not in self._pinned:
            self._pinned[wanted] = self._pin(*wanted)
        bank, preset = self._pinned[wanted]
        self._player.program_select(lane, self._id, bank, preset)

    def _pin(self, bank: int, program: int) -> tuple[int, int]:
        """Load a preset and keep it loaded. Returns the preset that is really played.

        A kit that the soundfont lacks is played by the standard kit; any other instrument by its
        nearest neighbour in the same family of General MIDI (groups of eight).
        """
        channel = _LANES + len(self._pinned) % _PINS
        family = range(program // 8 * 8, program // 8 * 8 + 8)
        choices = [program, 0] if bank else sorted(family, key=lambda p: (abs(p - program), p))
        for preset in choices:
            if self._player.program_select(channel, self._id, bank, preset) == 0:
                return bank, preset
        what = f"percussion kit {program}" if bank else f"General MIDI program {program + 1}"
        raise SoundfontError(
            f"{self.path} has no sound for {what}",
            hint="choose another instrument in the recipe or a fuller soundfont",
        )


class _Lanes:
    """What each lane of a batch yields, up to a number of frames of its own (None: all of it).

    A lane that was heard and has been silent for ``_DEAD_STEPS`` steps is dead: it yields no more.
    """

    def __init__(self, most_frames: Sequence[int | None]) -> None:
        self._taken = [0] * len(most_frames)
        self._room = [1 << 62 if most is None else most for most in most_frames]
        self._planes = [np.empty((2, most or 0), np.float32) for most in most_frames]
        self._silent_steps = [-(1 << 30)] * len(most_frames)  # until something has been heard

    def __len__(self) -> int:
        return len(self._taken)

    @property
    def all_dead(self) -> bool:
        return all(steps >= _DEAD_STEPS for steps in self._silent_steps)

    def take(self, heard: Samples) -> None:
        """Keep the next frames, shape (2 * lanes, frames)."""
        if self._taken == self._room:
            return
        loudest = np.maximum(heard.max(axis=1), -heard.min(axis=1)).reshape(-1, 2).max(axis=1)
        for lane, taken in enumerate(self._taken):
            count = min(self._room[lane] - taken, heard.shape[1])
            if not count or self._silent_steps[lane] >= _DEAD_STEPS:
                continue
            if taken + count > self._planes[lane].shape[1]:
                # Of unknown length: room for as much again.
                longer = np.empty((2, 2 * (taken + count)), np.float32)
                longer[:, :taken] = self._planes[lane][:, :taken]
                self._planes[lane] = longer
            self._planes[lane][:, taken : taken + count] = heard[2 * lane : 2 * lane + 2, :count]
            self._taken[lane] = taken + count
            self._silent_steps[lane] = 0 if loudest[lane] >= _DEAD else self._silent_steps[lane] + 1

    def planes(self, lane: int) -> Samples:
        """Left and right of one lane, without the silence at the end."""
        planes = self._planes[lane][:, : self._taken[lane]]
        return np.ascontiguousarray(planes[:, : audible_frames(planes, SILENCE)])


def _bends(strike: Strike) -> Iterator[tuple[int, int]]:
    """Block and pitch bend of a slide or a curve, 0 at rest: straight in pitch, one step a block."""
    for block in range(strike.bend_blocks + 1 if strike.bend_semitones else 0):
        semitones = strike.bend_semitones * (1 - block / strike.bend_blocks)
        yield block, _bend_steps(semitones)
    for (start, low), (end, high) in pairwise(strike.curve):
        for block in range(start, end):
            cents = low + (high - low) * (block - start) / (end - start)
            yield block, _bend_steps(cents / 100)
    if strike.curve:
        block, cents = strike.curve[-1]
        yield block, _bend_steps(cents / 100)


def _bend_steps(semitones: float) -> int:
    return round(semitones * _BEND_STEPS / _BEND_RANGE_SEMITONES)
