"""The notes of a score as samples, at the least cost that changes nothing.

A note that differs from another only in its length, or in a velocity that only sets its level,
needs no synthesis of its own: it is the held note with a release (``envelope``), or the same at
another gain. Neither is assumed. For each key of each preset both are tried against the
synthesizer itself, with fixed strikes, and used where the difference stays ``_PROOF_DB`` below
the note. What cannot be derived is synthesised as it is.

The outcome depends on the soundfont alone, never on which notes were asked for before, so a score
sounds the same bit for bit in whatever company it is rendered.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, NamedTuple

from genex.audio.envelope import Envelope
from genex.audio.sound import BLOCK_SAMPLES
from genex.audio.synth import REFERENCE_VELOCITY, SILENCE, Held, Soundfont, audible_frames
from genex.audio.timing import Strike

if TYPE_CHECKING:
    from genex.audio.sound import Samples

_PROOF_DB = 70.0
_PROOF_HOLDS = (12, 100)  # blocks
_PROOF_TAIL_BLOCKS = 150
_PROOF_VELOCITY = 60
_PROBE_BLOCKS = 24
_SHORTEST_NOTE_SECONDS = 0.01  # the synthesizer holds every note at least so long
_LONGEST_SECONDS = 20
_KEPT_BYTES = 160 << 20

_Key = tuple[bool, int, int]  # kit, program, key


class Note(NamedTuple):
    """A note's samples in consecutive pieces (planes), and its gain left and right."""

    frames: int
    pieces: tuple[Samples, ...]
    gains: tuple[float, float]


class _Trait(NamedTuple):
    """What is proven of a key: the envelope that releases follow, and whether velocity is gain."""

    envelope: Envelope | None
    velocity_is_gain: bool


_UNPROVEN = _Trait(None, False)


class NoteBank:
    """Notes of one soundfont, kept for the scores that follow up to a limit in memory."""

    def __init__(self, soundfont: Soundfont) -> None:
        self._soundfont = soundfont
        self._traits: dict[_Key, _Trait] = {}
        self._held: dict[tuple[_Key, int], Held] = {}
        self._gains: dict[tuple[_Key, int], tuple[float, float] | None] = {}
        self._notes: dict[Strike, Note] = {}
        self._shortest = -(-int(_SHORTEST_NOTE_SECONDS * soundfont.rate_hz) // BLOCK_SAMPLES)
        self._longest = _LONGEST_SECONDS * soundfont.rate_hz // BLOCK_SAMPLES

    def notes(self, strikes: Iterable[Strike]) -> dict[Strike, Note]:
        """All the strikes as notes. Raises SoundfontError if a preset is missing."""
        wanted = set(strikes)
        missing = {strike for strike in wanted if strike not in self._notes}
        if missing:
            straight = {strike for strike in missing if not strike.bend_semitones}
            self._learn({_key(strike) for strike in straight})
            self._derive({s for s in straight if self._traits[_key(s)].envelope})
            rest = (strike for strike in missing if strike not in self._notes)
            for strike, planes in self._soundfont.render(rest):
                self._notes[strike] = Note(planes.shape[1], (planes,), (1.0, 1.0))
        return {strike: self._notes[strike] for strike in wanted}

    def forget(self) -> None:
        """Give memory back if more than the limit is held. Notes handed out stay valid."""
        arrays = [held.planes for held in self._held.values()]
        arrays += [planes for note in self._notes.values() for planes in note.pieces[-1:]]
        if sum({id(planes): planes.nbytes for planes in arrays}.values()) > _KEPT_BYTES:
            self._notes.clear()
            self._held.clear()

    def _learn(self, keys: set[_Key]) -> None:
        """Find out, for keys not yet known, what may be derived."""
        import numpy as np

        new = sorted(keys - self._traits.keys())
        probes = self._probe((key, REFERENCE_VELOCITY) for key in new)
        envelopes = {key: held.envelope for (key, _), held in probes.items() if held.envelope}
        listened = max(_PROOF_HOLDS) + _PROOF_TAIL_BLOCKS
        self._hold({(key, REFERENCE_VELOCITY): listened for key in envelopes})
        proofs = {_strike(key, hold_blocks=h): (key, h) for key in envelopes for h in _PROOF_HOLDS}
        proven = set(envelopes)
        for strike, played in self._soundfont.render(proofs, _PROOF_TAIL_BLOCKS):
            key, hold = proofs[strike]
            pieces = self._released(self._held[key, REFERENCE_VELOCITY].planes, envelopes[key], hold, 0)
            frames = (hold + _PROOF_TAIL_BLOCKS) * BLOCK_SAMPLES
            if not _equal(played, np.concatenate(pieces, axis=1), frames):
                proven.discard(key)
        softer = self._probe((key, _PROOF_VELOCITY) for key in proven)
        for key in new:
            trait = _UNPROVEN
            if key in proven:
                gains = _gains(
                    probes[key, REFERENCE_VELOCITY].planes, softer[key, _PROOF_VELOCITY].planes
                )
                linear = gains is not None and not self._soundfont.velocity_acts_late
                trait = _Trait(envelopes[key], linear)
            self._traits[key] = trait

    def _derive(self, strikes: set[Strike]) -> None:
        """Make notes from held ones, where that is allowed."""
        self._measure_gains({(_key(strike), strike.velocity) for strike in strikes})
        sources: dict[Strike, tuple[_Key, int]] = {}
        needed: dict[tuple[_Key, int], int] = {}
        for strike in strikes:
            key, velocity = _key(strike), strike.velocity
            is_gain = self._gains.get((key, velocity)) is not None
            if self._soundfont.velocity_acts_late and velocity != REFERENCE_VELOCITY:
                continue
            source = (key, REFERENCE_VELOCITY if is_gain else velocity)
            envelope = self._traits[key].envelope
            if envelope:
                sources[strike] = source
                blocks = self._blocks_needed(envelope, strike.hold_blocks, strike.choke_blocks)
                needed[source] = max(blocks, needed.get(source, 0))
        self._hold(needed)
        made: dict[tuple[object, ...], tuple[Samples, ...]] = {}
        for strike, source in sources.items():
            held, envelope = self._held[source], self._traits[source[0]].envelope
            if envelope is None or held.envelope != envelope:
                continue  # another layer of velocities, of which nothing is proven
            how = (source, strike.hold_blocks, strike.choke_blocks)
            if how not in made:
                made[how] = self._released(
                    held.planes, envelope, strike.hold_blocks, strike.choke_blocks
                )
            pieces = made[how]
            gains = self._gains.get((source[0], strike.velocity)) or (1.0, 1.0)
            self._notes[strike] = Note(_frames(pieces), pieces, gains)

    def _measure_gains(self, wanted: set[tuple[_Key, int]]) -> None:
        """Gains of velocities over the reference, for keys where velocity is nothing else."""
        new = [w for w in wanted - self._gains.keys() if self._traits[w[0]].velocity_is_gain]
        probes = self._probe([*new, *((key, REFERENCE_VELOCITY) for key, _ in new)])
        for key, velocity in new:
            reference, other = probes[key, REFERENCE_VELOCITY], probes[key, velocity]
            self._gains[key, velocity] = _gains(reference.planes, other.planes)

    def _probe(self, wanted: Iterable[tuple[_Key, int]]) -> dict[tuple[_Key, int], Held]:
        """The first moments of held notes."""
        strikes = {_strike(*want): want for want in wanted}
        found = self._soundfont.held((strike, _PROBE_BLOCKS) for strike in strikes)
        return {strikes[strike]: held for strike, held in found}

    def _hold(self, wanted: Mapping[tuple[_Key, int], int]) -> None:
        """Have held notes of at least so many blocks."""
        strikes = {
            _strike(*want): want
            for want, blocks in wanted.items()
            if want not in self._held or blocks > self._held[want].blocks
        }
        for strike, held in self._soundfont.held((s, wanted[want]) for s, want in strikes.items()):
            self._held[strikes[strike]] = held

    def _blocks_needed(self, envelope: Envelope, hold_blocks: int, choke_blocks: int = 0) -> int:
        """How long a held note must be for a release to die away within it."""
        end = max(hold_blocks, self._shortest) + envelope.release
        if choke_blocks:
            end = min(end, choke_blocks + envelope.choke)
        return min(self._longest, end + 1)

    def _released(
        self, held: Samples, envelope: Envelope, hold_blocks: int, choke_blocks: int
    ) -> tuple[Samples, ...]:
        """A held note, let go after so many blocks."""
        hold = max(hold_blocks, self._shortest)
        first = min(hold, choke_blocks) if choke_blocks else hold
        start = first * BLOCK_SAMPLES
        if held.shape[1] <= start:
            return (held,)
        blocks = -(-(held.shape[1] - start) // BLOCK_SAMPLES)
        gains = envelope.release_gains(first, blocks, hold, choke_blocks)
        tail = held[:, start:] * gains[: held.shape[1] - start]
        return held[:, :start], tail[:, : audible_frames(tail, SILENCE)]


def _key(strike: Strike) -> _Key:
    return strike.kit, strike.program, strike.key


def _strike(key: _Key, velocity: int = REFERENCE_VELOCITY, hold_blocks: int = 0) -> Strike:
    return Strike(*key, velocity, hold_blocks)


def _frames(pieces: tuple[Samples, ...]) -> int:
    return sum(planes.shape[1] for planes in pieces)


def _equal(one: Samples, other: Samples, frames: int) -> bool:
    """Whether two notes differ by no more than ``_PROOF_DB`` below them within some frames."""
    import numpy as np

    a, b = (np.pad(x[:, :frames], ((0, 0), (0, max(0, frames - x.shape[1])))) for x in (one, other))
    return bool(((a - b) ** 2).sum() <= (a**2).sum() * 10 ** (-_PROOF_DB / 10))


def _gains(reference: Samples, other: Samples) -> tuple[float, float] | None:
    """The gain of each channel over the reference if that is all that differs, else None."""
    import numpy as np

    frames = max(reference.shape[1], other.shape[1])
    a, b = (np.pad(x.astype(np.float64), ((0, 0), (0, frames - x.shape[1]))) for x in (reference, other))
    energy = (a * a).sum(axis=1)
    gains = (a * b).sum(axis=1) / np.where(energy > 0, energy, 1)
    difference = ((b - gains[:, None] * a) ** 2).sum()
    if not (b * b).sum() or difference > (b * b).sum() * 10 ** (-_PROOF_DB / 10):
        return None
    return float(gains[0]), float(gains[1])
